//! Figures of scattering glass that need no picture, of one piece or of a whole stack.
//!
//! Scatters in a row multiply their transfer functions, whatever stands between them. What is
//! scattered once is summed from the exact laws; what is scattered again is the Hankel transform of
//! the rest of that product, its mean around the ray ([`Stack::encircled`] holds to 1e-5 of the light
//! for round laws, to 1e-4 where streaks or nets meet other glass).
//!
//! - Haze: light that leaves its direction by more than 2.5°, over all light that passes (ASTM D1003).
//! - Veiling-glare index: light at the centre of a black disc in an endless even field, over the light
//!   there with the disc taken away (ISO 9358, black-patch method; from memory). What a glass adds is
//!   `Σ w (1 − E(ψ)) + veil` over all that passes, ψ the disc's half-angle, E the encircled light. The
//!   lens's own glare comes on top.
//! - MTF: contrast kept of a sine of that many cycles per millimetre on the sensor, the veil counted as
//!   light that holds none: |T(f·ν)| over all that passes (ISO 12233 names the quantity). The lens's own
//!   MTF multiplies it.
//!
//! Figures are of a grey scene, weighted by the working luminance of the three channels, and of the
//! middle of the picture: towards the corners of a wide lens halos stretch.
//!
//! ```
//! use foreglass::optics::figures::Stack;
//! use foreglass::optics::scatter::{Lobe, Profile, Scatter};
//! use foreglass::units::Degrees;
//! // A Harvey lobe of slope −3 holds 1 − L/√(ψ² + L²) within ψ: half of it beyond √3 L.
//! let lobe = Lobe::grey(0.2, Profile::Harvey { width: Degrees::clamped(1.0) });
//! let glass = Scatter { direct: [0.7; 3], lobes: vec![lobe], veil: [0.0; 3], absorbed: [0.1; 3] };
//! let stack = Stack::of(&[glass]);
//! assert!((stack.veiling_glare(Degrees::clamped(3_f64.sqrt())) - 0.1 / 0.9).abs() < 1e-9);
//! // Its transform is exp(−2πLν): at 1 cycle per mm of a 10 mm lens, ν = 10.
//! let kept = (0.7 + 0.2 * (-20.0 * std::f64::consts::PI * 1_f64.to_radians()).exp()) / 0.9;
//! assert!((stack.mtf(10.0).mean - kept).abs() < 1e-9);
//! ```

use super::enclosed::Sampled;
use super::response::Response;
use super::scatter::{HAZE_FROM, Law, Profile, Scatter, ScatterLaw, luminance};
use crate::units::{Degrees, Extent};
use std::f64::consts::PI;

/// Frequencies at which MTF is told, in cycles per millimetre on the sensor.
pub const MTF_AT: [f64; 3] = [10.0, 20.0, 40.0];

/// Diameter of the black disc of the veiling-glare index, in parts of the picture's height (our own
/// choice: the standard leaves the patch to be stated).
pub const PATCH: f64 = 0.1;

/// Half-angle of the black disc of [`PATCH`] in a picture of this height.
#[must_use]
pub fn patch(height: Extent, focal: Extent) -> Degrees {
    Degrees::clamped((0.5 * PATCH * height.get() / focal.get()).to_degrees())
}

/// Contrast kept of a sine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mtf {
    /// Mean over its directions; of glass that scatters alike in all of them, the only value.
    pub mean: f64,
    /// Where directions differ: the least, and the direction across the sine's bars,
    /// counter-clockwise from the picture's right.
    pub worst: Option<(f64, Degrees)>,
    /// Where directions differ: the most, and its direction.
    pub best: Option<(f64, Degrees)>,
}

/// What a stack's scattering comes to.
#[derive(Debug, Clone, PartialEq)]
pub struct Spread {
    /// Light scattered by more than 2.5°, of what passes; 0 to 1.
    pub haze: f64,
    /// The veiling-glare index of `patch`; 0 to 1.
    pub veiling_glare: f64,
    /// Half-angle of the black disc.
    pub patch: Degrees,
    /// Half-angles that hold 50 % and 95 % of the scattered light, per channel, the veil left out;
    /// None where nothing is scattered about its direction.
    pub halo: Option<[[Degrees; 2]; 3]>,
    /// [`MTF_AT`] and what is kept there.
    pub mtf: [(f64, Mtf); 3],
}

/// Scatters taken together.
#[derive(Debug, Clone)]
pub struct Stack {
    laws: Vec<ScatterLaw>,
    /// Light scattered once.
    once: Vec<Part>,
    /// Light scattered again, its mean around the ray.
    again: [Sampled; 3],
    direct: [f64; 3],
    passed: [f64; 3],
    veil: [f64; 3],
    /// Where directions differ.
    oriented: Option<Response>,
}

