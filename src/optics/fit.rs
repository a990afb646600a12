//! Exact laws as sums of Gaussians.
//!
//! A lobe's profile is matched in relative terms, from its centre to where it has fallen by 10⁵ within
//! about half a per cent, and beyond that within a few per cent out to a radian, with the enclosed
//! light matched beside it; the light in all is exact. One fit per spread of speck sizes and coverage
//! serves every size, because a speck's halo only scales; fits are remembered.
//!
//! Neighbouring scatters fuse: their transfer functions multiply, so the direct parts multiply, lobes
//! scale each other, and pairs of lobes convolve (for Gaussians: σ² adds).

use super::disc::Disc;
use super::halo::Halo;
use super::least::{self, Sample};
use super::memo::Memo;
use super::mixture::{Gaussian, Mixture};
use super::profile::{Kind, Law, Profile};
use super::scatter::Scatter;
use rayon::prelude::*;
use std::f64::consts::PI;
use std::sync::{Arc, OnceLock};

/// Specks of a narrower spread than this show dark rings, which no sum of Gaussians follows: no family
/// has them.
pub const LEAST_SPECK_SPREAD: f64 = 0.3;

/// Lenslets of a narrower spread than this make a disc with too hard an edge for a sum of Gaussians: no
/// family has them.
pub const LEAST_DISC_SPREAD: f64 = 0.3;

/// Past this fall from the centre, a profile's relative error counts less.
const FALL: f64 = 1e-5;
/// What it counts at least.
const LEAST: f64 = 0.25;
/// How far specks' halos are followed, in rad·µm: a radian for 100 µm.
const SPECK_REACH: f64 = 100.0;
/// How far a Harvey lobe is followed, in half-widths.
const HARVEY_REACH: f64 = 200.0;
/// A disc is followed to where it has fallen by 10⁷: that many standard deviations out.
const DISC_REACH: f64 = 5.2;
/// How many Gaussians a disc takes: four would do for its skirt, the flat top and the edge need the rest.
const DISC_COUNT: usize = 8;
/// And one whose edge is harder than at [`HARD_EDGE`].
const HARD_DISC_COUNT: usize = 10;
const HARD_EDGE: f64 = 0.45;
/// Logarithm of the ratio between the widths that a fit of the tail starts from.
const RUNG: f64 = 0.72;
/// Steps of a fit that starts near its end.
const NEAR: usize = 8;
/// A fused profile is followed at least this far, in radians.
const FUSED_REACH: f64 = 3.0;

type Fits = [Vec<Gaussian>; 3];

impl Profile {
    /// The profile as Gaussians of unit sum, narrowest first, σ in radians; none for a profile that is
    /// not round.
    #[must_use]
    pub fn mixture(&self, channel: usize) -> Vec<Gaussian> {
        let (fits, scale) = match *self {
            Self::Speck {
                diameter,
                spread,
                coverage,
            } => (specks(spread, coverage.get()), 1.0 / diameter.get()),
            Self::Harvey { width } => (harvey(), width.radians().abs()),
            Self::Disc { angle, spread } => (discs(spread), angle.radians().abs()),
            // No sum of round Gaussians is a streak or a net: those run from their transforms.
            Self::Lines(_) | Self::Net(_) => return Vec::new(),
        };
        fits[channel]
            .iter()
            .map(|g| Gaussian {
                weight: g.weight,
                sigma: g.sigma * scale,
            })
            .collect()
    }
}

fn specks(spread: f64, coverage: f64) -> Arc<Fits> {
    static FITS: Memo<(u64, u64), Fits> = Memo::new(64);
    FITS.get_unheld((spread.to_bits(), coverage.to_bits()), || {
        if coverage > 0.0 {
            crowded(spread, coverage)
        } else {
            alone(spread)
        }
    })
}

fn halo(spread: f64, coverage: f64, channel: usize) -> Shape {
    let halo = Halo::of(spread, coverage);
    let density = |z: f64| halo.density(channel, z);
    Shape::new(density, |z| halo.enclosed(channel, z), SPECK_REACH)
}

