//! The orders of a net: opaque threads in two crossed directions.
//!
//! Along either axis a net of pitch p and thread w is open b = 1 − w/p of the way. What it does to
//! light of wavelength λ at frequency ν is its self-correlation at the shift s = λν; along one axis
//! that is `C(s) = 1 − 2w/p + Σₙ Λ(s − np)/p`, Λ the triangle of height w and half-width w, and the n-th
//! neighbour's place is uncertain by jitter·p·√n, so that far neighbours blur into the even b². In two
//! axes C(sx)·C(sy): direct b⁴, scattered b² − b⁴, absorbed 1 − b².
//!
//! The same law as a spectrum, k = p sinθ/λ: `b²δ(k) + (sin πkw/p / πk)² Z(k)`, with
//! `Z = (1 − r²)/(1 − 2r cos 2πk + r²)`, `r = exp(−2π²·jitter²k²)`: orders at whole k, of which the m-th is
//! blurred to `π·jitter²·m²` orders to either side.
//!
//! Sources: the power spectrum of a screen is the transform of its self-correlation; orders at
//! sinθ = mλ/p with b² sinc²(mb) (`tests/checks`, FFT of masks of threads); places that are each a step
//! of uncertain length from the last: a paracrystal, R. Hosemann and S. N. Bagchi, *Direct Analysis of
//! Diffraction by Matter* (1962, from memory).
//!
//! ```
//! use foreglass::optics::net::Net;
//! use foreglass::units::{Degrees, Micrometres};
//! let net = Net {
//!     pitch: Micrometres::clamped(600.0),
//!     thread: Micrometres::clamped(60.0),
//!     jitter: 0.03,
//!     turn: Degrees::clamped(0.0),
//! };
//! let law = net.law();
//! // w/p = 0.1: open 0.9 along an axis; b − b² of the light of an axis leaves its direction.
//! assert!((law.excess(0.0) - 0.09).abs() < 1e-9);
//! // Halfway between threads that do not meet, C = 1 − 2w/p: 0.8 − 0.81.
//! assert!((law.excess(300.0) + 0.01).abs() < 1e-9);
//! ```

use super::band::colours;
use super::memo::Memo;
use super::table::Table;
use crate::units::{Degrees, Micrometres};
use std::f64::consts::{FRAC_1_SQRT_2, PI};
use std::sync::{Arc, OnceLock};

/// Jitter is held to this range: a net wound better than the first does not exist, and past the second
/// threads would overtake each other.
const JITTERS: [f64; 2] = [0.005, 0.3];
/// Pitches that the table of the self-correlation goes out to.
const TABLED: f64 = 96.0;
/// How many nets are remembered.
const REMEMBERED: usize = 64;

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
    weave: Arc<Weave>,
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
            weave: Weave::of(
                (self.thread.get() / self.pitch.get()).min(1.0),
                self.jitter.clamp(JITTERS[0], JITTERS[1]),
            ),
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
        1.0 - self.weave.covered
    }

    /// Distance between threads, µm.
    #[must_use]
    pub const fn pitch(&self) -> f64 {
        self.pitch
    }

    /// What sets its law apart from others', its turn left out.
    #[must_use]
    pub fn key(&self) -> [u64; 3] {
        [self.pitch, self.weave.covered, self.weave.jitter].map(f64::to_bits)
    }

    /// The shortest length, µm, over which [`Self::excess`] changes.
    #[must_use]
    pub fn finest(&self) -> f64 {
        let Weave {
            covered, jitter, ..
        } = *self.weave;
        self.pitch * covered.min(1.0 - covered).min(2.0 * jitter).max(1e-3)
    }

    /// Shift, µm, beyond which [`Self::excess`] is nothing.
    #[must_use]
    pub fn reach(&self) -> f64 {
        self.pitch * self.weave.reach()
    }

    /// `C(s) − b²` along one axis, s in µm: 0 far out, b − b² at none.
    #[must_use]
    pub fn excess(&self, s: f64) -> f64 {
        self.weave.excess(s.abs() / self.pitch)
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
        let sum: f64 = colours()[channel]
            .iter()
            .map(|&(um, weight)| {
                let (a, b) = (self.excess(um * u), self.excess(um * v));
                weight * (b2 * (a + b) + a * b)
            })
            .sum();
        sum / scattered
    }

    /// Part of the scattered light within `theta` radians of the ray.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        let b2 = self.open() * self.open();
        let scattered = b2 - b2 * b2;
        if scattered <= 0.0 || theta <= 0.0 {
            return 0.0;
        }
        let orders = self.weave.orders();
        let sum: f64 = colours()[channel]
            .iter()
            .map(|&(um, weight)| weight * orders.encircled(b2, theta * self.pitch / um))
            .sum();
        (sum / scattered).clamp(0.0, 1.0)
    }
}

/// A net without a scale: lengths are in pitches.
#[derive(Debug)]
struct Weave {
    /// w/p.
    covered: f64,
    jitter: f64,
    /// The neighbours' share of the excess: smooth, where a thread's own triangle has a cusp.
    neighbours: OnceLock<Table>,
    orders: OnceLock<Orders>,
}

