//! What a diffusing glass does to a ray, exactly.
//!
//! Angles lie in the flat small-angle plane: a pixel (x, y) mm from the axis of a lens of focal length
//! f sees direction (x, y)/f, so a law that is flat in θ is the same for every pixel. Frequencies are
//! in cycles per radian; a channel is 0, 1, 2 for R, G, B of the working light, each an average over
//! its own band.
//!
//! Sources: diffraction by opaque specks after Babinet, a disc's pattern after Airy ([`super::airy`]);
//! K-correlation lobe, J. E. Harvey, *Proc. SPIE* 9961 (2016): for slope −3 its transform is
//! exp(−2πLν); haze, ASTM D1003.
//!
//! ```
//! use foreglass::optics::scatter::Profile;
//! use foreglass::units::{Degrees, Micrometres};
//! // Half of a Harvey lobe of slope -3 lies inside sqrt(3) of its half-width.
//! let lobe = Profile::Harvey { width: Degrees::clamped(1.0) };
//! assert!((lobe.quantile(1, 0.5).to_degrees() - 3f64.sqrt()).abs() < 1e-9);
//! // A 20 µm speck's first dark ring in green is near 1.9 degrees; its halo is wider in red.
//! let speck = Profile::Speck { diameter: Micrometres::clamped(20.0), spread: 0.3 };
//! assert!(speck.quantile(0, 0.5) > speck.quantile(2, 0.5));
//! ```

use super::halo::Halo;
use crate::colour::primaries::LUMA64;
use crate::units::{Degrees, Micrometres};
use std::f64::consts::PI;
use std::sync::Arc;

/// The angular distribution of one kind of scattered light, of unit sum over all directions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Profile {
    /// Light diffracted by opaque specks: `[2J₁(u)/u]²`, `u = πd·sinθ/λ`, averaged over a log-normal
    /// spread of diameters (weighted by the area that they cover) and over the channel's band.
    Speck {
        /// Median diameter, weighted by area.
        diameter: Micrometres,
        /// Standard deviation of ln d; 0 is one size.
        spread: f64,
    },
    /// A K-correlation (Harvey) lobe of slope S = −3, the same in every channel:
    /// `L / (2π (θ² + L²)^{3/2})`.
    Harvey {
        /// The half-width L.
        width: Degrees,
    },
}

/// A profile made ready: whatever it needs is computed, so that it can be asked millions of times.
#[derive(Debug, Clone)]
pub struct Law(Kind);

#[derive(Debug, Clone)]
enum Kind {
    Speck { diameter: f64, halo: Arc<Halo> },
    Harvey { width: f64 },
}

impl Profile {
    /// The profile made ready. Ask this first when many values are wanted.
    #[must_use]
    pub fn law(&self) -> Law {
        Law(match *self {
            Self::Speck { diameter, spread } => Kind::Speck {
                diameter: diameter.get(),
                halo: Halo::of(spread),
            },
            Self::Harvey { width } => Kind::Harvey {
                width: width.radians().abs(),
            },
        })
    }

    /// [`Law::transfer`] of this profile.
    #[must_use]
    pub fn transfer(&self, channel: usize, nu: f64) -> f64 {
        self.law().transfer(channel, nu)
    }

    /// [`Law::density`] of this profile.
    #[must_use]
    pub fn density(&self, channel: usize, theta: f64) -> f64 {
        self.law().density(channel, theta)
    }

    /// [`Law::encircled`] of this profile.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        self.law().encircled(channel, theta)
    }

    /// [`Law::quantile`] of this profile.
    #[must_use]
    pub fn quantile(&self, channel: usize, share: f64) -> f64 {
        self.law().quantile(channel, share)
    }
}

impl Law {
    /// The two-dimensional Fourier transform at `nu` cycles per radian; 1 at 0. Good to 1e-9.
    #[must_use]
    pub fn transfer(&self, channel: usize, nu: f64) -> f64 {
        match &self.0 {
            Kind::Speck { diameter, halo } => halo.transfer(channel, nu / diameter),
            Kind::Harvey { width } => (-2.0 * PI * width * nu.abs()).exp(),
        }
    }

    /// Light per steradian at `theta` radians from the ray. An infinitely narrow lobe has none.
    #[must_use]
    pub fn density(&self, channel: usize, theta: f64) -> f64 {
        match &self.0 {
            Kind::Speck { diameter, halo } => {
                diameter * diameter * halo.density(channel, theta.abs() * diameter)
            }
            Kind::Harvey { width } => {
                let r = theta.hypot(*width);
                if r > 0.0 {
                    width / (2.0 * PI * r * r * r)
                } else {
                    0.0
                }
            }
        }
    }

    /// Part of the light within `theta` radians of the ray.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        if theta <= 0.0 {
            return 0.0;
        }
        match &self.0 {
            Kind::Speck { diameter, halo } => halo.enclosed(channel, theta * diameter),
            Kind::Harvey { width } => {
                // 1 − L/√(θ² + L²), without cancellation at small θ.
                let r = theta.hypot(*width);
                theta * theta / (r * (r + width))
            }
        }
    }

    /// The half-angle in radians that holds `share` of the light; `share` is held to 0 to 1 − 1e-4.
    #[must_use]
    pub fn quantile(&self, channel: usize, share: f64) -> f64 {
        if let Kind::Harvey { width } = self.0 {
            let left = 1.0 - held(share);
            return width * (1.0 / (left * left) - 1.0).sqrt();
        }
        angle_holding(share, |theta| self.encircled(channel, theta))
    }
}

