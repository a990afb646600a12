//! What the stack does to the colour of light, in mireds: by the shifts that its pieces are sold by, which
//! add, and by its spectrum. Placed colour counts with its clear part, which is none.
//!
//! Source: mired = 10⁶/K (common practice); [`crate::colour::temperature`].

use crate::colour::illuminant;
use crate::colour::temperature::{Turn, reached};
use crate::glass::Piece;
use crate::rig::Setup;
use crate::units::{Kelvin, Mireds};

/// Lights that every stack is told of: tungsten and daylight as cameras are balanced for them (common
/// practice).
const USUAL: [Kelvin; 2] = [Kelvin::clamped(3200.0), Kelvin::clamped(5600.0)];

/// What a stack makes of a light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turned {
    /// The light's colour temperature, as it is called.
    pub from: Kelvin,
    /// The light behind the stack, by its spectrum.
    pub by_spectrum: Turn,
    /// The same by adding up mireds; None where no piece is sold by a shift, or past the range of
    /// colour temperatures.
    pub by_mireds: Option<Kelvin>,
}

impl Setup {
    /// The sum of the shifts that the pieces are sold by; None where none is.
    #[must_use]
    pub fn nominal_shift(&self) -> Option<Mireds> {
        let shifts = self.glass.iter().filter_map(|g| g.piece.nominal_shift());
        shifts.reduce(|a, b| a + b)
    }

    /// How far the stack shifts the scene's light, by its spectrum; None where what comes through has
    /// no colour temperature.
    #[must_use]
    pub fn shift(&self) -> Option<Mireds> {
        Turn::of(&self.scene(), &self.tau()).shift()
    }

    /// What the stack turns tungsten light, daylight and the scene's own into.
    #[must_use]
    pub fn turns(&self) -> Vec<Turned> {
        let (tau, shift) = (self.tau(), self.nominal_shift());
        let scene = self.light.scene_k;
        let own = Some(scene).filter(|k| !USUAL.contains(k));
        USUAL
            .into_iter()
            .chain(own)
            .map(|from| Turned {
                from,
                by_spectrum: Turn::of(&illuminant::scene(from), &tau),
                by_mireds: shift.and_then(|shift| reached(from, shift)),
            })
            .collect()
    }

    /// Whether any piece has a colour of its own, the same all over: whether [`Setup::turns`] tells
    /// of anything.
    #[must_use]
    pub fn has_colour(&self) -> bool {
        let coloured = |piece: &Piece| {
            let samples = piece.law().tau.samples();
            piece.nominal_shift().is_some() || samples.iter().any(|t| (t - samples[0]).abs() > 1e-9)
        };
        self.glass.iter().any(|g| coloured(&g.piece))
    }
}
