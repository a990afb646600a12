//! The exposure ledger: what each glass costs in light, in all, and the stop to set.
//!
//! Losses are of luminance, under the scene's light, before the camera's balance: what a meter reads.
//! Uniform glass multiplies as spectra, so that the total is not quite the sum of the rows where
//! colours meet.

use super::{Mounted, Setup};
use crate::colour::glass::transmitted_luminance;
use crate::colour::illuminant;
use crate::colour::spectrum::Spectrum;
use crate::glass::law::Figures;
use crate::optics::figures::{Spread, Stack, patch};
use crate::optics::scatter::{Scatter, luminance};
use crate::units::Stops;

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

    /// Modelled loss of the whole stack for an even field; a grad counts with its clear end.
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
        Stops::of_loss(colour * luminance(kept))
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

    /// Where the light goes in the whole stack; grads count with their clear ends.
    #[must_use]
    pub fn figures(&self, stack: &Stack) -> Figures {
        let colour = transmitted_luminance(&self.tau(), &self.scene());
        let parts = [luminance(stack.direct()), luminance(stack.scattered())];
        Figures::of(colour, parts, stack.haze())
    }

    /// What the stack's scattering comes to on the planned lens and sensor.
    #[must_use]
    pub fn spread(&self, stack: &Stack) -> Spread {
        let camera = &self.camera;
        stack.spread(camera.focal_mm, patch(camera.sensor_mm[1], camera.focal_mm))
    }

    /// Loss of the whole stack as the trade's tables add it up; a glass without a table entry counts
    /// as modelled.
    #[must_use]
    pub fn nominal_loss(&self) -> Stops {
        let scene = self.scene();
        self.glass
            .iter()
            .map(|g| {
                g.piece
                    .nominal_loss()
                    .unwrap_or_else(|| g.piece.law().flat_loss(&scene))
            })
            .sum()
    }

    /// The stop to set so that the picture is as bright as bare: the T-stop, or else the stop, times 2^(−loss/2).
    #[must_use]
    pub fn stop_to_set(&self) -> f64 {
        let marked = self.camera.t_stop.unwrap_or(self.camera.stop);
        marked.get() * (-self.light_loss().get() / 2.0).exp2()
    }
}

/// Transmittance of all uniform colour of some glass, faces included.
#[must_use]
pub fn stack_tau(glass: &[Mounted]) -> Spectrum {
    glass.iter().fold(Spectrum::constant(1.0), |tau, g| {
        tau.product(&g.piece.law().tau)
    })
}
