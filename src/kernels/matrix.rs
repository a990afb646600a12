//! Uniform colour: one matrix on every pixel.

use super::shader::{PIXELS, Shader, uniform};
use crate::colour::Matrix3;
use crate::frame::Frame;
use rayon::prelude::*;

/// Relative difference from f64 that f32 rounding allows.
pub const TOLERANCE: f64 = 1e-6;

/// Pixels handled at a time: three such runs stay in the nearest cache.
const RUN: usize = 4096;

/// The rows of the matrix.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Row by row, red, green and blue out.
    pub rows: [[f32; 3]; 3],
}

impl From<&Matrix3> for Params {
    fn from(m: &Matrix3) -> Self {
        Self { rows: m.rows_f32() }
    }
}

impl Params {
    /// A factor on all light.
    #[must_use]
    pub fn gain(factor: f64) -> Self {
        Self::from(&Matrix3::diagonal([factor; 3]))
    }
}

/// The same on graphics hardware: `shaders/matrix.wgsl`.
pub const SHADER: Shader = Shader {
    name: "matrix",
    source: include_str!("../../shaders/matrix.wgsl"),
    before: PIXELS,
    constants: &[],
    uniforms: &[MatrixRows::LAYOUT],
};

uniform! {
    /// What the shader is told.
    pub struct MatrixRows {
        /// Samples across and down.
        pub size: [u32; 2],
        /// Samples from one row to the next.
        pub stride: u32,
        /// Nothing.
        pub unused: u32,
        /// Rows of the matrix, each with a word of padding.
        pub rows: [[f32; 4]; 3],
    }
}

impl Params {
    /// For `size` samples in rows `stride` apart.
    #[must_use]
    pub fn uniform(&self, size: [u32; 2], stride: u32) -> MatrixRows {
        MatrixRows {
            size,
            stride,
            unused: 0,
            rows: self.padded(),
        }
    }

    /// The rows, each with a word of padding.
    #[must_use]
    pub fn padded(&self) -> [[f32; 4]; 3] {
        self.rows.map(|[r, g, b]| [r, g, b, 0.0])
    }
}

/// Applies the matrix in place.
pub fn cpu(frame: &mut Frame, params: &Params) {
    let m = params.rows;
    let [r, g, b] = frame.planes_mut();
    let runs = r
        .par_chunks_mut(RUN)
        .zip(g.par_chunks_mut(RUN))
        .zip(b.par_chunks_mut(RUN));
    runs.for_each(|((r, g), b)| {
        for ((r, g), b) in r.iter_mut().zip(g.iter_mut()).zip(b.iter_mut()) {
            let p = [*r, *g, *b];
            *r = m[0][0] * p[0] + m[0][1] * p[1] + m[0][2] * p[2];
            *g = m[1][0] * p[0] + m[1][1] * p[1] + m[1][2] * p[2];
            *b = m[2][0] * p[0] + m[2][1] * p[1] + m[2][2] * p[2];
        }
    });
}
