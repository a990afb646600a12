// Scattered light on a pyramid of levels. The twin of src/kernels/scatter.rs and src/kernels/pyramid.
//
// A plane's rows lie channel beside channel: a row of red, one of green, one of blue, so that any run of rows
// is bound at once with all its channels, and a workgroup's third number is its channel. Every entry point
// works on some rows of a level and is told which, and which rows of what it reads are bound. Beyond a level's
// edges light is mirrored by whole numbers, or there is none.

struct ScatterStep {
    // Samples across and down that are written.
    size: vec2<u32>,
    // Samples of `from` that are stored, and twice its far edges.
    limit: vec2<i32>,
    twice: vec2<i32>,
    // The first of the six finer samples that the first of a level is made of; or the coarser sample in which
    // the first one of a level lies.
    begin: vec2<i32>,
    // Samples of `coarser`.
    coarse_size: vec2<i32>,
    // Samples from one row of each plane to the next.
    stride: u32,
    from_stride: u32,
    coarse_stride: u32,
    // The first row that is written, counted from the level's own; the first that is bound of each plane.
    first_row: u32,
    to_row: u32,
    from_row: u32,
    coarse_row: u32,
    // Whether there is no light beyond the edges.
    is_dark: u32,
    // Targets; terms; partial sums.
    count: u32,
    // Where partial sums begin.
    sums: u32,
    unused: vec4<u32>,
    // For each channel: what stays of the light that is there, or what its sum is multiplied by.
    factor: vec4<f32>,
    // For each channel: what is taken from what is read, or what is known of what is added.
    base: vec4<f32>,
    // For each channel: where its filters or matrices begin, how many there are, whether it has this level and
    // whether it has the coarser one.
    heads: array<vec4<u32>, 3>,
}

@group(0) @binding(0) var<uniform> params: ScatterStep;
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;
// Matrices, and what is added everywhere.
@group(0) @binding(3) var<storage, read> values: array<f32>;
// Targets: place, first tap, taps; then taps: place, weight's bits.
@group(0) @binding(4) var<storage, read> table: array<u32>;
@group(0) @binding(5) var<storage, read> coarser: array<f32>;
// Filters: a radius, half the taps across, the taps down slid along four rows.
@group(0) @binding(6) var<storage, read> filters: array<vec4<f32>>;
@group(0) @binding(7) var<storage, read_write> sums: array<f32>;

fn here(x: u32, y: u32, c: u32) -> u32 {
    return ((params.first_row - params.to_row + y) * 3u + c) * params.stride + x;
}

// An index that may lie beyond the edges of `limit` samples, mirrored.
fn mirrored(index: i32, limit: i32, twice: i32) -> i32 {
    let near = select(index, -1 - index, index < 0);
    return select(near, twice - 1 - near, near >= limit);
}

fn inside(x: i32, y: i32) -> bool {
    return x >= 0 && y >= 0 && x < params.limit.x && y < params.limit.y;
}

fn stored(x: i32, y: i32, c: u32) -> f32 {
    return from_[((u32(y) - params.from_row) * 3u + c) * params.from_stride + u32(x)];
}

// The light at a place of `from`, which may lie beyond its edges.
fn light(x: i32, y: i32, c: u32) -> f32 {
    if params.is_dark == 1u {
        if inside(x, y) {
            return stored(x, y, c) - params.base[c];
        }
        return 0.0;
    }
    let column = mirrored(x, params.limit.x, params.twice.x);
    return stored(column, mirrored(y, params.limit.y, params.twice.y), c);
}

var<workgroup> part: array<f32, GROUP_SIZE>;

fn gathered(i: u32, own: f32) -> f32 {
    part[i] = own;
    workgroupBarrier();
    for (var half = GROUP_SIZE / 2u; half > 0u; half /= 2u) {
        if i < half {
            part[i] += part[i + half];
        }
        workgroupBarrier();
    }
    return part[0];
}

// The sum of each row; a workgroup a row and channel.
@compute @workgroup_size(GROUP_SIZE)
fn sum_rows(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    let c = group.z;
    let y = params.first_row + group.y;
    var own = 0.0;
    for (var x = i; x < u32(params.limit.x); x += GROUP_SIZE) {
        own += stored(i32(x), i32(y), c) - params.base[c];
    }
    let sum = gathered(i, own);
    if i == 0u {
        sums[c * params.count + y] = sum;
    }
}

