//! Light diffracted by one round speck, in closed form.
//!
//! A speck of diameter d in light of wavelength λ sends its light into `[2J₁(u)/u]²`, u = πdθ/λ, θ in
//! the flat small-angle plane. Everything here is in u or in q = λν/d, ν in cycles per radian.
//!
//! Sources: G. B. Airy, Trans. Camb. Phil. Soc. 5 (1835); the enclosed light is Lord Rayleigh's
//! (1 − J₀² − J₁²), Born and Wolf, *Principles of Optics*, § 8.5.2 (from memory); the transform is the
//! common area of two unit discs, Goodman, *Introduction to Fourier Optics*, § 6.3 (from memory);
//! large-argument moduli, DLMF 10.18.17.
//!
//! ```
//! use foreglass::optics::airy;
//! let first_dark_ring = 3.831_705_970_2; // 1.2197 λ/d
//! assert!(airy::intensity(first_dark_ring) < 1e-18);
//! assert!((airy::enclosed(first_dark_ring) - 0.8378).abs() < 5e-5);
//! assert!((airy::overlap(0.5) - 0.391_002_2).abs() < 1e-7);
//! ```

use std::f64::consts::{FRAC_1_PI, PI};

/// `[2J₁(u)/u]²`, 1 at the centre.
#[must_use]
pub fn intensity(u: f64) -> f64 {
    if u.abs() < 1e-4 {
        return 1.0 - 0.25 * u * u;
    }
    let a = 2.0 * libm::j1(u) / u;
    a * a
}

/// `2J₁(x)/x`, 1 at the centre: the transform of an evenly lit disc.
#[must_use]
pub fn jinc(x: f64) -> f64 {
    if x.abs() < 1e-4 {
        1.0 - 0.125 * x * x
    } else {
        2.0 * libm::j1(x) / x
    }
}

/// Part of the light inside u: `1 − J₀² − J₁²`.
#[must_use]
pub fn enclosed(u: f64) -> f64 {
    if u < 1e-3 {
        let s = u * u;
        return s * (0.25 - s / 32.0);
    }
    1.0 - outside(u)
}

/// Part of the light outside u: `J₀² + J₁²`.
#[must_use]
pub fn outside(u: f64) -> f64 {
    let (a, b) = (libm::j0(u), libm::j1(u));
    a * a + b * b
}

/// The transfer function at q = λν/d: the common area of two unit discs q diameters apart.
#[must_use]
pub fn overlap(q: f64) -> f64 {
    let q = q.abs();
    if q >= 1.0 {
        return 0.0;
    }
    2.0 * FRAC_1_PI * (q.acos() - q * (1.0 - q * q).sqrt())
}

/// `J₁²(u)` and `J₀² + J₁²` without their oscillation: half the squared moduli, for u ≫ 1, good to
/// u⁻⁶ relative.
pub(super) fn smooth(u: f64) -> (f64, f64) {
    let s = 1.0 / (u * u);
    let half = |mu: f64| {
        let (a, b, c) = (mu - 1.0, mu - 9.0, mu - 25.0);
        // M² = 2/(πu) [1 + ½(μ−1)/(2u)² + ⅜(μ−1)(μ−9)/(2u)⁴ + (5/16)(μ−1)(μ−9)(μ−25)/(2u)⁶]
        let series =
            1.0 + s * (a / 8.0 + s * (3.0 * a * b / 128.0 + s * (5.0 * a * b * c / 1024.0)));
        series / (PI * u)
    };
    let one = half(4.0);
    (one, half(0.0) + one)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn moduli_are_the_mean_over_an_oscillation() {
        // J₁² averaged over many periods about u, against its smooth part.
        let (u, n) = (200.0, 4000);
        let mut mean = (0.0, 0.0);
        for i in 0..n {
            let x = (f64::from(i) + 0.5) / f64::from(n) - 0.5; // Hann-weighted, eight periods of 2u
            let v = u + 8.0 * PI * x;
            let w = 1.0 + (2.0 * PI * x).cos();
            let j1 = libm::j1(v);
            mean = (mean.0 + w * j1 * j1, mean.1 + w * outside(v));
        }
        let (one, both) = smooth(u);
        let scale = 1.0 / f64::from(n);
        assert!(
            (mean.0 * scale / one - 1.0).abs() < 1e-3,
            "J1² mean {} {one}",
            mean.0 * scale
        );
        assert!(
            (mean.1 * scale / both - 1.0).abs() < 1e-3,
            "both {} {both}",
            mean.1 * scale
        );
    }

    #[test]
    fn overlap_is_even_and_ends_at_one() {
        assert!((overlap(0.0) - 1.0).abs() < 1e-15, "all of it at no shift");
        assert!(
            overlap(1.0).abs() < 1e-15 && overlap(1.5).abs() < 1e-15,
            "nothing past a diameter"
        );
    }
}