fn held(share: f64) -> f64 {
    share.clamp(0.0, 1.0 - 1e-4)
}

/// Bisection in the logarithm of the angle, 1 nrad to 10⁶ rad.
fn angle_holding(share: f64, encircled: impl Fn(f64) -> f64) -> f64 {
    let share = held(share);
    if share <= 0.0 {
        return 0.0;
    }
    let (mut low, mut high) = (
        -9.0 * std::f64::consts::LN_10,
        6.0 * std::f64::consts::LN_10,
    );
    while high - low > 1e-13 * (1.0 + high.abs()) {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if encircled(middle.exp()) < share {
            low = middle;
        } else {
            high = middle;
        }
    }
    (0.5 * (low + high)).exp()
}

/// One kind of scattered light and how much of it there is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lobe {
    /// Part of the light that arrives at the glass.
    pub weight: f64,
    /// Where it goes.
    pub profile: Profile,
}

/// A glass's account of the light that arrives at it:
/// `direct + Σ lobes.weight + veil + absorbed = 1`.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// Part that goes straight on.
    pub direct: f64,
    /// Parts that are scattered about their direction.
    pub lobes: Vec<Lobe>,
    /// Part that is spread over the whole field: the mean of the scene, everywhere.
    pub veil: f64,
    /// Part that is lost: absorbed, or sent back.
    pub absorbed: f64,
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
const HAZE_FROM: Degrees = Degrees::clamped(2.5);

impl Scatter {
    /// Glass that does nothing.
    #[must_use]
    pub const fn clear() -> Self {
        Self {
            direct: 1.0,
            lobes: Vec::new(),
            veil: 0.0,
            absorbed: 0.0,
        }
    }

    /// `direct + Σ lobes + veil + absorbed`: 1 for every true account.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.direct + self.scattered() + self.absorbed
    }

    /// Part that is scattered, the veil included.
    #[must_use]
    pub fn scattered(&self) -> f64 {
        self.lobes.iter().map(|lobe| lobe.weight).sum::<f64>() + self.veil
    }

    /// Holds the account to its sum.
    ///
    /// # Errors
    /// [`Unbalanced`] when a part lies outside 0 to 1 or the sum is off by more than 1e-9.
    pub fn check(&self) -> Result<(), Unbalanced> {
        let parts = [
            ("direct", self.direct),
            ("veil", self.veil),
            ("absorbed", self.absorbed),
        ];
        let lobes = self.lobes.iter().map(|lobe| ("scattered", lobe.weight));
        for (part, value) in parts.into_iter().chain(lobes) {
            if !(0.0..=1.0).contains(&value) {
                return Err(Unbalanced::Part { part, value });
            }
        }
        let total = self.total();
        if (total - 1.0).abs() > 1e-9 {
            return Err(Unbalanced::Total { total });
        }
        Ok(())
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
        let passed = self.direct + self.scattered();
        if passed <= 0.0 {
            return 0.0;
        }
        let angle = HAZE_FROM.radians();
        let wide = |lobe: &Lobe| lobe.weight * (1.0 - lobe.profile.encircled(channel, angle));
        (self.lobes.iter().map(wide).sum::<f64>() + self.veil) / passed
    }

    /// Haze, 0 to 1, weighted by luminance over the channels.
    #[must_use]
    pub fn haze(&self) -> f64 {
        (0..3)
            .map(|channel| LUMA64[channel] * self.haze_of(channel))
            .sum()
    }
}

/// A glass's account made ready.
#[derive(Debug, Clone)]
pub struct ScatterLaw {
    direct: f64,
    veil: f64,
    lobes: Vec<(f64, Law)>,
}

impl ScatterLaw {
    /// `direct + Σ weight · transfer` at `nu` cycles per radian. The veil is not in it: it is
    /// [`Self::veil`] times the mean of the scene.
    #[must_use]
    pub fn transfer(&self, channel: usize, nu: f64) -> f64 {
        self.direct
            + self
                .lobes
                .iter()
                .map(|(w, law)| w * law.transfer(channel, nu))
                .sum::<f64>()
    }

    /// Scattered light per steradian at `theta` radians: lobes only.
    #[must_use]
    pub fn density(&self, channel: usize, theta: f64) -> f64 {
        self.lobes
            .iter()
            .map(|(w, law)| w * law.density(channel, theta))
            .sum()
    }

    /// Scattered light within `theta` radians: lobes only, as part of the light that arrives.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        self.lobes
            .iter()
            .map(|(w, law)| w * law.encircled(channel, theta))
            .sum()
    }

    /// The half-angle in radians holding `share` (0 to 1) of the lobes' light, the veil left out; 0
    /// without lobes.
    #[must_use]
    pub fn quantile(&self, channel: usize, share: f64) -> f64 {
        let all = self.lobe_weight();
        if all <= 0.0 {
            return 0.0;
        }
        angle_holding(share, |theta| self.encircled(channel, theta) / all)
    }

    /// Part of the light in the lobes.
    #[must_use]
    pub fn lobe_weight(&self) -> f64 {
        self.lobes.iter().map(|(w, _)| w).sum()
    }

    /// Part that goes straight on.
    #[must_use]
    pub const fn direct(&self) -> f64 {
        self.direct
    }

    /// Part that is spread over the whole field.
    #[must_use]
    pub const fn veil(&self) -> f64 {
        self.veil
    }
}
