//! What a picture curve may look like before a pin is read: where it bends, and how far.
//!
//! The curve is told by its slope, d(scene stops)/d(plain stops) = exp(g). g is known on a few knots and
//! straight between them; heights follow by summing over many more nodes. Whatever g is, the curve rises.
//!
//! Knots are even in t = log₂(v/(W′ − v)) for files made for a display, so that they crowd where a
//! shoulder meets white, and in stops for others. Before any pin g is taken as normal about the usual
//! camera's ([`typical`]), or about 0 for plain decoding, with a covariance of four parts, each a way in
//! which published camera and display renderings differ (a choice of ours; sizes chosen on BT.709, ACES,
//! and curves of plain powers, common practice, no source):
//! - the contrast as a whole;
//! - the shoulder, −ln(1 − v/W′);
//! - the toe, all that lies darker than about 5½ stops under mid-grey;
//! - a smooth rest.

use super::dense::{Factor, dot};
use super::typical;

/// Knots of the slope.
const KNOTS: usize = 49;
/// Nodes of the heights between two knots.
const FINE: usize = 8;
/// Light at which the steepest shoulder that is thought of would be level.
const LEVEL: f64 = 1.05;
/// The darkest knot of a display's file: half a code of 8 bits lies there.
const DARK: f64 = -10.0;
/// The darkest and brightest knot of other files.
const WIDE: [f64; 2] = [-16.0, 12.0];
/// g departs from what was taken for it by less than this, so that no pin makes a cliff: a factor of 33.
const MOST: f64 = 3.5;

/// Where the curve is known, and what is taken for it beforehand.
#[derive(Debug, Clone)]
pub(super) struct Grid {
    /// Plain stops of the nodes, upwards.
    pub(super) nodes: Vec<f64>,
    /// The factor of g's covariance at the knots.
    pub(super) root: Factor,
    /// Log slope of the usual camera's curve at the nodes; 0 where none is to be expected.
    usual: Vec<f64>,
}

/// A curve on a grid: its heights at the nodes, the first 0, and how they hang on g.
pub(super) struct Rise {
    pub(super) heights: Vec<f64>,
    /// For every node, the derivative of its height by g at each knot.
    pub(super) by_knot: Vec<Vec<f64>>,
}

impl Grid {
    pub(super) fn new(for_display: bool) -> Self {
        // Plain stops to the knots' coordinate, and back.
        let bent = |u: f64| u - (1.0 - typical::GREY * u.exp2() / LEVEL).log2();
        let straight = |t: f64| t - (1.0 + typical::GREY * t.exp2() / LEVEL).log2();
        let [low, high] = if for_display {
            [bent(DARK), bent(typical::white())]
        } else {
            WIDE
        };
        let count = FINE * (KNOTS - 1);
        let at = |i: usize| low + (high - low) * i as f64 / count as f64;
        let stops = |t: f64| if for_display { straight(t) } else { t };
        let nodes: Vec<f64> = (0..=count).map(|i| stops(at(i))).collect();
        let knot = |k: usize| (at(k * FINE), nodes[k * FINE]);
        let shoulder = |u: f64| -(1.0 - typical::GREY * u.exp2() / LEVEL).ln();
        let toe = |u: f64| 1.0 / (1.0 + ((u + 5.5) / 0.6).exp());
        let covariance = |(t1, u1): (f64, f64), (t2, u2): (f64, f64)| {
            let apart: f64 = (t1 - t2) / 3.0;
            let near = (-0.5 * apart * apart).exp();
            if for_display {
                0.09 + 1.0 * shoulder(u1) * shoulder(u2) + 0.16 * toe(u1) * toe(u2) + 0.0144 * near
            } else {
                0.04 + 0.04 * near
            }
        };
        let row = |i: usize| {
            let mut row: Vec<f64> = (0..KNOTS).map(|j| covariance(knot(i), knot(j))).collect();
            row[i] += 1e-6;
            row
        };
        let root = Factor::of((0..KNOTS).map(row).collect());
        let usual = |u: &f64| {
            if for_display {
                typical::log_slope(*u)
            } else {
                0.0
            }
        };
        Self {
            usual: nodes.iter().map(usual).collect(),
            nodes,
            root,
        }
    }

    /// The usual camera's log slope, the more of plain decoding's the larger `plain` (0 to 1).
    pub(super) fn base(&self, plain: f64) -> Vec<f64> {
        self.usual.iter().map(|g| (1.0 - plain) * g).collect()
    }

    /// Whether a camera's curve is expected here at all.
    pub(super) fn expects_a_curve(&self) -> bool {
        self.usual.iter().any(|g| g.abs() > 0.0)
    }

    pub(super) const fn unknowns() -> usize {
        KNOTS
    }

    /// Heights at the nodes, for departures `z` in units of the covariance from the log slope `base`.
    pub(super) fn heights(&self, base: &[f64], z: &[f64]) -> Vec<f64> {
        let departure = self.root.times(z);
        let slope = |i: usize| (base[i] + held(between(&departure, i))).exp();
        let mut height = 0.0;
        let mut before = slope(0);
        let mut heights = vec![0.0];
        for (i, pair) in self.nodes.windows(2).enumerate() {
            let here = slope(i + 1);
            height += 0.5 * (before + here) * (pair[1] - pair[0]);
            before = here;
            heights.push(height);
        }
        heights
    }

