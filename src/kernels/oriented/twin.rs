//! The same on graphics hardware: `shaders/oriented.wgsl`, and what it is told.
//!
//! What cosines are multiplied by is worked out here, by the very code that does it for the processor.

use super::super::scatter::twin::Veil;
use super::super::shader::{Constant, Shader, uniform};
pub use super::transform::{NOWHERE, PART_MOST, Part, STAGES_MOST, Transform};
use super::{Border, Gains, Params, laid_out};
use rayon::prelude::*;
use std::ops::Range;

/// Groups of four that a part's radices fill.
const RADIX_FOURS: usize = STAGES_MOST.div_ceil(4);

/// Samples a side of a square that is turned at once.
pub const TILE: usize = 32;

/// The shader.
pub const SHADER: Shader = Shader {
    name: "oriented",
    source: include_str!("../../../shaders/oriented.wgsl"),
    before: "",
    constants: &[
        ("PART_MOST", Constant::U32(PART_MOST as u32)),
        ("RADIX_FOURS", Constant::U32(RADIX_FOURS as u32)),
        ("TILE", Constant::U32(TILE as u32)),
        ("NOWHERE", Constant::U32(NOWHERE)),
        ("COSINES", Constant::U32(Kind::Cosines as u32)),
        ("SINES", Constant::U32(Kind::FromSines as u32)),
    ],
    uniforms: &[OrientedStep::LAYOUT, OrientedPart::LAYOUT],
};

/// Which transform of a line.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// Type II: values to cosines.
    Cosines,
    /// Type III: cosines to values, times half the length.
    FromCosines,
    /// Type III: sines to values, times half the length; the sine of order k stands at k, and at 0 what is
    /// not read.
    FromSines,
}

uniform! {
    /// What each of the shader's entry points but one is told; not all of them ask for all of it.
    pub struct OrientedStep {
        /// Samples across and down that are written; complex ones and lines, where those are.
        pub size: [u32; 2],
        /// Where in the bound rows the first sample lies.
        pub at: [u32; 2],
        /// Samples from one row of what is written to the next.
        pub stride: u32,
        /// The same of what is read.
        pub from_stride: u32,
        /// Where in a row of a picture the channel begins: of what is read, or of what is merged.
        pub lane: u32,
        /// Which channel.
        pub channel: u32,
        /// Rows of samples that are bound.
        pub rows: u32,
        /// Which transform, a [`Kind`].
        pub kind: u32,
        /// A line's own length.
        pub length: u32,
        /// The length that it is transformed at.
        pub padded: u32,
        /// Where in the table the quarter turns of the line begin.
        pub turns: u32,
        /// Where the chirp does.
        pub chirp: u32,
        /// Where what it is convolved with does.
        pub spectrum: u32,
        /// Whether there is a chirp.
        pub is_chirped: u32,
        /// What light is multiplied by.
        pub factor: f32,
        /// What is taken away.
        pub base: f32,
    }
}

uniform! {
    /// What the transform of parts of lines is told.
    pub struct OrientedPart {
        /// Parts in all.
        pub count: u32,
        /// Samples of a part.
        pub length: u32,
        /// Parts that a workgroup takes.
        pub batch: u32,
        /// Parts in a line.
        pub per: u32,
        /// Samples from one line to the next.
        pub padded: u32,
        /// Where in the table the roots of unity of a part begin.
        pub roots: u32,
        /// Where the roots by which parts are turned do, or [`NOWHERE`].
        pub twist: u32,
        /// Stages of a part.
        pub stages: u32,
        /// Samples from one part to the next, and from one of its samples to the next, in what is read.
        pub taken: [u32; 2],
        /// The same in what is written.
        pub left: [u32; 2],
        /// Radices of the stages.
        pub radices: [[u32; 4]; RADIX_FOURS],
    }
}

impl OrientedStep {
    /// Nothing but a size.
    #[must_use]
    pub const fn of(size: [u32; 2]) -> Self {
        Self {
            size,
            at: [0; 2],
            stride: 0,
            from_stride: 0,
            lane: 0,
            channel: 0,
            rows: 0,
            kind: 0,
            length: 0,
            padded: 0,
            turns: 0,
            chirp: NOWHERE,
            spectrum: NOWHERE,
            is_chirped: 0,
            factor: 0.0,
            base: 0.0,
        }
    }

