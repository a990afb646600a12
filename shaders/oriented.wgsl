// Scattered light that has a direction: the cosines of a mirrored frame, multiplied, and turned into sines by
// what is odd in the law. The twin of src/kernels/oriented.rs.
//
// Two rows at a time are the real and the imaginary part of one complex line (Makhoul, "A fast cosine
// transform in one and two dimensions", 1980), which is transformed in one part or in two, each short enough
// for a workgroup's memory; a length that does not come apart so is turned into a convolution by a chirp
// (Bluestein, "A linear filtering approach to the computation of discrete Fourier transform", 1970). All
// angles are in tables.

struct OrientedStep {
    // Samples across and down that are written; complex ones and lines, where those are.
    size: vec2<u32>,
    // Where in the rows bound the first sample lies: of `from_`, or of `to` where a frame is laid or turned.
    at: vec2<u32>,
    // Samples from one row of `to` and of `from_` to the next.
    stride: u32,
    from_stride: u32,
    // Where in a row of a picture the channel begins, of `from_` or of what is merged; and which one it is.
    lane: u32,
    channel: u32,
    // Rows of samples that are bound.
    rows: u32,
    // Which transform.
    kind: u32,
    // A line's own length, and the one that it is transformed at.
    length: u32,
    padded: u32,
    // Where in the table: quarter turns of the line; the chirp and what it is convolved with.
    turns: u32,
    chirp: u32,
    spectrum: u32,
    is_chirped: u32,
    // What is multiplied by, and what is taken away.
    factor: f32,
    base: f32,
}

struct OrientedPart {
    // Parts in all, their length, how many of them a workgroup takes, and how many are in a line.
    count: u32,
    length: u32,
    batch: u32,
    per: u32,
    // Samples from one line to the next.
    padded: u32,
    // Where in the table: roots of unity, and what the parts are turned by.
    roots: u32,
    twist: u32,
    stages: u32,
    // Samples from one part to the next, and from one of its own to the next.
    taken: vec2<u32>,
    left: vec2<u32>,
    radices: array<vec4<u32>, RADIX_FOURS>,
}

@group(0) @binding(0) var<uniform> params: OrientedStep;
@group(0) @binding(0) var<uniform> part: OrientedPart;
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;
// The light that is added everywhere.
@group(0) @binding(3) var<storage, read> add: array<f32>;
// What stands beside `to` or `from_`: sines.
@group(0) @binding(4) var<storage, read_write> sines: array<f32>;
// Complex lines, and the tables of a length.
@group(0) @binding(5) var<storage, read_write> lines: array<vec2<f32>>;
@group(0) @binding(6) var<storage, read> from_lines: array<vec2<f32>>;
@group(0) @binding(7) var<storage, read> table: array<vec2<f32>>;
// The picture that is scattered.
@group(0) @binding(8) var<storage, read> frame: array<f32>;

fn outside(id: vec3<u32>) -> bool {
    return id.x >= params.size.x || id.y >= params.size.y;
}

fn here(id: vec3<u32>) -> u32 {
    return id.y * params.stride + id.x;
}

fn product(a: vec2<f32>, b: vec2<f32>) -> vec2<f32> {
    return vec2<f32>(a.x * b.x - a.y * b.y, a.x * b.y + a.y * b.x);
}

fn conjugate(a: vec2<f32>) -> vec2<f32> {
    return vec2<f32>(a.x, -a.y);
}

// A frame's rows in wider ones, less the light of an even field; dark on either side.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn lay(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    var light = 0.0;
    if id.x >= params.at.x && id.x - params.at.x < params.length {
        light = from_[id.y * params.from_stride + params.lane + id.x - params.at.x] - params.base;
    }
    to[here(id)] = light;
}

// Rows above and below it.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn darken(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    to[here(id)] = 0.0;
}

