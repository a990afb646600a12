//! As much of hue and profile as meets the levels that are told.
//!
//! With one level, τ and A are numbers. With several, A is a field: the mean of one number for each level,
//! weighted by the inverse square of the distance from where it was metered. The logarithm of a mean is
//! convex in both (a sum of exponentials), so Newton's steps close in on it from above without fail.

use super::fill::Fields;
use super::grid::Grid;
use super::levels::{Goal, Over};
use super::{Scene, Work};
use crate::frame::{Disc, Frame};
use rayon::prelude::*;
use std::ops::Range;

/// Largest light that is made: as much as is kept from a file of floats.
const LARGEST: f64 = 1e9;
/// Most of a profile, in stops.
const MOST: f64 = 200.0;
/// Newton's steps for one number.
const STEPS: usize = 60;
/// Rounds over several levels.
const ROUNDS: usize = 60;
/// Stops within which a mean is met.
const MET: f64 = 1e-4;

/// What became of an area.
pub(super) struct Outcome {
    /// Its mean luminance.
    pub(super) mean: f64,
    /// Whether its rim's hue had a part in it.
    pub(super) coloured: bool,
}

/// A level, and the cells whose mean it is.
struct Target {
    cells: Vec<Range<usize>>,
    /// Mean luminance, as a logarithm of two.
    level: f64,
    /// Where it was metered, in pixels, and the square of how near is there.
    place: [f64; 2],
    there: f64,
}

/// What is added: τ, and A by its targets.
struct Amount {
    hue: f64,
    rise: Vec<f64>,
}

/// One area and all that is known of it.
struct Area<'a> {
    scene: &'a Scene<'a>,
    grid: &'a Grid,
    fields: &'a Fields,
    targets: Vec<Target>,
}

/// Meets every area's level, and writes its light.
pub(super) fn fit(
    scene: &Scene<'_>,
    grid: &Grid,
    works: &[Work],
    fields: &Fields,
    light: &mut [[f32; 3]],
) -> Vec<Outcome> {
    let fitted: Vec<(Outcome, Vec<Vec<[f32; 3]>>)> = works
        .par_iter()
        .map(|work| {
            let area = Area {
                scene,
                grid,
                fields,
                targets: targets(scene, grid, work),
            };
            let amount = area.amount(&work.cells);
            let lit: Vec<Vec<[f32; 3]>> = work
                .cells
                .par_iter()
                .map(|run| run.clone().map(|i| area.light(i, &amount)).collect())
                .collect();
            let mean = area.mean(&work.cells, |i| scene.luminance(area.light(i, &amount)));
            let asks = |i: usize| -> f64 {
                let most = fields.hue[i].iter().fold(0.0_f32, |a, b| a.max(*b));
                f64::from(most)
            };
            let coloured = amount.hue * area.mean(&work.cells, asks) > 0.1;
            (Outcome { mean, coloured }, lit)
        })
        .collect();
    let mut outcomes = Vec::with_capacity(works.len());
    for (work, (outcome, lit)) in works.iter().zip(fitted) {
        for (run, lit) in work.cells.iter().zip(lit) {
            light[run.clone()].copy_from_slice(&lit);
        }
        outcomes.push(outcome);
    }
    outcomes
}

impl Area<'_> {
    /// The profile's height at a cell.
    fn rise(&self, i: usize, amount: &Amount) -> f64 {
        if let [one] = amount.rise[..] {
            return one;
        }
        let (at, width) = (self.grid.at[i] as usize, self.scene.width);
        let (x, y) = ((at % width) as f64, (at / width) as f64);
        let (mut sum, mut weights) = (0.0, 0.0);
        for (target, rise) in self.targets.iter().zip(&amount.rise) {
            let (dx, dy) = (x - target.place[0], y - target.place[1]);
            let weight = 1.0 / (dx * dx + dy * dy + target.there);
            sum += weight * rise;
            weights += weight;
        }
        sum / weights
    }

    fn light(&self, i: usize, amount: &Amount) -> [f32; 3] {
        let profile = f64::from(self.fields.profile[i]);
        let rise = self.rise(i, amount) * profile;
        let (plain, hue) = (self.fields.plain[i], self.fields.hue[i]);
        std::array::from_fn(|c| {
            let gain = amount.hue.mul_add(f64::from(hue[c]), rise);
            if gain > 0.0 {
                (f64::from(plain[c]) * gain.exp2()).min(LARGEST) as f32
            } else {
                plain[c]
            }
        })
    }

    /// The mean of something over cells: runs, then the runs' sums in their order.
    fn mean(&self, cells: &[Range<usize>], of: impl Fn(usize) -> f64 + Sync) -> f64 {
        let sums: Vec<f64> = cells
            .par_iter()
            .map(|run| run.clone().map(&of).sum())
            .collect();
        let count: usize = cells.iter().map(Range::len).sum();
        sums.iter().sum::<f64>() / count.max(1) as f64
    }

    /// How far a target's mean is over its level, in stops.
    fn over(&self, target: &Target, amount: &Amount) -> f64 {
        let luminance = |i: usize| self.scene.luminance(self.light(i, amount));
        self.mean(&target.cells, luminance).max(1e-30).log2() - target.level
    }

    fn amount(&self, cells: &[Range<usize>]) -> Amount {
        let none = |hue: f64| Amount {
            hue,
            rise: vec![0.0; self.targets.len()],
        };
        if self.targets.is_empty() {
            return Amount {
                hue: 0.0,
                rise: vec![0.0],
            };
        }
        let asks = |i: usize| f64::from(self.fields.hue[i].iter().sum::<f32>());
        let mut hue = 1.0_f64;
        if self.mean(cells, asks) > 0.0 {
            for target in &self.targets {
                hue = hue.min(from_above(hue, |hue| self.over(target, &none(hue))));
            }
        }
        let mut amount = none(hue);
        if let [target] = &self.targets[..] {
            let with = |rise: f64| Amount {
                hue,
                rise: vec![rise],
            };
            // From a rise that is surely too much: doubled until it is.
            let mut most = 1.0;
            while most < MOST && self.over(target, &with(most)) < 0.0 {
                most = (2.0 * most).min(MOST);
            }
            amount.rise[0] = from_above(most, |rise| self.over(target, &with(rise)));
            return amount;
        }
        for _ in 0..ROUNDS {
            let over: Vec<f64> = self.targets.iter().map(|t| self.over(t, &amount)).collect();
            if over.iter().all(|o| o.abs() < MET) {
                break;
            }
            for (rise, over) in amount.rise.iter_mut().zip(over) {
                *rise = (*rise - over).clamp(0.0, MOST);
            }
        }
        amount
    }
}

