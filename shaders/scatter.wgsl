// Scattered light on a pyramid of levels. The twin of src/kernels/scatter.rs and src/kernels/pyramid.
//
// A level lies in a plane with an apron around it, as wide as its filters and its decimation reach, so that
// no loop asks where it is. Every entry point works on some rows of a plane and is told where in the bound
// rows its first sample lies.

struct ScatterStep {
    // Samples across and down that are written.
    size: vec2<u32>,
    // Where in the rows of `to` the first of them lies.
    at: vec2<u32>,
    // What in the rows of `from` belongs to it.
    origin: vec2<u32>,
    // The size of `from`, where it must be known.
    limit: vec2<u32>,
    // Samples from one row of `to` and of `from` to the next.
    stride: u32,
    from_stride: u32,
    // The first row that is written, counted from the level's own.
    first_row: u32,
    // Taps beside the middle one; targets; terms.
    count: u32,
    factor: f32,
    base: f32,
    unused: vec2<u32>,
    // Half the taps of a filter, the middle one first.
    taps: array<vec4<f32>, TAPS_FOURS>,
}

@group(0) @binding(0) var<uniform> params: ScatterStep;
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;
// Matrices, and the sum that is added everywhere.
@group(0) @binding(3) var<storage, read> values: array<f32>;
// Targets: place, first tap, taps; then taps: place, weight's bits.
@group(0) @binding(4) var<storage, read> table: array<u32>;

fn outside(id: vec3<u32>) -> bool {
    return id.x >= params.size.x || id.y >= params.size.y;
}

fn here(id: vec3<u32>) -> u32 {
    return (params.at.y + id.y) * params.stride + params.at.x + id.x;
}

fn there(x: u32, y: u32) -> u32 {
    return (params.origin.y + y) * params.from_stride + params.origin.x + x;
}

fn tap(i: u32) -> f32 {
    return params.taps[i >> 2u][i & 3u];
}

// A frame's plane into its first level, less the light of an even field around it.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn lay(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    to[here(id)] = from_[there(id.x, id.y)] - params.base;
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

// Each row's sum; a workgroup a row.
@compute @workgroup_size(GROUP_SIZE)
fn sum_rows(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    var own = 0.0;
    for (var x = i; x < params.limit.x; x += GROUP_SIZE) {
        own += from_[there(x, group.y)];
    }
    let sum = gathered(i, own);
    if i == 0u {
        to[params.at.x + group.y] = sum;
    }
}

// What is added everywhere: the veil's share of all rows' sum, and what is known beforehand.
@compute @workgroup_size(GROUP_SIZE)
fn sum_all(@builtin(local_invocation_index) i: u32) {
    var own = 0.0;
    for (var y = i; y < params.count; y += GROUP_SIZE) {
        own += from_[y];
    }
    let sum = gathered(i, own);
    if i == 0u {
        to[0] = params.factor * sum + params.base;
    }
}

fn six(a: f32, b: f32, c: f32, d: f32, e: f32, f: f32) -> f32 {
    return NEAR * (c + d) + NEXT * (b + e) + FAR * (a + f);
}

fn column(x: u32, y: u32) -> f32 {
    let i = there(x, y);
    let s = params.from_stride;
    return six(
        from_[i], from_[i + s], from_[i + 2u * s],
        from_[i + 3u * s], from_[i + 4u * s], from_[i + 5u * s],
    );
}

// The next coarser level: six taps down, then across.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn decimate(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let x = 2u * id.x;
    let y = 2u * id.y;
    to[here(id)] = six(
        column(x, y), column(x + 1u, y), column(x + 2u, y),
        column(x + 3u, y), column(x + 4u, y), column(x + 5u, y),
    );
}

// A target's weighted sum along a line: samples `step` apart from `first` on.
fn joined(which: u32, first: u32, step: u32) -> f32 {
    let taps = 3u * params.count + 2u * table[3u * which + 1u];
    var sum = 0.0;
    for (var k = 0u; k < table[3u * which + 2u]; k++) {
        let place = table[taps + 2u * k];
        sum += bitcast<f32>(table[taps + 2u * k + 1u]) * to[first + place * step];
    }
    return sum;
}

