//! The way down on graphics hardware: `shaders/pyramid.wgsl`, what it is told, and how the light of a level is read
//! there and in `shaders/scatter.wgsl`.

use super::super::shader::{Constant, Shader, uniform};
use super::design::DECIMATION;
use super::laid::REACHED_MOST;

/// The shader.
pub const SHADER: Shader = Shader {
    name: "pyramid",
    source: include_str!("../../../shaders/pyramid.wgsl"),
    before: LIGHT,
    constants: &[
        ("NEAR", Constant::F32(DECIMATION[0] as f32)),
        ("NEXT", Constant::F32(DECIMATION[1] as f32)),
        ("FAR", Constant::F32(DECIMATION[2] as f32)),
        ("REACHED_MOST", Constant::U32(REACHED_MOST as u32)),
    ],
    uniforms: &[PyramidStep::LAYOUT],
};

/// Samples across and down that one workgroup of a decimation makes.
pub const HALVED: [usize; 2] = [32, 16];

// What `reached_down` takes of a workgroup's memory: no more than every device has.
const _: () = assert!(
    REACHED_MOST * HALVED[1] * size_of::<f32>() <= 1 << 14,
    "a workgroup would share too much"
);

/// A level's light. A plane's rows lie channel beside channel: a row of red, one of green, one of blue, so that any run
/// of rows is bound at once with all its channels, and a workgroup's third number is its channel. Every entry point
/// works on some rows of a level and is told which, and which rows of what it reads are bound. Beyond a level's edges
/// light is mirrored by whole numbers, or there is none.
pub(in crate::kernels) const LIGHT: &str = "
// An index that may lie beyond the edges of `limit` samples, mirrored.
fn mirrored(index: i32, limit: i32, twice: i32) -> i32 {
    let near = select(index, -1 - index, index < 0);
    return select(near, twice - 1 - near, near >= limit);
}

fn inside(x: i32, y: i32) -> bool {
    return x >= 0 && y >= 0 && x < params.limit.x && y < params.limit.y;
}

fn stored(x: i32, y: i32, c: u32) -> f32 {
    return from_[((u32(y) - params.from_row) * 3u + c) * params.from_stride + u32(x)];
}

// The light at a place of `from`, which may lie beyond its edges.
fn light(x: i32, y: i32, c: u32) -> f32 {
    if params.is_dark == 1u {
        if inside(x, y) {
            return stored(x, y, c) - params.base[c];
        }
        return 0.0;
    }
    let column = mirrored(x, params.limit.x, params.twice.x);
    return stored(column, mirrored(y, params.limit.y, params.twice.y), c);
}

var<workgroup> part: array<f32, GROUP_SIZE>;

fn gathered(i: u32, own: f32) -> f32 {
    part[i] = own;
    workgroupBarrier();
    for (var half = GROUP_SIZE / 2u; half > 0u; half /= 2u) {
        if i < half {
            part[i] += part[i + half];
        }
        workgroupBarrier();
    }
    return part[0];
}

";

uniform! {
    /// What each of the shader's entry points is told; not all of them ask for all of it.
    pub struct PyramidStep {
        /// Samples across and down that are written.
        pub size: [u32; 2],
        /// Samples of what is read that are stored.
        pub limit: [i32; 2],
        /// Twice its far edges.
        pub twice: [i32; 2],
        /// The first of the six finer samples that the first of a level is made of.
        pub begin: [i32; 2],
        /// The first sample across and the first row that are joined, as all after them are.
        pub joined: [u32; 2],
        /// The finer columns that those across are made of.
        pub span: [i32; 2],
        /// Where what they are made of begins in the table, across and down.
        pub tables: [u32; 2],
        /// Samples from one row of what is written to the next.
        pub stride: u32,
        /// The same of what is read.
        pub from_stride: u32,
        /// The first row that is written, counted from the level's own.
        pub first_row: u32,
        /// The first row that is bound of what is written.
        pub to_row: u32,
        /// The same of what is read.
        pub from_row: u32,
        /// Whether there is no light beyond the edges.
        pub is_dark: u32,
        /// Partial sums of each channel.
        pub count: u32,
        /// Where these begin.
        pub sums: u32,
        /// Nothing.
        pub unused: [u32; 2],
        /// For each channel: what is taken from what is read.
        pub base: [f32; 4],
    }
}

impl PyramidStep {
    /// Nothing but a size.
    #[must_use]
    pub const fn of(size: [u32; 2]) -> Self {
        Self {
            size,
            limit: [0; 2],
            twice: [0; 2],
            begin: [0; 2],
            joined: [u32::MAX; 2],
            span: [0; 2],
            tables: [0; 2],
            stride: 0,
            from_stride: 0,
            first_row: 0,
            to_row: 0,
            from_row: 0,
            is_dark: 0,
            count: 0,
            sums: 0,
            unused: [0; 2],
            base: [0.0; 4],
        }
    }
}
