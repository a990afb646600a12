//! A diffusing glass's account of the light that arrives at it: what goes straight on, what is scattered
//! and how, what is lost.
//!
//! Source: haze, ASTM D1003.
//!
//! ```
//! use foreglass::optics::scatter::{Lobe, Profile, Scatter};
//! use foreglass::units::Degrees;
//! // Half of a Harvey lobe of slope -3 lies past sqrt(3) of its half-width: here past 2.5°.
//! let profile = Profile::Harvey { width: Degrees::clamped(2.5 / 3f64.sqrt()) };
//! let glass = Scatter {
//!     direct: [0.7; 3],
//!     lobes: vec![Lobe::grey(0.2, profile)],
//!     veil: [0.0; 3],
//!     absorbed: [0.1; 3],
//! };
//! assert!(glass.check().is_ok() && (glass.haze() - 0.1 / 0.9).abs() < 1e-9);
//! ```

pub use super::profile::{Law, Profile};

use super::profile::angle_holding;
use crate::colour::primaries::LUMA64;
use crate::units::Degrees;

/// One kind of scattered light and how much of it there is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lobe {
    /// Part of the light that arrives at the glass, per channel.
    pub weight: [f64; 3],
    /// Where it goes.
    pub profile: Profile,
}

impl Lobe {
    /// A lobe that takes the same part in every channel.
    #[must_use]
    pub const fn grey(weight: f64, profile: Profile) -> Self {
        Self {
            weight: [weight; 3],
            profile,
        }
    }
}

/// A glass's account of the light that arrives at it, per channel:
/// `direct + Σ lobes.weight + veil + absorbed = 1`.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// Part that goes straight on.
    pub direct: [f64; 3],
    /// Parts that are scattered about their direction.
    pub lobes: Vec<Lobe>,
    /// Part that is spread over the whole field: the mean of the scene, everywhere.
    pub veil: [f64; 3],
    /// Part that is lost: absorbed, or sent back.
    pub absorbed: [f64; 3],
}

/// Working luminance of a value per channel.
#[must_use]
pub fn luminance(per_channel: [f64; 3]) -> f64 {
    (0..3).map(|c| LUMA64[c] * per_channel[c]).sum()
}

/// A glass's account that does not hold.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Unbalanced {
    /// A part is negative or not finite.
    #[error("the {part} part of the light is {value}: it must lie in 0 to 1")]
    Part {
        /// Which part: direct, scattered, veil or absorbed.
        part: &'static str,
        /// Its value.
        value: f64,
    },
    /// The parts do not add up.
    #[error("the parts of the light add up to {total}, not to 1")]
    Total {
        /// Their sum.
        total: f64,
    },
}

/// ASTM D1003: light scattered by more than this from its direction is haze.
pub(super) const HAZE_FROM: Degrees = Degrees::clamped(2.5);

impl Scatter {
    /// Glass that does nothing.
    #[must_use]
    pub const fn clear() -> Self {
        Self {
            direct: [1.0; 3],
            lobes: Vec::new(),
            veil: [0.0; 3],
            absorbed: [0.0; 3],
        }
    }

    /// The account of the same glass turned counter-clockwise, as seen in the picture.
    #[must_use]
    pub fn turned(mut self, by: Degrees) -> Self {
        for lobe in &mut self.lobes {
            lobe.profile = lobe.profile.turned(by);
        }
        self
    }

    /// Whether it scatters alike in every direction.
    #[must_use]
    pub fn is_round(&self) -> bool {
        self.lobes.iter().all(|lobe| lobe.profile.is_round())
    }

    /// `direct + Σ lobes + veil + absorbed`: 1 in every channel of a true account.
    #[must_use]
    pub fn total(&self) -> [f64; 3] {
        let scattered = self.scattered();
        std::array::from_fn(|c| self.direct[c] + scattered[c] + self.absorbed[c])
    }

    /// Part that is scattered, the veil included.
    #[must_use]
    pub fn scattered(&self) -> [f64; 3] {
        std::array::from_fn(|c| {
            self.lobes.iter().map(|lobe| lobe.weight[c]).sum::<f64>() + self.veil[c]
        })
    }

    /// Part that passes, straight or scattered.
    #[must_use]
    pub fn passed(&self) -> [f64; 3] {
        self.absorbed.map(|lost| 1.0 - lost)
    }

    /// Holds the account to its sum.
    ///
    /// # Errors
    /// [`Unbalanced`] when a part lies outside 0 to 1 or a channel's sum is off by more than 1e-9.
    pub fn check(&self) -> Result<(), Unbalanced> {
        let parts = [
            ("direct", self.direct),
            ("veil", self.veil),
            ("absorbed", self.absorbed),
        ];
        let lobes = self.lobes.iter().map(|lobe| ("scattered", lobe.weight));
        for (part, values) in parts.into_iter().chain(lobes) {
            if let Some(&value) = values.iter().find(|v| !(0.0..=1.0).contains(*v)) {
                return Err(Unbalanced::Part { part, value });
            }
        }
        match self.total().into_iter().find(|t| (t - 1.0).abs() > 1e-9) {
            Some(total) => Err(Unbalanced::Total { total }),
            None => Ok(()),
        }
    }