    /// The same, with its derivatives.
    pub(super) fn rise(&self, base: &[f64], z: &[f64]) -> Rise {
        let departure = self.root.times(z);
        // Of slope times half a step, on either side of a node.
        let mut along = vec![0.0; KNOTS];
        let mut by_knot = vec![along.clone()];
        let last = self.nodes.len() - 1;
        for i in 0..last {
            let half = 0.5 * (self.nodes[i + 1] - self.nodes[i]);
            for node in [i, i + 1] {
                let d = between(&departure, node);
                let flat = 1.0 - (d / MOST).tanh().powi(2);
                let steep = half * flat * (base[node] + held(d)).exp();
                let (k, part) = place(node);
                along[k] += steep * (1.0 - part);
                along[(k + 1).min(KNOTS - 1)] += steep * part;
            }
            by_knot.push(along.clone());
        }
        Rise {
            heights: self.heights(base, z),
            by_knot,
        }
    }

    /// The height at a plain level, from the nodes' heights; beyond them stop for stop.
    pub(super) fn height(&self, heights: &[f64], plain: f64) -> f64 {
        let last = self.nodes.len() - 1;
        let after = self.nodes.partition_point(|u| *u <= plain);
        match after {
            0 => heights[0] + plain - self.nodes[0],
            i if i > last => heights[last] + plain - self.nodes[last],
            i => {
                let [a, b] = [self.nodes[i - 1], self.nodes[i]];
                let part = (plain - a) / (b - a);
                heights[i - 1] + part * (heights[i] - heights[i - 1])
            }
        }
    }

    /// The plain level that comes out at a height; beyond the nodes stop for stop.
    pub(super) fn plain(&self, heights: &[f64], height: f64) -> f64 {
        let last = self.nodes.len() - 1;
        let after = heights.partition_point(|h| *h <= height);
        match after {
            0 => self.nodes[0] + height - heights[0],
            i if i > last => self.nodes[last] + height - heights[last],
            i => {
                let [a, b] = [heights[i - 1], heights[i]];
                let part = (height - a) / (b - a);
                self.nodes[i - 1] + part * (self.nodes[i] - self.nodes[i - 1])
            }
        }
    }

    /// How much a spot's level changes with each unknown, from how much it has of each node.
    pub(super) fn by_unknown(&self, rise: &Rise, shares: &[(usize, f64)]) -> Vec<f64> {
        let mut by_knot = vec![0.0; KNOTS];
        for (node, share) in shares {
            for (sum, d) in by_knot.iter_mut().zip(&rise.by_knot[*node]) {
                *sum += share * d;
            }
        }
        self.root.transposed_times(&by_knot)
    }
}

/// How alike two curves are expected to be at two places: for a spot's share of each.
pub(super) fn covariance(rows: &[Vec<f64>]) -> Vec<Vec<f64>> {
    rows.iter()
        .map(|a| rows.iter().map(|b| dot(a, b)).collect())
        .collect()
}

fn held(departure: f64) -> f64 {
    MOST * (departure / MOST).tanh()
}

/// The knot before a node, and how far it is to the next.
const fn place(node: usize) -> (usize, f64) {
    (node / FINE, (node % FINE) as f64 / FINE as f64)
}

fn between(knots: &[f64], node: usize) -> f64 {
    let (k, part) = place(node);
    let next = knots[(k + 1).min(KNOTS - 1)];
    knots[k] + part * (next - knots[k])
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn derivatives_are_the_heights_own() {
        for for_display in [true, false] {
            let grid = Grid::new(for_display);
            let base = grid.base(0.0);
            let mut z: Vec<f64> = (0..KNOTS).map(|k| (k as f64 * 0.7).sin()).collect();
            let rise = grid.rise(&base, &z);
            let share = [(150, 1.0)];
            let wanted = grid.by_unknown(&rise, &share);
            for k in [0, 3, 7] {
                let at = |step: f64, z: &mut Vec<f64>| {
                    z[k] += step;
                    let height = grid.heights(&base, z)[150];
                    z[k] -= step;
                    height
                };
                let found = (at(1e-5, &mut z) - at(-1e-5, &mut z)) / 2e-5;
                assert!(
                    (found - wanted[k]).abs() < 1e-5 * (1.0 + found.abs()),
                    "{k}: {found}, not {}",
                    wanted[k]
                );
            }
        }
    }

    #[test]
    fn without_departures_it_is_the_usual_curve() {
        let grid = Grid::new(true);
        let heights = grid.heights(&grid.base(0.0), &vec![0.0; KNOTS]);
        let over = |u: f64| grid.height(&heights, u) - grid.height(&heights, 0.0);
        for u in [-9.0, -5.0, -1.0, 1.0, 2.0, typical::white()] {
            let wanted = typical::stops(u);
            assert!(
                (over(u) - wanted).abs() < 2e-3,
                "{u}: {}, not {wanted}",
                over(u)
            );
        }
        let level = grid.height(&heights, -3.3);
        assert!((grid.plain(&heights, level) + 3.3).abs() < 1e-9, "and back");
    }
}