// What is added everywhere: the veil's share of all partial sums, and what is known beforehand.
@compute @workgroup_size(GROUP_SIZE)
fn sum_all(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    let c = group.z;
    var own = 0.0;
    for (var k = i; k < params.count; k += GROUP_SIZE) {
        own += from_[c * params.count + k];
    }
    let sum = gathered(i, own);
    if i == 0u {
        to[c] = params.factor[c] * sum + params.base[c];
    }
}

fn six(a: f32, b: f32, c: f32, d: f32, e: f32, f: f32) -> f32 {
    return NEAR * (c + d) + NEXT * (b + e) + FAR * (a + f);
}

// Samples of the coarser level that one workgroup makes, and columns of the finer one under them.
const HALVED = vec2<u32>(32u, 16u);
const COLUMNS = 2u * 32u + 4u;
var<workgroup> halved_down: array<f32, COLUMNS * 16u>;

// Six finer samples down, then across. Gives back the sum of the finer samples of which this invocation read
// the middle pair: each one lies under exactly one coarser one.
fn halve(group: vec3<u32>, local: vec3<u32>, i: u32) -> f32 {
    let c = group.z;
    let first = group.xy * HALVED;
    let corner = params.begin + 2 * vec2<i32>(vec2<u32>(first.x, params.first_row + first.y));
    let rows = min(HALVED.y, params.size.y - first.y);
    var own = 0.0;
    for (var k = i; k < rows * COLUMNS; k += GROUP_SIZE) {
        let column = k % COLUMNS;
        let x = corner.x + i32(column);
        let y = corner.y + 2 * i32(k / COLUMNS);
        let middle = light(x, y + 2, c);
        let next = light(x, y + 3, c);
        halved_down[k] = six(
            light(x, y, c), light(x, y + 1, c), middle,
            next, light(x, y + 4, c), light(x, y + 5, c),
        );
        if column >= 2u && column < COLUMNS - 2u && first.x + (column - 2u) / 2u < params.size.x {
            own += select(0.0, middle, inside(x, y + 2)) + select(0.0, next, inside(x, y + 3));
        }
    }
    workgroupBarrier();
    let x = first.x + local.x;
    for (var row = local.y; row < rows; row += GROUP_SIZE / 32u) {
        if x < params.size.x {
            let k = row * COLUMNS + 2u * local.x;
            to[here(x, first.y + row, c)] = six(
                halved_down[k], halved_down[k + 1u], halved_down[k + 2u],
                halved_down[k + 3u], halved_down[k + 4u], halved_down[k + 5u],
            );
        }
    }
    return own;
}

// The next coarser level.
@compute @workgroup_size(32, GROUP_SIZE / 32)
fn decimate(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_id) local: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    _ = halve(group, local, i);
}

// The first coarser level, and the sum of the frame's samples under each workgroup's.
@compute @workgroup_size(32, GROUP_SIZE / 32)
fn decimate_frame(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(num_workgroups) groups: vec3<u32>,
    @builtin(local_invocation_id) local: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    let sum = gathered(i, halve(group, local, i));
    if i == 0u {
        sums[group.z * params.count + params.sums + group.y * groups.x + group.x] = sum;
    }
}

// Lines that one workgroup joins, each with up to SPAN_MOST samples.
const LINES = 32u;
var<workgroup> span: array<f32, LINES * SPAN_MOST>;

// A target's weighted sum of a line of `span`.
fn joined(which: u32, line: u32) -> f32 {
    let taps = 3u * params.count + 2u * table[3u * which + 1u];
    var sum = 0.0;
    for (var k = 0u; k < table[3u * which + 2u]; k++) {
        let place = table[taps + 2u * k];
        sum += bitcast<f32>(table[taps + 2u * k + 1u]) * span[place * LINES + line];
    }
    return sum;
}

// Joins each row with its mirror image across a fractional edge: `begin.x` is the first sample of the span,
// `limit.x` how many it has.
@compute @workgroup_size(GROUP_SIZE)
fn join_across(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    let first = group.x * LINES;
    let lines = min(LINES, params.size.y - first);
    let length = u32(params.limit.x);
    let left = u32(params.begin.x);
    // All is read before anything is written: targets are made of each other.
    for (var k = i; k < lines * length; k += GROUP_SIZE) {
        let line = k / length;
        span[(k % length) * LINES + line] = to[here(left + k % length, first + line, group.z)];
    }
    workgroupBarrier();
    for (var k = i; k < lines * params.count; k += GROUP_SIZE) {
        let line = k / params.count;
        let which = k % params.count;
        to[here(left + table[3u * which], first + line, group.z)] = joined(which, line);
    }
}

