// Light added evenly over the picture. The twin of src/kernels/lift.rs.

struct LiftLight {
    size: vec2<u32>,
    stride: u32,
    unused: u32,
    light: vec4<f32>,
}

@group(0) @binding(0) var<uniform> params: LiftLight;
// Rows of a picture: of each its red samples, then the green, then the blue.
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn lift(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let i = 3u * id.y * params.stride + id.x;
    put(i, pixel(i) + params.light.xyz);
}
