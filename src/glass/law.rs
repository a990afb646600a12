//! What one glass does to light, and the figures that follow from it without a picture.
//!
//! Energy is accounted for: of the light that arrives, `direct + scattered + absorbed = 1`, where
//! absorbed counts the dye, the faces and what is sent back.
//!
//! Sources: face reflectance ((n−1)/(n+1))² of two faces of n = 1.52 summed with their multiple
//! reflections, (1−R)/(1+R) = 0.9183 (Fresnel; worked in `tests/checks`); haze after the definition
//! of ASTM D1003.

use crate::colour::glass::transmitted_luminance;
use crate::colour::spectrum::Spectrum;
use crate::optics::figures::Stack;
use crate::optics::polarised::Sheet;
use crate::optics::pupil::Ramp;
use crate::optics::scatter::{Scatter, luminance};
use crate::optics::sky::Sun;
use crate::units::Stops;

/// Transmittance of two uncoated faces of n = 1.52 glass.
pub const UNCOATED: f64 = 0.9183;
/// Transmittance of two coated faces, half a per cent lost at each.
pub const COATED: f64 = 0.99;

/// Density that the trade counts as one stop (common practice, no source; it is 0.9966 stop).
pub const TRADE_STOP: f64 = 0.3;

/// The law of one glass.
#[derive(Debug, Clone, PartialEq)]
pub struct Law {
    /// What passes at each wavelength, faces included, where the glass is the same everywhere.
    pub tau: Spectrum,
    /// How the light that passes is scattered; None for glass that leaves rays alone.
    pub scatter: Option<Scatter>,
    /// Density that changes across the glass; None for glass that is the same everywhere.
    pub ramp: Option<Ramp>,
    /// Its dye's spectral density, where that changing density has a colour: the ramp, of peak 1,
    /// then tells what part of the dye is there. None for neutral density.
    pub dye: Option<Spectrum>,
    /// Whether it stops the near infrared that a dye lets through, from the end of the visible on.
    pub stops_infrared: bool,
    /// Its principal transmittances; None for glass that does not polarise.
    pub polarises: Option<Sheet>,
    /// Where the sun stands, for glass that polarises and is told of a sky.
    pub sun: Option<Sun>,
    /// What has to be known about this very piece before its picture is trusted, in a sentence.
    pub caution: Option<&'static str>,
}

/// A law's figures, weighted by luminance under a scene's light. For a grad they are its clear end's,
/// an attenuator's too: what it takes on the axis is for its mount to tell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// Part of the light that goes straight on.
    pub direct: f64,
    /// Part that is scattered.
    pub scattered: f64,
    /// Part that is lost.
    pub absorbed: f64,
    /// Part of what passes that is scattered by more than 2.5°, in per cent.
    pub haze_percent: f64,
}

impl Law {
    /// A law that lets light of every wavelength through alike.
    #[must_use]
    pub fn neutral(transmittance: f64) -> Self {
        Self {
            tau: Spectrum::constant(transmittance),
            scatter: None,
            ramp: None,
            dye: None,
            stops_infrared: false,
            polarises: None,
            sun: None,
            caution: None,
        }
    }

    /// Greatest density of what changes across the glass, at the wavelength that it takes most of.
    #[must_use]
    pub fn peak_density(&self) -> Option<f64> {
        let dye = self.dye.as_ref().map(Spectrum::samples);
        let darkest = dye.map_or(1.0, |d| d.iter().copied().fold(0.0, f64::max));
        self.ramp.as_ref().map(|r| darkest * r.peak())
    }

    /// The same at the wavelength that it takes least of.
    #[must_use]
    pub fn clearest_peak(&self) -> Option<f64> {
        let dye = self.dye.as_ref().map(Spectrum::samples);
        let clearest = dye.map_or(1.0, |d| d.iter().copied().fold(f64::INFINITY, f64::min));
        self.ramp.as_ref().map(|r| clearest * r.peak())
    }

    /// The figures under `scene` light.
    #[must_use]
    pub fn figures(&self, scene: &Spectrum) -> Figures {
        let (direct, scattered, haze) = match &self.scatter {
            None => (1.0, 0.0, 0.0),
            Some(s) => (luminance(s.direct), luminance(s.scattered()), s.haze()),
        };
        Figures::of(
            transmitted_luminance(&self.tau, scene),
            [direct, scattered],
            haze,
        )
    }

    /// Its scattering, made ready for figures that need no picture.
    #[must_use]
    pub fn stack(&self) -> Stack {
        Stack::of(self.scatter.as_slice())
    }

    /// Light lost by an even field, in stops.
    #[must_use]
    pub fn flat_loss(&self, scene: &Spectrum) -> Stops {
        let passed = self.scatter.as_ref().map_or(1.0, |s| luminance(s.passed()));
        Stops::of_loss(transmitted_luminance(&self.tau, scene) * passed)
    }
}

impl Figures {
    /// Of a stack whose colour passes `tau` of a scene's light, and whose scattering passes so much
    /// `direct` and `scattered`; `haze` is of what passes, 0 to 1.
    #[must_use]
    pub fn of(tau: f64, [direct, scattered]: [f64; 2], haze: f64) -> Self {
        let (direct, scattered) = (tau * direct, tau * scattered);
        Self {
            direct,
            scattered,
            absorbed: 1.0 - direct - scattered,
            haze_percent: 100.0 * haze,
        }
    }

    /// Loss of an even field, −log₂(1 − absorbed).
    #[must_use]
    pub fn loss_flat(&self) -> Stops {
        Stops::of_loss(1.0 - self.absorbed)
    }

    /// Loss of a small bright detail, −log₂ direct.
    #[must_use]
    pub fn loss_core(&self) -> Stops {
        Stops::of_loss(self.direct)
    }
}