// Which sample stands at place `i` of a line: the even ones going out, the odd ones coming back.
fn sample(i: u32) -> u32 {
    return select(2u * (params.length - 1u - i) + 1u, 2u * i, 2u * i < params.length);
}

fn at(row: u32, i: u32) -> f32 {
    if row >= params.rows {
        return 0.0;
    }
    return from_[row * params.from_stride + params.lane + i];
}

// A row's cosine of order `k`. Sines are cosines in the opposite order, every other sample's sign changed.
fn order(row: u32, k: u32) -> f32 {
    if params.kind == SINES {
        if k == 0u || k == params.length {
            return 0.0;
        }
        return at(row, params.length - k);
    }
    if k == params.length {
        return 0.0;
    }
    return at(row, k);
}

// Two rows into each line.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn gather(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let n = params.length;
    let i = id.x;
    let a = 2u * id.y;
    let b = a + 1u;
    var both = vec2<f32>(0.0);
    if i < n {
        if params.kind == COSINES {
            both = vec2<f32>(at(a, sample(i)), at(b, sample(i)));
        } else {
            // The conjugate of what is transformed back, so that one direction does for both.
            let sides = vec2<f32>(order(a, i) + order(b, n - i), order(a, n - i) - order(b, i));
            both = product(table[params.turns + i], sides);
        }
        if params.is_chirped == 1u {
            both = product(both, table[params.chirp + i]);
        }
    }
    lines[id.y * params.padded + i] = both;
}

// A sample of a transformed line.
fn transformed(line: u32, i: u32) -> vec2<f32> {
    let value = from_lines[line * params.padded + i];
    if params.is_chirped == 1u {
        return product(conjugate(value), table[params.chirp + i]);
    }
    return value;
}

// Each line back into its two rows.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn spread(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let i = id.x;
    let own = transformed(id.y, i);
    var place = i;
    var both: vec2<f32>;
    if params.kind == COSINES {
        let other = conjugate(transformed(id.y, select(params.length - i, 0u, i == 0u)));
        let turn = 0.5 * table[params.turns + i];
        let sum = own + other;
        let gap = own - other;
        both = vec2<f32>(turn.x * sum.x - turn.y * sum.y, turn.x * gap.y + turn.y * gap.x);
    } else {
        place = sample(i);
        let is_turned = params.kind == SINES && (place & 1u) == 1u;
        both = select(0.5, -0.5, is_turned) * conjugate(own);
    }
    let first = 2u * id.y * params.stride + place;
    to[first] = both.x;
    if 2u * id.y + 1u < params.rows {
        to[first + params.stride] = both.y;
    }
}

// A transformed line times what the chirp is convolved with, made ready for the way back.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn convolve(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let i = id.y * params.padded + id.x;
    lines[i] = conjugate(product(from_lines[i], table[params.spectrum + id.x]));
}

// Parts of lines side by side, and what they become.
var<workgroup> held: array<vec2<f32>, 2 * PART_MOST>;

// Where sample `i` of a part lies.
fn place(which: u32, steps: vec2<u32>, i: u32) -> u32 {
    return which / part.per * part.padded + which % part.per * steps.x + i * steps.y;
}

// Which part of a batch, and which of its samples: neighbours in memory to neighbouring threads.
fn split(e: u32, along: bool) -> vec2<u32> {
    if along {
        return vec2<u32>(e / part.length, e % part.length);
    }
    return vec2<u32>(e % part.batch, e / part.batch);
}

// One stage of a transform that puts itself in order (Stockham's): sample `o` of what a part becomes, from
// samples that begin at `from_half`, when stages before had radices of product `done`.
fn stage(from_half: u32, which: u32, o: u32, radix: u32, done: u32) -> vec2<f32> {
    let rest = part.length / (done * radix);
    let group = o / done;
    let k = group % radix;
    let p = group / radix;
    let step = k * (part.length / radix);
    var turn = done * k * p;
    var from_ = from_half + (o % done + done * p) * part.batch + which;
    var sum = vec2<f32>(0.0);
    for (var l = 0u; l < radix; l++) {
        sum += product(held[from_], table[part.roots + turn]);
        from_ += done * rest * part.batch;
        turn += step;
        turn = select(turn, turn - part.length, turn >= part.length);
    }
    return sum;
}

