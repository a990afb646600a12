//! The likeliest picture curve: what was taken for it beforehand against what the meter said.
//!
//! Gauss–Newton on the departures z, which are normal and of unit size beforehand:
//!
//! ```text
//! least of  Σ z²  +  Σ ρ((level + offset − said) / σ)
//! ```
//!
//! with Huber's ρ, square near 0 and straight beyond 2σ, so that a wild reading pulls with a bounded force,
//! and the offset (the exposure) free. Method from memory of standard texts; the tests compare with curves
//! that are known.

use super::dense::{Factor, dot};
use super::grid::{self, Grid};
use super::spots::Spot;

/// Where Huber's law turns straight, in σ.
const TURN: f64 = 2.0;
/// How likely it is, before pins, that a file made for a display has no picture curve in it.
const PLAIN: f64 = 0.2;
/// What is not known of the exposure beforehand, in stops: nothing.
const EXPOSURE: f64 = 10.0;

/// A solution.
#[derive(Debug, Clone)]
pub(super) struct Solution {
    /// Scene stops at the nodes.
    pub(super) heights: Vec<f64>,
    /// The departures, for a start next time.
    pub(super) z: Vec<f64>,
    /// The sum that was brought down.
    pub(super) cost: f64,
}

impl Solution {
    /// How far the curve is over what the meter said at a spot.
    pub(super) fn over(&self, spot: &Spot) -> f64 {
        spot.level(&self.heights) - spot.said
    }
}

/// The curve through these spots, about the log slope `base`.
pub(super) fn solve(grid: &Grid, base: &[f64], spots: &[Spot], start: Option<&[f64]>) -> Solution {
    let unknowns = Grid::unknowns();
    let mut z = start.map_or_else(|| vec![0.0; unknowns], <[f64]>::to_vec);
    let mut cost = cost(grid, base, spots, &z);
    for _ in 0..40 {
        let rise = grid.rise(base, &z);
        let misses = misses(spots, &rise.heights);
        let offset = exposure(spots, &misses);
        let weights: Vec<f64> = spots
            .iter()
            .zip(&misses)
            .map(|(s, m)| weight((m + offset) / s.sigma) / (s.sigma * s.sigma))
            .collect();
        let mut rows: Vec<Vec<f64>> = spots
            .iter()
            .map(|s| grid.by_unknown(&rise, &s.shares(&rise.heights)))
            .collect();
        centre(&mut rows, &weights);
        let mut matrix = vec![vec![0.0; unknowns]; unknowns];
        let mut slope: Vec<f64> = z.iter().map(|z| -z).collect();
        for ((row, w), miss) in rows.iter().zip(&weights).zip(&misses) {
            for (i, a) in row.iter().enumerate() {
                slope[i] -= w * a * (miss + offset);
                for (m, b) in matrix[i][..=i].iter_mut().zip(row) {
                    *m += w * a * b;
                }
            }
        }
        for (i, row) in matrix.iter_mut().enumerate() {
            row[i] += 1.0;
        }
        let step = Factor::of(matrix).solve(&slope);
        let Some((next, lower)) = descend(grid, base, spots, &z, &step, cost) else {
            break;
        };
        let gain = cost - lower;
        (z, cost) = (next, lower);
        if gain < 1e-7 * (1.0 + cost) {
            break;
        }
    }
    let mut heights = grid.heights(base, &z);
    let offset = exposure(spots, &misses(spots, &heights));
    for h in &mut heights {
        *h += offset;
    }
    Solution { heights, z, cost }
}

/// Along a step, as far as the cost comes down.
fn descend(
    grid: &Grid,
    base: &[f64],
    spots: &[Spot],
    z: &[f64],
    step: &[f64],
    from: f64,
) -> Option<(Vec<f64>, f64)> {
    (0..12).find_map(|halved| {
        let part = 0.5_f64.powi(halved);
        let next: Vec<f64> = z.iter().zip(step).map(|(z, s)| z + part * s).collect();
        let cost = cost(grid, base, spots, &next);
        (cost < from).then_some((next, cost))
    })
}

