//! Streaks: light thrown across engraved lines or ribs.
//!
//! A line of width w in light of wavelength λ diffracts into sinc²(w sinθ/λ) across itself, whose
//! transform is the triangle 1 − λν/w; a rib refracts evenly over ±φ, whose transform is
//! sin(2πφν)/(2πφν). Widths and angles are spread log-normally, each keeping its own light. Along the
//! line nothing happens but for the line's waver, a narrow Gaussian.
//!
//! Source: the self-correlation of an opening is the transform of its diffraction pattern, Goodman,
//! *Introduction to Fourier Optics*, § 6.3 (from memory).

use crate::colour;
use crate::units::{Degrees, Micrometres};
use std::f64::consts::{FRAC_1_SQRT_2, PI};

/// Lines in one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lines {
    /// The direction in which light is thrown, across the lines: counter-clockwise from the right.
    pub turn: Degrees,
    /// What throws it.
    pub form: Form,
    /// How far it strays to either side of that direction: standard deviation of a Gaussian.
    pub waver: Degrees,
}

/// What throws the light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Form {
    /// Engraved lines, which diffract.
    Groove {
        /// Median width of a line.
        width: Micrometres,
        /// Standard deviation of ln w.
        spread: f64,
    },
    /// Ribs, which refract, alike in every channel.
    Rib {
        /// Median half-angle.
        angle: Degrees,
        /// Standard deviation of ln φ.
        spread: f64,
    },
}

/// The streak made ready.
#[derive(Debug, Clone)]
pub struct Law {
    along: [f64; 2],
    waver: f64,
    form: Form,
}

impl Lines {
    /// The same lines turned counter-clockwise.
    #[must_use]
    pub fn turned(self, by: Degrees) -> Self {
        Self {
            turn: Degrees::clamped(self.turn.get() + by.get()),
            ..self
        }
    }

    /// The streak made ready.
    #[must_use]
    pub fn law(&self) -> Law {
        let (sin, cos) = self.turn.radians().sin_cos();
        Law {
            along: [cos, sin],
            waver: self.waver.radians().abs(),
            form: self.form,
        }
    }
}

impl Law {
    /// Unit vector along which light is thrown.
    #[must_use]
    pub const fn along(&self) -> [f64; 2] {
        self.along
    }

    /// Standard deviation to either side, radians.
    #[must_use]
    pub const fn waver(&self) -> f64 {
        self.waver
    }

    /// The transform at `nu` cycles per radian along the streak.
    #[must_use]
    pub fn line(&self, channel: usize, nu: f64) -> f64 {
        let nu = nu.abs();
        match self.form {
            Form::Groove { width, spread } => {
                let bands = colour::bands()[channel].iter();
                bands
                    .filter(|(_, weight)| *weight > 0.0)
                    .map(|(nm, weight)| {
                        weight * triangle(nm.get() * 1e-3 * nu / width.get(), spread)
                    })
                    .sum()
            }
            Form::Rib { angle, spread } => {
                let (mut sum, mut all) = (0.0, 0.0);
                for i in -80..=80 {
                    let t = f64::from(i) * 0.1;
                    let weight = (-0.5 * t * t).exp();
                    let x = 2.0 * PI * angle.radians() * (spread * t).exp() * nu;
                    sum += weight * if x < 1e-6 { 1.0 } else { x.sin() / x };
                    all += weight;
                }
                sum / all
            }
        }
    }

    /// The transform at a frequency with a direction, cycles per radian.
    #[must_use]
    pub fn transfer(&self, channel: usize, nu: [f64; 2]) -> f64 {
        let [x, y] = self.along;
        let (along, aside) = (nu[0] * x + nu[1] * y, nu[1] * x - nu[0] * y);
        let t = PI * self.waver * aside;
        self.line(channel, along) * (-2.0 * t * t).exp()
    }

    /// Part of the light within `theta` radians of the ray, the waver left out.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        // ∫ line(ν) 2θ sinc(2θν) dν over all ν, by small steps.
        let end = match self.form {
            Form::Groove { width, spread } => width.get() * (6.0 * spread).exp() / 0.4,
            Form::Rib { angle, .. } => 400.0 / angle.radians().max(1e-9),
        };
        let count = (16.0 * end * theta).clamp(512.0, 4096.0) as usize;
        let step = end / count as f64;
        let sum: f64 = (0..count)
            .map(|i| {
                let nu = (i as f64 + 0.5) * step;
                let x = 2.0 * PI * theta * nu;
                self.line(channel, nu) * x.sin() / x
            })
            .sum();
        (4.0 * theta * step * sum).clamp(0.0, 1.0)
    }
}

/// Mean of max(0, 1 − q e^{−s t}) over a normal t.
fn triangle(q: f64, spread: f64) -> f64 {
    if q <= 0.0 {
        return 1.0;
    }
    if spread <= 0.0 {
        return (1.0 - q).max(0.0);
    }
    // E[1 − q/d; d > q], ln d normal of mean 0.
    let upper = |x: f64| 0.5 * libm::erfc(x * FRAC_1_SQRT_2);
    let a = q.ln() / spread;
    upper(a) - q * (0.5 * spread * spread).exp() * upper(a + spread)
}
