//! The picture curve, undone.
//!
//! What is known decides what is done:
//!
//! | pins that lie on light | curve |
//! |---|---|
//! | none | none; or a camera's usual one, assumed, where that is asked for |
//! | one, or several at one level | the same, times one factor |
//! | two and more levels | the likeliest that rises, through the pins |
//!
//! The likeliest curve weighs what the meter said (±0.1 stop, and the step of an 8-bit code) against what
//! cameras do: files made for a display are taken to hold a camera's usual curve or, with a probability of
//! 0.2 beforehand, none at all; for linear and logarithmic ones it is plain decoding. Between pins it is
//! smooth, beyond them it goes back to what was expected. It acts on each of the file's channels, odd about
//! 0, straight from the darkest node to 0 and beyond white.

// Small symmetric systems.
mod dense;
// Where the curve may bend.
mod grid;
// Pins that contradict the others.
mod odd;
// The likeliest curve.
mod solve;
// What pins lie on.
mod spots;
// What is said of it.
mod told;
// The usual curve.
mod typical;

pub use told::{CurveTold, Shape};

use super::{Ask, Assume, Decoded, Role};
use crate::frame::matrix::RUN;
use crate::frame::table::Table;
use crate::units::Stops;
use grid::Grid;
use rayon::prelude::*;
use solve::{exposure, likely_plain};
use spots::Spot;
use std::sync::Arc;
use typical::GREY;

/// Pins whose plain levels lie within this, in stops, are at one level and tell no shape.
const ONE_LEVEL: f64 = 0.5;
/// Points of a curve for drawing.
const POINTS: usize = 33;
/// Scene levels are held within ± this, in stops, so that light stays an ordinary number.
const FARTHEST: f64 = 90.0;
/// The brightest light that comes out.
const BRIGHTEST: f32 = 1e30;

/// A monotone curve from a channel's plainly decoded light to the scene's.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// None where it changes nothing.
    table: Option<Arc<Table>>,
}

/// A fitted curve.
pub(super) struct Fitted {
    pub(super) curve: Curve,
    /// What became of each pin.
    pub(super) roles: Vec<Role>,
    pub(super) told: CurveTold,
}

impl Curve {
    /// The curve that a still's pins ask for.
    pub(super) fn fit(still: &Decoded<'_>, ask: &Ask, on_clipped: &[bool]) -> Fitted {
        let typical = ask.assume == Assume::Typical;
        if ask.pins.is_empty() && !typical {
            return Fitted {
                curve: Self { table: None },
                roles: Vec::new(),
                told: CurveTold::default(),
            };
        }
        let grid = Grid::new(still.native.for_display);
        let (mut spots, mut roles) = spots::read(still, ask, on_clipped, &grid);
        let levels = spots.iter().map(|s| s.plain);
        let lowest = levels.clone().fold(f64::INFINITY, f64::min);
        let highest = levels.fold(f64::NEG_INFINITY, f64::max);
        let mut told = CurveTold {
            expected: still.native.for_display,
            ..CurveTold::default()
        };
        let heights = if highest - lowest < ONE_LEVEL || spots.is_empty() {
            let law = |u: &f64| if typical { typical::stops(*u) } else { *u };
            let heights: Vec<f64> = grid.nodes.iter().map(law).collect();
            exposed(&spots, heights, typical, &mut told)
        } else {
            let solution = through(&grid, &mut spots, &mut roles, &mut told);
            Some(solution)
        };
        let Some(heights) = heights else {
            return Fitted {
                curve: Self { table: None },
                roles,
                told,
            };
        };
        tell(&grid, &heights, &mut told);
        Fitted {
            curve: Self::of(&grid, &heights),
            roles,
            told,
        }
    }

    /// The curve with these heights.
    fn of(grid: &Grid, heights: &[f64]) -> Self {
        let end = |u: f64| (GREY * u.exp2()) as f32;
        let low = end(grid.nodes[0]);
        let top = end(grid.nodes[grid.nodes.len() - 1]);
        let light = |plain: f64| {
            let scene = grid.height(heights, (plain / GREY).log2());
            GREY * scene.clamp(-FARTHEST, FARTHEST).exp2()
        };
        Self {
            table: Some(Arc::new(Table::new(low, top, light))),
        }
    }