static WEAVES: Memo<[u64; 2], Weave> = Memo::new(REMEMBERED);

impl Weave {
    /// Made once and remembered.
    fn of(covered: f64, jitter: f64) -> Arc<Self> {
        WEAVES.get([covered.to_bits(), jitter.to_bits()], || Self {
            covered,
            jitter,
            neighbours: OnceLock::new(),
            orders: OnceLock::new(),
        })
    }

    /// Where a neighbour is uncertain by a whole pitch, which leaves 3e-9 of a ripple.
    fn reach(&self) -> f64 {
        1.0 / (self.jitter * self.jitter) + 1.0
    }

    fn excess(&self, s: f64) -> f64 {
        if s > self.reach() {
            return 0.0;
        }
        let table = self.neighbours.get_or_init(|| self.table());
        let rest = if s < table.high() {
            table.at(s)
        } else {
            self.rest(s)
        };
        (self.covered - s).max(0.0) + rest
    }

    fn table(&self) -> Table {
        let step = 0.25 * self.jitter;
        let end = self.reach().min(TABLED);
        let start = -3.0 * step;
        let count = ((end - start) / step).ceil() as usize + 8;
        let values = (0..count).map(|i| self.rest((start + i as f64 * step).abs()));
        Table::new(start, step, values.collect())
    }

    /// `Σ Λ(s − n) − (w/p)²` over all neighbours, each blurred by its own uncertainty.
    fn rest(&self, s: f64) -> f64 {
        let (w, j) = (self.covered, self.jitter);
        // |s − n| ≤ w + 8j√n
        let last = |s: f64| {
            let root = 4.0 * j + (16.0 * j * j + s + w).sqrt();
            (root * root).ceil() as usize
        };
        let root = (16.0 * j * j + (s - w).max(0.0)).sqrt() - 4.0 * j;
        let first = ((root * root) as usize).max(1);
        let place = |n: usize| (n as f64, j * (n as f64).sqrt());
        let ahead = (first..=last(s)).map(place);
        let behind = (1..=last(-s.min(w))).map(place);
        let sum: f64 = ahead.map(|(n, sigma)| blurred(s - n, w, sigma)).sum();
        let other: f64 = behind.map(|(n, sigma)| blurred(s + n, w, sigma)).sum();
        sum + other - w * w
    }

    fn orders(&self) -> &Orders {
        self.orders
            .get_or_init(|| Orders::new(self.covered, self.jitter))
    }
}

/// The spectrum, summed up: what lies within so many orders.
#[derive(Debug)]
struct Orders {
    /// b − b².
    total: f64,
    /// Light of one axis within ±k, on steps of [`Orders::STEP`].
    axis: Vec<f64>,
    /// Light off both axes within k of the middle, at k = ½·2^{i/[`Orders::OCTAVE`]}.
    pairs: Vec<f64>,
}

impl Orders {
    const STEP: f64 = 1.0 / 64.0;
    const OCTAVE: f64 = 32.0;

    fn new(w: f64, jitter: f64) -> Self {
        let last = (8.0 / w.max(1e-6)).clamp(32.0, 4000.0);
        let count = (last / Self::STEP) as usize;
        let mut sum = 0.0;
        let mut axis = vec![0.0];
        axis.extend((0..count).map(|i| {
            let (low, k) = (i as f64 * Self::STEP, (i as f64 + 0.5) * Self::STEP);
            let sinc = (PI * k * w).sin() / (PI * k);
            let r = (-2.0 * (PI * jitter * k).powi(2)).exp();
            // Up to half an order Z is even; past that its peaks are integrated as they stand.
            let z = if k < 0.5 {
                let cos = (2.0 * PI * k).cos();
                Self::STEP * (1.0 - r * r) / (1.0 - 2.0 * r * cos + r * r)
            } else {
                poisson(low + Self::STEP, r) - poisson(low, r)
            };
            sum += 2.0 * sinc * sinc * z;
            sum
        }));
        let mut orders = Self {
            total: w - w * w,
            axis,
            pairs: Vec::new(),
        };
        let octaves = (2.0 * last).log2();
        orders.pairs = (0..=(octaves * Self::OCTAVE) as usize)
            .map(|i| {
                let k = 0.5 * (i as f64 / Self::OCTAVE).exp2();
                let cells = orders.axis.windows(2).enumerate();
                cells
                    .map(|(i, cell)| ((i as f64 + 0.5) * Self::STEP, cell[1] - cell[0]))
                    .take_while(|&(x, _)| x < k)
                    .map(|(x, light)| light * orders.within((k * k - x * x).sqrt()))
                    .sum()
            })
            .collect();
        orders
    }

    /// Light of one axis within ±k.
    fn within(&self, k: f64) -> f64 {
        let place = k / Self::STEP;
        let i = place as usize;
        match self.axis.get(i..i + 2) {
            Some(&[a, b]) => a + (place - i as f64) * (b - a),
            _ => self.total - 1.0 / (PI * PI * k),
        }
    }

