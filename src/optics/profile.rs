//! The angular distributions of scattered light, exactly.
//!
//! Angles lie in the flat small-angle plane: a pixel (x, y) mm from the axis of a lens of focal length
//! f sees direction (x, y)/f, so a law that is flat in θ is the same for every pixel. Frequencies are
//! in cycles per radian; a channel is 0, 1, 2 for R, G, B of the working light, each an average over
//! its own band. Round profiles need only the length of an angle or a frequency; the others have a
//! direction, counter-clockwise from the picture's right, and all of them are the same at ν and −ν.
//!
//! Sources: diffraction by opaque specks after Babinet, a disc's pattern after Airy ([`super::airy`]);
//! K-correlation lobe, J. E. Harvey, *Proc. SPIE* 9961 (2016): for slope −3 its transform is
//! exp(−2πLν).
//!
//! ```
//! use foreglass::optics::profile::Profile;
//! use foreglass::units::{Degrees, Fraction, Micrometres};
//! // Half of a Harvey lobe of slope -3 lies inside sqrt(3) of its half-width.
//! let lobe = Profile::Harvey { width: Degrees::clamped(1.0) };
//! assert!((lobe.quantile(1, 0.5).to_degrees() - 3f64.sqrt()).abs() < 1e-9);
//! // A 20 µm speck's first dark ring in green is near 1.9 degrees; its halo is wider in red.
//! let (diameter, coverage) = (Micrometres::clamped(20.0), Fraction::clamped(0.1));
//! let speck = Profile::Speck { diameter, spread: 0.3, coverage };
//! assert!(speck.quantile(0, 0.5) > speck.quantile(2, 0.5));
//! ```

use super::disc;
use super::halo::Halo;
use super::lines::{self, Lines};
use super::net::{self, Net};
use crate::units::{Degrees, Fraction, Micrometres};
use std::f64::consts::PI;
use std::sync::Arc;

/// The angular distribution of one kind of scattered light, of unit sum over all directions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Profile {
    /// Light diffracted by opaque specks: `[2J₁(u)/u]²`, `u = πd·sinθ/λ`, averaged over a log-normal
    /// spread of diameters (weighted by the area that they cover) and over the channel's band; specks
    /// that cover much of the area overlap ([`super::overlap`]).
    Speck {
        /// Median diameter, weighted by area.
        diameter: Micrometres,
        /// Standard deviation of ln d; 0 is one size. Production needs
        /// [`super::fit::LEAST_SPECK_SPREAD`] at least: rings are no sum of Gaussians.
        spread: f64,
        /// Part of the area that they cover; 0 is specks by themselves.
        coverage: Fraction,
    },
    /// A K-correlation (Harvey) lobe of slope S = −3, the same in every channel:
    /// `L / (2π (θ² + L²)^{3/2})`.
    Harvey {
        /// The half-width L.
        width: Degrees,
    },
    /// Light refracted by lenslets: an even disc of half-angle φ, over a log-normal spread of φ
    /// (each lenslet keeping its own light), the same in every channel.
    Disc {
        /// Median half-angle.
        angle: Degrees,
        /// Standard deviation of ln φ.
        spread: f64,
    },
    /// Light thrown across engraved lines or ribs: a streak, see [`super::lines`].
    Lines(Lines),
    /// The orders of a net, see [`super::net`].
    Net(Net),
}

/// A profile made ready: whatever it needs is computed, so that it can be asked millions of times.
#[derive(Debug, Clone)]
pub struct Law(Kind);

/// The kinds of profile, each with what it needs.
#[derive(Debug, Clone)]
pub(super) enum Kind {
    Speck { diameter: f64, halo: Arc<Halo> },
    Harvey { width: f64 },
    Disc(disc::Disc),
    Lines(lines::Law),
    Net(net::Law),
}

impl Profile {
    /// Whether it is the same in every direction.
    #[must_use]
    pub const fn is_round(&self) -> bool {
        match self {
            Self::Speck { .. } | Self::Harvey { .. } | Self::Disc { .. } => true,
            Self::Lines(_) | Self::Net(_) => false,
        }
    }

    /// The profile of the same glass turned counter-clockwise, as seen in the picture.
    #[must_use]
    pub fn turned(self, by: Degrees) -> Self {
        match self {
            Self::Lines(lines) => Self::Lines(lines.turned(by)),
            Self::Net(net) => Self::Net(net.turned(by)),
            round => round,
        }
    }

    /// The profile made ready. Ask this first when many values are wanted.
    #[must_use]
    pub fn law(&self) -> Law {
        Law(match *self {
            Self::Speck {
                diameter,
                spread,
                coverage,
            } => Kind::Speck {
                diameter: diameter.get(),
                halo: Halo::of(spread, coverage.get()),
            },
            Self::Harvey { width } => Kind::Harvey {
                width: width.radians().abs(),
            },
            Self::Disc { angle, spread } => Kind::Disc(disc::Disc::new(angle.radians(), spread)),
            Self::Lines(lines) => Kind::Lines(lines.law()),
            Self::Net(net) => Kind::Net(net.law()),
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
    pub(super) const fn kind(&self) -> &Kind {
        &self.0
    }

    /// The two-dimensional Fourier transform at `nu` cycles per radian; 1 at 0. Good to 1e-9. Of a
    /// profile that is not round, along the picture's horizontal.
    #[must_use]
    pub fn transfer(&self, channel: usize, nu: f64) -> f64 {
        match &self.0 {
            Kind::Speck { diameter, halo } => halo.transfer(channel, nu / diameter),
            Kind::Harvey { width } => (-2.0 * PI * width * nu.abs()).exp(),
            Kind::Disc(disc) => disc.transfer(nu),
            Kind::Lines(lines) => lines.transfer(channel, [nu, 0.0]),
            Kind::Net(net) => net.transfer(channel, [nu, 0.0]),
        }
    }

    /// The transform at a frequency with a direction: x to the picture's right, y up.
    #[must_use]
    pub fn transfer_at(&self, channel: usize, nu: [f64; 2]) -> f64 {
        match &self.0 {
            Kind::Lines(lines) => lines.transfer(channel, nu),
            Kind::Net(net) => net.transfer(channel, nu),
            Kind::Speck { .. } | Kind::Harvey { .. } | Kind::Disc(_) => {
                self.transfer(channel, nu[0].hypot(nu[1]))
            }
        }
    }

    /// Light per steradian at `theta` radians from the ray. An infinitely narrow lobe has none; of a
    /// profile that is not round, the mean around the ray.
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
            Kind::Disc(disc) => disc.density(theta.abs()),
            Kind::Lines(_) | Kind::Net(_) => {
                // The slope of the enclosed light over the ring's circumference.
                let (theta, step) = (theta.abs().max(1e-9), 1e-3);
                let (low, high) = (theta * (1.0 - step), theta * (1.0 + step));
                let ring = self.encircled(channel, high) - self.encircled(channel, low);
                ring / (PI * (high * high - low * low))
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
            Kind::Disc(disc) => disc.encircled(theta),
            Kind::Lines(lines) => lines.encircled(channel, theta),
            Kind::Net(net) => net.encircled(channel, theta),
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
pub(super) fn angle_holding(share: f64, encircled: impl Fn(f64) -> f64) -> f64 {
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
