//! What is read off a picture.
//!
//! Levels are stops against key, log₂(light/0.18), of linear light; never of codes.

// Codes for a display, and what their colours say.
mod painted;
// Colours by their lightness.
mod palette;
// The picture that scopes read, and their axis of stops.
mod reduced;

// Spot meters, and the contrast of two.
pub mod spot;
// Levels column by column.
pub mod waveform;
// Levels of the whole picture.
pub mod histogram;
// Where colours lie, and the scene's light before and behind the glass.
pub mod chromaticity;
// Levels as colours.
pub mod false_stops;
// What glass changes, as colours.
pub mod difference;
// How far the darkest parts are lifted.
pub mod blacks;
// How much texture is kept, by scale.
pub mod texture;
// Which placed glass of a kit, and where.
pub mod suggest;

pub use painted::{Entry, Painted};
pub use reduced::{Axis, Bin, Channel, Reduced, level};

use crate::colour::primaries::LUMA64;
use crate::frame::{Frame, to_width};
use crate::optics::pupil::Shape;
use crate::plan::{Pass, Plan};
use crate::units::Density;
use blacks::Blacks;
use texture::Texture;

/// Light that is taken as black by the figures that compare: ten stops under key (our own choice: about
/// the first code over black of an 8-bit still).
const BLACK: f64 = 0.18 / 1024.0;

/// A part of a frame, in 0..1 of its width and height from the top left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Region {
    /// Left, top, right, bottom.
    sides: [f64; 4],
}

impl Region {
    /// The whole frame.
    pub const WHOLE: Self = Self {
        sides: [0.0, 0.0, 1.0, 1.0],
    };

    /// A region from its left, top, right and bottom; None unless they are in order within 0..1.
    #[must_use]
    pub fn new(sides: [f64; 4]) -> Option<Self> {
        let [x0, y0, x1, y1] = sides;
        let inside = sides.iter().all(|v| (0.0..=1.0).contains(v));
        (inside && x0 < x1 && y0 < y1).then_some(Self { sides })
    }

    /// Its left, top, right and bottom.
    #[must_use]
    pub const fn sides(&self) -> [f64; 4] {
        self.sides
    }

    /// The columns and rows of a grid whose cells have their centres in it; at least one of each.
    fn cells(&self, width: usize, height: usize) -> [std::ops::Range<usize>; 2] {
        let along = |from: f64, to: f64, count: usize| {
            let first = (from * count as f64 - 0.5).ceil().max(0.0) as usize;
            let last = (to * count as f64 - 0.5).ceil().max(0.0) as usize;
            let first = first.min(count - 1);
            first..last.clamp(first + 1, count)
        };
        let [x0, y0, x1, y1] = self.sides;
        [along(x0, x1, width), along(y0, y1, height)]
    }
}

/// What glass does to a frame, beside the light it costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Effect {
    /// See [`blacks::read`].
    pub blacks: Blacks,
    /// See [`texture::kept`].
    pub texture: Texture,
}

/// The figures of a frame against itself through the glass of a `plan`, over a region.
///
/// # Panics
/// When the two frames differ in size.
#[must_use]
pub fn effect(bare: &Frame, glass: &Frame, plan: &Plan, region: Region) -> Effect {
    assert_eq!(
        (bare.width(), bare.height()),
        (glass.width(), glass.height()),
        "two pictures of one frame"
    );
    let gain = even_gain(plan);
    Effect {
        blacks: blacks::read(bare, glass, gain, region),
        texture: texture::kept(bare, glass, gain, region),
    }
}

/// What a plan makes of an even grey: its luminance over what it was, exposure and all, without
/// added light. Placed glass counts as in the ledger: a grad with its clear end, an attenuator as on the
/// axis.
#[must_use]
pub fn even_gain(plan: &Plan) -> f64 {
    let mut light = [1.0; 3];
    for pass in &plan.passes {
        match pass {
            Pass::Matrix(m) => light = m.apply(light),
            Pass::Scatter(s) => {
                for law in &s.laws {
                    let passed = law.passed();
                    light = std::array::from_fn(|c| light[c] * passed[c]);
                }
            }
            Pass::Gain(g) => light = light.map(|v| v * g),
            Pass::Field(f) => {
                let attenuators = f.law.planes.iter();
                let on_axis: f64 = attenuators
                    .filter(|plane| plane.ramp.shape() == Shape::Attenuator)
                    .map(|plane| plane.ramp.density(-plane.slide_mm))
                    .sum();
                let passed = Density::clamped(on_axis).transmittance();
                light = light.map(|v| v * passed);
            }
            Pass::Sky(_) | Pass::Lift(_) => {}
        }
    }
    (0..3).map(|c| LUMA64[c] * light[c]).sum()
}

/// A frame no wider than `width`, and its luminance over `gain`.
fn reduced(frame: &Frame, width: usize, gain: f64) -> (usize, usize, Vec<f32>) {
    let small = to_width(frame, width.clamp(1, frame.width()));
    let frame = small.as_ref().unwrap_or(frame);
    let scale = (1.0 / gain.max(f64::MIN_POSITIVE)) as f32;
    let light = (0..frame.width() * frame.height())
        .map(|i| scale * frame.luminance(i))
        .collect();
    (frame.width(), frame.height(), light)
}
