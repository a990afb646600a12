// Scattered light on a pyramid of levels, from the coarsest to the frame. The twin of src/kernels/scatter.rs and
// src/kernels/pyramid; pyramid.wgsl makes the levels, and how their light lies and is read stands before both.

struct ScatterStep {
    // Samples across and down that are written.
    size: vec2<u32>,
    // Samples of `from` that are stored, and twice its far edges.
    limit: vec2<i32>,
    twice: vec2<i32>,
    // The coarser sample in which the first one of a level lies.
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
    // Samples across and down of matrices.
    dense: vec2<u32>,
    // Partial sums of each channel's light.
    sums: u32,
    unused: u32,
    padding: vec2<u32>,
    // For each channel: what stays of the light that is there.
    factor: vec4<f32>,
    // For each channel: what is taken from what is read.
    base: vec4<f32>,
    // For each channel: what its sum is multiplied by, and what is known of what is added everywhere.
    share: vec4<f32>,
    known: vec4<f32>,
    // For each channel: where its filters or matrices begin, how many there are, or how many fours of them, whether
    // it has this level and whether it has the coarser one.
    heads: array<vec4<u32>, 3>,
}

@group(0) @binding(0) var<uniform> params: ScatterStep;
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;
@group(0) @binding(5) var<storage, read> coarser: array<f32>;
// Filters: a radius, half the taps across, the taps down slid along four rows. Or matrices, four at a time: of
// each what every sample sends to each of a row, then what each row receives from every one.
@group(0) @binding(6) var<storage, read> filters: array<vec4<f32>>;
// For each channel what is added everywhere, then a word of nothing; then partial sums, channel by channel.
@group(0) @binding(7) var<storage, read_write> sums: array<f32>;

// What is added everywhere: the veil's share of all partial sums, and what is known beforehand. A workgroup a
// channel.
fn add_up(c: u32, i: u32) {
    var own = 0.0;
    for (var k = i; k < params.sums; k += GROUP_SIZE) {
        own += sums[4u + c * params.sums + k];
    }
    let sum = gathered(i, own);
    if i == 0u {
        sums[c] = params.share[c] * sum + params.known[c];
    }
}

@compute @workgroup_size(GROUP_SIZE)
fn sum_all(@builtin(workgroup_id) group: vec3<u32>, @builtin(local_invocation_index) i: u32) {
    add_up(group.z, i);
}

// The first workgroups past the three channels' add up, so that no dispatch must wait for that alone.
fn is_beside(group: vec3<u32>, i: u32) -> bool {
    if group.z >= 3u && group.x == 0u && group.y == 0u {
        add_up(group.z - 3u, i);
    }
    return group.z >= 3u;
}

