// Halos that stretch towards the corners of a wide lens's frame: its light laid out on square cells of
// direction cosines, and read back. The twin of src/kernels/stretch.rs. Rows lie channel beside channel, and a
// workgroup's third number is its channel.
//
// The processor spreads each pixel over sixteen cells; here each cell gathers the pixels that reach it, which
// needs no atomics and sums in one order.

struct StretchStep {
    // Samples across and down that are written.
    size: vec2<u32>,
    // The first row that is written.
    first_row: u32,
    // Samples from one row of `to` to the next.
    stride: u32,
    // What is read: its size.
    limit: vec2<u32>,
    from_stride: u32,
    // Pixels a side of a block.
    block: u32,
    // Cells across and down.
    count: vec2<u32>,
    // Pixels beyond the frame that are laid out, across and down.
    beyond: vec2<i32>,
    // The pixel in the frame's middle.
    middle: vec2<f32>,
    // Tangent of the field angle per pixel.
    tangent: vec2<f32>,
    // Cosine per cell.
    cell: f32,
    // Whether the frame is mirrored.
    is_mirrored: u32,
    unused: vec2<u32>,
    // For each channel: light around the frame where it is not mirrored, and what stays of its own light.
    level: vec4<f32>,
    direct: vec4<f32>,
}

@group(0) @binding(0) var<uniform> params: StretchStep;
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;
// The light that is added everywhere.
@group(0) @binding(3) var<storage, read> add: array<f32>;
// The rows of the frame that lie where rows are written.
@group(0) @binding(4) var<storage, read> frame: array<f32>;

fn outside(id: vec3<u32>) -> bool {
    return id.x >= params.size.x || id.y >= params.size.y;
}

fn here(id: vec3<u32>) -> u32 {
    return (id.y * 3u + id.z) * params.stride + id.x;
}

// An index beyond a border, mirrored: the edge pixel is repeated.
fn mirrored(index: i32, length: u32) -> u32 {
    let period = 2 * i32(length);
    let i = u32(((index % period) + period) % period);
    return select(2u * length - 1u - i, i, i < length);
}

// Where a row of what is read begins.
fn row_at(row: u32, c: u32) -> u32 {
    return (row * 3u + c) * params.from_stride;
}

fn pixel_at(x: i32, y: i32, c: u32) -> f32 {
    return from_[row_at(mirrored(y, params.limit.y), c) + mirrored(x, params.limit.x)];
}

// The frame averaged over blocks, mirrored where a block hangs over its edge.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn blocks(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let side = i32(params.block);
    let x = i32(id.x) * side;
    let y = i32(params.first_row + id.y) * side;
    var sum = 0.0;
    for (var j = 0; j < side; j++) {
        for (var i = 0; i < side; i++) {
            sum += pixel_at(x + i, y + j, id.z);
        }
    }
    to[here(id)] = sum / f32(side * side);
}

// Where a pixel's centre lies, in cells from the middle, and how many cells it covers.
fn place_and_area(x: i32, y: i32) -> vec3<f32> {
    let t = (vec2<f32>(vec2<i32>(x, y)) - params.middle) * params.tangent;
    let cos2 = 1.0 / (dot(t, t) + 1.0);
    let per_cell = 1.0 / params.cell;
    let pixel = params.tangent.x * params.tangent.y * per_cell * per_cell;
    return vec3<f32>(t * (sqrt(cos2) * per_cell), cos2 * cos2 * pixel);
}

// A cubic B-spline.
fn spline(at: f32) -> f32 {
    let d = abs(at);
    let u = max(2.0 - d, 0.0);
    return select(u * u * u / 6.0, (4.0 - 6.0 * d * d + 3.0 * d * d * d) / 6.0, d < 1.0);
}

// The tangent across of a direction with cosine `a` across and `b` the other way.
fn tangent_of(a: f32, b: f32) -> f32 {
    return a * inverseSqrt(max(1.0 - a * a - b * b, 1e-4));
}

