//! Streaks: light thrown across engraved lines or ribs.
//!
//! A line of width w in light of wavelength λ diffracts into sinc²(w sinθ/λ) across itself, whose
//! transform is the triangle 1 − λν/w; its tail falls as θ⁻², `λ / (2π²wθ²)` once the rings are averaged,
//! so that the rays of a lamp cross the frame. A rib refracts evenly over ±φ, whose transform is
//! sin(2πφν)/(2πφν). Widths and angles are spread log-normally, each keeping its own light. Along the
//! line nothing happens but for the line's waver, a narrow Gaussian. Lines are taken as cut to no
//! better than a few of their own widths, so that they show no orders of their own.
//!
//! With μ and s the mean and spread of ln w (or ln φ) and Φ̄ the normal distribution above a point:
//!
//! - triangle: mean `Φ̄(a) − q e^{s²/2} Φ̄(a + s)`, q = λν/w̄, a = ln q / s;
//! - inside ±θ of a line: mean of `(2/π)[Si(2πx) − sin²(πx)/(πx)]`, x = wθ/λ;
//! - inside ±θ of a rib: `Φ(a) + (θ/φ̄) e^{s²/2} Φ̄(a + s)`, a = (ln θ − μ)/s.
//!
//! They are tabulated over the logarithm once for each spread and read back to 1e-8.
//!
//! Sources: the self-correlation of an opening is the transform of its diffraction pattern, Goodman,
//! *Introduction to Fourier Optics*, § 6.3 (from memory); Si: Abramowitz and Stegun 5.2 (from memory).
//!
//! ```
//! use foreglass::optics::lines::{Form, Lines};
//! use foreglass::optics::scatter::Profile;
//! use foreglass::units::{Degrees, Micrometres};
//! let streak = |turn: f64| Profile::Lines(Lines {
//!     turn: Degrees::clamped(turn),
//!     form: Form::Groove { width: Micrometres::clamped(20.0), spread: 0.3 },
//!     waver: Degrees::clamped(0.0),
//!     pitch: Micrometres::clamped(1000.0),
//! });
//! // Most of a sinc² lies inside its first zero, λ/w = 0.0275 in green: 90.3 % of it, 90.0 % over the
//! // band and this spread of widths (SciPy).
//! assert!((streak(0.0).encircled(1, 0.0275) - 0.899_936).abs() < 1e-5);
//! // All detail along the lines is kept: nothing is thrown that way.
//! let law = streak(90.0).law();
//! assert!((law.transfer_at(1, [500.0, 0.0]) - 1.0).abs() < 1e-9);
//! assert!(law.transfer_at(1, [0.0, 500.0]) < 1e-6);
//! ```

use super::across::Tables;
use super::normal::upper;
use super::quadrature::gauss_legendre;
use crate::units::{Degrees, Micrometres};
use std::f64::consts::PI;
use std::sync::Arc;

/// Spreads are held to this range: under it nothing can be told from one size.
const SPREADS: [f64; 2] = [0.03, 1.5];
/// Nodes of the average over the waver.
const NODES: usize = 24;

