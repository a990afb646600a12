//! What neighbouring scatters do together, as tables that a kernel can ask for every frequency.
//!
//! A streak or a net has no sum of round Gaussians, so that it runs from its transform. Transforms of
//! neighbouring scatters multiply, exactly, whatever their directions. Each law is its direct part, a
//! table over |ν| for all that is round in it, one table per streak along its direction, and for a net
//! rows of its self-correlation over the band's wavelengths ([`super::pairs`]).
//!
//! Frequencies are cycles per radian, x to the picture's right, y up. Good to 2e-4 of the scattered
//! light against [`super::scatter::ScatterLaw::transfer_at`] (a test holds it to that).

use super::lines;
use super::memo::Memo;
use super::net;
use super::octaves::Octaves;
use super::pairs::Pairs;
use super::profile::{Kind, Law};
use super::scatter::Scatter;
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

/// All streaks of one direction and waver.
#[derive(Debug, PartialEq)]
struct Streak {
    along: [f32; 2],
    line: Octaves,
    /// `2π²·waver²`.
    fall: f64,
}

#[derive(Debug)]
struct Mesh {
    along: [f32; 2],
    weight: f32,
    orders: Arc<Pairs>,
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
    pub fn at(&self, channel: usize, [x, y]: [f32; 2]) -> f32 {
        let mut out = [0.0, 0.0];
        self.column(channel, x, y, &mut out, &mut Vec::new());
        out[1]
    }

    /// [`Self::at`] (x, k·step) for every k of `out`. `spare` is kept from call to call.
    pub fn column(&self, channel: usize, x: f32, step: f32, out: &mut [f32], spare: &mut Vec<f32>) {
        let mut factors = self.channels[channel].factors.iter();
        match factors.next() {
            Some(first) => first.column(x, step, out),
            None => out.fill(1.0),
        }
        for factor in factors {
            spare.resize(out.len(), 0.0);
            factor.column(x, step, spare);
            out.iter_mut().zip(&*spare).for_each(|(o, s)| *o *= s);
        }
    }

    /// Whether it is the same at (x, y) and (x, −y).
    #[must_use]
    pub fn is_even(&self) -> bool {
        let mut factors = self.channels.iter().flat_map(|c| &c.factors);
        factors.all(Factor::is_even)
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
        let mut round: Vec<(f64, Law)> = Vec::new();
        let mut streaks: Vec<Vec<(f64, lines::Law)>> = Vec::new();
        let mut meshes = Vec::new();
        for lobe in &scatter.lobes {
            let (weight, law) = (lobe.weight[channel], lobe.profile.law());
            if weight <= 0.0 {
                continue;
            }
            match law.kind() {
                Kind::Lines(lines) => {
                    let alike = |group: &&mut Vec<(f64, lines::Law)>| {
                        let first = &group[0].1;
                        same(first.along()[0], lines.along()[0])
                            && same(first.along()[1], lines.along()[1])
                            && same(first.waver(), lines.waver())
                    };
                    match streaks.iter_mut().find(alike) {
                        Some(group) => group.push((weight, lines.clone())),
                        None => streaks.push(vec![(weight, lines.clone())]),
                    }
                }
                Kind::Net(net) => meshes.push(Mesh::of(net, channel, weight)),
                _ => round.push((weight, law)),
            }
        }
        let all = |nu: f64| {
            let lobes = round.iter();
            lobes.map(|(w, law)| w * law.transfer(channel, nu)).sum()
        };
        Self {
            direct: scatter.direct[channel] as f32,
            round: (!round.is_empty()).then(|| Octaves::of(-20..18, 7, all)),
            streaks: streaks.iter().map(|g| Streak::of(g, channel)).collect(),
            meshes,
        }
    }

    fn column(&self, x: f32, step: f32, out: &mut [f32]) {
        out.fill(self.direct);
        if let Some(round) = &self.round {
            let square = x * x;
            for (k, out) in out.iter_mut().enumerate() {
                let y = k as f32 * step;
                *out += round.at((square + y * y).sqrt());
            }
        }
        for streak in &self.streaks {
            streak.column(x, step, out);
        }
        for mesh in &self.meshes {
            for (k, out) in out.iter_mut().enumerate() {
                let [u, v] = turned([x, k as f32 * step], mesh.along);
                *out += mesh.weight * mesh.orders.at(u, v);
            }
        }
    }