// Each column: `first_row` is the first row of the span, `limit.y` how many it has.
@compute @workgroup_size(GROUP_SIZE)
fn join_down(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    let first = group.x * LINES;
    let lines = min(LINES, params.size.x - first);
    let length = u32(params.limit.y);
    for (var k = i; k < LINES * length; k += GROUP_SIZE) {
        let line = k % LINES;
        if line < lines {
            span[k] = to[here(first + line, k / LINES, group.z)];
        }
    }
    workgroupBarrier();
    for (var k = i; k < LINES * params.count; k += GROUP_SIZE) {
        let line = k % LINES;
        let which = k / LINES;
        if line < lines {
            to[here(first + line, table[3u * which], group.z)] = joined(which, line);
        }
    }
}

// A row of the coarser level merged across, at the finer sample `x`.
fn raised(x: u32, row: i32, c: u32) -> f32 {
    let k = i32(x / 2u) + params.begin.x;
    let last = params.coarse_size - 1;
    let y = u32(clamp(row, 0, last.y)) - params.coarse_row;
    let i = (y * 3u + c) * params.coarse_stride;
    let left = coarser[i + u32(clamp(k - 1, 0, last.x))];
    let middle = coarser[i + u32(clamp(k, 0, last.x))];
    let right = coarser[i + u32(clamp(k + 1, 0, last.x))];
    let far = select(FAR, NEXT, (x & 1u) == 1u);
    let near = select(NEXT, FAR, (x & 1u) == 1u);
    return 2.0 * (near * left + NEAR * middle + far * right);
}

// Two rows of the coarser level merged: an even row `y` and the next. The transpose of the decimation, times two.
fn merged(x: u32, y: u32, c: u32) -> vec2<f32> {
    if params.heads[c].w == 0u {
        return vec2<f32>(0.0);
    }
    let k = i32(y / 2u) + params.begin.y;
    let above = raised(x, k - 1, c);
    let middle = raised(x, k, c);
    let below = raised(x, k + 1, c);
    return 2.0 * vec2<f32>(
        NEXT * above + NEAR * middle + FAR * below,
        FAR * above + NEAR * middle + NEXT * below,
    );
}

// What a level becomes without its filters: the coarser one merged.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn finish(@builtin(global_invocation_id) id: vec3<u32>) {
    let c = id.z;
    let y = 2u * id.y;
    if id.x >= params.size.x || y >= params.size.y || params.heads[c].z == 0u {
        return;
    }
    let both = merged(id.x, params.first_row + y, c);
    to[here(id.x, y, c)] = both.x;
    if y + 1u < params.size.y {
        to[here(id.x, y + 1u, c)] = both.y;
    }
}

// What stays of the frame's light and what is added everywhere.
fn begun(x: u32, y: u32, c: u32) -> f32 {
    return params.factor[c] * (stored(i32(x), i32(y), c) - params.base[c]) + values[c];
}

// What the frame becomes without its filters.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn finish_frame(@builtin(global_invocation_id) id: vec3<u32>) {
    let c = id.z;
    let y = 2u * id.y;
    if id.x >= params.size.x || y >= params.size.y {
        return;
    }
    let row = params.first_row + y;
    let both = merged(id.x, row, c);
    to[here(id.x, y, c)] = begun(id.x, row, c) + both.x;
    if y + 1u < params.size.y {
        to[here(id.x, y + 1u, c)] = begun(id.x, row + 1u, c) + both.y;
    }
}

// Samples of a side of what one workgroup filters, and rows of it with what the longest filter reaches for.
const TILE = 32u;
const REACHED = TILE + 2u * LONGEST;
var<workgroup> filtered_across: array<f32, TILE * REACHED>;

fn half_tap(first: u32, t: i32) -> f32 {
    return filters[first + 1u + (u32(t) >> 2u)][u32(t) & 3u];
}

// A filter across, at a place that may lie beyond the edges.
fn across(first: u32, radius: i32, x: i32, y: i32, c: u32) -> f32 {
    var sum = half_tap(first, 0) * light(x, y, c);
    for (var t = 1; t <= radius; t++) {
        sum += half_tap(first, t) * (light(x - t, y, c) + light(x + t, y, c));
    }
    return sum;
}