    /// A step of `lines` lines through a transform, `across` samples of each written.
    #[must_use]
    pub fn through(transform: &Transform, kind: Kind, across: usize, lines: usize) -> Self {
        let [chirp, spectrum] = transform.chirp.map_or([NOWHERE; 2], |at| at.map(word));
        Self {
            kind: kind as u32,
            length: word(transform.length),
            padded: word(transform.padded),
            turns: word(transform.turns),
            chirp,
            spectrum,
            is_chirped: u32::from(transform.chirp.is_some()),
            ..Self::of([word(across), word(lines)])
        }
    }
}

impl OrientedPart {
    /// One part of the transform of `lines` lines.
    #[must_use]
    pub fn new(transform: &Transform, part: &Part, lines: usize) -> Self {
        let mut radices = [[1; 4]; RADIX_FOURS];
        for (into, radix) in radices.as_flattened_mut().iter_mut().zip(&part.radices) {
            *into = word(*radix);
        }
        Self {
            count: word(lines * part.per),
            length: word(part.length),
            batch: word(PART_MOST / part.length),
            per: word(part.per),
            padded: word(transform.padded),
            roots: word(part.roots),
            twist: part.twist.map_or(NOWHERE, word),
            stages: word(part.radices.len()),
            taken: part.taken.map(word),
            left: part.left.map(word),
            radices,
        }
    }

    /// Workgroups that it takes.
    #[must_use]
    pub const fn groups(&self) -> u32 {
        self.count.div_ceil(self.batch)
    }
}

/// Lines and tables are shorter than 2³² by far.
const fn word(n: usize) -> u32 {
    n as u32
}

/// What is transformed, and what becomes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    /// The size of what is transformed: the frame's, or a larger one with the frame in it.
    pub size: [usize; 2],
    /// Samples on each side of the frame.
    pub margin: usize,
    /// Whether the law is even.
    pub even: bool,
    /// The channels.
    pub channels: [Channel; 3],
    /// What is added everywhere.
    pub veil: Veil,
}

/// One channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Channel {
    /// What stays of the frame's own light.
    pub direct: f32,
    /// Light of the field around the frame, taken from it before.
    pub level: f32,
}

impl Params<'_> {
    /// Everything that the shader is told for a frame of `size`.
    #[must_use]
    pub fn laid(&self, size: [usize; 2]) -> Laid {
        let pixels = (size[0] * size[1]) as f64;
        let (levels, part) = match self.border {
            Border::Mirror => ([0.0; 3], 1.0),
            Border::Level(levels) => (levels, 0.5),
        };
        let straight = |c: usize| self.response.direct(c) as f32;
        let channel = |c: usize| Channel {
            direct: if self.whole { straight(c) } else { 0.0 },
            level: levels[c],
        };
        let veil = |c: usize| {
            if self.whole {
                part * self.response.veil(c)
            } else {
                0.0
            }
        };
        let base = |c: usize| {
            // The field is scattered into itself.
            let itself = self.response.at(c, [0.0; 2]) - straight(c);
            levels[c].mul_add(itself, (veil(c) * f64::from(levels[c])) as f32)
        };
        let (size, margin) = laid_out(self.border, size);
        Laid {
            size,
            margin,
            even: self.response.is_even(),
            channels: [0, 1, 2].map(channel),
            veil: Veil {
                // The sum is of all light, and not of what differs from the field's.
                level: [0.0; 3],
                base: [0, 1, 2].map(base),
                share: [0, 1, 2].map(|c| (veil(c) / pixels) as f32),
            },
        }
    }

    /// What the columns of cosines `columns` of a plane of `size` are multiplied by, each in a row of
    /// `stride` samples: of a law that is not even, its cosines' factors and then its sines'.
    #[must_use]
    pub fn factors(
        &self,
        channel: usize,
        size: [usize; 2],
        columns: Range<usize>,
        stride: usize,
    ) -> Vec<f32> {
        let even = self.response.is_even();
        let part = if even { size[1] } else { 2 * size[1] };
        let gains = Gains::new(self, channel, size, even);
        let mut out = vec![0.0; columns.len() * stride];
        let rows = out.par_chunks_mut(stride).zip(columns);
        rows.for_each_init(Vec::new, |spare, (row, kx)| {
            gains.column(kx, &mut row[..part], spare);
        });
        out
    }
}
