//! Scattered light in direction cosines, in double precision.
//!
//! The pixels are point masses at their places among the cosines, each with its solid angle. Their
//! transform on a grid twice as fine as the frame is found by spreading them with quintic B-splines and
//! dividing the spline's transform out; it is multiplied by the exact law and read back at the pixels'
//! places in the same way (a transform at uneven places after A. Dutt and V. Rokhlin, *SIAM J. Sci.
//! Comput.* 14, 1993, with splines for their Gaussians; from memory). A streak is seen through two cubic
//! splines of the frame's own step, the aperture that the production kernel has.

use super::{MARGIN, direct, scatter, veil};
use crate::frame::mirrored;
use crate::optics::cosines::Cells;
use crate::optics::field::View;
use crate::optics::scatter::Scatter;
use crate::plan::ScatterPass;
use rayon::prelude::*;
use std::f64::consts::PI;

/// Grid cells per cell of the frame.
const FINER: usize = 2;

/// Scatters the planes' light, in place.
pub(super) fn scatter(
    pass: &ScatterPass,
    view: &View,
    planes: &mut [Vec<f64>; 3],
    width: usize,
    height: usize,
) {
    let laws: Vec<_> = pass.laws.iter().map(Scatter::law).collect();
    let (direct, veil) = (direct(&laws), veil(pass, &laws));
    let coarse = Cells::of(view, [width as f64, height as f64], width);
    let cells = coarse.finer(FINER);
    let [inner_x, inner_y] = cells.count();
    // An even field outside is a dark margin around what differs from it.
    let margin = if pass.outside.is_some() {
        MARGIN * inner_x.max(inner_y)
    } else {
        0
    };
    let size = [inner_x + 2 * margin, inner_y + 2 * margin];
    let per_cell = cells.per_radian();
    let mut grids: [Vec<f64>; 3] = std::array::from_fn(|c| {
        let level = pass.outside.map(|o| o[c]);
        spread(&planes[c], [width, height], &cells, level, margin, size)
    });
    let round = pass.is_round();
    let law = |channel: usize, nu: [f64; 2]| {
        // Spread and read back: two quintic splines, whose transforms are divided out.
        let splines = (sinc(nu[0]) * sinc(nu[1])).powi(12).max(0.05);
        let all: f64 = laws
            .iter()
            .map(|l| l.transfer_at(channel, nu.map(|n| n * per_cell)))
            .product();
        let own = FINER as f64;
        let seen = if round {
            1.0
        } else {
            (sinc(own * nu[0]) * sinc(own * nu[1])).powi(8)
        };
        (all - direct[channel]) * seen / splines
    };
    scatter::oriented(&mut grids, size[0], size[1], law, [0.0; 3]);
    // Mirrored at the rectangle's edge the pixels' places do not quite go on: what a field of 1 shows of that
    // is divided out. In the dark there is nothing at the edge.
    let even = pass.outside.is_none().then(|| {
        let ones = vec![1.0; width * height];
        let grid = spread(&ones, [width, height], &cells, None, margin, size);
        let mut grids = [grid.clone(), grid.clone(), grid];
        scatter::oriented(&mut grids, size[0], size[1], law, [0.0; 3]);
        grids
    });
    for (c, plane) in planes.iter_mut().enumerate() {
        let mean = plane.iter().sum::<f64>() / plane.len() as f64;
        let scattered: f64 = laws.iter().map(|l| l.transfer(c, 0.0)).product::<f64>() - direct[c];
        let (around, itself) = match pass.outside {
            None => (mean, 0.0),
            Some(o) => (0.5 * (mean + o[c]), o[c] * scattered),
        };
        let add = itself + veil[c] * around;
        let grid = &grids[c];
        plane
            .par_chunks_mut(width)
            .enumerate()
            .for_each(|(y, row)| {
                for (x, out) in row.iter_mut().enumerate() {
                    let place = cells.place(x as f64, y as f64);
                    let mut light = read(grid, size, margin, place);
                    if let Some(even) = &even {
                        light *= scattered / read(&even[c], size, margin, place);
                    }
                    *out = direct[c].mul_add(*out, light + add);
                }
            });
    }
}

fn sinc(x: f64) -> f64 {
    if x.abs() < 1e-9 {
        1.0
    } else {
        (PI * x).sin() / (PI * x)
    }
}

/// First of six neighbours and their weights.
fn quintic(at: f64) -> (isize, [f64; 6]) {
    let low = at.floor();
    let weights = std::array::from_fn(|k| {
        let x = (at - low - (k as f64 - 2.0)).abs();
        let p = |a: f64| (a - x).max(0.0).powi(5);
        (p(3.0) - 6.0 * p(2.0) + 15.0 * p(1.0)) / 120.0
    });
    (low as isize - 2, weights)
}

/// The light of a plane, less the field outside, on the grid.
fn spread(
    plane: &[f64],
    [width, height]: [usize; 2],
    cells: &Cells,
    level: Option<f64>,
    margin: usize,
    [across, down]: [usize; 2],
) -> Vec<f64> {
    let mut grid = vec![0.0; across * down];
    let beyond = if level.is_some() {
        [0, 0]
    } else {
        cells.margin().map(|m| m as isize + 4)
    };
    for y in -beyond[1]..height as isize + beyond[1] {
        for x in -beyond[0]..width as isize + beyond[0] {
            let [i, j] = cells.place(x as f64, y as f64).map(|v| v + margin as f64);
            let value = plane[mirrored(y, height) * width + mirrored(x, width)];
            let light = (value - level.unwrap_or(0.0)) * cells.area(x as f64, y as f64);
            let ((i, wx), (j, wy)) = (quintic(i), quintic(j));
            for (dj, wy) in wy.into_iter().enumerate() {
                let place = usize::try_from(j + dj as isize).ok();
                let Some(row) = place.and_then(|j| grid.chunks_mut(across).nth(j)) else {
                    continue;
                };
                for (di, wx) in wx.into_iter().enumerate() {
                    let place = usize::try_from(i + di as isize).ok();
                    if let Some(cell) = place.and_then(|i| row.get_mut(i)) {
                        *cell += wx * wy * light;
                    }
                }
            }
        }
    }
    grid
}

/// The grid's light at a place among the cells.
fn read(grid: &[f64], [across, down]: [usize; 2], margin: usize, place: [f64; 2]) -> f64 {
    let [i, j] = place.map(|v| v + margin as f64);
    let ((i, wx), (j, wy)) = (quintic(i), quintic(j));
    let mut sum = 0.0;
    for (dj, wy) in wy.into_iter().enumerate() {
        let row = &grid[mirrored(j + dj as isize, down) * across..][..across];
        for (di, wx) in wx.into_iter().enumerate() {
            sum += wx * wy * row[mirrored(i + di as isize, across)];
        }
    }
    sum
}