/// Where a rising convex function is nothing, from a place where it is not below; 0 where it is above
/// throughout, `from` where it never gets there.
fn from_above(from: f64, over: impl Fn(f64) -> f64) -> f64 {
    let mut at = from;
    for _ in 0..STEPS {
        let now = over(at);
        if now <= MET {
            return at;
        }
        let h = (1e-3 * at).max(1e-6);
        let slope = (now - over((at - h).max(0.0))) / h.min(at).max(1e-12);
        if slope <= 0.0 {
            return at;
        }
        let next = at - now / slope;
        if next <= 0.0 {
            return 0.0;
        }
        at = next;
    }
    at
}

fn targets(scene: &Scene<'_>, grid: &Grid, work: &Work) -> Vec<Target> {
    let key = f64::from(Frame::KEY);
    let highest = (0.5 * LARGEST).log2();
    let target = |goal: &Goal| -> Option<Target> {
        let (cells, mean) = match goal.over {
            Over::Whole => (work.cells.clone(), None),
            Over::Within(sides) => (within(scene, grid, &work.cells, sides), None),
            Over::Disc(disc) => in_disc(scene, grid, &work.cells, disc, key * goal.stops.exp2()),
        };
        let count: usize = cells.iter().map(Range::len).sum();
        if count == 0 {
            return None;
        }
        let level = mean.unwrap_or(key * goal.stops.min(1e3).exp2());
        let (mut x, mut y) = (0.0, 0.0);
        for i in cells.iter().cloned().flatten() {
            let at = grid.at[i] as usize;
            x += (at % scene.width) as f64;
            y += (at / scene.width) as f64;
        }
        let n = count as f64;
        Some(Target {
            cells,
            level: level.log2().min(highest),
            place: [x / n, y / n],
            there: (n / std::f64::consts::PI).max(1.0),
        })
    };
    let targets: Vec<Target> = work.asked.goals.iter().filter_map(target).collect();
    targets
}

/// The cells of an area that lie in a rectangle.
fn within(
    scene: &Scene<'_>,
    grid: &Grid,
    cells: &[Range<usize>],
    [left, top, right, bottom]: [usize; 4],
) -> Vec<Range<usize>> {
    let mut inside = Vec::new();
    for run in cells {
        let first = grid.at[run.start] as usize;
        let (x, y) = (first % scene.width, first / scene.width);
        let from = left.max(x);
        let to = right.min(x + run.len());
        if (top..bottom).contains(&y) && from < to {
            inside.push(run.start + from - x..run.start + to - x);
        }
    }
    inside
}

/// The cells of an area that lie in a disc, and what mean they must have for all of the disc to read a
/// luminance.
fn in_disc(
    scene: &Scene<'_>,
    grid: &Grid,
    cells: &[Range<usize>],
    disc: Disc,
    reads: f64,
) -> (Vec<Range<usize>>, Option<f64>) {
    let height = scene.bits.len() / scene.width;
    let (mut inside, mut beside, mut all) = (Vec::new(), 0.0, 0_usize);
    for at in disc.pixels(scene.width, height) {
        all += 1;
        let run = cells.partition_point(|run| (grid.at[run.end - 1] as usize) < at);
        let here = cells.get(run).and_then(|run| {
            let first = grid.at[run.start] as usize;
            (first <= at).then(|| run.start + at - first)
        });
        match here {
            Some(cell) => inside.push(cell..cell + 1),
            None => beside += scene.luminance(scene.pixel(at)),
        }
    }
    let mean = (reads * all as f64 - beside) / inside.len().max(1) as f64;
    (inside, Some(mean.max(1e-30)))
}