    /// Whether it changes nothing.
    #[must_use]
    pub const fn is_plain(&self) -> bool {
        self.table.is_none()
    }

    /// A channel's light, from its plainly decoded light; 0 where that is no number.
    #[must_use]
    pub fn light(&self, plain: f32) -> f32 {
        self.table
            .as_ref()
            .map_or(plain, |table| through_table(table, plain))
    }

    /// The same for planes of a file's own channels.
    pub(super) fn apply(&self, planes: &mut [Vec<f32>; 3]) {
        let Some(table) = &self.table else { return };
        for plane in planes {
            plane.par_chunks_mut(RUN).for_each(|run| {
                for v in run {
                    *v = through_table(table, *v);
                }
            });
        }
    }
}

#[inline]
fn through_table(table: &Table, plain: f32) -> f32 {
    // NaN becomes 0.
    let size = plain.abs().max(0.0);
    let end = table.at(size);
    let light = if size > table.top() {
        // Light for light beyond the end.
        end * (size / table.top())
    } else {
        end
    };
    let light = light.min(BRIGHTEST);
    if plain < 0.0 { -light } else { light }
}

/// Heights of an assumed curve with the pins' exposure on it; None where nothing changes.
fn exposed(
    spots: &[Spot],
    mut heights: Vec<f64>,
    typical: bool,
    told: &mut CurveTold,
) -> Option<Vec<f64>> {
    if spots.is_empty() {
        told.shape = if typical {
            Shape::Typical
        } else {
            Shape::Plain
        };
        return typical.then_some(heights);
    }
    let misses: Vec<f64> = spots.iter().map(|s| s.level(&heights) - s.said).collect();
    let offset = exposure(spots, &misses);
    let off: f64 = misses.iter().map(|m| (m + offset).powi(2)).sum();
    told.rms = Some(Stops::clamped((off / misses.len() as f64).sqrt()));
    let stops = Stops::clamped(offset);
    told.shape = if typical {
        Shape::OffsetTypical(stops)
    } else {
        Shape::Offset(stops)
    };
    for h in &mut heights {
        *h += offset;
    }
    Some(heights)
}

/// Heights of the curve through spots of several levels.
fn through(
    grid: &Grid,
    spots: &mut Vec<Spot>,
    roles: &mut [Role],
    told: &mut CurveTold,
) -> Vec<f64> {
    let base = grid.base(likely_plain(grid, spots));
    let (mut solution, odd) = odd::leave_out(grid, &base, spots);
    if !odd.is_empty() {
        // What is expected is judged anew without them.
        let base = grid.base(likely_plain(grid, spots));
        solution = solve::solve(grid, &base, spots, Some(&solution.z));
    }
    for o in &odd {
        roles[o.pin] = Role::Outlier;
        told.outliers.push((o.pin, Stops::clamped(o.by)));
    }
    told.shape = Shape::Through(spots.len());
    told.rms = Some(Stops::clamped(odd::rms(&solution, spots)));
    told.contradictions = odd::contradictions(&solution, spots);
    let levels = spots.iter().map(|s| s.level(&solution.heights));
    let low = levels.clone().fold(f64::INFINITY, f64::min);
    let high = levels.fold(f64::NEG_INFINITY, f64::max);
    told.held = Some([low, high].map(Stops::clamped));
    solution.heights
}

/// The curve's own figures.
fn tell(grid: &Grid, heights: &[f64], told: &mut CurveTold) {
    let low = grid.nodes[0].max(-12.0);
    let high = grid.nodes[grid.nodes.len() - 1];
    told.points = (0..POINTS)
        .map(|i| {
            let plain = low + (high - low) * i as f64 / (POINTS - 1) as f64;
            [plain, grid.height(heights, plain)].map(Stops::clamped)
        })
        .collect();
    let plain = |scene: f64| grid.plain(heights, scene);
    told.key = Some(Stops::clamped(plain(0.0)));
    told.contrast = Some((plain(0.25) - plain(-0.25)) / 0.5);
}