// Between which pixels a cell's neighbourhood lies along one axis: cosines `a` along it and `b` the other
// way, from and to.
fn reach(a: vec2<f32>, b: vec2<f32>, axis: u32) -> vec2<i32> {
    let least = clamp(0.0, b.x, b.y);
    let low = min(min(tangent_of(a.x, b.x), tangent_of(a.x, b.y)), tangent_of(a.x, least));
    let high = max(max(tangent_of(a.y, b.x), tangent_of(a.y, b.y)), tangent_of(a.y, least));
    let pixels = vec2<f32>(low, high) / params.tangent[axis] + params.middle[axis];
    let beyond = params.beyond[axis];
    let last = i32(params.limit[axis]) - 1 + beyond;
    let far = f32(last + 2);
    let held = clamp(pixels, vec2<f32>(-far), vec2<f32>(far));
    return vec2<i32>(max(i32(floor(held.x)), -beyond), min(i32(ceil(held.y)), last));
}

// A cell's light: every pixel's around it by its solid angle, over what a field of 1 gives.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn lay_out(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let own = vec2<f32>(vec2<u32>(id.x, params.first_row + id.y));
    let cell = own - 0.5 * vec2<f32>(params.count - 1u);
    let low = (cell - 2.0) * params.cell;
    let high = (cell + 2.0) * params.cell;
    let columns = reach(vec2<f32>(low.x, high.x), vec2<f32>(low.y, high.y), 0u);
    let rows = reach(vec2<f32>(low.y, high.y), vec2<f32>(low.x, high.x), 1u);
    let last = vec2<i32>(params.limit) - 1;
    var light = 0.0;
    var whole = 0.0;
    for (var y = rows.x; y <= rows.y; y++) {
        for (var x = columns.x; x <= columns.y; x++) {
            let at = place_and_area(x, y);
            let weight = at.z * spline(at.x - cell.x) * spline(at.y - cell.y);
            if weight > 0.0 {
                let inside = x >= 0 && y >= 0 && x <= last.x && y <= last.y;
                var own = params.level[id.z];
                if inside || params.is_mirrored == 1u {
                    own = pixel_at(x, y, id.z);
                }
                light += weight * own;
                whole += weight;
            }
        }
    }
    to[here(id)] = select(0.0, light / max(whole, 1e-6), whole > 1e-6);
}

// Four neighbours' weights at `t` of the way from the second to the third.
fn weights(t: f32) -> vec4<f32> {
    let u = 1.0 - t;
    return vec4<f32>(
        u * u * u / 6.0,
        (3.0 * t * t * t - 6.0 * t * t + 4.0) / 6.0,
        (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
        t * t * t / 6.0,
    );
}

// The light at a place: sixteen samples, mirrored at the edges.
fn around(at: vec2<f32>, c: u32) -> f32 {
    let low = floor(at);
    let across = weights(at.x - low.x);
    let down = weights(at.y - low.y);
    let x = i32(low.x) - 1;
    let y = i32(low.y) - 1;
    var sum = 0.0;
    for (var j = 0; j < 4; j++) {
        let row = row_at(mirrored(y + j, params.limit.y), c);
        let four = vec4<f32>(
            from_[row + mirrored(x, params.limit.x)],
            from_[row + mirrored(x + 1, params.limit.x)],
            from_[row + mirrored(x + 2, params.limit.x)],
            from_[row + mirrored(x + 3, params.limit.x)],
        );
        sum += down[j] * dot(four, across);
    }
    return sum;
}

// The cells' light at the frame's pixels.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn read_back(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let at = place_and_area(i32(id.x), i32(params.first_row + id.y));
    to[here(id)] = around(at.xy + 0.5 * vec2<f32>(params.count - 1u), id.z);
}

// What stays, what is scattered, drawn out from blocks to pixels, and what is added everywhere.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn merge(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let row = params.first_row + id.y;
    var light = 0.0;
    if params.block == 1u {
        light = from_[row_at(row, id.z) + id.x];
    } else {
        let pixel = vec2<f32>(vec2<u32>(id.x, row)) + 0.5;
        light = around(pixel / f32(params.block) - 0.5, id.z);
    }
    to[here(id)] = params.direct[id.z] * frame[here(id)] + light + add[id.z];
}
