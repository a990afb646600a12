//! The search over everything: each piece in each free stage, slid and turned in steps, and all pairs.
//!
//! Nothing is left out of the pairs that could be the best of its two seats: what two pieces take from
//! the rest of the picture adds up, and their loss over the region lies between the sum of their
//! smallest and the sum of their mean losses, so that most pairs are told to be worse than one that is
//! known without being worked out.

use super::measure::{Layout, Parts, Search};
use super::seat::{At, Seat};
use rayon::prelude::*;

/// Turns tried, degrees apart.
const TURN: usize = 15;
/// Slides tried at each.
const SLIDES: usize = 25;
/// A piece that takes less than this from the region does nothing there, stops.
const NOTHING: f64 = 0.02;

/// A layout and its score on the coarse sight.
#[derive(Debug, Clone)]
pub(super) struct Found {
    pub(super) score: f64,
    pub(super) layout: Layout,
}

/// One piece in one place.
struct Single {
    at: At,
    /// What does not hang on the other piece: overshoot and line.
    cost: f64,
    even: f64,
    /// Mean (by light) and least loss over the region.
    mean: f64,
    least: f64,
    /// Of each cell: light that passes, times the cell's part; and loss.
    light: Vec<f32>,
    loss: Vec<f32>,
}

/// The best of every seat and of every two seats, where better than `bare`, best first.
pub(super) fn search(search: &Search<'_>, bare: f64) -> Vec<Found> {
    let singles: Vec<Vec<Single>> = (0..search.seats.len())
        .into_par_iter()
        .map(|seat| singles(search, seat))
        .collect();
    let mut found: Vec<Found> = singles
        .iter()
        .enumerate()
        .filter_map(|(seat, tried)| one(search, seat, tried))
        .collect();
    let count = search.seats.len();
    let pairs: Vec<(usize, usize)> = (0..count)
        .flat_map(|a| (a + 1..count).map(move |b| (a, b)))
        .filter(|(a, b)| search.allows(&search.seats[*a], &search.seats[*b]))
        .collect();
    let best: Vec<Found> = pairs
        .into_par_iter()
        .filter_map(|(a, b)| two(search, [a, b], [&singles[a], &singles[b]], bare))
        .collect();
    found.extend(best);
    found.retain(|f| f.score < bare);
    found.sort_by(|a, b| a.score.total_cmp(&b.score));
    found
}

impl Search<'_> {
    fn allows(&self, a: &Seat, b: &Seat) -> bool {
        a.stage != b.stage && (a.stock != b.stock || self.stock[a.stock].count > 1)
    }
}

fn singles(search: &Search<'_>, seat: usize) -> Vec<Single> {
    let own = &search.seats[seat];
    let mut all = Vec::new();
    for turn in (0..360).step_by(TURN) {
        let turn = turn as f64;
        let Some([low, high]) = own.range(&search.view, turn) else {
            continue;
        };
        let slides = if high > low { SLIDES } else { 1 };
        for i in 0..slides {
            let part = (i as f64 + 0.5) / slides as f64;
            let at = At {
                slide: low + part * (high - low),
                turn,
            };
            all.extend(single(search, own, at));
        }
    }
    all.sort_by(|a, b| a.cost.total_cmp(&b.cost));
    all
}

fn single(search: &Search<'_>, seat: &Seat, at: At) -> Option<Single> {
    let sight = &search.coarse;
    let passed = seat.passed(at);
    let cells: Vec<(f64, f64)> = sight
        .region
        .iter()
        .map(|(d, part)| (*part, passed(*d)))
        .collect();
    let loss = |t: f64| -t.max(1e-12).log2();
    let mean: f64 = cells.iter().map(|(part, t)| part * loss(*t)).sum();
    if mean < NOTHING {
        return None;
    }
    let rest: f64 = sight.rest.iter().map(|d| loss(passed(*d))).sum();
    Some(Single {
        at,
        cost: rest / sight.rest.len().max(1) as f64 + seat.line(&search.view, at),
        even: seat.even(at),
        mean,
        least: cells
            .iter()
            .map(|(_, t)| loss(*t))
            .fold(f64::INFINITY, f64::min),
        light: cells.iter().map(|(part, t)| (part * t) as f32).collect(),
        loss: cells.iter().map(|(_, t)| loss(*t) as f32).collect(),
    })
}

/// What a change of the region, a cost and a spread come to.
fn score(search: &Search<'_>, change: f64, cost: f64, uneven: f64, pieces: usize) -> f64 {
    let parts = Parts {
        change,
        overshoot: cost,
        uneven,
        line: 0.0,
        pieces,
    };
    parts.score(search.over + change)
}

fn spread(loss: impl Iterator<Item = f32>, count: usize) -> f64 {
    let (sum, squares) = loss.fold((0.0_f32, 0.0_f32), |(s, q), l| (s + l, q + l * l));
    let (mean, square) = (sum / count as f32, squares / count as f32);
    f64::from((square - mean * mean).max(0.0).sqrt())
}

fn one(search: &Search<'_>, seat: usize, tried: &[Single]) -> Option<Found> {
    let score = |s: &Single| {
        let light: f32 = s.light.iter().sum();
        let uneven = spread(s.loss.iter().copied(), s.loss.len());
        score(search, s.even + f64::from(light).log2(), s.cost, uneven, 1)
    };
    let scored = tried.iter().map(|s| (score(s), s.at));
    let (score, at) = scored.min_by(|a, b| a.0.total_cmp(&b.0))?;
    Some(Found {
        score,
        layout: vec![(seat, at)],
    })
}

fn two(
    search: &Search<'_>,
    seats: [usize; 2],
    [first, second]: [&[Single]; 2],
    bare: f64,
) -> Option<Found> {
    let mut best = (bare, None);
    // Of each, what the part of the light in every cell is: taken out of the one, left in the other.
    let parts: Vec<f32> = search.coarse.region.iter().map(|c| c.1 as f32).collect();
    for a in first {
        let passed: Vec<f32> = a
            .light
            .iter()
            .zip(&parts)
            .map(|(l, p)| l / p.max(f32::MIN_POSITIVE))
            .collect();
        for b in second {
            let cost = a.cost + b.cost;
            // Sorted by cost: what follows costs more.
            if score(search, -search.over, cost, 0.0, 2) >= best.0 {
                break;
            }
            let wanted = search.over + a.even + b.even;
            let short = (wanted - a.mean - b.mean).max(a.least + b.least - wanted);
            if score(search, short.max(0.0) - search.over, cost, 0.0, 2) >= best.0 {
                continue;
            }
            let light: f32 = passed.iter().zip(&b.light).map(|(t, l)| t * l).sum();
            let change = a.even + b.even + f64::from(light).max(1e-12).log2();
            let loss = a.loss.iter().zip(&b.loss).map(|(x, y)| x + y);
            let uneven = spread(loss, a.loss.len());
            let score = score(search, change, cost, uneven, 2);
            if score < best.0 {
                best = (score, Some([(seats[0], a.at), (seats[1], b.at)]));
            }
        }
    }
    let layout = best.1?.to_vec();
    Some(Found {
        score: best.0,
        layout,
    })
}
