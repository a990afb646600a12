//! From steps to any slide and turn, and back to what a hand can set.
//!
//! Nelder and Mead's simplex (1965), with their own coefficients; slides are held within what covers.

use super::measure::{Care, Layout, Search};
use super::seat::At;

/// Steps that a first simplex is as wide as: of a slide in parts of its range, of a turn in degrees.
const SLIDE_STEP: f64 = 0.08;
const TURN_STEP: f64 = 9.0;
/// Trials at most, and the difference over the simplex at which it has settled.
const TRIALS: usize = 160;
const SETTLED: f64 = 2e-4;
/// What a hand sets a tray and a turning stage to: mm and degrees.
const SLIDE_MARK: f64 = 0.5;
const TURN_MARK: f64 = 1.0;
/// An odd turn that gains less than this over a level or an upright edge, or over the other piece's turn, is
/// not worth setting.
const WORTH_TURNING: f64 = 0.03;
/// Two edges that are this near to one turn, degrees, are tried at the same.
const ALIGNED: f64 = 15.0;

/// What is being made better: a layout's score, the residual shifted by `bias`.
#[derive(Debug, Clone, Copy)]
pub(super) struct Task<'a> {
    pub(super) search: &'a Search<'a>,
    pub(super) care: Care,
    pub(super) bias: f64,
}

/// One number of a layout.
#[derive(Debug, Clone, Copy)]
enum Free {
    Slide(usize),
    Turn(usize),
}

impl Task<'_> {
    pub(super) fn score(&self, layout: &[(usize, At)]) -> f64 {
        let parts = self.search.measure(layout, &self.search.fine, self.care);
        parts.score(self.search.over + parts.change + self.bias)
    }

    /// The layout held within what covers; None at turns that do not.
    fn held(&self, layout: &[(usize, At)]) -> Option<Layout> {
        let held = layout.iter().map(|(seat, at)| {
            let range = self.search.seats[*seat].range(&self.search.view, at.turn)?;
            let slide = at.slide.clamp(range[0], range[1]);
            Some((*seat, At { slide, ..*at }))
        });
        held.collect()
    }

    /// The best slides and turns near a layout's.
    pub(super) fn best(&self, from: &Layout) -> (f64, Layout) {
        let turns = (0..from.len()).map(Free::Turn);
        let free: Vec<Free> = (0..from.len()).map(Free::Slide).chain(turns).collect();
        self.simplex(from, &free)
    }

    /// The same at marks that a hand sets, level or upright where a turn gains little.
    pub(super) fn settable(&self, from: &Layout) -> (f64, Layout) {
        let slides: Vec<Free> = (0..from.len()).map(Free::Slide).collect();
        let mut layout: Layout = from.clone();
        for (_, at) in &mut layout {
            at.turn = (at.turn / TURN_MARK).round() * TURN_MARK;
        }
        let mut best = self.simplex(&layout, &slides);
        for piece in 0..from.len() {
            let mut straight = best.1.clone();
            straight[piece].1.turn = (straight[piece].1.turn / 90.0).round() * 90.0;
            let tried = self.simplex(&straight, &slides);
            if tried.0 < best.0 + WORTH_TURNING {
                best = tried;
            }
        }
        if let [a, b] = best.1.as_slice()
            && (1e-9..ALIGNED).contains(&apart(a.1.turn, b.1.turn).abs())
        {
            let turn = (a.1.turn + apart(a.1.turn, b.1.turn) / 2.0).round();
            let mut alike = best.1.clone();
            for (_, at) in &mut alike {
                at.turn = turn;
            }
            let tried = self.simplex(&alike, &slides);
            if tried.0 < best.0 + WORTH_TURNING {
                best = tried;
            }
        }
        let mut layout = best.1;
        for (seat, at) in &mut layout {
            // Adding nothing makes −0 a plain nought.
            at.turn = at.turn.rem_euclid(360.0) + 0.0;
            // A stripe upside down is a stripe.
            if self.search.seats[*seat].symmetric() && at.turn >= 180.0 {
                (at.turn, at.slide) = (at.turn - 180.0, -at.slide);
            }
            let range = self.search.seats[*seat].range(&self.search.view, at.turn);
            let marks = range.map(|r| [(r[0] / SLIDE_MARK).ceil(), (r[1] / SLIDE_MARK).floor()]);
            if let Some([low, high]) = marks.filter(|m| m[0] <= m[1]) {
                // No −0.
                at.slide = (at.slide / SLIDE_MARK).round().clamp(low, high) * SLIDE_MARK + 0.0;
            }
        }
        (self.score(&layout), layout)
    }

    fn simplex(&self, from: &Layout, free: &[Free]) -> (f64, Layout) {
        let steps: Vec<f64> = free
            .iter()
            .map(|f| match f {
                Free::Turn(_) => TURN_STEP,
                Free::Slide(i) => {
                    let (seat, at) = from[*i];
                    let range = self.search.seats[seat].range(&self.search.view, at.turn);
                    range.map_or(0.0, |r| SLIDE_STEP * (r[1] - r[0]))
                }
            })
            .collect();
        let layout = |point: &[f64]| {
            let mut layout = from.clone();
            for ((f, step), x) in free.iter().zip(&steps).zip(point) {
                match f {
                    Free::Slide(i) => layout[*i].1.slide += step * x,
                    Free::Turn(i) => layout[*i].1.turn += step * x,
                }
            }
            self.held(&layout)
        };
        let score =
            |point: &[f64]| layout(point).map_or(f64::INFINITY, |layout| self.score(&layout));
        let point = nelder_mead(free.len(), score);
        match layout(&point) {
            Some(best) => (self.score(&best), best),
            None => (f64::INFINITY, from.clone()),
        }
    }
}

