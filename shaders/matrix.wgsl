// Uniform colour: one matrix on every pixel. The twin of src/kernels/matrix.rs.

struct MatrixRows {
    size: vec2<u32>,
    stride: u32,
    unused: u32,
    rows: array<vec4<f32>, 3>,
}

@group(0) @binding(0) var<uniform> params: MatrixRows;
@group(0) @binding(1) var<storage, read_write> r: array<f32>;
@group(0) @binding(2) var<storage, read_write> g: array<f32>;
@group(0) @binding(3) var<storage, read_write> b: array<f32>;

@compute @workgroup_size(GROUP_X, GROUP_Y)
fn matrix(@builtin(global_invocation_id) id: vec3<u32>) {
    if id.x >= params.size.x || id.y >= params.size.y {
        return;
    }
    let i = id.y * params.stride + id.x;
    let p = vec3<f32>(r[i], g[i], b[i]);
    r[i] = params.rows[0].x * p.x + params.rows[0].y * p.y + params.rows[0].z * p.z;
    g[i] = params.rows[1].x * p.x + params.rows[1].y * p.y + params.rows[1].z * p.z;
    b[i] = params.rows[2].x * p.x + params.rows[2].y * p.y + params.rows[2].z * p.z;
}
