//! The same on graphics hardware: `shaders/scatter.wgsl`, what it is told, and what is designed for it here.

use super::super::pyramid::axis::Outside;
use super::super::pyramid::design::{DECIMATION, LONGEST};
use super::super::pyramid::laid::{FILTER_FOURS, lay};
pub use super::super::pyramid::laid::{Form, Joins, Laid, LaidLevel};
use super::super::pyramid::twin::LIGHT;
pub use super::super::pyramid::twin::{HALVED, PyramidStep, SHADER as DOWN};
use super::super::shader::{Constant, Shader, uniform};
use super::{Border, Params, whole};

/// The shader.
pub const SHADER: Shader = Shader {
    name: "scatter",
    source: include_str!("../../../shaders/scatter.wgsl"),
    before: LIGHT,
    constants: &[
        ("NEAR", Constant::F32(DECIMATION[0] as f32)),
        ("NEXT", Constant::F32(DECIMATION[1] as f32)),
        ("FAR", Constant::F32(DECIMATION[2] as f32)),
        ("LONGEST", Constant::U32(LONGEST as u32)),
        ("FILTER_FOURS", Constant::U32(FILTER_FOURS as u32)),
        ("STRIP", Constant::U32(STRIP as u32)),
    ],
    uniforms: &[ScatterStep::LAYOUT],
};

/// Samples a side that one workgroup of a filter makes.
pub const TILE: usize = 32;
/// Columns of all of a level that one workgroup makes with dense matrices.
pub const STRIP: usize = 4;

uniform! {
    /// What each of the shader's entry points is told; not all of them ask for all of it.
    pub struct ScatterStep {
        /// Samples across and down that are written.
        pub size: [u32; 2],
        /// Samples of what is read that are stored.
        pub limit: [i32; 2],
        /// Twice its far edges.
        pub twice: [i32; 2],
        /// The coarser sample in which the first one of a level lies.
        pub begin: [i32; 2],
        /// Samples of the coarser level.
        pub coarse_size: [i32; 2],
        /// Samples from one row of what is written to the next.
        pub stride: u32,
        /// The same of what is read.
        pub from_stride: u32,
        /// The same of the coarser level.
        pub coarse_stride: u32,
        /// The first row that is written, counted from the level's own.
        pub first_row: u32,
        /// The first row that is bound of what is written.
        pub to_row: u32,
        /// The same of what is read.
        pub from_row: u32,
        /// The same of the coarser level.
        pub coarse_row: u32,
        /// Whether there is no light beyond the edges.
        pub is_dark: u32,
        /// Samples across and down of matrices.
        pub dense: [u32; 2],
        /// Partial sums of each channel's light.
        pub sums: u32,
        /// Nothing.
        pub unused: u32,
        /// Nothing.
        pub padding: [u32; 2],
        /// For each channel: what stays of the light that is there.
        pub factor: [f32; 4],
        /// For each channel: what is taken from what is read.
        pub base: [f32; 4],
        /// For each channel: what its sum is multiplied by.
        pub share: [f32; 4],
        /// For each channel: what is known of what is added everywhere.
        pub known: [f32; 4],
        /// For each channel: where its filters or matrices begin, how many there are, or how many fours of them,
        /// whether it has this level and whether it has the coarser one.
        pub heads: [[u32; 4]; 3],
    }
}

impl ScatterStep {
    /// Nothing but a size.
    #[must_use]
    pub const fn of(size: [u32; 2]) -> Self {
        Self {
            size,
            limit: [0; 2],
            twice: [0; 2],
            begin: [0; 2],
            coarse_size: [0; 2],
            stride: 0,
            from_stride: 0,
            coarse_stride: 0,
            first_row: 0,
            to_row: 0,
            from_row: 0,
            coarse_row: 0,
            is_dark: 0,
            dense: [0; 2],
            sums: 0,
            unused: 0,
            padding: [0; 2],
            factor: [0.0; 4],
            base: [0.0; 4],
            share: [0.0; 4],
            known: [0.0; 4],
            heads: [[0; 4]; 3],
        }
    }
}

/// Three channels, ready for the shader.
#[derive(Debug, Clone, PartialEq)]
pub struct Channels {
    /// Their levels.
    pub laid: Laid,
    /// What they take from the light of the field around the frame, and how they add it again.
    pub veil: Veil,
}

/// What is added everywhere, channel by channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Veil {
    /// Light of the field around the frame, taken from it before and added again with `base`.
    pub level: [f32; 3],
    /// What is known of the light that is added everywhere.
    pub base: [f32; 3],
    /// The rest of it: so many times the sum of the frame's light over that level.
    pub share: [f32; 3],
}

impl Params {
    /// All three channels for a frame of `size`; None where it is too long and narrow for the shader.
    #[must_use]
    pub fn laid(&self, size: [usize; 2]) -> Option<Channels> {
        let (outside, part) = match self.border {
            Border::Mirror => (Outside::Mirror, 1.0),
            // With a field around it the frame gives half of the veil, and the field the other half.
            Border::Level(_) => (Outside::Dark, 0.5),
        };
        let level = self.border.level();
        let pixels = (size[0] * size[1]) as f64;
        let of = |c: usize| &self.channels[c];
        Some(Channels {
            laid: lay(&self.channels, size, outside)?,
            veil: Veil {
                level,
                base: [0, 1, 2].map(|c: usize| level[c] * whole(of(c)) as f32),
                share: [0, 1, 2].map(|c: usize| (part * of(c).veil / pixels) as f32),
            },
        })
    }
}

impl Border {
    /// Light around the frame; nothing where it is mirrored.
    #[must_use]
    pub const fn level(self) -> [f32; 3] {
        match self {
            Self::Mirror => [0.0; 3],
            Self::Level(levels) => levels,
        }
    }
}