    /// Whether every streak has its mirror image beside it, or is its own.
    fn is_even(&self) -> bool {
        let mut streaks = self.streaks.iter();
        let mut meshes = self.meshes.iter();
        meshes.all(|m| (m.along[0] * m.along[1]).abs() < 1e-7)
            && streaks.all(|s| self.streaks.iter().any(|other| s.mirrors(other)))
    }
}

/// Exactly alike.
fn same(a: f64, b: f64) -> bool {
    a.to_bits() == b.to_bits()
}

/// Along a unit vector, and to its left.
fn turned(nu: [f32; 2], [x, y]: [f32; 2]) -> [f32; 2] {
    [nu[0] * x + nu[1] * y, nu[1] * x - nu[0] * y]
}

impl Streak {
    /// Steps after which the recurrence of the waver's Gaussian starts afresh.
    const RUN: usize = 64;

    fn of(group: &[(f64, lines::Law)], channel: usize) -> Self {
        let law = &group[0].1;
        let t = std::f64::consts::PI * law.waver();
        Self {
            along: law.along().map(|v| v as f32),
            line: Octaves::of(-20..18, 7, |nu| {
                group.iter().map(|(w, law)| w * law.line(channel, nu)).sum()
            }),
            fall: 2.0 * t * t,
        }
    }

    fn column(&self, x: f32, step: f32, out: &mut [f32]) {
        let [ax, ay] = self.along;
        let across = step * ax;
        for (run, out) in out.chunks_mut(Self::RUN).enumerate() {
            let first = run * Self::RUN;
            // exp(−fall·aside²) by its ratio from step to step, and the ratio's own ratio.
            let ds = f64::from(across);
            let aside = first as f64 * ds - f64::from(x) * f64::from(ay);
            let mut gauss = (-self.fall * aside * aside).exp();
            let mut ratio = (-self.fall * ds * (2.0 * aside + ds)).exp();
            let again = (-2.0 * self.fall * ds * ds).exp();
            for (k, out) in out.iter_mut().enumerate() {
                let y = (first + k) as f32 * step;
                *out += self.line.at(x * ax + y * ay) * gauss as f32;
                gauss *= ratio;
                ratio *= again;
            }
        }
    }

    /// Whether `other` is this streak seen in a mirror that lies along x.
    fn mirrors(&self, other: &Self) -> bool {
        let ([x, y], [p, q]) = (self.along, other.along);
        let close = |a: f32, b: f32| (a - b).abs() < 1e-6;
        let along = (close(x, p) && close(y, -q)) || (close(x, -p) && close(y, q));
        along && same(self.fall, other.fall) && self.line == other.line
    }
}

impl Mesh {
    fn of(law: &net::Law, channel: usize, weight: f64) -> Self {
        Self {
            along: law.along().map(|v| v as f32),
            weight: weight as f32,
            orders: orders(law, channel),
        }
    }
}

/// How many channels of nets are remembered: four nets, so that turning one costs nothing.
const REMEMBERED: usize = 12;

/// What sets one net's law apart from others', and the channel.
type Key = ([u64; 3], usize);

static ORDERS: Memo<Key, Pairs> = Memo::new(REMEMBERED);