// Transforms parts of lines: every sample of one part in `per`, or one run of samples.
@compute @workgroup_size(GROUP_SIZE)
fn transform(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_index) first: u32,
) {
    let all = part.length * part.batch;
    let begin = group.x * part.batch;
    for (var e = first; e < all; e += GROUP_SIZE) {
        let at = split(e, part.taken.y == 1u);
        var value = vec2<f32>(0.0);
        if begin + at.x < part.count {
            value = from_lines[place(begin + at.x, part.taken, at.y)];
        }
        held[at.y * part.batch + at.x] = value;
    }
    workgroupBarrier();
    var half = 0u;
    var done = 1u;
    for (var s = 0u; s < part.stages; s++) {
        let radix = part.radices[s >> 2u][s & 3u];
        for (var e = first; e < all; e += GROUP_SIZE) {
            let which = e % part.batch;
            let value = stage(half, which, e / part.batch, radix, done);
            held[PART_MOST - half + e] = value;
        }
        half = PART_MOST - half;
        done *= radix;
        workgroupBarrier();
    }
    for (var e = first; e < all; e += GROUP_SIZE) {
        let at = split(e, part.left.y == 1u);
        let which = begin + at.x;
        if which < part.count {
            var value = held[half + at.y * part.batch + at.x];
            if part.twist != NOWHERE {
                value = product(value, table[part.twist + which % part.per * at.y]);
            }
            lines[place(which, part.left, at.y)] = value;
        }
    }
}

var<workgroup> tile: array<f32, TILE * (TILE + 1)>;

// Rows into columns, a square of samples at a time.
@compute @workgroup_size(GROUP_SIZE)
fn turn(
    @builtin(workgroup_id) group: vec3<u32>,
    @builtin(local_invocation_index) first: u32,
) {
    let corner = TILE * group.xy;
    for (var e = first; e < TILE * TILE; e += GROUP_SIZE) {
        let here = corner + vec2<u32>(e % TILE, e / TILE);
        if all(here < params.size) {
            tile[e / TILE * (TILE + 1u) + e % TILE] =
                from_[here.y * params.from_stride + params.at.x + here.x];
        }
    }
    workgroupBarrier();
    for (var e = first; e < TILE * TILE; e += GROUP_SIZE) {
        let here = corner + vec2<u32>(e / TILE, e % TILE);
        if all(here < params.size) {
            to[here.x * params.stride + params.at.y + here.y] =
                tile[e % TILE * (TILE + 1u) + e / TILE];
        }
    }
}

// Cosines times their factors.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn multiply(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    to[here(id)] *= from_[id.y * params.from_stride + id.x];
}

// The same, and the sines that they leave.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn multiply_both(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let factors = id.y * params.from_stride + id.x;
    let cosine = to[here(id)];
    to[here(id)] = cosine * from_[factors];
    sines[here(id)] = cosine * from_[factors + params.size.x];
}

// A sample of the picture: what stays, what is scattered, and what is added everywhere.
fn merged(id: vec3<u32>, light: f32) {
    let own = params.lane + here(id);
    to[own] = params.factor * frame[own] + (light + add[params.channel]);
}

// Cosines alone.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn merge(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    merged(id, from_[id.y * params.from_stride + params.at.x + id.x]);
}

// The same where sines stand beside the cosines.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn merge_both(@builtin(global_invocation_id) id: vec3<u32>) {
    if outside(id) {
        return;
    }
    let from_here = id.y * params.from_stride + params.at.x + id.x;
    merged(id, from_[from_here] + sines[from_here]);
}
