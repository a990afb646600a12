//! The orders of a net: opaque threads in two crossed directions.
//!
//! Along either axis a net of pitch p and thread w is open b = 1 − w/p of the way. What it does to
//! light of wavelength λ at frequency ν is its self-correlation at the shift s = λν; along one axis
//! that is `C(s) = 1 − 2w/p + Σₙ Λ(s − np)/p`, Λ the triangle of height w and half-width w, and the n-th
//! neighbour's place is uncertain by jitter·p·√n, so that far neighbours blur into the even b². In two
//! axes C(sx)·C(sy): direct b⁴, scattered b² − b⁴, absorbed 1 − b².
//!
//! Source: the power spectrum of a screen is the transform of its self-correlation; orders at
//! sinθ = mλ/p with b² sinc²(mb) (worked in `tests/checks`).

use crate::colour;
use crate::units::{Degrees, Micrometres};
use std::f64::consts::PI;

/// A square net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Net {
    /// Distance between threads.
    pub pitch: Micrometres,
    /// Width of a thread.
    pub thread: Micrometres,
    /// Standard deviation of the distance between neighbours, as part of the pitch.
    pub jitter: f64,
    /// Turned counter-clockwise from threads that run up and across the picture.
    pub turn: Degrees,
}

/// The orders made ready.
#[derive(Debug, Clone)]
pub struct Law {
    along: [f64; 2],
    pitch: f64,
    thread: f64,
    jitter: f64,
}

impl Net {
    /// The same net turned counter-clockwise.
    #[must_use]
    pub fn turned(self, by: Degrees) -> Self {
        Self {
            turn: Degrees::clamped(self.turn.get() + by.get()),
            ..self
        }
    }

    /// Part of the way that is open along one axis, b.
    #[must_use]
    pub fn open(&self) -> f64 {
        (1.0 - self.thread.get() / self.pitch.get()).clamp(0.0, 1.0)
    }

    /// The orders made ready.
    #[must_use]
    pub fn law(&self) -> Law {
        let (sin, cos) = self.turn.radians().sin_cos();
        Law {
            along: [cos, sin],
            pitch: self.pitch.get(),
            thread: self.thread.get().min(self.pitch.get()),
            jitter: self.jitter.clamp(0.005, 1.0),
        }
    }
}

impl Law {
    /// Unit vector across one set of threads; the other set's is at a right angle to it.
    #[must_use]
    pub const fn along(&self) -> [f64; 2] {
        self.along
    }

    /// Part of the way that is open along one axis, b.
    #[must_use]
    pub fn open(&self) -> f64 {
        1.0 - self.thread / self.pitch
    }

    /// The shortest length, µm, over which [`Self::excess`] changes.
    #[must_use]
    pub fn finest(&self) -> f64 {
        self.thread
            .min(self.pitch - self.thread)
            .max(self.pitch / 64.0)
    }

    /// Shift, µm, beyond which [`Self::excess`] is nothing.
    #[must_use]
    pub fn reach(&self) -> f64 {
        // Where the neighbours are uncertain by 0.7 of a pitch they leave 6e-5 of a ripple.
        let count = (0.49 / (self.jitter * self.jitter)).max(1.0);
        (count + 1.0) * self.pitch + self.thread
    }

    /// `C(s) − b²` along one axis, s in µm: 0 far out, b − b² at none.
    #[must_use]
    pub fn excess(&self, s: f64) -> f64 {
        let (p, w, s) = (self.pitch, self.thread, s.abs());
        if s > self.reach() {
            return 0.0;
        }
        let own = (w - s).max(0.0) / p;
        // Neighbours to either side; those whose place is far less certain than a pitch are even.
        let last = (0.49 / (self.jitter * self.jitter)).ceil().max(1.0) as usize;
        let mut sum = own;
        for n in 1..=last {
            let sigma = self.jitter * p * (n as f64).sqrt();
            let centre = n as f64 * p;
            sum += (blurred(s - centre, w, sigma) + blurred(s + centre, w, sigma)) / p;
        }
        // The neighbours beyond are an even (w/p)².
        let edge = (last as f64 + 0.5) * p;
        let sigma = self.jitter * p * (last as f64 + 0.5).sqrt();
        let beyond = normal_above(edge - s, sigma) + normal_above(edge + s, sigma);
        sum + (w / p) * (w / p) * (beyond - 1.0)
    }

    /// The transform of the orders, direct light left out and of unit sum, cycles per radian.
    #[must_use]
    pub fn transfer(&self, channel: usize, nu: [f64; 2]) -> f64 {
        let [x, y] = self.along;
        let (u, v) = (nu[0] * x + nu[1] * y, nu[1] * x - nu[0] * y);
        let b2 = self.open() * self.open();
        let scattered = b2 - b2 * b2;
        if scattered <= 0.0 {
            return 1.0;
        }
        let bands = colour::bands()[channel].iter();
        let sum: f64 = bands
            .filter(|(_, weight)| *weight > 0.0)
            .map(|(nm, weight)| {
                let um = nm.get() * 1e-3;
                let (a, b) = (self.excess(um * u), self.excess(um * v));
                weight * (b2 * (a + b) + a * b)
            })
            .sum();
        sum / scattered
    }

    /// Part of the scattered light within `theta` radians of the ray.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        let b = self.open();
        let b2 = b * b;
        let scattered = b2 - b2 * b2;
        if scattered <= 0.0 {
            return 0.0;
        }
        let last = (8.0 * self.pitch / self.thread.max(1e-6)).clamp(8.0, 400.0) as i32;
        let power = |m: i32| {
            let x = PI * f64::from(m) * b;
            let sinc = if m == 0 { 1.0 } else { x.sin() / x };
            b2 * sinc * sinc
        };
        let powers: Vec<f64> = (0..=last).map(power).collect();
        let bands = colour::bands()[channel].iter();
        bands
            .filter(|(_, weight)| *weight > 0.0)
            .map(|(nm, weight)| {
                let far = theta * self.pitch / (nm.get() * 1e-3);
                let mut inside = 0.0;
                for m in 0..=last.min(far as i32) {
                    let side = (far * far - f64::from(m * m)).max(0.0).sqrt() as i32;
                    let column: f64 =
                        powers[0] + 2.0 * powers[1..=(side.min(last) as usize)].iter().sum::<f64>();
                    let both = if m == 0 { 1.0 } else { 2.0 };
                    inside += both * powers[m as usize] * column;
                }
                weight * ((inside - b2 * b2) / scattered).clamp(0.0, 1.0)
            })
            .sum()
    }
}

/// A triangle of height `w` and half-width `w` blurred by a Gaussian, at `x` from its centre.
fn blurred(x: f64, w: f64, sigma: f64) -> f64 {
    if x.abs() > w + 8.0 * sigma {
        return 0.0;
    }
    // Second differences of the Gaussian's twice integrated form.
    let twice = |t: f64| {
        let z = t / sigma;
        sigma * ((-0.5 * z * z).exp() / (2.0 * PI).sqrt() + z * normal_above(-t, sigma))
    };
    twice(x + w) - 2.0 * twice(x) + twice(x - w)
}

/// A Gaussian's share above `x`.
fn normal_above(x: f64, sigma: f64) -> f64 {
    0.5 * libm::erfc(x / (sigma * std::f64::consts::SQRT_2))
}