fn cost(grid: &Grid, base: &[f64], spots: &[Spot], z: &[f64]) -> f64 {
    let misses = misses(spots, &grid.heights(base, z));
    let offset = exposure(spots, &misses);
    let off = spots.iter().zip(&misses);
    dot(z, z) + off.map(|(s, m)| loss((m + offset) / s.sigma)).sum::<f64>()
}

fn misses(spots: &[Spot], heights: &[f64]) -> Vec<f64> {
    spots.iter().map(|s| s.level(heights) - s.said).collect()
}

/// The exposure that brings the spots nearest: what is added to every level.
pub(super) fn exposure(spots: &[Spot], misses: &[f64]) -> f64 {
    let mut sorted = misses.to_vec();
    sorted.sort_by(f64::total_cmp);
    let mut offset = -sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    for _ in 0..50 {
        let (mut sum, mut weights) = (0.0, 0.0);
        for (s, m) in spots.iter().zip(misses) {
            let w = weight((m + offset) / s.sigma) / (s.sigma * s.sigma);
            sum -= w * m;
            weights += w;
        }
        let next = if weights > 0.0 { sum / weights } else { 0.0 };
        let settled = (next - offset).abs() < 1e-12;
        offset = next;
        if settled {
            break;
        }
    }
    offset
}

fn weight(x: f64) -> f64 {
    (TURN / x.abs()).min(1.0)
}

fn loss(x: f64) -> f64 {
    let x = x.abs();
    if x < TURN {
        x * x
    } else {
        TURN * (2.0 * x - TURN)
    }
}

/// Takes the weighted mean out of each column: what the exposure makes up for.
fn centre(rows: &mut [Vec<f64>], weights: &[f64]) {
    let all: f64 = weights.iter().sum();
    let mut mean = vec![0.0; Grid::unknowns()];
    for (row, w) in rows.iter().zip(weights) {
        for (m, a) in mean.iter_mut().zip(row) {
            *m += w * a / all;
        }
    }
    for row in rows {
        for (a, m) in row.iter_mut().zip(&mean) {
            *a -= m;
        }
    }
}

/// How likely it is that there is no picture curve at all, and pins agree with plain decoding: its
/// likelihood against that of any curve about the usual one (Bayes).
pub(super) fn likely_plain(grid: &Grid, spots: &[Spot]) -> f64 {
    if !grid.expects_a_curve() {
        return 1.0;
    }
    let noise = |rows: &mut Vec<Vec<f64>>| {
        for (i, row) in rows.iter_mut().enumerate() {
            for a in row.iter_mut() {
                *a += EXPOSURE * EXPOSURE;
            }
            row[i] += spots[i].sigma * spots[i].sigma;
        }
    };
    let likelihood = |mut rows: Vec<Vec<f64>>, off: &[f64]| {
        noise(&mut rows);
        // The exposure's own size does not matter: levels are told about their mean.
        let mean = off.iter().sum::<f64>() / off.len() as f64;
        let off: Vec<f64> = off.iter().map(|o| o - mean).collect();
        Factor::of(rows).log_density(&off)
    };
    let nothing = vec![0.0; Grid::unknowns()];
    let rise = grid.rise(&grid.base(0.0), &nothing);
    let rows: Vec<Vec<f64>> = spots
        .iter()
        .map(|s| grid.by_unknown(&rise, &s.shares(&rise.heights)))
        .collect();
    let with = likelihood(grid::covariance(&rows), &misses(spots, &rise.heights));
    let straight = grid.heights(&grid.base(1.0), &nothing);
    let without = likelihood(
        vec![vec![0.0; spots.len()]; spots.len()],
        &misses(spots, &straight),
    );
    let odds = (without - with).clamp(-200.0, 200.0).exp() * PLAIN / (1.0 - PLAIN);
    odds / (1.0 + odds)
}