/// Lines in one direction.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lines {
    /// The direction in which light is thrown, across the lines: counter-clockwise from the right.
    pub turn: Degrees,
    /// What throws it.
    pub form: Form,
    /// How far it strays to either side of that direction: standard deviation of a Gaussian.
    pub waver: Degrees,
    /// Median distance from one line to the next: how many stand before a pupil. The law itself does not
    /// depend on it.
    pub pitch: Micrometres,
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
    /// Median width, µm, or half-angle, radians.
    scale: f64,
    spread: f64,
    tables: Arc<Tables>,
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
        let (scale, spread, groove) = match self.form {
            Form::Groove { width, spread } => (width.get(), spread, true),
            Form::Rib { angle, spread } => (angle.radians().abs().max(1e-9), spread, false),
        };
        let spread = spread.clamp(SPREADS[0], SPREADS[1]);
        Law {
            along: [cos, sin],
            waver: self.waver.radians().abs(),
            scale,
            spread,
            tables: Tables::of(groove, spread),
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
        match &*self.tables {
            Tables::Groove(channels) => {
                let (v, c) = (nu / self.scale, &channels[channel]);
                let y = v.ln();
                if y <= c.transfer.low() {
                    1.0 - c.slope * v
                } else if y >= c.transfer.high() {
                    0.0
                } else {
                    c.transfer.at(y)
                }
            }
            Tables::Rib(table) => {
                let v = nu * self.scale;
                let y = v.ln();
                if y <= table.low() {
                    let square = (2.0 * self.spread * self.spread).exp();
                    1.0 - 2.0 * PI * PI / 3.0 * v * v * square
                } else if y >= table.high() {
                    0.0
                } else {
                    table.at(y)
                }
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

    /// Part of the light within `theta` radians of the ray.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        if theta <= 0.0 {
            return 0.0;
        }
        if self.waver <= 0.0 {
            return self.inside(channel, theta);
        }
        // Light that strays aside by y = θ sin a counts when it lies within θ cos a along the streak.
        let limit = (6.0 * self.waver / theta).min(1.0).asin();
        let rule = gauss_legendre::<NODES>();
        let sum: f64 = rule
            .iter()
            .map(|(node, weight)| {
                let (sin, cos) = (0.5 * limit * (1.0 + node)).sin_cos();
                let t = theta * sin / self.waver;
                weight * (-0.5 * t * t).exp() * cos * self.inside(channel, theta * cos)
            })
            .sum();
        let normal = theta / (self.waver * (2.0 * PI).sqrt());
        (limit * normal * sum).clamp(0.0, 1.0)
    }

    /// Part of the light within ±`theta` along the streak.
    fn inside(&self, channel: usize, theta: f64) -> f64 {
        match &*self.tables {
            Tables::Groove(channels) => {
                let table = &channels[channel].outside;
                let y = (theta * self.scale).ln();
                let (low, high) = (table.low(), table.high());
                if y <= low {
                    (1.0 - table.at(low)) * (y - low).exp()
                } else if y >= high {
                    1.0 - table.at(high) * (high - y).exp()
                } else {
                    1.0 - table.at(y)
                }
            }
            Tables::Rib(_) => {
                let (q, s) = (theta / self.scale, self.spread);
                let a = q.ln() / s;
                (1.0 - upper(a) + q * (0.5 * s * s).exp() * upper(a + s)).min(1.0)
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::across::{beyond, sine_integral};
    use super::super::band::colours;
    use super::*;

    fn law(form: Form, waver: f64) -> Law {
        let lines = Lines {
            turn: Degrees::clamped(0.0),
            form,
            waver: Degrees::clamped(waver),
            pitch: Micrometres::clamped(1000.0),
        };
        lines.law()
    }

    /// Mean over sizes by a plain fine sum, independent of the tables.
    fn plain(spread: f64, f: impl Fn(f64) -> f64) -> f64 {
        let (mut sum, mut all) = (0.0, 0.0);
        for i in 0..=20_000 {
            let t = -8.0 + 16.0 * f64::from(i) / 20_000.0;
            let w = (-0.5 * t * t).exp();
            all += w;
            sum += w * f((spread * t).exp());
        }
        sum / all
    }

    /// Si(1), Si(π), Si(10), Si(40): Abramowitz and Stegun, table 5.1 and 5.3 (from memory), `SciPy`.
    #[test]
    fn the_sine_integral_is_the_tables() {
        for (x, want) in [
            (1.0, 0.946_083_070_4),
            (PI, 1.851_937_052_0),
            (10.0, 1.658_347_594_2),
            (40.0, 1.586_985_119_3),
        ] {
            assert!((sine_integral(x) - want).abs() < 1e-8, "Si({x})");
        }
        assert!(
            (sine_integral(20.0 - 1e-9) - sine_integral(20.0 + 1e-9)).abs() < 1e-8,
            "one piece meets the other"
        );
    }

    #[test]
    fn tables_hold_to_plain_sums() {
        for spread in [0.05, 0.3, 0.7] {
            let width = 20.0;
            let groove = law(
                Form::Groove {
                    width: Micrometres::clamped(width),
                    spread,
                },
                0.0,
            );
            for nu in [0.5, 8.0, 25.0, 45.0, 120.0] {
                let want: f64 = colours()[1]
                    .iter()
                    .map(|&(um, w)| w * plain(spread, |d| (1.0 - um * nu / (width * d)).max(0.0)))
                    .sum();
                let got = groove.line(1, nu);
                assert!((got - want).abs() < 1e-7, "{spread} at {nu}: {got} {want}");
            }
            for theta in [1e-4, 0.01, 0.03, 0.2] {
                let want: f64 = colours()[2]
                    .iter()
                    .map(|&(um, w)| w * plain(spread, |d| 1.0 - beyond(width * d * theta / um)))
                    .sum();
                let got = groove.encircled(2, theta);
                assert!(
                    (got - want).abs() < 1e-7,
                    "{spread} in {theta}: {got} {want}"
                );
            }
            let angle = 0.1_f64;
            let rib = law(
                Form::Rib {
                    angle: Degrees::clamped(angle.to_degrees()),
                    spread,
                },
                0.0,
            );
            for nu in [1e-3, 0.3, 2.0, 7.0, 20.0, 90.0] {
                let want = plain(spread, |d| {
                    let x = 2.0 * PI * angle * d * nu;
                    x.sin() / x
                });
                let got = rib.line(0, nu);
                assert!(
                    (got - want).abs() < 1e-7,
                    "rib {spread} at {nu}: {got} {want}"
                );
            }
            for theta in [0.002, 0.1, 0.4] {
                let want = plain(spread, |d| (theta / (angle * d)).min(1.0));
                let got = rib.encircled(0, theta);
                assert!(
                    (got - want).abs() < 1e-6,
                    "rib {spread} in {theta}: {got} {want}"
                );
            }
        }
    }

    /// A plain sum over the waver.
    #[test]
    fn light_strays_aside_by_the_waver() {
        let form = Form::Groove {
            width: Micrometres::clamped(30.0),
            spread: 0.3,
        };
        let (thin, wide) = (law(form, 0.0), law(form, 0.2));
        let sigma = 0.2_f64.to_radians();
        for theta in [0.001, 0.004, 0.02] {
            let (mut want, n) = (0.0, 100_000);
            for i in 0..n {
                let y = theta * (-1.0 + 2.0 * (f64::from(i) + 0.5) / f64::from(n));
                let density = (-0.5 * (y / sigma).powi(2)).exp() / (sigma * (2.0 * PI).sqrt());
                let along = (theta * theta - y * y).sqrt();
                want += 2.0 * theta / f64::from(n) * density * thin.encircled(1, along);
            }
            let got = wide.encircled(1, theta);
            assert!((got - want).abs() < 1e-5, "{theta}: {got} {want}");
        }
    }
}
