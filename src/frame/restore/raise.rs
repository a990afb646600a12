//! Clipped light, brought back to its level.
//!
//! A connected area of clipped pixels that was metered is given that level as the mean of its light; what
//! lies outside is not touched. In the file's own channels, behind the picture curve, with c the ceiling:
//!
//!   light = plain · 2^(τ·e + A·p),   plain = c where a channel is lost, the picture's own where not
//!
//! - p is the area's profile: 0 beyond its rim, smooth, rising to a plateau ([`fill`]). It solves
//!   p − ∇·(l²∇p) = 1 on the clipped pixels. The rise l is such that light goes on as steeply as it comes
//!   up outside ([`rim`]): the excess asked for over the slope, at least 1.5 pixels (a hard edge), at most
//!   the area's pixels over its rim's length.
//! - e is what a channel has to gain for its light to have the hue of the rim: where some channels are lost
//!   and others are not, those that are left tell how bright it is.
//! - τ ≤ 1 goes up first, then A, until the mean is met ([`fit`]): the light that halates is exact, its
//!   profile only likely. Both are smooth and none is negative, so light falls nowhere below the clip.
//!
//! The whole is our own; the screened Poisson equation is common practice for filling holes in pictures.

// Fields over clipped pixels: profile and hue.
mod fill;
// As much of them as meets the level.
mod fit;
// Pixels that are worked on.
mod grid;
// Who tells what.
mod levels;
// Connected areas.
mod parts;
// What is seen around them.
mod rim;
// Smooth fields.
mod solve;
// What is told.
mod told;

pub use levels::LevelFrom;
pub(super) use levels::Levels;
pub use told::{AreaTold, ClippedTold, LeftTold};

use super::{Curve, Decoded, Hue};
use crate::colour::primaries::luminance;
use crate::frame::Frame;
use crate::frame::matrix::RUN;
use crate::units::Stops;
use grid::Grid;
use levels::{Asked, Over};
use parts::{Parts, Run};
use rayon::prelude::*;
use solve::Sizes;
use std::ops::Range;

/// Pixels that have new light.
#[derive(Default)]
pub(super) struct Raised {
    /// Where, as places in a plane.
    pub(super) at: Vec<u32>,
    /// In the file's own channels.
    pub(super) light: Vec<[f32; 3]>,
}

/// A picture with clipped light in it.
struct Scene<'a> {
    width: usize,
    height: usize,
    /// Behind the picture curve, in the file's own channels.
    planes: &'a [Vec<f32>; 3],
    /// Which channels are lost.
    bits: &'a [u8],
    /// The light at which each channel ends.
    ceiling: [f32; 3],
    /// What each channel counts for in luminance.
    weights: [f64; 3],
}

impl Scene<'_> {
    /// A pixel's channels in parts of their ceilings.
    fn against_ceiling(&self, i: usize) -> [f32; 3] {
        std::array::from_fn(|c| self.planes[c][i].max(0.0) / self.ceiling[c])
    }

    fn luminance(&self, light: [f32; 3]) -> f64 {
        (0..3).map(|c| self.weights[c] * f64::from(light[c])).sum()
    }

    fn pixel(&self, i: usize) -> [f32; 3] {
        [0, 1, 2].map(|c| self.planes[c][i])
    }

    /// The level of a mean luminance.
    fn stops(luminance: f64) -> Stops {
        Stops::clamped((luminance / f64::from(Frame::KEY)).max(0.0).log2())
    }
}

/// An area to be raised.
struct Work {
    part: usize,
    asked: Asked,
    /// Its cells, run by run.
    cells: Vec<Range<usize>>,
    /// Its mean luminance before.
    before: f64,
}

/// What is clipped, nothing changed.
pub(super) fn look(still: &Decoded<'_>, levels: &Levels) -> ClippedTold {
    let mut told = ClippedTold {
        asked: !levels.is_empty(),
        ..ClippedTold::default()
    };
    if let Some(clipped) = &still.native.clipped {
        let all = clipped.channels.len() as f64;
        // Counted in bytes where no run fills one, so that wide registers count.
        let lost = |run: &[u8], bits: u8| -> usize {
            let few = |run: &[u8]| run.iter().map(|b| u8::from(b & bits != 0)).sum::<u8>();
            run.chunks(255).map(|run| usize::from(few(run))).sum()
        };
        let runs = clipped.channels.par_chunks(RUN);
        let counts = runs.map(|run| [7, 1, 2, 4].map(|bits| lost(run, bits)));
        let counts = counts.reduce(|| [0; 4], |a, b| [0, 1, 2, 3].map(|n| a[n] + b[n]));
        let [any, channels @ ..] = counts.map(|count| count as f64 / all);
        told.share = any;
        told.channels = channels;
        told.without = told.share;
    }
    told
}