// The samples on either side of each row; none of them is made of another.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn apron_across(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let first = (params.at.y + id.y) * params.stride + params.at.x;
    to[first + table[3u * id.x]] = joined(id.x, first, 1u);
}

// The rows above and below.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn apron_down(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let first = params.at.y * params.stride + params.at.x + id.x;
    to[first + table[3u * id.y] * params.stride] = joined(id.y, first, params.stride);
}

fn stitch(first: u32, step: u32) {
    // Targets are made of each other: none is written before all are made.
    var made: array<f32, SEAM_MOST>;
    for (var i = 0u; i < params.count; i++) {
        made[i] = joined(i, first, step);
    }
    for (var i = 0u; i < params.count; i++) {
        to[first + table[3u * i] * step] = made[i];
    }
}

// Joins each row with its mirror image across a fractional edge.
@compute @workgroup_size(GROUP_SIZE)
fn seam_across(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x < params.size.y {
        stitch((params.at.y + id.x) * params.stride + params.at.x, 1u);
    }
}

// Each column.
@compute @workgroup_size(GROUP_SIZE)
fn seam_down(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x < params.size.x {
        stitch(params.at.y * params.stride + params.at.x + id.x, params.stride);
    }
}

// A filter across.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn across(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let middle = there(id.x, id.y);
    var sum = tap(0u) * from_[middle];
    for (var t = 1u; t <= params.count; t++) {
        sum += tap(t) * (from_[middle - t] + from_[middle + t]);
    }
    to[here(id)] = sum;
}

// The same filter down, added.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn down(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let middle = there(id.x, id.y + params.count);
    var sum = tap(0u) * from_[middle];
    for (var t = 1u; t <= params.count; t++) {
        let far = t * params.from_stride;
        sum += tap(t) * (from_[middle - far] + from_[middle + far]);
    }
    to[here(id)] += sum;
}

// What stays of the light that is there, and what is added everywhere.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn begin(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    to[here(id)] = params.factor * from_[there(id.x, id.y)] + values[0];
}

// A coarser row merged across, at the finer sample `x`.
fn raised(x: u32, row: u32) -> f32 {
    let k = i32(x / 2u + params.origin.x);
    let last = i32(params.limit.x) - 1;
    let i = row * params.from_stride;
    let left = from_[i + u32(clamp(k - 1, 0, last))];
    let middle = from_[i + u32(clamp(k, 0, last))];
    let right = from_[i + u32(clamp(k + 1, 0, last))];
    let far = select(FAR, NEXT, (x & 1u) == 1u);
    let near = select(NEXT, FAR, (x & 1u) == 1u);
    return 2.0 * (near * left + NEAR * middle + far * right);
}

// Merges the coarser level: the transpose of the decimation, times two. `origin` is the coarser sample in
// which the first one lies, `at.y` here the first bound coarser row.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn raise(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let y = params.first_row + id.y;
    let k = i32(y / 2u + params.origin.y);
    let last = i32(params.limit.y) - 1;
    let above = raised(id.x, u32(clamp(k - 1, 0, last)) - params.at.y);
    let middle = raised(id.x, u32(clamp(k, 0, last)) - params.at.y);
    let below = raised(id.x, u32(clamp(k + 1, 0, last)) - params.at.y);
    let far = select(FAR, NEXT, (y & 1u) == 1u);
    let near = select(NEXT, FAR, (y & 1u) == 1u);
    to[id.y * params.stride + id.x] += 2.0 * (near * above + NEAR * middle + far * below);
}

// A dense matrix across: row j of it is what sample j sends to each.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn dense_across(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    var sum = 0.0;
    for (var j = 0u; j < params.count; j++) {
        sum += from_[there(j, id.y)] * values[j * params.limit.x + id.x];
    }
    to[here(id)] = sum;
}

// A dense matrix down, added: row i of it is what row i receives from each.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn dense_down(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let row = (params.first_row + id.y) * params.count;
    var sum = 0.0;
    for (var j = 0u; j < params.count; j++) {
        sum += values[row + j] * from_[there(id.x, j)];
    }
    to[here(id)] += sum;
}