/// From one turn to another the short way, degrees.
fn apart(from: f64, to: f64) -> f64 {
    (to - from + 180.0).rem_euclid(360.0) - 180.0
}

/// The lowest point found of `f`, started about zero at unit distance.
fn nelder_mead(dimensions: usize, f: impl Fn(&[f64]) -> f64) -> Vec<f64> {
    let mut corners: Vec<(f64, Vec<f64>)> = (0..=dimensions)
        .map(|i| {
            let mut point = vec![0.0; dimensions];
            if let Some(x) = i.checked_sub(1).and_then(|i| point.get_mut(i)) {
                *x = 1.0;
            }
            (f(&point), point)
        })
        .collect();
    let mut trials = corners.len();
    loop {
        corners.sort_by(|a, b| a.0.total_cmp(&b.0));
        let (low, high) = (corners[0].0, corners[dimensions].0);
        if trials >= TRIALS || high - low < SETTLED {
            return corners.swap_remove(0).1;
        }
        let centre: Vec<f64> = (0..dimensions)
            .map(|k| corners[..dimensions].iter().map(|c| c.1[k]).sum::<f64>() / dimensions as f64)
            .collect();
        let worst = corners[dimensions].1.clone();
        let mut try_at = |by: f64| {
            let point: Vec<f64> = centre
                .iter()
                .zip(&worst)
                .map(|(c, w)| c + by * (c - w))
                .collect();
            trials += 1;
            (f(&point), point)
        };
        let reflected = try_at(1.0);
        let next = if reflected.0 < low {
            let further = try_at(2.0);
            if further.0 < reflected.0 {
                further
            } else {
                reflected
            }
        } else if reflected.0 < corners[dimensions - 1].0 {
            reflected
        } else {
            let inner = try_at(if reflected.0 < high { 0.5 } else { -0.5 });
            if inner.0 < high.min(reflected.0) {
                inner
            } else {
                let best = corners[0].1.clone();
                for corner in &mut corners[1..] {
                    corner.1 = corner
                        .1
                        .iter()
                        .zip(&best)
                        .map(|(x, b)| f64::midpoint(*x, *b))
                        .collect();
                    corner.0 = f(&corner.1);
                    trials += 1;
                }
                continue;
            }
        };
        corners[dimensions] = next;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A slanted quadratic bowl has its foot where its gradient is nought: 2(x−1)+y = 0, x+6(y+½) = 0.
    #[test]
    fn the_simplex_finds_the_foot_of_a_bowl() {
        let bowl = |p: &[f64]| (p[0] - 1.0).powi(2) + p[0] * p[1] + 3.0 * (p[1] + 0.5).powi(2);
        let found = nelder_mead(2, bowl);
        let foot = [15.0 / 11.0, -8.0 / 11.0];
        assert!(
            found.iter().zip(foot).all(|(x, y)| (x - y).abs() < 0.03),
            "{found:?}"
        );
    }
}
