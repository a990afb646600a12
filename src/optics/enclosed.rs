//! Light within an angle, from the transform of its distribution.
//!
//! With T(ν) the transform, light within θ of a ray is `∫ T 2πθ J₁(2πθν) dν` (a Hankel transform), by parts
//! `T(0) + ∫ T′ J₀(2πθν) dν`. T is sampled finely in the logarithm of ν and taken as straight between
//! samples, over which the means of J₀ are exact to 1e-6.
//!
//! Source: partial integration of Bessel's functions, DLMF 10.22.

use super::quadrature::gauss_legendre;
use rayon::prelude::*;
use std::f64::consts::PI;

/// A transform over |ν|, cycles per radian.
#[derive(Debug, Clone, Default)]
pub(super) struct Sampled {
    /// (ν, transform), from ν = 0 up; none for no light.
    samples: Vec<(f64, f64)>,
}

impl Sampled {
    /// Samples to an octave.
    const PER_OCTAVE: f64 = 64.0;
    /// Least frequency above none: a lobe of a radian's half-width has lost 0.2 % there.
    const LEAST: f64 = 1.0 / 4096.0;
    const OCTAVES: f64 = 30.0;

    /// Of a transform that is `light` at 0.
    pub(super) fn of(light: f64, transform: impl Fn(f64) -> f64 + Sync) -> Self {
        let count = (Self::OCTAVES * Self::PER_OCTAVE) as u32;
        let mut samples: Vec<(f64, f64)> = (0..=count)
            .into_par_iter()
            .map(|i| {
                let nu = Self::LEAST * (f64::from(i) / Self::PER_OCTAVE).exp2();
                (nu, transform(nu))
            })
            .collect();
        let last = samples.iter().rposition(|(_, t)| t.abs() > 1e-6 * light);
        samples.truncate(last.map_or(0, |i| i + 2));
        samples.insert(0, (0.0, light));
        Self { samples }
    }

    fn light(&self) -> f64 {
        self.samples.first().map_or(0.0, |s| s.1)
    }

    /// `∫ T′(ν) f(2πθν) dν`, f by its means.
    fn slope(&self, theta: f64, mean: impl Fn(f64, f64) -> f64) -> f64 {
        let scale = 2.0 * PI * theta;
        let steps = self.samples.windows(2);
        steps
            .map(|s| (s[1].1 - s[0].1) * mean(scale * s[0].0, scale * s[1].0))
            .sum()
    }

    /// Light within `theta` radians of the ray.
    pub(super) fn around(&self, theta: f64) -> f64 {
        let light = self.light();
        (light + self.slope(theta, mean_j0)).clamp(0.0, light)
    }
}

/// Three points of Gauss's rule, for steps over which a function hardly turns.
fn gauss(a: f64, b: f64, f: impl Fn(f64) -> f64) -> f64 {
    let (middle, half) = (0.5 * (a + b), 0.5 * (b - a));
    let step = half * 0.6_f64.sqrt();
    (5.0 * (f(middle - step) + f(middle + step)) + 8.0 * f(middle)) / 18.0
}

/// The mean of J₀ from `a` to `b`.
fn mean_j0(a: f64, b: f64) -> f64 {
    if b - a < 1.0 {
        gauss(a, b, libm::j0)
    } else {
        (j0_past(a) - j0_past(b)) / (b - a)
    }
}

/// `∫ J₀` from `x` to infinity. By parts, `Iₙ = ∫ J₀ t⁻ⁿ` is `−J₁x⁻ⁿ + (n+1)(J₀x⁻ⁿ⁻¹ − (n+1) Iₙ₊₂)`.
fn j0_past(x: f64) -> f64 {
    const ORDER: usize = 32;
    const FAR: f64 = 20.0;
    if x < FAR {
        let rule = gauss_legendre::<ORDER>();
        let inside: f64 = rule
            .iter()
            .map(|(node, w)| w * libm::j0(0.5 * x * (1.0 + node)))
            .sum();
        return 1.0 - 0.5 * x * inside;
    }
    let (j0, j1) = (libm::j0(x), libm::j1(x));
    let mut past = 0.0;
    for n in [8, 6, 4, 2, 0] {
        let next = f64::from(n + 1);
        past = -j1 * x.powi(-n) + next * (j0 * x.powi(-n - 1) - next * past);
    }
    past
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `SciPy`'s `itj0y0`, which agrees with table 11.1 of Abramowitz and Stegun.
    #[test]
    fn the_integral_of_j0() {
        for (x, want) in [
            (1.0, 0.919_730_410_089_76),
            (5.0, 0.715_311_917_784_77),
            (10.0, 1.067_011_303_956_72),
            (20.0, 1.058_378_820_966_31),
            (25.0, 0.871_014_921_154_98),
            (60.0, 1.048_108_736_770_28),
        ] {
            let got = 1.0 - j0_past(x);
            assert!((got - want).abs() < 1e-7, "to {x}: {got}");
        }
    }

    /// A Gaussian holds 1 − exp(−θ²/2σ²) around a ray.
    #[test]
    fn a_known_distribution() {
        let sigma = 0.01;
        let gaussian = Sampled::of(1.0, |nu| (-2.0 * (PI * sigma * nu).powi(2)).exp());
        for theta in [1e-4, 0.004, 0.012, 0.029, 0.2, 30.0] {
            let t: f64 = theta / sigma;
            let around = -(-0.5 * t * t).exp_m1();
            assert!(
                (gaussian.around(theta) - around).abs() < 3e-5,
                "around {theta}"
            );
        }
    }
}