/// Specks by themselves.
fn alone(spread: f64) -> Fits {
    // Green first: the others are nearly the same shape on another scale.
    let green = halo(spread, 0.0, 1);
    let middle = green.fit(&green.start(), 60, 4);
    let other = |channel: usize| {
        let shape = halo(spread, 0.0, channel);
        shape.fit(&shape.like(green.core, &middle), 30, 4)
    };
    let (red, blue) = rayon::join(|| other(0), || other(2));
    [red, middle, blue]
}

/// Specks that overlap, whose halo is nearly that of specks by themselves: a few steps from there, which a new
/// strength waits for.
fn crowded(spread: f64, coverage: f64) -> Fits {
    let alone = specks(spread, 0.0);
    let mut fits = Fits::default();
    let fit = |(channel, fit): (usize, &mut Vec<Gaussian>)| {
        let shape = halo(spread, coverage, channel);
        let start = shape.like(halo(spread, 0.0, channel).core, &alone[channel]);
        *fit = shape.fit(&start, NEAR, 4);
    };
    fits.par_iter_mut().enumerate().for_each(fit);
    fits
}

fn harvey() -> Arc<Fits> {
    static FIT: OnceLock<Arc<Fits>> = OnceLock::new();
    Arc::clone(FIT.get_or_init(|| {
        let density = |r: f64| 1.0 / (2.0 * PI * (1.0 + r * r).powf(1.5));
        let enclosed = |r: f64| 1.0 - 1.0 / (1.0 + r * r).sqrt();
        let shape = Shape::new(density, enclosed, HARVEY_REACH);
        let fit = shape.fit(&shape.start(), 60, 4);
        Arc::new([fit.clone(), fit.clone(), fit])
    }))
}

fn discs(spread: f64) -> Arc<Fits> {
    static FITS: Memo<u64, Fits> = Memo::new(64);
    FITS.get_unheld(spread.to_bits(), || {
        let disc = Disc::new(1.0, spread);
        let reach = (DISC_REACH * spread - 2.0 * spread * spread).exp();
        let shape = Shape::new(|r| disc.density(r), |r| disc.encircled(r), reach);
        // Close together, from well inside the edge: the flat top is a difference of Gaussians.
        let (low, high) = (0.3 * shape.core, 0.4 * reach);
        let count = if spread < HARD_EDGE {
            HARD_DISC_COUNT
        } else {
            DISC_COUNT
        };
        let rung = |k: usize| low * (high / low).powf(k as f64 / (count - 1) as f64);
        let start: Vec<f64> = (0..count).map(rung).collect();
        let fit = shape.fit(&start, 60, 6);
        [fit.clone(), fit.clone(), fit]
    })
}

/// Geometric radii from well inside the core to `reach`.
fn radii(core: f64, reach: f64) -> impl Iterator<Item = f64> {
    const COUNT: usize = 84;
    let first = (0.02 * core).min(0.02 * reach);
    let ratio = (reach / first).ln() / (COUNT - 1) as f64;
    (0..COUNT).map(move |i| first * (ratio * i as f64).exp())
}

fn counted(density: f64, peak: f64) -> f64 {
    let fall = density / (peak * FALL);
    if fall >= 1.0 {
        1.0
    } else {
        fall.sqrt().max(LEAST)
    }
}

/// A profile to be matched, sampled; and where its core ends.
struct Shape {
    samples: Vec<Sample>,
    core: f64,
    reach: f64,
}

impl Shape {
    /// A unit-sum profile, followed to `reach` at least.
    fn new(density: impl Fn(f64) -> f64, enclosed: impl Fn(f64) -> f64, reach: f64) -> Self {
        let peak = density(0.0);
        let core = half_width(&density, peak);
        let reach = reach.max(10.0 * core);
        let samples = radii(core, reach)
            .enumerate()
            .map(|(i, radius)| {
                let density = density(radius);
                let weight = counted(density, peak);
                let enclosed = (i % 3 == 0).then(|| enclosed(radius));
                Sample {
                    radius,
                    density,
                    enclosed,
                    weight,
                }
            })
            .collect();
        Self {
            samples,
            core,
            reach,
        }
    }

