//! The same on graphics hardware: `shaders/scatter.wgsl`, what it is told, and what is designed for it here.

use super::super::pyramid::axis::{Outside, SEAM_MOST};
use super::super::pyramid::design::{DECIMATION, LONGEST};
pub use super::super::pyramid::laid::{Coarser, DenseTables, Joins, Laid, LaidLevel, Taps};
use super::super::shader::{Constant, Shader, uniform};
use super::{Border, Params, whole};

/// Groups of four that half the longest filter's taps fill.
const TAPS_FOURS: usize = (LONGEST + 1).div_ceil(4);

/// The shader.
pub const SHADER: Shader = Shader {
    name: "scatter",
    source: include_str!("../../../shaders/scatter.wgsl"),
    constants: &[
        ("NEAR", Constant::F32(DECIMATION[0] as f32)),
        ("NEXT", Constant::F32(DECIMATION[1] as f32)),
        ("FAR", Constant::F32(DECIMATION[2] as f32)),
        ("SEAM_MOST", Constant::U32(SEAM_MOST as u32)),
        ("TAPS_FOURS", Constant::U32(TAPS_FOURS as u32)),
    ],
    uniforms: &[ScatterStep::LAYOUT],
};

uniform! {
    /// What each of the shader's entry points is told; not all of them ask for all of it.
    pub struct ScatterStep {
        /// Samples across and down that are written.
        pub size: [u32; 2],
        /// Where in the bound rows that are written the first of them lies.
        pub at: [u32; 2],
        /// What in the bound rows that are read belongs to it.
        pub origin: [u32; 2],
        /// The size of what is read.
        pub limit: [u32; 2],
        /// Samples from one row of what is written to the next.
        pub stride: u32,
        /// The same of what is read.
        pub from_stride: u32,
        /// The first row that is written, counted from the level's own.
        pub first_row: u32,
        /// Taps beside the middle one; targets; terms.
        pub count: u32,
        /// What light is multiplied by.
        pub factor: f32,
        /// What is added or taken away.
        pub base: f32,
        /// Nothing.
        pub unused: [u32; 2],
        /// Half the taps of a filter, the middle one first.
        pub taps: [[f32; 4]; TAPS_FOURS],
    }
}

impl ScatterStep {
    /// Nothing but a size.
    #[must_use]
    pub const fn of(size: [u32; 2]) -> Self {
        Self {
            size,
            at: [0; 2],
            origin: [0; 2],
            limit: [0; 2],
            stride: 0,
            from_stride: 0,
            first_row: 0,
            count: 0,
            factor: 0.0,
            base: 0.0,
            unused: [0; 2],
            taps: [[0.0; 4]; TAPS_FOURS],
        }
    }

    /// With half the taps of a filter, the middle one first.
    ///
    /// # Panics
    /// With more taps than the longest filter has.
    #[must_use]
    pub fn with_taps(mut self, taps: &[f32]) -> Self {
        self.count = taps.len() as u32 - 1;
        self.taps.as_flattened_mut()[..taps.len()].copy_from_slice(taps);
        self
    }
}

/// One channel, ready for the shader.
#[derive(Debug, Clone, PartialEq)]
pub struct Channel {
    /// Its levels.
    pub laid: Laid,
    /// Light of the field around the frame, taken from it before and added again with `base`.
    pub level: f32,
    /// What is known of the light that is added everywhere.
    pub base: f32,
    /// The rest of it: so many times the sum of the frame's light over that level.
    pub share: f32,
}

impl Params {
    /// All three channels for a frame of `size`; None where it is too long and narrow for the shader.
    #[must_use]
    pub fn laid(&self, size: [usize; 2]) -> Option<[Channel; 3]> {
        let (levels, outside, part) = match self.border {
            Border::Mirror => ([0.0; 3], Outside::Mirror, 1.0),
            // With a field around it the frame gives half of the veil, and the field the other half.
            Border::Level(levels) => (levels, Outside::Dark, 0.5),
        };
        let channel = |c: usize| {
            let mixture = &self.channels[c];
            Some(Channel {
                laid: Laid::new(mixture, size, outside)?,
                level: levels[c],
                base: levels[c] * whole(mixture) as f32,
                share: (part * mixture.veil / (size[0] * size[1]) as f64) as f32,
            })
        };
        Some([channel(0)?, channel(1)?, channel(2)?])
    }
}