/// The orders of a net in one channel, of unit sum, whatever its turn: made once and remembered.
fn orders(law: &net::Law, channel: usize) -> Arc<Pairs> {
    ORDERS.get((law.key(), channel), || {
        let b2 = law.open() * law.open();
        let scale = 1.0 / (b2 - b2 * b2).max(f64::MIN_POSITIVE);
        Pairs::new(law.clone(), channel, scale)
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::lines::{Form, Lines};
    use crate::optics::net::Net;
    use crate::optics::scatter::{Lobe, Profile, ScatterLaw};
    use crate::units::{Degrees, Micrometres};

    fn groove(turn: f64, width: f64) -> Profile {
        Profile::Lines(Lines {
            turn: Degrees::clamped(turn),
            form: Form::Groove {
                width: Micrometres::clamped(width),
                spread: 0.3,
            },
            waver: Degrees::clamped(0.015),
            pitch: Micrometres::clamped(1000.0),
        })
    }

    fn rib(turn: f64, spread: f64) -> Profile {
        Profile::Lines(Lines {
            turn: Degrees::clamped(turn),
            form: Form::Rib {
                angle: Degrees::clamped(6.0),
                spread,
            },
            waver: Degrees::clamped(0.015),
            pitch: Micrometres::clamped(1000.0),
        })
    }

    fn net(turn: f64, pitch: f64, thread: f64, jitter: f64) -> Profile {
        Profile::Net(Net {
            pitch: Micrometres::clamped(pitch),
            thread: Micrometres::clamped(thread),
            jitter,
            turn: Degrees::clamped(turn),
        })
    }

    fn glass(profiles: &[Profile]) -> Scatter {
        let weight = 0.3 / profiles.len() as f64;
        Scatter {
            direct: [0.6; 3],
            lobes: profiles.iter().map(|p| Lobe::grey(weight, *p)).collect(),
            veil: [0.0; 3],
            absorbed: [0.1; 3],
        }
    }

    /// Frequencies of pictures up to 40 000 pixels per radian, to 2e-4 of the scattered light.
    #[test]
    fn tables_hold_to_the_exact_transform() {
        let harvey = Profile::Harvey {
            width: Degrees::clamped(3.0),
        };
        let stacks = [
            (vec![glass(&[groove(17.0, 15.0), rib(17.0, 0.5)])], 2e-4),
            (vec![glass(&[rib(0.0, 0.1), groove(90.0, 60.0)])], 2e-4),
            (vec![glass(&[net(0.0, 550.0, 30.0, 0.03), harvey])], 2e-4),
            (vec![glass(&[net(31.0, 1500.0, 30.0, 0.03)])], 2e-4),
            (vec![glass(&[net(31.0, 190.0, 30.0, 0.1)])], 2e-4),
            (vec![glass(&[net(45.0, 300.0, 60.0, 0.01)])], 2e-4),
            (
                vec![
                    glass(&[net(10.0, 550.0, 30.0, 0.03)]),
                    glass(&[groove(40.0, 15.0), groove(130.0, 15.0)]),
                    glass(&[harvey]),
                ],
                2e-4,
            ),
        ];
        for (i, (stack, limit)) in stacks.iter().enumerate() {
            let response = Response::of(stack);
            let laws: Vec<ScatterLaw> = stack.iter().map(Scatter::law).collect();
            let mut worst = 0.0_f64;
            let mut random = 0x2545_f491_u32;
            let mut next = move || {
                random ^= random << 13;
                random ^= random >> 17;
                random ^= random << 5;
                f64::from(random) / f64::from(u32::MAX)
            };
            for _ in 0..4000 {
                let (length, turn) = (0.5 * (next() * 11.0).exp(), 7.0 * next());
                // Half of them where the light of a streak or of an order lies: on an axis.
                let turn = if next() < 0.5 {
                    turn
                } else {
                    (turn * 8.0).round() / 8.0
                };
                let nu = [length * turn.cos(), length * turn.sin()];
                for channel in 0..3 {
                    let want: f64 = laws.iter().map(|l| l.transfer_at(channel, nu)).product();
                    let got = f64::from(response.at(channel, nu.map(|v| v as f32)));
                    let error = (got - want).abs() / 0.3;
                    worst = worst.max(error);
                }
            }
            assert!(worst < *limit, "stack {i}: {worst}");
        }
    }

    #[test]
    fn even_laws_are_known() {
        let even = |profiles: &[Profile]| Response::of(&[glass(profiles)]).is_even();
        assert!(even(&[groove(90.0, 20.0)]), "a streak up and down");
        assert!(!even(&[groove(30.0, 20.0)]), "one that leans");
        assert!(
            even(&[groove(30.0, 20.0), groove(-30.0, 20.0)]),
            "two that mirror each other"
        );
        assert!(
            !even(&[groove(30.0, 20.0), groove(-30.0, 25.0)]),
            "two that do not"
        );
        assert!(even(&[net(180.0, 500.0, 30.0, 0.03)]), "a straight net");
        assert!(!even(&[net(45.0, 500.0, 30.0, 0.03)]), "one on its corner");
    }
}