    /// Scattered light within k orders of the middle, of a net whose open part along an axis squares
    /// to `b2`.
    fn encircled(&self, b2: f64, k: f64) -> f64 {
        let place = ((2.0 * k).log2() * Self::OCTAVE).max(0.0);
        let i = (place as usize).min(self.pairs.len() - 2);
        let (a, b) = (self.pairs[i], self.pairs[i + 1]);
        let end = self.total * self.total;
        let pairs = (a + (place - i as f64) * (b - a)).min(end);
        2.0 * b2 * self.within(k) + pairs
    }
}

/// `∫₀ᵏ (1 − r²)/(1 − 2r cos 2πt + r²) dt`.
fn poisson(k: f64, r: f64) -> f64 {
    let whole = k.round();
    let narrow = (1.0 + r) / (1.0 - r).max(1e-300);
    whole + (narrow * (PI * (k - whole)).tan()).atan() / PI
}

/// A triangle of height `w` and half-width `w` blurred by a Gaussian, at `x` from its centre.
fn blurred(x: f64, w: f64, sigma: f64) -> f64 {
    if x.abs() > w + 8.0 * sigma {
        return 0.0;
    }
    // Second differences of the Gaussian's twice integrated form.
    let twice = |t: f64| {
        let z = t / sigma;
        let above = 0.5 * libm::erfc(-z * FRAC_1_SQRT_2);
        sigma * ((-0.5 * z * z).exp() / (2.0 * PI).sqrt() + z * above)
    };
    twice(x + w) - 2.0 * twice(x) + twice(x - w)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn law(pitch: f64, thread: f64, jitter: f64) -> Law {
        let net = Net {
            pitch: Micrometres::clamped(pitch),
            thread: Micrometres::clamped(thread),
            jitter,
            turn: Degrees::clamped(0.0),
        };
        net.law()
    }

    #[test]
    fn the_table_holds_to_the_sum() {
        for (w, jitter) in [(0.02, 0.005), (0.05, 0.03), (0.3, 0.1), (0.1, 0.3)] {
            let weave = Weave::of(w, jitter);
            for i in 0..900 {
                let s = 0.017 * f64::from(i);
                let want = (w - s).max(0.0) + weave.rest(s);
                let got = weave.excess(s);
                let want = if s > weave.reach() { 0.0 } else { want };
                assert!(
                    (got - want).abs() < 2e-7 * w,
                    "{w} {jitter} at {s}: {got} {want}"
                );
            }
        }
    }

    /// The spectrum is the transform of the self-correlation: both ways to the light within k.
    #[test]
    fn two_ways_to_the_light_within() {
        for (w, jitter) in [(0.05, 0.1), (0.15, 0.2)] {
            let weave = Weave::of(w, jitter);
            for k in [0.5, 1.4, 3.5, 9.0] {
                // ∫ excess(s) 2k sinc(2ks) ds over all s.
                let n = 400_000;
                let step = weave.reach() / f64::from(n);
                let want: f64 = (0..n)
                    .map(|i| {
                        let s = (f64::from(i) + 0.5) * step;
                        let x = 2.0 * PI * k * s;
                        4.0 * k * step * weave.excess(s) * x.sin() / x
                    })
                    .sum();
                let got = weave.orders().within(k);
                assert!(
                    (got - want).abs() < 5e-4 * (w - w * w),
                    "{w} {jitter} in {k}: {got} {want}"
                );
            }
        }
    }

    /// Orders of a regular net: 1-D powers of w/p = 0.1 are 0.009675, 0.008751, 0.007368, 0.005728,
    /// 0.004053 (b² sinc²(mb); reference tables, worked out there by FFT of a mask).
    #[test]
    fn orders_have_their_powers() {
        let weave = Weave::of(0.1, 0.005);
        let powers = [0.009_675, 0.008_751, 0.007_368, 0.005_728, 0.004_053];
        for (m, power) in powers.into_iter().enumerate() {
            let m = m as f64 + 1.0;
            let orders = weave.orders();
            let got = 0.5 * (orders.within(m + 0.5) - orders.within(m - 0.5));
            assert!((got / power - 1.0).abs() < 0.01, "order {m}: {got} {power}");
        }
        let whole = law(600.0, 60.0, 0.03);
        assert!(
            (whole.encircled(1, 10.0) - 1.0).abs() < 1e-3,
            "all of it lies somewhere: {}",
            whole.encircled(1, 10.0)
        );
        // In green, the first orders on the axes: 4·b²·0.009675 of b² − b⁴, and no pair of them yet.
        let theta = 1.2 * 0.545 / 600.0;
        let want = 4.0 * 0.81 * 0.009_675 / (0.81 - 0.6561);
        let got = whole.encircled(1, theta);
        assert!((got / want - 1.0).abs() < 0.05, "{got} {want}");
    }
}