// Four rows of all of a channel's filters at a place: across into a tile, then down.
fn filtered(group: vec3<u32>, local: vec3<u32>) -> vec4<f32> {
    let c = group.z;
    let x = i32(group.x * TILE + local.x);
    let top = i32(params.first_row + group.y * TILE);
    var sum = vec4<f32>(0.0);
    for (var f = 0u; f < params.heads[c].y; f++) {
        let first = params.heads[c].x + f * FILTER_FOURS;
        let radius = i32(filters[first].x);
        let rows = TILE + 2u * u32(radius);
        for (var row = local.y; row < rows; row += GROUP_SIZE / TILE) {
            let y = top + i32(row) - radius;
            filtered_across[row * TILE + local.x] = across(first, radius, x, y, c);
        }
        workgroupBarrier();
        let slid = first + FILTER_FOURS - 2u * LONGEST - 4u;
        let own = 4u * local.y;
        for (var t = 0u; t < 2u * u32(radius) + 4u; t++) {
            let row = min(own + t, REACHED - 1u);
            sum += filters[slid + t] * filtered_across[row * TILE + local.x];
        }
        workgroupBarrier();
    }
    return sum;
}

// A level's filters, and the coarser one merged.
@compute @workgroup_size(TILE, GROUP_SIZE / TILE)
fn filter_level(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_id) local: vec3<u32>,
) {
    let c = group.z;
    if params.heads[c].z == 0u {
        return;
    }
    let sum = filtered(group, local);
    let x = group.x * TILE + local.x;
    for (var k = 0u; k < 4u; k += 2u) {
        let y = group.y * TILE + 4u * local.y + k;
        if x < params.size.x && y < params.size.y {
            let both = merged(x, params.first_row + y, c);
            to[here(x, y, c)] = sum[k] + both.x;
            if y + 1u < params.size.y {
                to[here(x, y + 1u, c)] = sum[k + 1u] + both.y;
            }
        }
    }
}

// The same of the frame.
@compute @workgroup_size(TILE, GROUP_SIZE / TILE)
fn filter_frame(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_id) local: vec3<u32>,
) {
    let c = group.z;
    let sum = filtered(group, local);
    let x = group.x * TILE + local.x;
    for (var k = 0u; k < 4u; k += 2u) {
        let y = group.y * TILE + 4u * local.y + k;
        if x < params.size.x && y < params.size.y {
            let row = params.first_row + y;
            let both = merged(x, row, c);
            to[here(x, y, c)] = begun(x, row, c) + sum[k] + both.x;
            if y + 1u < params.size.y {
                to[here(x, y + 1u, c)] = begun(x, row + 1u, c) + sum[k + 1u] + both.y;
            }
        }
    }
}

// Dense matrices across, one after another: row j of one is what sample j sends to each. The rows of a matrix
// lie `coarse_stride` apart; what each makes is `coarse_size.y` rows high and lies under what the one before
// made.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn dense_across(@builtin(global_invocation_id) id: vec3<u32>) {
    let c = id.z;
    if id.x >= params.size.x || id.y >= params.size.y * params.heads[c].y {
        return;
    }
    let y = id.y % params.size.y;
    let which = id.y / params.size.y;
    let first = params.heads[c].x + which * params.count * params.coarse_stride + id.x;
    var sum = 0.0;
    for (var j = 0u; j < params.count; j++) {
        sum += light(i32(j), i32(params.first_row + y), c) * values[first + j * params.coarse_stride];
    }
    let row = which * u32(params.coarse_size.y) + params.first_row + y;
    to[(row * 3u + c) * params.stride + id.x] = sum;
}

// Dense matrices down, added: row i of one is what row i receives from each.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn dense_down(@builtin(global_invocation_id) id: vec3<u32>) {
    let c = id.z;
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let y = params.first_row + id.y;
    var sum = 0.0;
    for (var which = 0u; which < params.heads[c].y; which++) {
        let first = params.heads[c].x + (which * params.count + y) * params.count;
        let row = which * params.count;
        for (var j = 0u; j < params.count; j++) {
            sum += values[first + j] * from_[((row + j) * 3u + c) * params.from_stride + id.x];
        }
    }
    to[here(id.x, id.y, c)] += sum;
}
