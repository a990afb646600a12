//! A radial distribution as a sum of Gaussians: the form that the production kernels run.
//!
//! A mixture is made in radians and scaled to pixels by focal length over pixel pitch. Weights may be
//! negative: a lobe steeper than a Gaussian needs that; their sum is the lobe's light, exactly.
//!
//! ```
//! use foreglass::optics::mixture::{Gaussian, Mixture};
//! let glass = Mixture { direct: 0.9, gaussians: vec![Gaussian { weight: 0.1, sigma: 0.002 }], veil: 0.0 };
//! // 50 mm lens, 5 µm pixels: 10 000 pixels a radian.
//! let pixels = glass.scaled(50.0 / 0.005);
//! assert!((pixels.gaussians[0].sigma - 20.0).abs() < 1e-12);
//! assert!((pixels.total() - 1.0).abs() < 1e-15);
//! ```

use std::f64::consts::PI;

/// One round Gaussian.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gaussian {
    /// Its share of the light.
    pub weight: f64,
    /// Its standard deviation along either axis; the unit is the user's (radians or pixels).
    pub sigma: f64,
}

/// `direct·δ + Σ weight·G(sigma) + veil·mean`, for one channel.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Mixture {
    /// Share of the light that goes straight on.
    pub direct: f64,
    /// The scattered light, narrowest first.
    pub gaussians: Vec<Gaussian>,
    /// Share spread evenly over the frame.
    pub veil: f64,
}

impl Gaussian {
    /// Light per unit of area at distance `r`.
    #[must_use]
    pub fn density(&self, r: f64) -> f64 {
        let s2 = self.sigma * self.sigma;
        self.weight * (-0.5 * r * r / s2).exp() / (2.0 * PI * s2)
    }

    /// Light within `r`.
    #[must_use]
    pub fn encircled(&self, r: f64) -> f64 {
        let t = r / self.sigma;
        -self.weight * (-0.5 * t * t).exp_m1()
    }

    /// Its transform at `nu` cycles per unit of length.
    #[must_use]
    pub fn transfer(&self, nu: f64) -> f64 {
        let t = PI * self.sigma * nu;
        self.weight * (-2.0 * t * t).exp()
    }
}

impl Mixture {
    /// Light that passes: `direct + Σ weight + veil`.
    #[must_use]
    pub fn total(&self) -> f64 {
        self.direct + self.scattered()
    }

    /// Light that is scattered, the veil included.
    #[must_use]
    pub fn scattered(&self) -> f64 {
        self.gaussians.iter().map(|g| g.weight).sum::<f64>() + self.veil
    }

    /// Its transform at `nu` cycles per unit of length, without the veil.
    #[must_use]
    pub fn transfer(&self, nu: f64) -> f64 {
        self.direct + self.gaussians.iter().map(|g| g.transfer(nu)).sum::<f64>()
    }

    /// Scattered light per unit of area at distance `r`, without the veil.
    #[must_use]
    pub fn density(&self, r: f64) -> f64 {
        self.gaussians.iter().map(|g| g.density(r)).sum()
    }

    /// The same light with every distance multiplied by `factor`: radians to pixels takes focal length
    /// over pixel pitch, both in mm.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        let scale = |g: &Gaussian| Gaussian {
            weight: g.weight,
            sigma: g.sigma * factor,
        };
        Self {
            direct: self.direct,
            gaussians: self.gaussians.iter().map(scale).collect(),
            veil: self.veil,
        }
    }
}
