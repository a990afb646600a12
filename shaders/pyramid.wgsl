// Levels of a picture, each made of the finer one. The twin of src/kernels/pyramid; how a level's light lies and is
// read stands before this.

struct PyramidStep {
    // Samples across and down that are written.
    size: vec2<u32>,
    // Samples of `from` that are stored, and twice its far edges.
    limit: vec2<i32>,
    twice: vec2<i32>,
    // The first of the six finer samples that the first of a level is made of.
    begin: vec2<i32>,
    // The first sample across and the first row that are joined with their mirror image across a fractional edge,
    // as all after them are; the finer columns that those across are made of.
    joined: vec2<u32>,
    span: vec2<i32>,
    // Where what they are made of begins.
    tables: vec2<u32>,
    // Samples from one row of each plane to the next.
    stride: u32,
    from_stride: u32,
    // The first row that is written, counted from the level's own; the first that is bound of each plane.
    first_row: u32,
    to_row: u32,
    from_row: u32,
    // Whether there is no light beyond the edges.
    is_dark: u32,
    // Partial sums of each channel, and where these begin.
    count: u32,
    sums: u32,
    unused: vec2<u32>,
    // For each channel: what is taken from what is read.
    base: vec4<f32>,
}

@group(0) @binding(0) var<uniform> params: PyramidStep;
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;
// Joined samples: for each its first tap and how many there are; then taps: finer place, weight's bits.
@group(0) @binding(4) var<storage, read> table: array<u32>;
// Four words of nothing, then partial sums, channel by channel.
@group(0) @binding(7) var<storage, read_write> sums: array<f32>;

fn here(x: u32, y: u32, c: u32) -> u32 {
    return ((params.first_row - params.to_row + y) * 3u + c) * params.stride + x;
}

// The sum of each row; a workgroup a row and channel.
@compute @workgroup_size(GROUP_SIZE)
fn sum_rows(@builtin(workgroup_id) group: vec3<u32>, @builtin(local_invocation_index) i: u32) {
    let c = group.z;
    let y = params.first_row + group.y;
    var own = 0.0;
    for (var x = i; x < u32(params.limit.x); x += GROUP_SIZE) {
        own += stored(i32(x), i32(y), c) - params.base[c];
    }
    let sum = gathered(i, own);
    if i == 0u {
        sums[4u + c * params.count + y] = sum;
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
        sums[4u + group.z * params.count + params.sums + group.y * groups.x + group.x] = sum;
    }
}

// Columns of the finer level that one workgroup reads of a level with joined samples, at most.
var<workgroup> reached_down: array<f32, REACHED_MOST * 16u>;

// The finer place of a tap of a joined sample; four taps' weights.
fn place(k: u32) -> i32 {
    return bitcast<i32>(table[k]);
}

fn weights(k: u32) -> vec4<f32> {
    return bitcast<vec4<f32>>(vec4<u32>(table[k + 1u], table[k + 3u], table[k + 5u], table[k + 7u]));
}

// Finer samples down under a row: six, or what a joined row is made of.
fn joined_down(x: i32, y: u32, c: u32) -> f32 {
    if y < params.joined.y {
        let top = params.begin.y + 2 * i32(y);
        return six(
            light(x, top, c), light(x, top + 1, c), light(x, top + 2, c),
            light(x, top + 3, c), light(x, top + 4, c), light(x, top + 5, c),
        );
    }
    let head = params.tables.y + 2u * (y - params.joined.y);
    let end = table[head] + 2u * table[head + 1u];
    // Eight at a time, none of which waits for another one to be read.
    var sum = vec4<f32>(0.0);
    var k = table[head];
    for (; k + 16u <= end; k += 16u) {
        sum += weights(k) * vec4<f32>(
            light(x, place(k), c), light(x, place(k + 2u), c),
            light(x, place(k + 4u), c), light(x, place(k + 6u), c),
        ) + weights(k + 8u) * vec4<f32>(
            light(x, place(k + 8u), c), light(x, place(k + 10u), c),
            light(x, place(k + 12u), c), light(x, place(k + 14u), c),
        );
    }
    for (; k < end; k += 2u) {
        sum.x += bitcast<f32>(table[k + 1u]) * light(x, place(k), c);
    }
    return sum.x + sum.y + sum.z + sum.w;
}

// The next coarser level where far edges fall between its samples: light is made and joined with its mirror image in
// one dispatch, from as much of the finer level as both are made of.
@compute @workgroup_size(32, GROUP_SIZE / 32)
fn decimate_joined(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_id) local: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    let c = group.z;
    let first = group.xy * HALVED;
    let rows = min(HALVED.y, params.size.y - first.y);
    var left = params.begin.x + 2 * i32(first.x);
    var right = left + i32(COLUMNS);
    if first.x + HALVED.x > params.joined.x {
        left = min(left, params.span.x);
        right = params.span.y;
    }
    let columns = u32(right - left);
    for (var k = i; k < rows * columns; k += GROUP_SIZE) {
        let y = params.first_row + first.y + k / columns;
        reached_down[k] = joined_down(left + i32(k % columns), y, c);
    }
    workgroupBarrier();
    let x = first.x + local.x;
    for (var row = local.y; row < rows && x < params.size.x; row += GROUP_SIZE / 32u) {
        let line = i32(row * columns) - left;
        var sum = 0.0;
        if x < params.joined.x {
            let k = u32(line + params.begin.x + 2 * i32(x));
            sum = six(
                reached_down[k], reached_down[k + 1u], reached_down[k + 2u],
                reached_down[k + 3u], reached_down[k + 4u], reached_down[k + 5u],
            );
        } else {
            let head = params.tables.x + 2u * (x - params.joined.x);
            let end = table[head] + 2u * table[head + 1u];
            var fours = vec4<f32>(0.0);
            var k = table[head];
            for (; k + 8u <= end; k += 8u) {
                fours += weights(k) * vec4<f32>(
                    reached_down[u32(line + place(k))], reached_down[u32(line + place(k + 2u))],
                    reached_down[u32(line + place(k + 4u))], reached_down[u32(line + place(k + 6u))],
                );
            }
            for (; k < end; k += 2u) {
                fours.x += bitcast<f32>(table[k + 1u]) * reached_down[u32(line + place(k))];
            }
            sum = fours.x + fours.y + fours.z + fours.w;
        }
        to[here(x, first.y + row, c)] = sum;
    }
}
