//! Glass with lines engraved in it, or ribs on it, in one direction or more.
//!
//! Lines of one direction that cover a part c of the glass are to one axis what specks are to the plane:
//! the amplitude that goes straight on is 1 − c. Of n directions laid over each other without regard to
//! each other the open part is `b = (1−c)ⁿ`; direct b², diffracted b(1−b) (Babinet), of which each
//! direction alone makes a streak of `c(1−c)²ⁿ⁻¹` and the rest, of the order of c², is diffracted by two
//! directions in turn: a small cloud. Of the 1 − b that strikes a line a part leaves again, refracted by
//! its walls across it, some of that over the whole field, and the rest is lost.
//!
//! `b² + b(1−b) + (1−b) = 1`.
//!
//! Source: derived; `tests/checks`, FFT of masks of lines in two and three directions.
//!
//! ```
//! use foreglass::optics::engraved::Engraved;
//! use foreglass::units::{Degrees, Fraction, Micrometres};
//! let star = Engraved {
//!     directions: 2,
//!     first: Degrees::clamped(0.0),
//!     coverage: Fraction::clamped(0.02),
//!     width: Micrometres::clamped(20.0),
//!     spread: 0.3,
//!     kept: [0.0; 3],
//!     angle: Degrees::clamped(6.0),
//!     angle_spread: 0.5,
//!     veil: Fraction::clamped(0.0),
//!     waver: Degrees::clamped(0.0),
//! }
//! .scatter();
//! assert!((star.direct[1] - 0.98_f64.powi(4)).abs() < 1e-12);
//! assert!((star.lobes[0].weight[1] - 0.02 * 0.98_f64.powi(3)).abs() < 1e-12);
//! assert!((star.total()[1] - 1.0).abs() < 1e-12);
//! ```

use super::lines::{Form, Lines};
use super::scatter::{Lobe, Profile, Scatter};
use crate::units::{Degrees, Fraction, Micrometres};

/// Half of what two directions diffract in turn lies within so many λ/w (two crossed sinc², by
/// numbers: `tests/scripts/golden_oriented.py`); green light stands for all.
const CLOUD: f64 = 0.48;
const GREEN_UM: f64 = 0.545;

/// Engraved lines or ribs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Engraved {
    /// How many directions, evenly spread over half a turn.
    pub directions: u8,
    /// The direction in which the first throws light.
    pub first: Degrees,
    /// Part of the glass that the lines of one direction cover, c.
    pub coverage: Fraction,
    /// Median width of a line, weighted by area.
    pub width: Micrometres,
    /// Standard deviation of the logarithm of the widths.
    pub spread: f64,
    /// Part of what strikes a line that leaves again, per channel.
    pub kept: [f64; 3],
    /// Median half-angle of that light.
    pub angle: Degrees,
    /// Standard deviation of the logarithm of that angle.
    pub angle_spread: f64,
    /// Part of that light that goes over the whole field.
    pub veil: Fraction,
    /// How far a streak strays aside.
    pub waver: Degrees,
}

impl Engraved {
    /// Their account of the light that arrives.
    #[must_use]
    pub fn scatter(&self) -> Scatter {
        let n = self.directions.max(1);
        let c = self.coverage.get();
        let open = (1.0 - c).powi(i32::from(n));
        let alone = c * (1.0 - c).powi(2 * i32::from(n) - 1);
        let crossed = (open * (1.0 - open) - f64::from(n) * alone).max(0.0);
        let kept = self.kept.map(|k| (1.0 - open) * k.clamp(0.0, 1.0));
        let veil = kept.map(|k| k * self.veil.get());
        let refracted: [f64; 3] = std::array::from_fn(|i| (kept[i] - veil[i]) / f64::from(n));
        let mut lobes = Vec::with_capacity(2 * usize::from(n) + 1);
        for k in 0..n {
            let turn = self.first.get() + 180.0 * f64::from(k) / f64::from(n);
            let streak = |form| {
                Profile::Lines(Lines {
                    turn: Degrees::clamped(turn),
                    form,
                    waver: self.waver,
                    pitch: Micrometres::clamped(self.width.get() / c.max(1e-9)),
                })
            };
            let groove = Form::Groove {
                width: self.width,
                spread: self.spread,
            };
            let rib = Form::Rib {
                angle: self.angle,
                spread: self.angle_spread,
            };
            lobes.push(Lobe::grey(alone, streak(groove)));
            lobes.push(Lobe {
                weight: refracted,
                profile: streak(rib),
            });
        }
        if crossed > 1e-12 {
            // Half of a Harvey lobe lies within √3 of its half-width.
            let width = CLOUD * GREEN_UM / self.width.get() / 3.0_f64.sqrt();
            let width = Degrees::clamped(width.to_degrees());
            lobes.push(Lobe::grey(crossed, Profile::Harvey { width }));
        }
        // What the cloud leaves out, when it is too little to count, is lost: the sum stays 1.
        let crossed = if crossed > 1e-12 { crossed } else { 0.0 };
        let direct = open * open;
        let scattered = f64::from(n) * alone + crossed;
        Scatter {
            direct: [direct; 3],
            lobes,
            veil,
            absorbed: kept.map(|k| (1.0 - direct - scattered - k).max(0.0)),
        }
    }
}
