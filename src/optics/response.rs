//! What neighbouring scatters do together, as tables that a kernel can ask for every frequency.
//!
//! A streak or a net has no sum of round Gaussians, so that it runs from its transform. Transforms of
//! neighbouring scatters multiply, exactly, whatever their directions. Each law is its direct part, a
//! table over |ν| for all that is round in it, one table per streak along its direction, and for a net
//! the tables of its two axes and of the pairs of orders off them.
//!
//! Frequencies are cycles per radian, x to the picture's right, y up. Good to 2e-4 of the scattered
//! light against [`super::scatter::ScatterLaw::transfer_at`] (a test holds it to that).

use super::scatter::{Kind, Law, Scatter};
use super::{lines, net};
use crate::colour;
use rayon::prelude::*;
use std::sync::Arc;

/// The transform of a stack of neighbouring scatters, per channel.
#[derive(Debug, Clone)]
pub struct Response {
    /// What it was made from: responses are alike when this is.
    laws: Vec<Scatter>,
    channels: Arc<[Channel; 3]>,
}

impl PartialEq for Response {
    fn eq(&self, other: &Self) -> bool {
        self.laws == other.laws
    }
}

#[derive(Debug)]
struct Channel {
    direct: f64,
    veil: f64,
    factors: Vec<Factor>,
}

/// One law.
#[derive(Debug)]
struct Factor {
    direct: f32,
    round: Option<Octaves>,
    streaks: Vec<Streak>,
    meshes: Vec<Mesh>,
}

#[derive(Debug)]
struct Streak {
    along: [f32; 2],
    line: Octaves,
    /// `2π²·waver²`.
    fall: f32,
}

#[derive(Debug)]
struct Mesh {
    along: [f32; 2],
    /// Orders on an axis, averaged over the band, over cycles per radian.
    axis: Even,
    /// Orders off the axes: one factor of the pair over the shift in µm, and (λ, weight) to sum.
    pair: Even,
    colours: Vec<(f32, f32)>,
}

impl Response {
    /// Of these scatters, each with its turn taken.
    #[must_use]
    pub fn of(laws: &[Scatter]) -> Self {
        let channels: Vec<Channel> = (0..3)
            .into_par_iter()
            .map(|channel| Channel::of(laws, channel))
            .collect();
        let mut channels = channels.into_iter();
        let mut next = || channels.next().unwrap_or(Channel::NOTHING);
        Self {
            laws: laws.to_vec(),
            channels: Arc::new([next(), next(), next()]),
        }
    }

    /// Part that goes straight on.
    #[must_use]
    pub fn direct(&self, channel: usize) -> f64 {
        self.channels[channel].direct
    }

    /// Part that is spread over the whole field.
    #[must_use]
    pub fn veil(&self, channel: usize) -> f64 {
        self.channels[channel].veil
    }

    /// The whole transform, direct light in it, the veil not.
    #[must_use]
    pub fn at(&self, channel: usize, nu: [f32; 2]) -> f32 {
        let factors = self.channels[channel].factors.iter();
        factors.map(|factor| factor.at(nu)).product()
    }

    /// Whether it is the same at (x, y) and (x, −y).
    #[must_use]
    pub fn is_even(&self) -> bool {
        let factors = self.channels.iter().flat_map(|c| &c.factors);
        let mut along = factors.flat_map(|f| {
            let streaks = f.streaks.iter().map(|s| s.along);
            streaks.chain(f.meshes.iter().map(|m| m.along))
        });
        along.all(|[x, y]| (x * y).abs() < 1e-7)
    }
}

impl Channel {
    const NOTHING: Self = Self {
        direct: 1.0,
        veil: 0.0,
        factors: Vec::new(),
    };

    fn of(laws: &[Scatter], channel: usize) -> Self {
        let direct = laws.iter().map(|law| law.direct[channel]).product();
        let passed: f64 = laws.iter().map(|law| law.passed()[channel]).product();
        let unveiled: f64 = laws
            .iter()
            .map(|law| law.passed()[channel] - law.veil[channel])
            .product();
        Self {
            direct,
            veil: passed - unveiled,
            factors: laws.iter().map(|law| Factor::of(law, channel)).collect(),
        }
    }
}

impl Factor {
    fn of(scatter: &Scatter, channel: usize) -> Self {
        let mut out = Self {
            direct: scatter.direct[channel] as f32,
            round: None,
            streaks: Vec::new(),
            meshes: Vec::new(),
        };
        let mut round: Vec<(f64, Law)> = Vec::new();
        for lobe in &scatter.lobes {
            let (weight, law) = (lobe.weight[channel], lobe.profile.law());
            if weight <= 0.0 {
                continue;
            }
            match law.kind() {
                Kind::Lines(lines) => out.streaks.push(Streak::of(lines, channel, weight)),
                Kind::Net(net) => out.meshes.push(Mesh::of(net, channel, weight)),
                Kind::Speck { .. } | Kind::Harvey { .. } | Kind::Disc(_) => {
                    round.push((weight, law));
                }
            }
        }
        if !round.is_empty() {
            out.round = Some(Octaves::of(|nu| {
                let lobes = round.iter();
                lobes.map(|(w, law)| w * law.transfer(channel, nu)).sum()
            }));
        }
        out
    }

