// Placed glass and openings: every pixel times what it sees of them, and with that the picture's first coarser level.
// The twin of src/kernels/field.rs.

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
    // Of a coarser level that is made beside: samples from one row to the next, its first row that is bound, partial
    // sums of each channel, where these begin, and samples across and down that are written.
    coarse_stride: u32,
    coarse_row: u32,
    count: u32,
    coarse_size: vec2<u32>,
    sums: u32,
    // The first rows that are bound of what is read and written then.
    from_row: u32,
    to_row: u32,
    unused: u32,
    padding: vec2<u32>,
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
// The coarser level; four words of nothing, then partial sums, channel by channel.
@group(0) @binding(5) var<storage, read_write> coarser: array<f32>;
@group(0) @binding(6) var<storage, read_write> sums: array<f32>;

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

// A pixel in the colour that it has before the field.
fn coloured(p: vec3<f32>) -> vec3<f32> {
    return vec3<f32>(
        params.before[0].x * p.x + params.before[0].y * p.y + params.before[0].z * p.z,
        params.before[1].x * p.x + params.before[1].y * p.y + params.before[1].z * p.z,
        params.before[2].x * p.x + params.before[2].y * p.y + params.before[2].z * p.z,
    );
}

fn multiplied(m: array<f32, 9>, p: vec3<f32>) -> vec3<f32> {
    return vec3<f32>(
        m[0] * p.x + m[1] * p.y + m[2] * p.z,
        m[3] * p.x + m[4] * p.y + m[5] * p.z,
        m[6] * p.x + m[7] * p.y + m[8] * p.z,
    );
}

// Kinds of tables. Every entry point names its own, so that nothing is left of the others in it.
const ACROSS_NEUTRAL = 0u;
const ACROSS_COLOURED = 1u;
const TILES_NEUTRAL = 2u;
const TILES_COLOURED = 3u;
const NO_FIELD = 4u;

// What becomes of a pixel at a place, counted from the first row.
fn lit(kind: u32, x: u32, y: u32, seen: vec3<f32>) -> vec3<f32> {
    let p = coloured(seen);
    if kind == NO_FIELD {
        return p;
    }
    if kind == ACROSS_NEUTRAL {
        return linear(between(x, y), 1u, 0u) * p;
    }
    if kind == TILES_NEUTRAL {
        // What interpolation may have carried past black or clear is held there.
        return clamp(cubic(tile(x, y), 1u, 0u), 0.0, 1.0) * p;
    }
    var m: array<f32, 9>;
    if kind == ACROSS_COLOURED {
        let at = between(x, y);
        for (var e = 0u; e < 9u; e++) {
            m[e] = linear(at, 9u, e);
        }
        return multiplied(m, p);
    }
    let at = tile(x, y);
    for (var e = 0u; e < 9u; e++) {
        m[e] = cubic(at, 9u, e);
    }
    // Beside an opening's edge all elements go to nothing together.
    if m[0] + m[4] + m[8] <= 0.0 {
        return vec3<f32>(0.0);
    }
    return multiplied(m, p);
}

