//! Light to codes for a screen where the picture lies on graphics hardware. On the processor
//! [`crate::frame::to_srgb8`] and [`crate::frame::to_width`] do the same.
//!
//! sRGB after IEC 61966-2-1: `12.92·v` up to 0.0031308, `1.055·v^(1/2.4) − 0.055` above, of light clipped to
//! 0 to 1 after the matrix to its primaries, rounded to the nearest of 255.
//!
//! ```
//! use foreglass::kernels::screen::ScreenRows;
//! let [red, ..] = ScreenRows::codes([4, 3], 64).rows;
//! assert!((red[0] + red[1] + red[2] - 1.0).abs() < 1e-5); // white stays white
//! ```

use super::shader::{Constant, Shader, uniform};
use crate::colour::primaries::Space;

/// Most difference of a code from the processor's.
pub const TOLERANCE: u8 = 1;

/// Its shader: `shaders/screen.wgsl`.
pub const SHADER: Shader = Shader {
    name: "screen",
    source: include_str!("../../shaders/screen.wgsl"),
    before: "",
    constants: &[
        ("SLOPE", Constant::F32(12.92)),
        ("KNEE", Constant::F32(0.003_130_8)),
        ("SCALE", Constant::F32(1.055)),
        ("OFFSET", Constant::F32(0.055)),
        ("POWER", Constant::F32(1.0 / 2.4)),
    ],
    uniforms: &[ScreenRows::LAYOUT],
};

uniform! {
    /// What the shader is told.
    pub struct ScreenRows {
        /// Pixels across and down that are written.
        pub size: [u32; 2],
        /// Pixels across and down that are read.
        pub from_size: [u32; 2],
        /// Samples from one row of a channel that is read to what follows it.
        pub stride: u32,
        /// The same of what is written.
        pub to_stride: u32,
        /// Nothing.
        pub unused: [u32; 2],
        /// Rows of the matrix to the screen's primaries, each with a word of padding.
        pub rows: [[f32; 4]; 3],
    }
}

impl ScreenRows {
    /// Codes of a picture of `size`, its rows `stride` samples apart.
    #[must_use]
    pub fn codes(size: [u32; 2], stride: u32) -> Self {
        let rows = Space::Srgb.from_working().rows_f32();
        Self {
            size,
            from_size: size,
            stride,
            to_stride: 0,
            unused: [0; 2],
            rows: rows.map(|[r, g, b]| [r, g, b, 0.0]),
        }
    }

    /// A picture of `size` from one of `from_size`, their rows `strides` samples apart (read, written).
    #[must_use]
    pub fn area(size: [u32; 2], from_size: [u32; 2], strides: [u32; 2]) -> Self {
        Self {
            from_size,
            to_stride: strides[1],
            ..Self::codes(size, strides[0])
        }
    }
}