    /// The account made ready. Ask this first when many values are wanted.
    #[must_use]
    pub fn law(&self) -> ScatterLaw {
        ScatterLaw {
            direct: self.direct,
            veil: self.veil,
            lobes: self
                .lobes
                .iter()
                .map(|lobe| (lobe.weight, lobe.profile.law()))
                .collect(),
        }
    }

    /// [`ScatterLaw::transfer`] of this glass.
    #[must_use]
    pub fn transfer(&self, channel: usize, nu: f64) -> f64 {
        self.law().transfer(channel, nu)
    }

    /// [`ScatterLaw::quantile`] of this glass.
    #[must_use]
    pub fn quantile(&self, channel: usize, share: f64) -> f64 {
        self.law().quantile(channel, share)
    }

    /// Haze of one channel, 0 to 1: light that leaves its direction by more than 2.5°, over all light
    /// that passes. The veil counts as haze. Source: ASTM D1003.
    #[must_use]
    pub fn haze_of(&self, channel: usize) -> f64 {
        let passed = self.direct[channel] + self.scattered()[channel];
        if passed <= 0.0 {
            return 0.0;
        }
        let angle = HAZE_FROM.radians();
        let wide =
            |lobe: &Lobe| lobe.weight[channel] * (1.0 - lobe.profile.encircled(channel, angle));
        (self.lobes.iter().map(wide).sum::<f64>() + self.veil[channel]) / passed
    }

    /// Haze, 0 to 1, of light weighted by luminance over the channels.
    #[must_use]
    pub fn haze(&self) -> f64 {
        let passed = self.passed();
        let hazy = std::array::from_fn(|channel| passed[channel] * self.haze_of(channel));
        let all = luminance(passed);
        if all > 0.0 {
            luminance(hazy) / all
        } else {
            0.0
        }
    }
}

/// A glass's account made ready.
#[derive(Debug, Clone)]
pub struct ScatterLaw {
    direct: [f64; 3],
    veil: [f64; 3],
    lobes: Vec<([f64; 3], Law)>,
}

impl ScatterLaw {
    /// `direct + Σ weight · transfer` at `nu` cycles per radian. The veil is not in it: it is
    /// [`Self::veil`] times the mean of the scene. See [`Law::transfer`] for what is not round.
    #[must_use]
    pub fn transfer(&self, channel: usize, nu: f64) -> f64 {
        let lobes = self.lobes.iter();
        let sum: f64 = lobes
            .map(|(w, law)| w[channel] * law.transfer(channel, nu))
            .sum();
        self.direct[channel] + sum
    }

    /// The same at a frequency with a direction: x to the picture's right, y up.
    #[must_use]
    pub fn transfer_at(&self, channel: usize, nu: [f64; 2]) -> f64 {
        let lobes = self.lobes.iter();
        let sum: f64 = lobes
            .map(|(w, law)| w[channel] * law.transfer_at(channel, nu))
            .sum();
        self.direct[channel] + sum
    }

    /// Scattered light per steradian at `theta` radians: lobes only.
    #[must_use]
    pub fn density(&self, channel: usize, theta: f64) -> f64 {
        self.lobes
            .iter()
            .map(|(w, law)| w[channel] * law.density(channel, theta))
            .sum()
    }

    /// Scattered light within `theta` radians: lobes only, as part of the light that arrives.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        self.lobes
            .iter()
            .map(|(w, law)| w[channel] * law.encircled(channel, theta))
            .sum()
    }

    /// The half-angle in radians holding `share` (0 to 1) of the lobes' light, the veil left out; 0
    /// without lobes.
    #[must_use]
    pub fn quantile(&self, channel: usize, share: f64) -> f64 {
        let all = self.lobe_weight(channel);
        if all <= 0.0 {
            return 0.0;
        }
        angle_holding(share, |theta| self.encircled(channel, theta) / all)
    }

    /// Part of the light in the lobes.
    #[must_use]
    pub fn lobe_weight(&self, channel: usize) -> f64 {
        self.lobes.iter().map(|(w, _)| w[channel]).sum()
    }

    /// Part that goes straight on.
    #[must_use]
    pub const fn direct(&self, channel: usize) -> f64 {
        self.direct[channel]
    }

    /// Part that is spread over the whole field.
    #[must_use]
    pub const fn veil(&self, channel: usize) -> f64 {
        self.veil[channel]
    }
}
