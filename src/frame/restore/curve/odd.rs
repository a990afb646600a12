//! Pins that contradict the others.
//!
//! With four pins and more, the one without which the rest agree best is taken out, then the next, up to a
//! third of them. The first such set is left out for good of which all this holds; else none is:
//! - the rest lie within ¼ stop (rms) of their curve,
//! - each pin left out misses that curve by more than ¾ stop,
//! - and taking each out made the fit likelier by a factor that chance makes once in 370 times (3σ).
//!
//! The figures are a choice of ours: a meter is read to a tenth, a slip of the typist's is a stop.

use super::grid::Grid;
use super::solve::{Solution, solve};
use super::spots::Spot;

/// Fewest pins of which one can be told to be wild.
const FEWEST: usize = 4;
/// What the rest are held to, in stops.
const AGREE: f64 = 0.25;
/// What a wild pin misses by at least, in stops.
const MISS: f64 = 0.75;
/// What taking it out gains at least: 3σ, squared.
const GAIN: f64 = 9.0;
/// Pins tried in each round: those that lie furthest off.
const TRIED: usize = 10;

/// A pin that was left out.
#[derive(Debug, Clone, Copy)]
pub(super) struct Odd {
    pub(super) pin: usize,
    /// How far what the meter said is over the curve through the others.
    pub(super) by: f64,
}

/// Takes wild pins out of the spots; the curve through the rest.
pub(super) fn leave_out(grid: &Grid, base: &[f64], spots: &mut Vec<Spot>) -> (Solution, Vec<Odd>) {
    let all = solve(grid, base, spots, None);
    let mut rest = spots.clone();
    let mut best = all.clone();
    let mut out: Vec<Spot> = Vec::new();
    let most = if spots.len() < FEWEST {
        0
    } else {
        spots.len() / 3
    };
    // Where all of it is no more than one would gain, all agree.
    while out.len() < most && best.cost > GAIN {
        let mut order: Vec<usize> = (0..rest.len()).collect();
        let off = |i: &usize| best.over(&rest[*i]).abs() / rest[*i].sigma;
        order.sort_by(|a, b| off(b).total_cmp(&off(a)));
        let tried = order.into_iter().take(TRIED).map(|i| {
            let mut without = rest.clone();
            let spot = without.remove(i);
            let solution = solve(grid, base, &without, Some(&best.z));
            (spot, without, solution)
        });
        let Some((spot, without, solution)) = tried.min_by(|a, b| a.2.cost.total_cmp(&b.2.cost))
        else {
            break;
        };
        if best.cost - solution.cost < GAIN {
            break;
        }
        out.push(spot);
        (rest, best) = (without, solution);
        let odd: Vec<Odd> = out
            .iter()
            .map(|s| Odd {
                pin: s.pin,
                by: -best.over(s),
            })
            .collect();
        if rms(&best, &rest) <= AGREE && odd.iter().all(|o| o.by.abs() > MISS) {
            *spots = rest;
            return (best, odd);
        }
    }
    (all, Vec::new())
}

/// How far the spots lie off a curve, root mean square.
pub(super) fn rms(solution: &Solution, spots: &[Spot]) -> f64 {
    let sum: f64 = spots.iter().map(|s| solution.over(s).powi(2)).sum();
    (sum / spots.len().max(1) as f64).sqrt()
}

/// Pairs of pins, from 0, of which the first is clearly brighter in the frame, was told clearly darker, and
/// which no curve that rises can bring together.
pub(super) fn contradictions(solution: &Solution, spots: &[Spot]) -> Vec<[usize; 2]> {
    let mut pairs = Vec::new();
    for a in spots {
        for b in spots {
            let told_darker = a.plain > b.plain && a.said < b.said - 2.0 * AT_ODDS;
            if told_darker && solution.over(a) - solution.over(b) > 2.0 * AT_ODDS {
                pairs.push([a.pin, b.pin]);
            }
        }
    }
    pairs
}

/// What each of two pins at odds misses by at least, in stops: a meter's tenth.
const AT_ODDS: f64 = 0.1;
