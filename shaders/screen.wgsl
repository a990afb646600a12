// Light to codes for a screen, and a picture at another size. The twin of src/kernels/screen.rs.

struct ScreenRows {
    size: vec2<u32>,
    from_size: vec2<u32>,
    stride: u32,
    to_stride: u32,
    unused: vec2<u32>,
    rows: array<vec4<f32>, 3>,
}

@group(0) @binding(0) var<uniform> params: ScreenRows;
// Rows of a picture: of each its red samples, then the green, then the blue.
@group(0) @binding(1) var<storage, read> from_: array<f32>;
@group(0) @binding(2) var screen: texture_storage_2d<rgba8unorm, write>;
@group(0) @binding(3) var<storage, read_write> to: array<f32>;

// One channel's code, a whole number of 255ths.
fn code(light: f32) -> f32 {
    let v = clamp(light, 0.0, 1.0);
    let curved = select(SCALE * pow(v, POWER) - OFFSET, SLOPE * v, v <= KNEE);
    return floor(255.0 * curved + 0.5) / 255.0;
}

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn codes(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let i = 3u * id.y * params.stride + id.x;
    let p = vec3<f32>(from_[i], from_[i + params.stride], from_[i + 2u * params.stride]);
    let r = code(dot(params.rows[0].xyz, p));
    let g = code(dot(params.rows[1].xyz, p));
    let b = code(dot(params.rows[2].xyz, p));
    textureStore(screen, id.xy, vec4<f32>(r, g, b, 1.0));
}

// The share of cell `i` under output cell `at` of `to_count`, of `from_count`, in whole numbers.
fn share(at: u32, i: u32, from_count: u32, to_count: u32) -> f32 {
    let low = max(at * from_count, i * to_count);
    let high = min((at + 1u) * from_count, (i + 1u) * to_count);
    return f32(high - low) / f32(from_count);
}

// The mean of what lies under each pixel.
@compute @workgroup_size(GROUP_X, GROUP_Y)
fn area(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let first = id.xy * params.from_size / params.size;
    let last = ((id.xy + 1u) * params.from_size + params.size - 1u) / params.size;
    var sum = vec3<f32>(0.0);
    for (var y = first.y; y < last.y; y++) {
        let down = share(id.y, y, params.from_size.y, params.size.y);
        var row = vec3<f32>(0.0);
        for (var x = first.x; x < last.x; x++) {
            let i = 3u * y * params.stride + x;
            let p = vec3<f32>(from_[i], from_[i + params.stride], from_[i + 2u * params.stride]);
            row += share(id.x, x, params.from_size.x, params.size.x) * p;
        }
        sum += down * row;
    }
    let o = 3u * id.y * params.to_stride + id.x;
    to[o] = sum.x;
    to[o + params.to_stride] = sum.y;
    to[o + 2u * params.to_stride] = sum.z;
}