/// One profile's light, as part of the light that arrives: the same profile met twice, at whatever
/// turns, is one part.
#[derive(Debug, Clone)]
struct Part {
    weight: [f64; 3],
    law: Law,
}

impl Part {
    fn new(weight: [f64; 3], profile: &Profile) -> Self {
        let law = profile.law();
        Self { weight, law }
    }

    fn encircled(&self, channel: usize, theta: f64) -> f64 {
        self.weight[channel] * self.law.encircled(channel, theta)
    }
}

/// Everything scattered once, like profiles joined.
fn parts(scatters: &[Scatter], others: &[[f64; 3]]) -> Vec<Part> {
    let mut found: Vec<([f64; 3], Profile)> = Vec::new();
    for (scatter, other) in scatters.iter().zip(others) {
        for lobe in &scatter.lobes {
            // What a profile holds within an angle does not change with its turn.
            let profile = match lobe.profile {
                Profile::Lines(l) => lobe.profile.turned(-l.turn),
                Profile::Net(n) => lobe.profile.turned(-n.turn),
                round => round,
            };
            let weight = std::array::from_fn(|c| lobe.weight[c] * other[c]);
            match found.iter_mut().find(|(_, known)| *known == profile) {
                Some((sum, _)) => *sum = std::array::from_fn(|c| sum[c] + weight[c]),
                None => found.push((weight, profile)),
            }
        }
    }
    found.iter().map(|(w, p)| Part::new(*w, p)).collect()
}

impl Stack {
    /// Of these scatters, each with its turn taken; their order does not matter.
    #[must_use]
    pub fn of(scatters: &[Scatter]) -> Self {
        let product = |part: &dyn Fn(&Scatter, usize) -> f64| -> [f64; 3] {
            std::array::from_fn(|c| scatters.iter().map(|s| part(s, c)).product())
        };
        let direct = product(&|s, c| s.direct[c]);
        let passed = product(&|s, c| s.passed()[c]);
        let unveiled = product(&|s, c| s.passed()[c] - s.veil[c]);
        let others: Vec<[f64; 3]> = (0..scatters.len())
            .map(|i| {
                let rest = |c: usize| -> f64 {
                    let rest = scatters.iter().enumerate().filter(|(j, _)| *j != i);
                    rest.map(|(_, s)| s.direct[c]).product()
                };
                std::array::from_fn(rest)
            })
            .collect();
        let laws: Vec<ScatterLaw> = scatters.iter().map(Scatter::law).collect();
        let oriented = scatters.iter().any(|s| !s.is_round());
        let alone: Vec<Response> = if oriented && scatters.len() > 1 {
            let each = scatters.iter();
            each.map(|s| Response::of(std::slice::from_ref(s)))
                .collect()
        } else {
            Vec::new()
        };
        let again = [0, 1, 2].map(|c| {
            let once: f64 = laws
                .iter()
                .zip(&others)
                .map(|(law, o)| o[c] * law.lobe_weight(c))
                .sum();
            let light = unveiled[c] - direct[c] - once;
            if scatters.len() < 2 || light < 1e-9 {
                return Sampled::default();
            }
            // What is left of the product once the direct light and the light scattered once are
            // taken out of it.
            let left = |transfers: &mut dyn Iterator<Item = f64>| -> f64 {
                let (mut all, mut one) = (1.0, 0.0);
                for ((t, other), law) in transfers.zip(&others).zip(&laws) {
                    all *= t;
                    one += other[c] * (t - law.direct(c));
                }
                all - direct[c] - one
            };
            if oriented {
                Sampled::of(light, |nu| {
                    around(|x, y| {
                        let nu = [(nu * x) as f32, (nu * y) as f32];
                        left(&mut alone.iter().map(|r| f64::from(r.at(c, nu))))
                    })
                })
            } else {
                Sampled::of(light, |nu| {
                    left(&mut laws.iter().map(|law| law.transfer(c, nu)))
                })
            }
        });
        Self {
            laws,
            once: parts(scatters, &others),
            again,
            direct,
            passed,
            veil: std::array::from_fn(|c| passed[c] - unveiled[c]),
            oriented: oriented.then(|| Response::of(scatters)),
        }
    }

    /// Part that goes straight on, per channel.
    #[must_use]
    pub const fn direct(&self) -> [f64; 3] {
        self.direct
    }

    /// Part that passes, straight or scattered.
    #[must_use]
    pub const fn passed(&self) -> [f64; 3] {
        self.passed
    }

    /// Part that is spread over the whole field.
    #[must_use]
    pub const fn veil(&self) -> [f64; 3] {
        self.veil
    }

    /// Part that is scattered, the veil included.
    #[must_use]
    pub fn scattered(&self) -> [f64; 3] {
        std::array::from_fn(|c| self.passed[c] - self.direct[c])
    }