    fn at(&self, nu: [f32; 2]) -> f32 {
        let mut sum = self.direct;
        if let Some(round) = &self.round {
            #[expect(
                clippy::imprecise_flops,
                reason = "far from overflow, and in the inner loop"
            )]
            let length = (nu[0] * nu[0] + nu[1] * nu[1]).sqrt();
            sum += round.at(length);
        }
        for streak in &self.streaks {
            let [along, aside] = turned(nu, streak.along);
            sum += streak.line.at(along) * (-streak.fall * aside * aside).exp();
        }
        for mesh in &self.meshes {
            let [u, v] = turned(nu, mesh.along);
            sum += mesh.axis.at(u) + mesh.axis.at(v) + mesh.off_axis(u, v);
        }
        sum
    }
}

/// Along a unit vector, and to its left.
fn turned(nu: [f32; 2], [x, y]: [f32; 2]) -> [f32; 2] {
    [nu[0] * x + nu[1] * y, nu[1] * x - nu[0] * y]
}

impl Streak {
    fn of(law: &lines::Law, channel: usize, weight: f64) -> Self {
        let t = std::f64::consts::PI * law.waver();
        Self {
            along: law.along().map(|v| v as f32),
            line: Octaves::of(|nu| weight * law.line(channel, nu)),
            fall: (2.0 * t * t) as f32,
        }
    }
}

impl Mesh {
    fn of(law: &net::Law, channel: usize, weight: f64) -> Self {
        let b2 = law.open() * law.open();
        let scale = weight / (b2 - b2 * b2).max(f64::MIN_POSITIVE);
        let band: Vec<(f64, f64)> = colour::bands()[channel]
            .iter()
            .map(|(nm, w)| (nm.get() * 1e-3, w))
            .filter(|&(_, w)| w > 0.0)
            .collect();
        let step = law.finest() / 8.0;
        let reach = law.reach();
        let shortest = band.first().map_or(0.4, |b| b.0);
        let longest = band.last().map_or(0.7, |b| b.0);
        let pair = Even::of(step, reach, |s| law.excess(s));
        let axis = Even::of(step / longest, reach / shortest, |nu| {
            let sum: f64 = band.iter().map(|&(um, w)| w * law.excess(um * nu)).sum();
            scale * b2 * sum
        });
        // Pairs of orders are few: a wavelength for every three of the band's samples is enough.
        let colours = band
            .chunks(3)
            .map(|few| {
                let w: f64 = few.iter().map(|f| f.1).sum();
                let um: f64 = few.iter().map(|f| f.0 * f.1).sum::<f64>() / w;
                (um as f32, (scale * w) as f32)
            })
            .collect();
        Self {
            along: law.along().map(|v| v as f32),
            axis,
            pair,
            colours,
        }
    }

    fn off_axis(&self, u: f32, v: f32) -> f32 {
        let colours = self.colours.iter();
        colours
            .map(|&(um, w)| w * self.pair.at(um * u) * self.pair.at(um * v))
            .sum()
    }
}

/// A function of |ν| on steps of 1/128 of an octave, straight lines between them.
#[derive(Debug)]
struct Octaves {
    values: Vec<f32>,
}

impl Octaves {
    /// Where the first octave begins, cycles per radian; below it the function is as at it.
    const LOW: f32 = 1.0 / 1_048_576.0;
    /// How many octaves: up to 2¹⁸ cycles per radian, past any lens's pixels.
    const COUNT: u32 = 38;
    /// Bits of the mantissa that count steps.
    const BITS: u32 = 7;

    fn of(f: impl Fn(f64) -> f64 + Sync) -> Self {
        let count = (Self::COUNT << Self::BITS) + 1;
        let place = |i: u32| {
            let bits = Self::LOW.to_bits() + (i << (23 - Self::BITS));
            f64::from(f32::from_bits(bits))
        };
        let values = (0..count)
            .into_par_iter()
            .map(|i| f(place(i)) as f32)
            .collect();
        Self { values }
    }

    fn at(&self, nu: f32) -> f32 {
        let past = nu.abs().max(Self::LOW).to_bits() - Self::LOW.to_bits();
        let shift = 23 - Self::BITS;
        let i = ((past >> shift) as usize).min(self.values.len() - 2);
        let t = (past & ((1 << shift) - 1)) as f32 / (1 << shift) as f32;
        let (a, b) = (self.values[i], self.values[i + 1]);
        a + t * (b - a)
    }
}

/// An even function on equal steps, straight lines between them; nothing beyond the last.
#[derive(Debug)]
struct Even {
    per_step: f32,
    values: Vec<f32>,
}

impl Even {
    fn of(step: f64, reach: f64, f: impl Fn(f64) -> f64 + Sync) -> Self {
        let count = (reach / step).ceil() as usize + 2;
        let mut values: Vec<f32> = (0..count)
            .into_par_iter()
            .map(|i| f(i as f64 * step) as f32)
            .collect();
        values.push(0.0);
        Self {
            per_step: (1.0 / step) as f32,
            values,
        }
    }

    fn at(&self, x: f32) -> f32 {
        let place = x.abs() * self.per_step;
        let i = place as usize;
        match self.values.get(i..i + 2) {
            Some(&[a, b]) => a + (place - i as f32) * (b - a),
            _ => 0.0,
        }
    }
}
