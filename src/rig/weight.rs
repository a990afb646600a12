//! What the glass weighs: density times area times thickness, without frames, trays and rings.
//!
//! Sources: crown glass of n = 1.52 has 2.5 g/cm³ (handbooks print 2.51; from memory); glass for a tray or a
//! ring is about 4 mm thick (common practice, no source).
//!
//! ```
//! use foreglass::rig::size::Size;
//! use foreglass::rig::weight::pane;
//! // 14.35 cm × 10.16 cm × 0.4 cm · 2.5 g/cm³.
//! assert!((pane(Size::FourByFiveSixtyFive).get() - 145.796).abs() < 1e-9);
//! ```

use super::size::Size;
use super::{Mount, Mounted, Place, Setup};
use crate::units::{Extent, Grams};
use std::f64::consts::FRAC_PI_4;

/// How thick glass is that stands before a lens.
pub const THICKNESS: Extent = Extent::clamped(4.0);
/// Grams in a cubic millimetre of crown glass.
const GRAMS: f64 = 2.5e-3;

/// Weight of a pane of this size.
#[must_use]
pub fn pane(size: Size) -> Grams {
    let [w, h] = size.sides_mm();
    let round = if size.is_round() { FRAC_PI_4 } else { 1.0 };
    Grams::clamped(GRAMS * THICKNESS.get() * round * w * h)
}

impl Mounted {
    /// Weight of its glass; of a ring's, the disc that fills the clear opening.
    #[must_use]
    pub fn weight(&self) -> Grams {
        match self.mount {
            Mount::Tray { size, .. } => pane(size),
            Mount::Ring { clear, .. } => {
                let area = FRAC_PI_4 * clear.get().powi(2);
                Grams::clamped(GRAMS * THICKNESS.get() * area)
            }
        }
    }
}

impl Setup {
    /// Weight of all the glass.
    #[must_use]
    pub fn weight(&self) -> Grams {
        sum(self.glass.iter())
    }

    /// Weight of the glass in the stages of the matte box.
    #[must_use]
    pub fn stage_weight(&self) -> Grams {
        let in_stage = |g: &&Mounted| matches!(g.place, Place::Stage(_));
        sum(self.glass.iter().filter(in_stage))
    }
}

fn sum<'a>(glass: impl Iterator<Item = &'a Mounted>) -> Grams {
    Grams::clamped(glass.map(|g| g.weight().get()).sum())
}
