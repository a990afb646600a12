//! Specks that overlap.
//!
//! Specks that fall anywhere, on one another too, and cover a part c of the area leave a screen whose
//! autocovariance at a shift r is `(1−c)² [exp(μ g(r)) − 1]`, μ = −ln(1 − c), g the common area of a
//! speck and itself shifted by r, averaged over their sizes by area. At r = 0 that is c(1−c), the light
//! that is diffracted; divided by it,
//!
//! `H = (exp(μg) − 1) / (exp(μ) − 1)`
//!
//! is the halo's transform at r = λν. Few specks (c → 0) leave g itself, the law of one speck; many
//! make the halo wider, by the finer gaps between clumps.
//!
//! Source: the Boolean model of random sets (G. Matheron, *Random Sets and Integral Geometry*, 1975,
//! from memory); derived and compared with FFTs of random masks in `tests/checks`.
//!
//! ```
//! use foreglass::optics::overlap;
//! // One size, c = 0.10034, relative to as many specks each by itself (1−c)²·[exp(μg)−1]/μ: the
//! // figures of the reference tables at u = 1, 2, 3, 5.
//! let c: f64 = 0.10034;
//! let mu = -(1.0 - c).ln();
//! for (u, want) in [(1.0, 0.6442), (2.0, 0.2801), (3.0, 0.0464), (5.0, 0.0147)] {
//!     let all = (1.0 - c) * c / mu; // (1−c)² (exp(μ) − 1) / μ
//!     let area = std::f64::consts::PI / 4.0; // of a disc of diameter 1: its own density at 0
//!     let got = all * overlap::density(c, u / std::f64::consts::PI) / area;
//!     assert!((got - want).abs() < 6e-5, "{u}: {got}");
//! }
//! ```

use super::airy;
use super::quadrature::gauss_legendre;
use std::f64::consts::PI;

/// Coverage above this is held to it: the law stays finite there, and nothing would pass.
pub(super) const MOST_COVERAGE: f64 = 0.95;

/// Specks per speck's area, μ = −ln(1 − c).
fn crowding(coverage: f64) -> f64 {
    -(-coverage.clamp(0.0, MOST_COVERAGE)).ln_1p()
}

/// The halo's transform where the mean common area is `g` (0 to 1) and `coverage` of the area is
/// covered.
///
/// ```
/// use foreglass::optics::overlap::transfer;
/// assert_eq!(transfer(0.0, 0.3), 0.3);
/// // c = 1/2, μ = ln 2: (2^g − 1) / (2 − 1).
/// assert!((transfer(0.5, 0.5) - (2f64.sqrt() - 1.0)).abs() < 1e-15);
/// ```
#[must_use]
pub fn transfer(coverage: f64, g: f64) -> f64 {
    Overlap::new(coverage).transfer(g)
}

/// `transfer(coverage, 1 + less) − (1 + less)`, without cancellation where `less` is small.
pub(super) fn excess(coverage: f64, less: f64) -> f64 {
    Overlap::new(coverage).excess(less)
}

/// [`transfer`] and [`excess`] of one coverage, for many values.
pub(super) struct Overlap {
    crowding: f64,
    /// `e^μ − 1`.
    all: f64,
    /// `1 − e^{−μ}`, the coverage.
    covered: f64,
}

impl Overlap {
    pub(super) fn new(coverage: f64) -> Self {
        let crowding = crowding(coverage);
        Self {
            crowding,
            all: crowding.exp_m1(),
            covered: -(-crowding).exp_m1(),
        }
    }

    pub(super) fn transfer(&self, g: f64) -> f64 {
        if self.crowding > 0.0 {
            (self.crowding * g).exp_m1() / self.all
        } else {
            g
        }
    }

    /// `transfer(1 + less) − (1 + less)`, without cancellation where `less` is small.
    pub(super) fn excess(&self, less: f64) -> f64 {
        if self.crowding > 0.0 {
            // (e^{μ(1+δ)} − 1)/(e^μ − 1) = 1 + (e^{μδ} − 1)/c
            (self.crowding * less).exp_m1() / self.covered - less
        } else {
            0.0
        }
    }
}

/// Light per unit of solid angle of specks of one size, `t = θd/λ` from the ray, over (d/λ)².
#[must_use]
pub fn density(coverage: f64, t: f64) -> f64 {
    if coverage <= 0.0 {
        return airy::intensity(PI * t) * 0.25 * PI;
    }
    let ring = |q: f64, h: f64| 2.0 * PI * q * h * libm::j0(2.0 * PI * q * t);
    along(coverage, t, ring)
}

/// Part of the light of specks of one size inside `t = θd/λ`.
#[must_use]
pub fn enclosed(coverage: f64, t: f64) -> f64 {
    if coverage <= 0.0 {
        return airy::enclosed(PI * t);
    }
    let ring = |q: f64, h: f64| 2.0 * PI * t * h * libm::j1(2.0 * PI * q * t);
    along(coverage, t, ring)
}

/// `∫ f(q, H(q)) dq` over shifts of 0 to 1 diameter, by panels of Gauss's rule; q = 1 − w² makes the
/// (1 − q)^{3/2} at the end smooth.
fn along(coverage: f64, t: f64, f: impl Fn(f64, f64) -> f64) -> f64 {
    let rule = gauss_legendre::<16>();
    let panels = 3 + (2.0 * t.abs()).ceil() as usize;
    let half = 0.5 / panels as f64;
    let mut sum = 0.0;
    for panel in 0..panels {
        for (node, weight) in &rule {
            let w = half * (2.0 * panel as f64 + 1.0 + node);
            let q = 1.0 - w * w;
            let h = transfer(coverage, airy::overlap(q));
            sum += half * weight * 2.0 * w * f(q, h);
        }
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn few_specks_are_specks_by_themselves() {
        for t in [0.01, 0.4, 1.3, 7.0] {
            let (one, few) = (density(0.0, t), density(1e-9, t));
            assert!((one - few).abs() < 2e-9, "density at {t}: {one} {few}");
            let (one, few) = (enclosed(0.0, t), enclosed(1e-9, t));
            assert!((one - few).abs() < 2e-9, "enclosed at {t}: {one} {few}");
        }
        let near = excess(0.3, -1e-3) - (transfer(0.3, 1.0 - 1e-3) - (1.0 - 1e-3));
        assert!(near.abs() < 1e-15, "excess: {near}");
    }
}