    /// A Gaussian of the core's half-width, a narrower and a wider one, and a ladder for the tail.
    fn start(&self) -> Vec<f64> {
        let sigma = self.core / 1.177_41;
        let (low, high) = (2.6 * sigma, 3.0 * self.reach);
        let rungs = ((high / low).ln() / RUNG).ceil().max(2.0);
        let mut start = vec![0.6 * sigma, sigma, 1.5 * sigma];
        for k in 0..=rungs as usize {
            start.push(low * (high / low).powf(k as f64 / rungs));
        }
        start
    }

    /// The widths of the fit of a profile whose core ends at `core`, on the scale of this one.
    fn like(&self, core: f64, fit: &[Gaussian]) -> Vec<f64> {
        let scale = self.core / core;
        fit.iter().map(|g| g.sigma * scale).collect()
    }

    fn fit(&self, start: &[f64], steps: usize, rounds: usize) -> Vec<Gaussian> {
        least::fit(&self.samples, start, 10.0 * self.reach, steps, rounds)
    }
}

/// Where a profile has fallen to half.
fn half_width(density: impl Fn(f64) -> f64, peak: f64) -> f64 {
    // The width of the Gaussian of that peak is a bracket within a factor of ten for any lobe here.
    let guess = (1.0 / (2.0 * PI * peak)).sqrt();
    let (mut low, mut high) = (0.01 * guess, 100.0 * guess);
    for _ in 0..50 {
        let middle = (low * high).sqrt();
        if density(middle) > 0.5 * peak {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// One mixture per channel for neighbouring scatters, σ in radians, narrowest first: the product of
/// their transfer functions. The absorbed parts are what is missing from each mixture's total.
#[must_use]
pub fn fuse(laws: &[Scatter]) -> [Mixture; 3] {
    // A hand on a strength comes by the same few stacks again and again. Numbers are written in full in a law's
    // words, so that equal words are equal laws.
    static FUSED: Memo<String, [Mixture; 3]> = Memo::new(64);
    let fused = FUSED.get_unheld(format!("{laws:?}"), || {
        // Once for all channels, which would else make them beside each other.
        let lobes = laws.iter().flat_map(|law| &law.lobes);
        lobes.for_each(|lobe| drop(lobe.profile.mixture(0)));
        let mut out = [Mixture::default(), Mixture::default(), Mixture::default()];
        out.par_iter_mut()
            .enumerate()
            .for_each(|(channel, mixture)| *mixture = one(laws, channel));
        out
    });
    (*fused).clone()
}

/// A lobe of the fused whole: its light, its law, its fit.
struct Part {
    weight: f64,
    law: Law,
    fit: Vec<Gaussian>,
}

fn one(laws: &[Scatter], channel: usize) -> Mixture {
    let direct: f64 = laws.iter().map(|law| law.direct[channel]).product();
    let passed = |law: &Scatter| law.direct[channel] + law.scattered()[channel];
    let all: f64 = laws.iter().map(passed).product();
    let unveiled: f64 = laws
        .iter()
        .map(|law| passed(law) - law.veil[channel])
        .product();
    let parts = parts(laws, channel);
    let light = unveiled - direct;
    let gaussians = if parts.is_empty() || light <= 0.0 {
        Vec::new()
    } else {
        let crossed = crossed(laws, channel);
        let mut fitted = match &parts[..] {
            [only] if crossed.is_empty() => only.fit.clone(),
            _ => reduce(&parts, &crossed, light, channel),
        };
        fitted.iter_mut().for_each(|g| g.weight *= light);
        fitted
    };
    Mixture {
        direct,
        gaussians,
        veil: all - unveiled,
    }
}

/// Light scattered once: each lobe, times the direct parts of all the other scatters. The same lobe
/// met twice is one part.
fn parts(laws: &[Scatter], channel: usize) -> Vec<Part> {
    let mut found: Vec<(f64, Profile)> = Vec::new();
    for (i, law) in laws.iter().enumerate() {
        let others: f64 = laws
            .iter()
            .enumerate()
            .filter(|(j, _)| *j != i)
            .map(|(_, o)| o.direct[channel])
            .product();
        for lobe in law.lobes.iter().filter(|lobe| lobe.weight[channel] > 0.0) {
            let weight = lobe.weight[channel] * others;
            match found
                .iter_mut()
                .find(|(_, profile)| *profile == lobe.profile)
            {
                Some((sum, _)) => *sum += weight,
                None => found.push((weight, lobe.profile)),
            }
        }
    }
    found
        .into_iter()
        .map(|(weight, profile)| Part {
            weight,
            law: profile.law(),
            fit: profile.mixture(channel),
        })
        .collect()
}

/// Light scattered more than once, from the lobes' fits.
fn crossed(laws: &[Scatter], channel: usize) -> Vec<Gaussian> {
    let mut direct = 1.0;
    let mut once: Vec<Gaussian> = Vec::new();
    let mut more: Vec<Gaussian> = Vec::new();
    for law in laws {
        let mut lobes = Vec::new();
        for lobe in &law.lobes {
            let fit = lobe.profile.mixture(channel);
            lobes.extend(fit.iter().map(|g| Gaussian {
                weight: g.weight * lobe.weight[channel],
                sigma: g.sigma,
            }));
        }
        let mut next: Vec<Gaussian> = Vec::with_capacity(more.len());
        for a in once.iter().chain(&more) {
            next.extend(lobes.iter().map(|b| Gaussian {
                weight: a.weight * b.weight,
                sigma: a.sigma.hypot(b.sigma),
            }));
        }
        for g in once.iter_mut().chain(more.iter_mut()) {
            g.weight *= law.direct[channel];
        }
        more.extend(next);
        more = binned(more);
        once.extend(lobes.iter().map(|g| Gaussian {
            weight: g.weight * direct,
            sigma: g.sigma,
        }));
        direct *= law.direct[channel];
    }
    more
}

/// Gaussians of nearly the same σ as one: three per cent apart at most, light and second moment kept,
/// signs apart.
fn binned(mut gaussians: Vec<Gaussian>) -> Vec<Gaussian> {
    gaussians.sort_by(|a, b| {
        (a.weight < 0.0)
            .cmp(&(b.weight < 0.0))
            .then(a.sigma.total_cmp(&b.sigma))
    });
    let mut out: Vec<Gaussian> = Vec::new();
    let mut first = 0.0;
    for g in gaussians {
        match out.last_mut() {
            Some(last) if g.sigma < 1.03 * first && (last.weight < 0.0) == (g.weight < 0.0) => {
                let weight = last.weight + g.weight;
                if weight != 0.0 {
                    let moment =
                        last.weight * last.sigma * last.sigma + g.weight * g.sigma * g.sigma;
                    *last = Gaussian {
                        weight,
                        sigma: (moment / weight).sqrt(),
                    };
                }
            }
            _ => {
                first = g.sigma;
                out.push(g);
            }
        }
    }
    out
}

/// Few Gaussians of unit sum for the lobes and the crossed light together.
fn reduce(parts: &[Part], crossed: &[Gaussian], light: f64, channel: usize) -> Vec<Gaussian> {
    let density = |r: f64| {
        let once: f64 = parts
            .iter()
            .map(|p| p.weight * p.law.density(channel, r))
            .sum();
        let more: f64 = crossed.iter().map(|g| g.density(r)).sum();
        (once + more) / light
    };
    let enclosed = |r: f64| {
        let once: f64 = parts
            .iter()
            .map(|p| p.weight * p.law.encircled(channel, r))
            .sum();
        let more: f64 = crossed.iter().map(|g| g.encircled(r)).sum();
        (once + more) / light
    };
    let shape = Shape::new(density, enclosed, FUSED_REACH);
    let mut start = shape.start();
    for disc in parts
        .iter()
        .filter(|p| matches!(p.law.kind(), Kind::Disc(_)))
    {
        // A flat top needs the closely set widths of its own fit.
        if let [first, .., last] = &disc.fit[..] {
            start.retain(|s| !(0.7 * first.sigma..1.3 * last.sigma).contains(s));
        }
        start.extend(disc.fit.iter().map(|g| g.sigma));
    }
    shape.fit(&start, 24, 0)
}
