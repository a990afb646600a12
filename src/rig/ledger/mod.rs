//! The exposure ledger: what each glass costs in light and shifts in mireds, in all, and what makes it good.
//!
//! Losses are of luminance, under the scene's light, before the camera's balance: what a meter reads.
//! Uniform glass multiplies as spectra, so that the total is not quite the sum of the rows where
//! colours meet.

// The iris, the index or the light that makes the loss good.
mod exposure;
// What the stack does to the colour of light.
mod shift;

pub use exposure::{Exposure, iso_mark, iso_mark_above};
pub use shift::Turned;

use super::{Mounted, Setup};
use crate::colour::glass::transmitted_luminance;
use crate::colour::spectrum::Spectrum;
use crate::colour::{Xyz, illuminant};
use crate::glass::law::{Figures, TRADE_STOP};
use crate::optics::figures::{Spread, Stack, patch};
use crate::optics::pupil::Shape;
use crate::optics::scatter::{Scatter, luminance};
use crate::optics::tint::Tint;
use crate::units::{Density, Stops};

impl Setup {
    /// The scene's light.
    #[must_use]
    pub fn scene(&self) -> Spectrum {
        illuminant::scene(self.light.scene_k)
    }

    /// Transmittance of all uniform colour of the stack, faces included.
    #[must_use]
    pub fn tau(&self) -> Spectrum {
        stack_tau(&self.glass)
    }

    /// The camera's white.
    #[must_use]
    pub fn balance(&self) -> Xyz {
        illuminant::white(&illuminant::scene(self.camera.balance_k))
    }

    /// What placed colour does behind all uniform colour of the stack.
    #[must_use]
    pub fn tint(&self) -> Tint {
        let through = self.light.balance_through_glass;
        Tint::new(&self.tau(), &self.scene(), self.balance(), through)
    }

    /// Modelled loss of the whole stack for an even field; a grad and a stripe count with their clear
    /// part, an attenuator with its density on the axis.
    #[must_use]
    pub fn light_loss(&self) -> Stops {
        let colour = transmitted_luminance(&self.tau(), &self.scene());
        let kept: [f64; 3] = self
            .glass
            .iter()
            .filter_map(|g| g.piece.law().scatter.as_ref())
            .map(Scatter::passed)
            .fold([1.0; 3], |all, one| {
                std::array::from_fn(|c| all[c] * one[c])
            });
        let on_axis: f64 = self.glass.iter().map(Mounted::density_on_axis).sum();
        Stops::of_loss(colour * luminance(kept)) + Stops::from(Density::clamped(on_axis))
    }

    /// Whether any light comes through: a table of a spectrum may pass none.
    #[must_use]
    pub fn passes_light(&self) -> bool {
        self.light_loss() < Stops::clamped(Stops::HIGH)
    }

    /// All its scattering taken together, made ready for figures that need no picture.
    #[must_use]
    pub fn stack(&self) -> Stack {
        let scatters: Vec<Scatter> = self
            .glass
            .iter()
            .filter_map(|g| Some(g.piece.law().scatter.clone()?.turned(g.turn)))
            .collect();
        Stack::of(&scatters)
    }

    /// Where the light goes in the whole stack; grads count with their clear ends, attenuators as on the
    /// axis.
    #[must_use]
    pub fn figures(&self, stack: &Stack) -> Figures {
        let on_axis: f64 = self.glass.iter().map(Mounted::density_on_axis).sum();
        let placed = Density::clamped(on_axis).transmittance();
        let colour = placed * transmitted_luminance(&self.tau(), &self.scene());
        let parts = [luminance(stack.direct()), luminance(stack.scattered())];
        Figures::of(colour, parts, stack.haze())
    }

    /// What the stack's scattering comes to on the planned lens and sensor.
    #[must_use]
    pub fn spread(&self, stack: &Stack) -> Spread {
        let camera = &self.camera;
        stack.spread(
            camera.focal_mm,
            patch(camera.framed_mm()[1], camera.focal_mm),
        )
    }

    /// Whether the trade's tables lack some of the glass.
    #[must_use]
    pub fn has_untabled(&self) -> bool {
        self.glass.iter().any(|g| g.nominal_loss().is_none())
    }

    /// Loss of the whole stack as the trade's tables add it up; a glass without a table entry counts
    /// as modelled.
    #[must_use]
    pub fn nominal_loss(&self) -> Stops {
        let scene = self.scene();
        self.glass
            .iter()
            .map(|g| g.nominal_loss().unwrap_or_else(|| g.loss(&scene)))
            .sum()
    }
}

impl Mounted {
    /// Density that an attenuator has where the axis crosses it; 0 of every other glass.
    #[must_use]
    pub fn density_on_axis(&self) -> f64 {
        self.ramp()
            .filter(|r| r.shape() == Shape::Attenuator)
            .map_or(0.0, |r| r.density(-self.slide_mm()))
    }

    /// Modelled loss of this glass for an even field under `scene` light; see [`Setup::light_loss`].
    #[must_use]
    pub fn loss(&self, scene: &Spectrum) -> Stops {
        let on_axis = Density::clamped(self.density_on_axis());
        self.piece.law().flat_loss(scene) + Stops::from(on_axis)
    }

    /// Loss by the trade's tables, where they have the glass.
    #[must_use]
    pub fn nominal_loss(&self) -> Option<Stops> {
        let on_axis = self.density_on_axis() / TRADE_STOP;
        self.piece
            .nominal_loss()
            .map(|n| n + Stops::clamped(on_axis))
    }
}

/// Transmittance of all uniform colour of some glass, faces included.
#[must_use]
pub fn stack_tau<'a>(glass: impl IntoIterator<Item = &'a Mounted>) -> Spectrum {
    let all = glass.into_iter();
    all.fold(Spectrum::constant(1.0), |tau, g| {
        tau.product(&g.piece.law().tau)
    })
}