fn one(kind: u32, id: vec3<u32>) {
    if id.x < params.size.x && id.y < params.size.y {
        let i = 3u * id.y * params.stride + id.x;
        put(i, lit(kind, id.x, id.y, pixel(i)));
    }
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn across_neutral(@builtin(global_invocation_id) id: vec3<u32>) {
    one(ACROSS_NEUTRAL, id);
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn across_coloured(@builtin(global_invocation_id) id: vec3<u32>) {
    one(ACROSS_COLOURED, id);
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn tiles_neutral(@builtin(global_invocation_id) id: vec3<u32>) {
    one(TILES_NEUTRAL, id);
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn tiles_coloured(@builtin(global_invocation_id) id: vec3<u32>) {
    one(TILES_COLOURED, id);
}

// An index that may lie beyond the edges of `count` samples, mirrored. What lies further off is made for nobody.
fn mirrored(index: i32, count: u32) -> u32 {
    let near = select(index, -1 - index, index < 0);
    let far = 2 * i32(count) - 1 - near;
    return u32(clamp(min(near, far), 0, i32(count) - 1));
}

// What becomes of the pixel in a column and a row of the whole picture, or beyond its edges.
fn lit_beyond(kind: u32, x: u32, row: i32) -> vec3<f32> {
    let y = mirrored(row, params.whole.y);
    return lit(kind, x, y, pixel(3u * (y - params.from_row) * params.stride + x));
}

fn six(a: vec3<f32>, b: vec3<f32>, c: vec3<f32>, d: vec3<f32>, e: vec3<f32>, f: vec3<f32>) -> vec3<f32> {
    return NEAR * (c + d) + NEXT * (b + e) + FAR * (a + f);
}

// Columns of the coarser level that one workgroup makes: an invocation has a column of the picture, and two on either
// side are a neighbour's.
const MADE = GROUP_SIZE / 2u - 2u;
// Rows of which six have become one, the channels one after another: one that is read and one that is written.
var<workgroup> halved_down: array<f32, 2u * 3u * GROUP_SIZE>;
var<workgroup> part: array<vec3<f32>, GROUP_SIZE>;

// The picture, and its first coarser level made of what has just been made, before it has left. Each invocation goes
// down its column and holds six rows; the rows above and below a workgroup's own are made again rather than waited for.
fn halve(kind: u32, group: vec3<u32>, groups: vec3<u32>, i: u32) {
    let left = group.x * MADE;
    let column = 2 * i32(left) - 2 + i32(i);
    let x = mirrored(column, params.whole.x);
    let is_own = i >= 2u && i < GROUP_SIZE - 2u && column < i32(params.whole.x);
    let rows = min(MADE_DOWN, params.coarse_size.y - group.y * MADE_DOWN);
    var y = 2 * i32(params.coarse_row + group.y * MADE_DOWN);
    var a = lit_beyond(kind, x, y - 2);
    var b = lit_beyond(kind, x, y - 1);
    var c = lit_beyond(kind, x, y);
    var d = lit_beyond(kind, x, y + 1);
    var sum = vec3<f32>(0.0);
    for (var row = 0u; row < rows; row++) {
        let e = lit_beyond(kind, x, y + 2);
        let f = lit_beyond(kind, x, y + 3);
        if is_own && y < i32(params.whole.y) {
            put(3u * (u32(y) - params.to_row) * params.stride + x, c);
            sum += c;
        }
        if is_own && y + 1 < i32(params.whole.y) {
            put(3u * (u32(y) + 1u - params.to_row) * params.stride + x, d);
            sum += d;
        }
        let down = six(a, b, c, d, e, f);
        let first = (row & 1u) * 3u * GROUP_SIZE;
        halved_down[first + i] = down.x;
        halved_down[first + GROUP_SIZE + i] = down.y;
        halved_down[first + 2u * GROUP_SIZE + i] = down.z;
        workgroupBarrier();
        for (var k = i; k < 3u * MADE; k += GROUP_SIZE) {
            let at = left + k % MADE;
            let h = first + (k / MADE) * GROUP_SIZE + 2u * (k % MADE);
            if at < params.coarse_size.x {
                let line = (group.y * MADE_DOWN + row) * 3u + k / MADE;
                coarser[line * params.coarse_stride + at] = NEAR * (halved_down[h + 2u] + halved_down[h + 3u])
                    + NEXT * (halved_down[h + 1u] + halved_down[h + 4u])
                    + FAR * (halved_down[h] + halved_down[h + 5u]);
            }
        }
        a = c;
        b = d;
        c = e;
        d = f;
        y += 2;
    }
    part[i] = sum;
    workgroupBarrier();
    for (var half = GROUP_SIZE / 2u; half > 0u; half /= 2u) {
        if i < half {
            part[i] += part[i + half];
        }
        workgroupBarrier();
    }
    if i < 3u {
        sums[4u + i * params.count + params.sums + group.y * groups.x + group.x] = part[0][i];
    }
}

@compute @workgroup_size(GROUP_SIZE)
fn across_neutral_halved(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(num_workgroups) groups: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    halve(ACROSS_NEUTRAL, group, groups, i);
}

@compute @workgroup_size(GROUP_SIZE)
fn across_coloured_halved(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(num_workgroups) groups: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    halve(ACROSS_COLOURED, group, groups, i);
}

@compute @workgroup_size(GROUP_SIZE)
fn tiles_neutral_halved(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(num_workgroups) groups: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    halve(TILES_NEUTRAL, group, groups, i);
}

@compute @workgroup_size(GROUP_SIZE)
fn tiles_coloured_halved(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(num_workgroups) groups: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    halve(TILES_COLOURED, group, groups, i);
}

@compute @workgroup_size(GROUP_SIZE)
fn no_field_halved(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(num_workgroups) groups: vec3<u32>,
    @builtin(local_invocation_index) i: u32,
) {
    halve(NO_FIELD, group, groups, i);
}