    /// Scattered light within `theta` radians of its direction, the veil left out, as part of the
    /// light that arrives.
    #[must_use]
    pub fn encircled(&self, channel: usize, theta: f64) -> f64 {
        let parts = self.once.iter();
        let once: f64 = parts.map(|part| part.encircled(channel, theta)).sum();
        once + self.again[channel].around(theta)
    }

    /// The half-angle in radians that holds `share` of the scattered light, the veil left out, to a
    /// millionth of itself; 0 without any.
    #[must_use]
    pub fn quantile(&self, channel: usize, share: f64) -> f64 {
        let all = self.lobes(channel);
        if all <= 1e-12 {
            return 0.0;
        }
        // Bisection in the logarithm, from 0.1 µrad up.
        let (mut low, mut high) = (
            -7.0 * std::f64::consts::LN_10,
            3.0 * std::f64::consts::LN_10,
        );
        while high - low > 1e-6 {
            let middle = 0.5 * (low + high);
            if self.encircled(channel, middle.exp()) < share * all {
                low = middle;
            } else {
                high = middle;
            }
        }
        (0.5 * (low + high)).exp()
    }

    fn lobes(&self, channel: usize) -> f64 {
        self.passed[channel] - self.veil[channel] - self.direct[channel]
    }

    /// Part of what passes that leaves its direction by more than `angle`, the veil included.
    fn beyond(&self, angle: Degrees) -> f64 {
        let all = luminance(self.passed);
        if all <= 0.0 {
            return 0.0;
        }
        let wide = |c: usize| {
            let inside = self.encircled(c, angle.radians());
            (self.lobes(c) - inside).max(0.0) + self.veil[c]
        };
        luminance(std::array::from_fn(wide)) / all
    }

    /// Haze, 0 to 1. Source: ASTM D1003.
    #[must_use]
    pub fn haze(&self) -> f64 {
        self.beyond(HAZE_FROM)
    }

    /// The veiling-glare index of a black disc of half-angle `patch`, 0 to 1. Source: ISO 9358.
    #[must_use]
    pub fn veiling_glare(&self, patch: Degrees) -> f64 {
        self.beyond(patch)
    }

    /// The contrast kept of a sine of `nu` cycles per radian.
    #[must_use]
    pub fn mtf(&self, nu: f64) -> Mtf {
        let all = luminance(self.passed);
        let kept = |transfer: [f64; 3]| {
            if all > 0.0 {
                luminance(transfer) / all
            } else {
                0.0
            }
        };
        let exact = |direction: f64| {
            let (y, x) = direction.to_radians().sin_cos();
            let at = |c: usize| {
                let laws = self.laws.iter();
                laws.map(|law| law.transfer_at(c, [nu * x, nu * y]))
                    .product()
            };
            kept(std::array::from_fn(at)).abs()
        };
        let Some(response) = &self.oriented else {
            return Mtf {
                mean: exact(0.0),
                worst: None,
                best: None,
            };
        };
        // The tables find the directions, the laws give the values.
        let (mut worst, mut best) = ((f64::INFINITY, 0.0), (f64::NEG_INFINITY, 0.0));
        let mut sum = 0.0;
        for degree in 0..180 {
            let direction = f64::from(degree);
            let (y, x) = direction.to_radians().sin_cos();
            let nu = [(nu * x) as f32, (nu * y) as f32];
            let at = |c: usize| f64::from(response.at(c, nu));
            let value = kept(std::array::from_fn(at)).abs();
            sum += value;
            // A direction is another one only where it is better by more than the tables' error.
            if value < worst.0 - 1e-5 {
                worst = (value, direction);
            }
            if value > best.0 + 1e-5 {
                best = (value, direction);
            }
        }
        let told = |direction: f64| Some((exact(direction), Degrees::clamped(direction)));
        Mtf {
            mean: sum / 180.0,
            worst: told(worst.1),
            best: told(best.1),
        }
    }

    /// All figures for a lens, with a black disc of half-angle `patch`.
    #[must_use]
    pub fn spread(&self, focal: Extent, patch: Degrees) -> Spread {
        let halo = (0..3).any(|c| self.lobes(c) > 1e-12).then(|| {
            std::array::from_fn(|c| {
                [0.5, 0.95].map(|q| Degrees::clamped(self.quantile(c, q).to_degrees()))
            })
        });
        Spread {
            haze: self.haze(),
            veiling_glare: self.veiling_glare(patch),
            patch,
            halo,
            mtf: MTF_AT.map(|at| (at, self.mtf(focal.get() * at))),
        }
    }
}

/// The mean of an even function of direction.
fn around(f: impl Fn(f64, f64) -> f64) -> f64 {
    const COUNT: u32 = 180;
    let sum: f64 = (0..COUNT)
        .map(|i| {
            let (y, x) = (PI * (f64::from(i) + 0.5) / f64::from(COUNT)).sin_cos();
            f(x, y)
        })
        .sum();
    sum / f64::from(COUNT)
}
