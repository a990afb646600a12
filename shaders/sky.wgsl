// A polarised sky: every pixel times the factor that runs through its row's nodes. The twin of
// src/kernels/sky.rs.

struct SkyRows {
    size: vec2<u32>,
    stride: u32,
    // The first of these rows, counted from the picture's top: nodes are counted from there too.
    first_row: u32,
    // Rows that the sky reaches down to.
    rows: u32,
    unused: u32,
}

@group(0) @binding(0) var<uniform> params: SkyRows;
// Rows of a picture: of each its red samples, then the green, then the blue.
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;
@group(0) @binding(3) var<storage, read> nodes: array<f32>;

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn sky(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let i = 3u * id.y * params.stride + id.x;
    if params.first_row + id.y >= params.rows {
        put(i, pixel(i));
        return;
    }
    // Whole numbers tell the cell, so that no rounding does.
    let place = (2u * id.x + 1u) * CELLS;
    let whole = 2u * params.size.x;
    let first = min(place / whole, CELLS - 1u);
    let t = f32(place - first * whole) / f32(whole);
    let t2 = t * t;
    let t3 = t2 * t;
    let weights = vec4<f32>(
        0.5 * (2.0 * t2 - t3 - t),
        0.5 * (3.0 * t3 - 5.0 * t2) + 1.0,
        0.5 * (4.0 * t2 - 3.0 * t3 + t),
        0.5 * (t3 - t2),
    );
    let at = (params.first_row + id.y) * NODES + first;
    let four = vec4<f32>(nodes[at], nodes[at + 1u], nodes[at + 2u], nodes[at + 3u]);
    let factor = dot(four, weights);
    put(i, pixel(i) * factor);
}
