//! Light refracted by lenslets: an even disc, over a log-normal spread of half-angles.
//!
//! With μ = ln φ̄ and s the spread, the closed forms are those of the log-normal's partial moments:
//! enclosed `Φ(a) + θ² e^{2s²−2μ} Φ̄(a + 2s)`, a = (ln θ − μ)/s, and density
//! `e^{2s²−2μ} Φ̄(a + 2s) / π`. The transform is the mean of 2J₁(x)/x, x = 2πφν.

use super::airy;
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Spreads under this are held to it: an edge harder than it cannot be told from it.
const LEAST_SPREAD: f64 = 0.02;

/// A disc of median half-angle `exp(centre)`.
#[derive(Debug, Clone)]
pub(super) struct Disc {
    centre: f64,
    spread: f64,
}

impl Disc {
    /// `angle` in radians.
    pub(super) fn new(angle: f64, spread: f64) -> Self {
        Self {
            centre: angle.abs().max(1e-12).ln(),
            spread: spread.max(LEAST_SPREAD),
        }
    }

    pub(super) fn transfer(&self, nu: f64) -> f64 {
        let step = 0.1;
        let (mut sum, mut all) = (0.0, 0.0);
        for i in -80..=80 {
            let t = f64::from(i) * step;
            let weight = (-0.5 * t * t).exp();
            let angle = self.spread.mul_add(t, self.centre).exp();
            sum += weight * airy::jinc(2.0 * PI * angle * nu.abs());
            all += weight;
        }
        sum / all
    }

    pub(super) fn density(&self, theta: f64) -> f64 {
        self.inverse_square() * upper(self.place(theta) + 2.0 * self.spread) / PI
    }

    pub(super) fn encircled(&self, theta: f64) -> f64 {
        let a = self.place(theta);
        let inside = theta * theta * self.inverse_square() * upper(a + 2.0 * self.spread);
        (1.0 - upper(a) + inside).min(1.0)
    }

    fn place(&self, theta: f64) -> f64 {
        (theta.ln() - self.centre) / self.spread
    }

    /// Mean of φ⁻².
    fn inverse_square(&self) -> f64 {
        (2.0 * self.spread * self.spread - 2.0 * self.centre).exp()
    }
}

/// The normal distribution above `x`.
fn upper(x: f64) -> f64 {
    0.5 * libm::erfc(x * FRAC_1_SQRT_2)
}
