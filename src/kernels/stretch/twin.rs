//! The same on graphics hardware: `shaders/stretch.wgsl`, and what it is told.

use super::super::scatter::twin::Veil;
use super::super::shader::{Shader, uniform};
use super::{Border, Law, Params, bare, block, cells, oriented, round, scatter};
use crate::optics::cosines::Cells;

/// The shader.
pub const SHADER: Shader = Shader {
    name: "stretch",
    source: include_str!("../../../shaders/stretch.wgsl"),
    before: "",
    constants: &[],
    uniforms: &[StretchStep::LAYOUT],
};

uniform! {
    /// What each of the shader's entry points is told; not all of them ask for all of it.
    pub struct StretchStep {
        /// Samples across and down that are written.
        pub size: [u32; 2],
        /// The first row that is written.
        pub first_row: u32,
        /// Samples from one row of what is written to the next.
        pub stride: u32,
        /// The size of what is read.
        pub limit: [u32; 2],
        /// Samples from one row of what is read to the next.
        pub from_stride: u32,
        /// Pixels a side of a block.
        pub block: u32,
        /// Cells across and down.
        pub count: [u32; 2],
        /// Pixels beyond the frame that are laid out, across and down.
        pub beyond: [i32; 2],
        /// The pixel in the frame's middle.
        pub middle: [f32; 2],
        /// Tangent of the field angle per pixel.
        pub tangent: [f32; 2],
        /// Cosine per cell.
        pub cell: f32,
        /// Whether the frame is mirrored.
        pub is_mirrored: u32,
        /// Nothing.
        pub unused: [u32; 2],
        /// For each channel: light around the frame where it is not mirrored.
        pub level: [f32; 4],
        /// For each channel: what stays of its own light.
        pub direct: [f32; 4],
    }
}

/// What scatters the light that is laid out on cells.
#[derive(Debug, Clone)]
pub enum Scattered<'a> {
    /// Gaussians.
    Round(scatter::Params),
    /// A transform.
    Oriented(oriented::Params<'a>),
}

/// A stretch made ready for a frame's size.
#[derive(Debug, Clone)]
pub struct Laid<'a> {
    /// Pixels a side of a block.
    pub block: usize,
    /// Blocks across and down.
    pub small: [usize; 2],
    /// Cells across and down.
    pub count: [usize; 2],
    /// The scatter of what is laid out on them.
    pub scattered: Scattered<'a>,
    /// What is added everywhere.
    pub veil: Veil,
    step: StretchStep,
}

impl<'a> Params<'a> {
    /// Everything that the shader is told for a frame of `size`.
    #[must_use]
    pub fn laid(&self, size: [usize; 2]) -> Laid<'a> {
        let block = block(self, size);
        let small = size.map(|side| side.div_ceil(block));
        let cells = cells(self, size, block);
        let part = match self.border {
            Border::Mirror => 1.0,
            Border::Level(_) => 0.5,
        };
        let (level, pixels) = (self.border.level(), (size[0] * size[1]) as f64);
        let [direct, veils] = self.law.straight_and_veil();
        let veil = |c: usize| part * veils[c];
        let mut step = step(&cells, block, self.border);
        for (c, direct) in direct.into_iter().enumerate() {
            step.level[c] = level[c];
            step.direct[c] = direct as f32;
        }
        let scattered = match self.law {
            Law::Round(mixtures) => Scattered::Round(round(mixtures, &cells, block, self.border)),
            Law::Oriented(response) => Scattered::Oriented(bare(response, &cells, self.border)),
        };
        Laid {
            block,
            small,
            count: cells.count(),
            scattered,
            veil: Veil {
                // The sum is of all light, and not of what differs from the field's.
                level: [0.0; 3],
                base: [0, 1, 2].map(|c: usize| (veil(c) * f64::from(level[c])) as f32),
                share: [0, 1, 2].map(|c: usize| (veil(c) / pixels) as f32),
            },
            step,
        }
    }
}

impl Laid<'_> {
    /// A step that reads rows of `limit` samples `from_stride` apart.
    #[must_use]
    pub fn step(&self, limit: [usize; 2], from_stride: usize) -> StretchStep {
        StretchStep {
            limit: limit.map(|n| n as u32),
            from_stride: from_stride as u32,
            ..self.step
        }
    }
}

fn step(cells: &Cells, block: usize, border: Border) -> StretchStep {
    StretchStep {
        size: [0; 2],
        first_row: 0,
        stride: 0,
        limit: [0; 2],
        from_stride: 0,
        block: block as u32,
        count: cells.count().map(|n| n as u32),
        beyond: cells.margin().map(|m| m as i32 + super::BEYOND as i32),
        middle: cells.middle().map(|v| v as f32),
        tangent: cells.tangent().map(|v| v as f32),
        cell: (1.0 / cells.per_radian()) as f32,
        is_mirrored: u32::from(border == Border::Mirror),
        unused: [0; 2],
        level: [0.0; 4],
        direct: [0.0; 4],
    }
}
