//! Light within an angle, from the transform of its distribution.
//!
//! With T(ν) the transform, light within θ of a ray is `∫ T 2πθ J₁(2πθν) dν` where T is round (a Hankel
//! transform) and `(2/π) ∫ T sin(2πθν)/ν dν` where the light lies along a line. By parts these are
//! `T(0) + ∫ T′ J₀` and `−(2/π) ∫ T′ Si`, all of them of 2πθν. T is sampled finely in the logarithm of
//! ν and taken as straight between samples, over which the means of J₀ and Si are exact to 1e-6.
//!
//! Sources: partial integration of Bessel's functions, DLMF 10.22; Si by its series and by the
//! rational forms of Abramowitz and Stegun 5.2.38 and 5.2.39, good to 6e-7.

use super::quadrature::gauss_legendre;
use rayon::prelude::*;
use std::f64::consts::{FRAC_2_PI, FRAC_PI_2, PI};

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

    /// Light within `theta` radians along a line.
    pub(super) fn along(&self, theta: f64) -> f64 {
        (-FRAC_2_PI * self.slope(theta, mean_si)).clamp(0.0, self.light())
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

/// The mean of Si from `a` to `b`.
fn mean_si(a: f64, b: f64) -> f64 {
    if b - a < 1.0 {
        gauss(a, b, si)
    } else {
        let whole = |x: f64| x * si(x) + x.cos();
        (whole(b) - whole(a)) / (b - a)
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

/// The sine integral of `x` ≥ 0.
fn si(x: f64) -> f64 {
    let s = x * x;
    if x < 2.0 {
        // x − x³/(3·3!) + x⁵/(5·5!) − …
        let (mut sum, mut term) = (x, x);
        for k in 1..12 {
            let n = f64::from(2 * k + 1);
            term *= -s / (n * (n - 1.0));
            sum += term / n;
        }
        return sum;
    }
    let ratio = |top: [f64; 4], bottom: [f64; 4]| {
        let poly = |c: [f64; 4]| (((s + c[0]) * s + c[1]) * s + c[2]) * s + c[3];
        poly(top) / poly(bottom)
    };
    let f = ratio(
        [38.027_264, 265.187_033, 335.677_320, 38.102_495],
        [40.021_433, 322.624_911, 570.236_280, 157.105_423],
    ) / x;
    let g = ratio(
        [42.242_855, 302.757_865, 352.018_498, 21.821_899],
        [48.196_927, 482.485_984, 1_114.978_885, 449.690_326],
    ) / s;
    let (sin, cos) = x.sin_cos();
    FRAC_PI_2 - f * cos - g * sin
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

    /// `SciPy`'s `sici`.
    #[test]
    fn the_sine_integral() {
        for (x, want) in [
            (0.5, 0.493_107_418_043_07),
            (1.0, 0.946_083_070_367_18),
            (2.0, 1.605_412_976_802_69),
            (PI, 1.851_937_051_982_47),
            (10.0, 1.658_347_594_218_87),
            (50.0, 1.551_617_072_485_94),
        ] {
            assert!((si(x) - want).abs() < 6e-7, "at {x}: {}", si(x));
        }
    }

    /// A Gaussian holds 1 − exp(−θ²/2σ²) around and erf(θ/σ√2) along; an even line θ/φ.
    #[test]
    fn known_distributions() {
        let sigma = 0.01;
        let gaussian = Sampled::of(1.0, |nu| (-2.0 * (PI * sigma * nu).powi(2)).exp());
        let reach = 0.03;
        let even = Sampled::of(1.0, |nu| {
            let x = 2.0 * PI * reach * nu;
            x.sin() / x
        });
        for theta in [1e-4, 0.004, 0.012, 0.029, 0.2, 30.0] {
            let t: f64 = theta / sigma;
            let around = -(-0.5 * t * t).exp_m1();
            let along = libm::erf(t * std::f64::consts::FRAC_1_SQRT_2);
            assert!(
                (gaussian.around(theta) - around).abs() < 3e-5,
                "around {theta}"
            );
            assert!(
                (gaussian.along(theta) - along).abs() < 3e-5,
                "along {theta}"
            );
            let part = (theta / reach).min(1.0);
            let got = even.along(theta);
            assert!((got - part).abs() < 2e-3, "even {theta}: {got}, {part}");
        }
    }
}
