// Placed glass and openings: every pixel times what it sees of them. The twin of src/kernels/field.rs.

struct FieldRows {
    size: vec2<u32>,
    stride: u32,
    // The first of these rows, counted from the picture's top.
    first_row: u32,
    // The picture's size.
    whole: vec2<u32>,
    // First tiles across and down.
    roots: vec2<u32>,
    // Place of the last value of a table along one direction.
    last: u32,
    padding: u32,
    unused: vec2<u32>,
    // Uniform colour that comes before: the rows of its matrix.
    before: array<vec4<f32>, 3>,
}

@group(0) @binding(0) var<uniform> params: FieldRows;
// Rows of a picture: of each its red samples, then the green, then the blue.
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;
// Transmissions, or the nine elements of a matrix each, row by row.
@group(0) @binding(3) var<storage, read> values: array<f32>;
// Along one direction: for every column, then for every row, whole steps of the table and the bits of what
// is left. Of tiles: the tree.
@group(0) @binding(4) var<storage, read> table: array<u32>;

// Two neighbouring values and how far the place is on the way from one to the other.
struct Between {
    low: u32,
    high: u32,
    t: f32,
}

fn between(x: u32, y: u32) -> Between {
    let row = params.whole.x + params.first_row + y;
    let rest = bitcast<f32>(table[2u * x + 1u]) + bitcast<f32>(table[2u * row + 1u]);
    let carry = select(0, 1, rest >= 1.0);
    let steps = bitcast<i32>(table[2u * x]) + bitcast<i32>(table[2u * row]) + carry;
    if steps < 0 {
        return Between(0u, 0u, 0.0);
    }
    if u32(steps) >= params.last {
        return Between(params.last, params.last, 0.0);
    }
    return Between(u32(steps), u32(steps) + 1u, rest - f32(carry));
}

fn linear(at: Between, count: u32, element: u32) -> f32 {
    let low = values[at.low * count + element];
    let high = values[at.high * count + element];
    return low + at.t * (high - low);
}

// A tile: where its values begin, and how far down and across it the place lies.
struct Tile {
    first: u32,
    t: vec2<f32>,
}

fn tile(x: u32, y: u32) -> Tile {
    // Whole numbers tell the tile, so that no rounding does: `rest` of `whole` parts of a tile's side.
    let whole = 2u * params.whole;
    let place = (2u * vec2<u32>(x, params.first_row + y) + 1u) * params.roots;
    let cell = min(place / whole, params.roots - 1u);
    var rest = place - cell * whole;
    var entry = table[cell.y * params.roots.x + cell.x];
    while (entry & 1u) == 1u {
        rest *= 2u;
        let beyond = rest >= whole;
        rest -= select(vec2<u32>(0u), whole, beyond);
        let quarter = select(0u, 1u, beyond.x) + select(0u, 2u, beyond.y);
        entry = table[entry / 2u + quarter];
    }
    return Tile(entry / 2u * 16u, vec2<f32>(rest) / vec2<f32>(whole));
}

fn weights(t: f32) -> vec4<f32> {
    let t2 = t * t;
    let t3 = t2 * t;
    return vec4<f32>(
        1.0 - 5.5 * t + 9.0 * t2 - 4.5 * t3,
        9.0 * t - 22.5 * t2 + 13.5 * t3,
        -4.5 * t + 18.0 * t2 - 13.5 * t3,
        t - 4.5 * t2 + 4.5 * t3,
    );
}

fn cubic(at: Tile, count: u32, element: u32) -> f32 {
    let down = weights(at.t.y);
    var line = vec4<f32>(0.0);
    for (var j = 0u; j < 4u; j++) {
        let i = (at.first + 4u * j) * count + element;
        let row = vec4<f32>(values[i], values[i + count], values[i + 2u * count], values[i + 3u * count]);
        line += down[j] * row;
    }
    let first = dot(line, vec4<f32>(-5.5, 9.0, -4.5, 1.0));
    let second = dot(line, vec4<f32>(9.0, -22.5, 18.0, -4.5));
    let third = dot(line, vec4<f32>(-4.5, 13.5, -13.5, 4.5));
    let t = at.t.x;
    return line.x + t * (first + t * (second + t * third));
}

// A pixel of the picture, in the colour that it has before the field.
fn coloured(x: u32, y: u32) -> vec3<f32> {
    let p = pixel(3u * y * params.stride + x);
    return vec3<f32>(
        params.before[0].x * p.x + params.before[0].y * p.y + params.before[0].z * p.z,
        params.before[1].x * p.x + params.before[1].y * p.y + params.before[1].z * p.z,
        params.before[2].x * p.x + params.before[2].y * p.y + params.before[2].z * p.z,
    );
}

fn multiply(x: u32, y: u32, m: array<f32, 9>) {
    let p = coloured(x, y);
    put(3u * y * params.stride + x, vec3<f32>(
        m[0] * p.x + m[1] * p.y + m[2] * p.z,
        m[3] * p.x + m[4] * p.y + m[5] * p.z,
        m[6] * p.x + m[7] * p.y + m[8] * p.z,
    ));
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn across_neutral(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let seen = linear(between(id.x, id.y), 1u, 0u);
    put(3u * id.y * params.stride + id.x, seen * coloured(id.x, id.y));
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn across_coloured(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let at = between(id.x, id.y);
    var m: array<f32, 9>;
    for (var e = 0u; e < 9u; e++) {
        m[e] = linear(at, 9u, e);
    }
    multiply(id.x, id.y, m);
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn tiles_neutral(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    // What interpolation may have carried past black or clear is held there.
    let seen = clamp(cubic(tile(id.x, id.y), 1u, 0u), 0.0, 1.0);
    put(3u * id.y * params.stride + id.x, seen * coloured(id.x, id.y));
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn tiles_coloured(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let at = tile(id.x, id.y);
    var m: array<f32, 9>;
    for (var e = 0u; e < 9u; e++) {
        m[e] = cubic(at, 9u, e);
    }
    // Beside an opening's edge all elements go to nothing together.
    if m[0] + m[4] + m[8] <= 0.0 {
        m = array<f32, 9>();
    }
    multiply(id.x, id.y, m);
}
