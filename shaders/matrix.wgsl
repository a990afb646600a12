// Uniform colour: one matrix on every pixel. The twin of src/kernels/matrix.rs.

struct MatrixRows {
    size: vec2<u32>,
    stride: u32,
    unused: u32,
    rows: array<vec4<f32>, 3>,
}

@group(0) @binding(0) var<uniform> params: MatrixRows;
// Rows of a picture: of each its red samples, then the green, then the blue.
@group(0) @binding(1) var<storage, read_write> to: array<f32>;
@group(0) @binding(2) var<storage, read> from_: array<f32>;

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn matrix(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let i = 3u * id.y * params.stride + id.x;
    let p = pixel(i);
    put(i, vec3<f32>(
        params.rows[0].x * p.x + params.rows[0].y * p.y + params.rows[0].z * p.z,
        params.rows[1].x * p.x + params.rows[1].y * p.y + params.rows[1].z * p.z,
        params.rows[2].x * p.x + params.rows[2].y * p.y + params.rows[2].z * p.z,
    ));
}