fn here(x: u32, y: u32, c: u32) -> u32 {
    return ((params.first_row - params.to_row + y) * 3u + c) * params.stride + x;
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
    return params.factor[c] * (stored(i32(x), i32(y), c) - params.base[c]) + sums[c];
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

// Where four rows begin, and whether there is light in them.
struct Four {
    at: vec4<u32>,
    lit: vec4<bool>,
}

fn four_rows(y: i32, c: u32) -> Four {
    let own = vec4<i32>(y) + vec4<i32>(0, 1, 2, 3);
    let limit = vec4<i32>(params.limit.y);
    let near = select(own, -1 - own, own < vec4<i32>(0));
    let far = select(near, params.twice.y - 1 - near, near >= limit);
    let held = clamp(own, vec4<i32>(0), limit - 1);
    let row = vec4<u32>(select(far, held, vec4<bool>(params.is_dark == 1u)));
    let lit = (own >= vec4<i32>(0)) & (own < limit);
    return Four(((row - params.from_row) * 3u + c) * params.from_stride, lit);
}

// The light of a column in four rows, which may lie beyond the edges.
fn four(x: i32, rows: Four, c: u32) -> vec4<f32> {
    var column = mirrored(x, params.limit.x, params.twice.x);
    if params.is_dark == 1u {
        if x < 0 || x >= params.limit.x {
            return vec4<f32>(0.0);
        }
        column = x;
    }
    let i = rows.at + u32(column);
    let light = vec4<f32>(from_[i.x], from_[i.y], from_[i.z], from_[i.w]);
    if params.is_dark == 1u {
        return select(vec4<f32>(0.0), light - params.base[c], rows.lit);
    }
    return light;
}

// A filter across, in four rows at a time: what waits for one of them loads the others meanwhile.
fn across(first: u32, radius: i32, x: i32, y: i32, c: u32) -> vec4<f32> {
    let rows = four_rows(y, c);
    var sum = filters[first + 1u].x * four(x, rows, c);
    for (var t = 1; t <= radius; t++) {
        let tap = filters[first + 1u + u32(t)].x;
        sum += tap * (four(x - t, rows, c) + four(x + t, rows, c));
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
        for (var row = 4u * local.y; row < rows; row += 4u * (GROUP_SIZE / TILE)) {
            let four = across(first, radius, x, top + i32(row) - radius, c);
            for (var k = 0u; k < 4u; k++) {
                filtered_across[(row + k) * TILE + local.x] = four[k];
            }
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

fn filter_all(group: vec3<u32>, local: vec3<u32>) {
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

// A level's filters, and the coarser one merged.
@compute @workgroup_size(TILE, GROUP_SIZE / TILE)
fn filter_level(@builtin(workgroup_id) group: vec3<u32>, @builtin(local_invocation_id) local: vec3<u32>) {
    filter_all(group, local);
}

// The same of the coarsest; beside the three channels, what is added everywhere.
@compute @workgroup_size(TILE, GROUP_SIZE / TILE)
fn filter_coarsest(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_id) local: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    if is_beside(group, i) {
        return;
    }
    filter_all(group, local);
}

// The same of the frame.
@compute @workgroup_size(TILE, GROUP_SIZE / TILE)
fn filter_frame(@builtin(workgroup_id) group: vec3<u32>, @builtin(local_invocation_id) local: vec3<u32>) {
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

// Rows of light gone across that one workgroup holds at a time, for so many columns as it makes.
const HELD = 120u;
var<workgroup> strip: array<vec4<f32>, STRIP * HELD>;

// A strip of columns with dense matrices, four at a time: all rows across, then down, both in one dispatch, since a
// level so small is done before the next one could begin.
fn add_dense(group: vec3<u32>, local: vec3<u32>) {
    let c = group.z;
    let x = group.x * STRIP + local.x;
    let size = params.dense;
    for (var four = 0u; four < params.heads[c].y; four++) {
        let across = params.heads[c].x + four * (size.x * size.x + size.y * size.y);
        let down = across + size.x * size.x;
        for (var top = 0u; top < size.y; top += HELD) {
            let rows = min(HELD, size.y - top);
            for (var row = local.y; row < rows && x < params.size.x; row += GROUP_SIZE / STRIP) {
                let y = i32(top + row);
                // Eight samples at a time, none of which waits for another one to be read.
                var sum = vec4<f32>(0.0);
                var too = sum;
                var j = 0u;
                for (; j + 8u <= size.x; j += 8u) {
                    let i = i32(j);
                    let at = across + j * size.x + x;
                    sum += light(i, y, c) * filters[at]
                        + light(i + 1, y, c) * filters[at + size.x]
                        + light(i + 2, y, c) * filters[at + 2u * size.x]
                        + light(i + 3, y, c) * filters[at + 3u * size.x];
                    too += light(i + 4, y, c) * filters[at + 4u * size.x]
                        + light(i + 5, y, c) * filters[at + 5u * size.x]
                        + light(i + 6, y, c) * filters[at + 6u * size.x]
                        + light(i + 7, y, c) * filters[at + 7u * size.x];
                }
                for (; j < size.x; j++) {
                    sum += light(i32(j), y, c) * filters[across + j * size.x + x];
                }
                strip[row * STRIP + local.x] = sum + too;
            }
            workgroupBarrier();
            for (var y = local.y; y < params.size.y && x < params.size.x; y += GROUP_SIZE / STRIP) {
                let at = down + y * size.y + top;
                var sum = vec4<f32>(0.0);
                var too = sum;
                var j = 0u;
                for (; j + 4u <= rows; j += 4u) {
                    let held = j * STRIP + local.x;
                    sum += filters[at + j] * strip[held] + filters[at + j + 1u] * strip[held + STRIP];
                    too += filters[at + j + 2u] * strip[held + 2u * STRIP]
                        + filters[at + j + 3u] * strip[held + 3u * STRIP];
                }
                for (; j < rows; j++) {
                    sum += filters[at + j] * strip[j * STRIP + local.x];
                }
                sum += too;
                to[here(x, y, c)] += sum.x + sum.y + sum.z + sum.w;
            }
            workgroupBarrier();
        }
    }
}

// The coarsest level where it is so small that all of its filters are matrices; beside the three channels, what is
// added everywhere.
@compute @workgroup_size(STRIP, GROUP_SIZE / STRIP)
fn dense(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_id) local: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    if is_beside(group, i) {
        return;
    }
    let x = group.x * STRIP + local.x;
    for (var y = local.y; y < params.size.y && x < params.size.x; y += GROUP_SIZE / STRIP) {
        to[here(x, y, group.z)] = 0.0;
    }
    add_dense(group, local);
}

// The same of a frame so small or thin.
@compute @workgroup_size(STRIP, GROUP_SIZE / STRIP)
fn dense_frame(@builtin(workgroup_id) group: vec3<u32>, @builtin(local_invocation_id) local: vec3<u32>) {
    let x = group.x * STRIP + local.x;
    for (var y = local.y; y < params.size.y && x < params.size.x; y += GROUP_SIZE / STRIP) {
        to[here(x, y, group.z)] = begun(x, y, group.z);
    }
    add_dense(group, local);
}