/// Gives clipped light its level, from planes of the file's own channels behind the picture curve.
pub(super) fn raise(
    planes: &[Vec<f32>; 3],
    still: &Decoded<'_>,
    curve: &Curve,
    levels: &Levels,
) -> (ClippedTold, Raised) {
    let mut told = look(still, levels);
    let Some(clipped) = still.native.clipped.as_deref().filter(|_| told.asked) else {
        return (told, Raised::default());
    };
    let (width, height) = (still.frame.width(), still.frame.height());
    let columns = still.native.to_working.rows_f32();
    let scene = Scene {
        width,
        height,
        planes,
        bits: &clipped.channels,
        ceiling: clipped.ceiling.map(|c| curve.light(c).max(1e-6)),
        weights: std::array::from_fn(|c| luminance(columns.map(|row| row[c])).into()),
    };
    let parts = Parts::of(scene.bits, width);
    let (mut asked, empty) = levels.asked(&parts, width, height);
    told.empty = empty;
    let before = means(&scene, &parts);
    weigh(&mut told, &mut asked, &before, (&parts, width, height));
    let runs: Vec<Run> = parts
        .runs
        .iter()
        .filter(|run| !asked[run.part as usize].goals.is_empty())
        .copied()
        .collect();
    if runs.is_empty() {
        return (told, Raised::default());
    }
    let at: Vec<u32> = runs
        .par_iter()
        .flat_map_iter(|run| run.indices(width).map(|i| i as u32))
        .collect();
    let works = works(&runs, asked, &before);
    let sizes = Sizes::of(Grid::of(at, width, height));
    let fields = fill::fill(&scene, &sizes, &works);
    let mut light = fields.plain.clone();
    let outcomes = fit::fit(&scene, sizes.finest(), &works, &fields, &mut light);
    for (work, outcome) in works.iter().zip(&outcomes) {
        for goal in &work.asked.goals {
            if let (LevelFrom::Pin(pin), Over::Whole) = (goal.from, goal.over) {
                told.lamps.push((pin, Scene::stops(outcome.mean)));
            }
        }
    }
    let raised = works.iter().zip(outcomes).map(|(work, outcome)| {
        let part = &parts.parts[work.part];
        AreaTold {
            sides: levels::sides(part, width, height),
            pixels: part.pixels,
            before: Scene::stops(work.before),
            after: Scene::stops(outcome.mean),
            from: work.asked.goals[0].from,
            hue: if outcome.coloured {
                Hue::Rim
            } else {
                Hue::Neutral
            },
        }
    });
    told.areas = raised.collect();
    told.areas
        .sort_by_key(|area| std::cmp::Reverse(area.pixels));
    told.more = told.areas.len().saturating_sub(told::MOST);
    told.areas.truncate(told::MOST);
    let at = sizes.finest().at.clone();
    (told, Raised { at, light })
}

/// The mean luminance of every area.
fn means(scene: &Scene<'_>, parts: &Parts) -> Vec<f64> {
    let by_run: Vec<f64> = parts
        .runs
        .par_iter()
        .map(|run| {
            let each = run.indices(scene.width);
            each.map(|i| scene.luminance(scene.pixel(i))).sum()
        })
        .collect();
    let mut sums = vec![0.0; parts.parts.len()];
    for (run, sum) in parts.runs.iter().zip(by_run) {
        sums[run.part as usize] += sum;
    }
    sums.iter()
        .zip(&parts.parts)
        .map(|(sum, part)| sum / part.pixels as f64)
        .collect()
}

/// Drops what is asked of areas that already show it, and counts what has no level.
fn weigh(
    told: &mut ClippedTold,
    asked: &mut [Asked],
    before: &[f64],
    (parts, width, height): (&Parts, usize, usize),
) {
    let mut without = 0;
    let mut left: Vec<LeftTold> = Vec::new();
    for ((part, asked), before) in parts.parts.iter().zip(asked).zip(before) {
        let shows = Scene::stops(*before);
        let Some(first) = asked.goals.first().copied() else {
            without += part.pixels;
            continue;
        };
        asked.goals.retain(|goal| goal.stops > shows.get());
        if asked.goals.is_empty() {
            left.push(LeftTold {
                sides: levels::sides(part, width, height),
                pixels: part.pixels,
                from: first.from,
                told: Stops::clamped(first.stops),
                shows,
            });
        }
    }
    told.without = without as f64 / (width * height) as f64;
    left.sort_by_key(|left| std::cmp::Reverse(left.pixels));
    told.more_left = left.len().saturating_sub(told::MOST);
    left.truncate(told::MOST);
    told.left = left;
}

/// The areas to be raised, with their cells.
fn works(runs: &[Run], asked: Vec<Asked>, before: &[f64]) -> Vec<Work> {
    let mut works: Vec<Work> = Vec::new();
    let mut place = vec![usize::MAX; asked.len()];
    for (part, asked) in asked.into_iter().enumerate() {
        if !asked.goals.is_empty() {
            place[part] = works.len();
            works.push(Work {
                part,
                asked,
                cells: Vec::new(),
                before: before[part],
            });
        }
    }
    let mut start = 0;
    for run in runs {
        let end = start + run.pixels();
        works[place[run.part as usize]].cells.push(start..end);
        start = end;
    }
    works
}
