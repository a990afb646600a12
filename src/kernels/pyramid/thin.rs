//! Frames too thin for a pyramid, exactly.
//!
//! A mirrored border is what the type-II cosine transform assumes, so there a Gaussian is a product
//! over frequencies: coefficient k of n is multiplied by `exp(−½(πσk/n)²)`. In f64, so that one
//! brilliant pixel does not spread its rounding over the frame.

use super::design::NEGLIGIBLE;
use super::laid::DenseTables;
use super::plan::COARSEST;
use super::rows::padded;
use crate::optics::mixture::Mixture;
use crate::watch::{Cancelled, Watch};
use rustdct::{DctPlanner, TransformType2And3};
use std::f64::consts::PI;
use std::sync::Arc;

/// Whether a frame of this size takes this way: shorter than the coarsest level either way, or so
/// long and narrow that its coarsest level would still be long.
pub(in crate::kernels) fn is_thin(size: [usize; 2]) -> bool {
    size != enough(size)
}

/// The smallest size, at least as large either way, that is not thin.
pub(in crate::kernels) fn enough(size: [usize; 2]) -> [usize; 2] {
    let long = size[0].max(size[1]);
    size.map(|side| side.max(COARSEST).max(long.div_ceil(NARROWEST_FRAME)))
}

/// How many times longer than wide a frame with a pyramid may be.
const NARROWEST_FRAME: usize = 16;

/// One channel in place.
pub(in crate::kernels) fn scatter(
    plane: &mut [f32],
    [width, height]: [usize; 2],
    mixture: &Mixture,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let mut planner = DctPlanner::<f64>::new();
    let [across, down] = [width, height].map(|n| planner.plan_dct2(n));
    let mut light: Vec<f64> = plane.iter().map(|&x| f64::from(x)).collect();
    let mean = light.iter().sum::<f64>() / light.len() as f64;
    let mut column = vec![0.0; height];
    transform(&mut light, width, &across, true, watch)?;
    for x in 0..width {
        watch.check()?;
        gather(&light, width, x, &mut column);
        down.process_dct2(&mut column);
        for (y, value) in column.iter_mut().enumerate() {
            let frequency = (x as f64 / width as f64).hypot(y as f64 / height as f64);
            *value *= response(mixture, frequency);
        }
        down.process_dct3(&mut column);
        for (row, value) in light.chunks_exact_mut(width).zip(&column) {
            row[x] = *value;
        }
    }
    transform(&mut light, width, &across, false, watch)?;
    // Forward and back multiplies by half the length, either way.
    let scale = 4.0 / (width as f64 * height as f64);
    let add = mixture.veil * mean;
    for (out, value) in plane.iter_mut().zip(&light) {
        *out = value.mul_add(scale, add) as f32;
    }
    Ok(())
}

/// The longest side for which [`matrices`] are made: 16 MiB each.
const LONGEST: usize = 2048;

/// The same as matrices, one for each Gaussian, for a machine that has no f64: what goes straight on, and
/// they. None where a side is too long.
pub(super) fn matrices(mixture: &Mixture, size: [usize; 2]) -> Option<(f32, Vec<DenseTables>)> {
    if size.iter().any(|&side| side > LONGEST) {
        return None;
    }
    let mut direct = mixture.direct;
    let mut tables = Vec::new();
    for g in &mixture.gaussians {
        if g.sigma < NEGLIGIBLE {
            direct += g.weight;
            continue;
        }
        let [across, down] = size.map(|side| matrix(side, g.sigma));
        let wide = padded(size[0]);
        let mut sent = vec![0.0; size[0] * wide];
        for (row, sent) in across
            .chunks_exact(size[0])
            .zip(sent.chunks_exact_mut(wide))
        {
            row.iter().zip(sent).for_each(|(v, sent)| *sent = *v as f32);
        }
        tables.push(DenseTables {
            across: sent,
            down: down.iter().map(|v| (g.weight * v) as f32).collect(),
        });
    }
    Some((direct as f32, tables))
}

/// There and back by cosines, each multiplied by the Gaussian's share of it: symmetric, row by row.
fn matrix(n: usize, sigma: f64) -> Vec<f64> {
    // Products of two cosines are sums of one: of the distance, and of the distance to the mirror image.
    let kernel = |m: usize| {
        let terms = (1..n).map(|k| {
            let turn = (k * m % (2 * n)) as f64 / n as f64;
            (-0.5 * (PI * sigma * k as f64 / n as f64).powi(2)).exp() * (PI * turn).cos()
        });
        (0.5 + terms.sum::<f64>()) / n as f64
    };
    let kernel: Vec<f64> = (0..2 * n).map(kernel).collect();
    let pairs = (0..n).flat_map(|i| (0..n).map(move |j| [i.abs_diff(j), i + j + 1]));
    pairs
        .map(|[near, mirrored]| kernel[near] + kernel[mirrored])
        .collect()
}

/// The mixture's share of a frequency in half-cycles per pixel, veil apart.
fn response(mixture: &Mixture, frequency: f64) -> f64 {
    let scattered = mixture.gaussians.iter().map(|g| {
        let sigma = if g.sigma < NEGLIGIBLE { 0.0 } else { g.sigma };
        g.weight * (-0.5 * (PI * sigma * frequency).powi(2)).exp()
    });
    mixture.direct + scattered.sum::<f64>()
}

fn transform(
    light: &mut [f64],
    width: usize,
    dct: &Arc<dyn TransformType2And3<f64>>,
    forward: bool,
    watch: &Watch,
) -> Result<(), Cancelled> {
    for row in light.chunks_exact_mut(width) {
        watch.check()?;
        if forward {
            dct.process_dct2(row);
        } else {
            dct.process_dct3(row);
        }
    }
    Ok(())
}

fn gather(light: &[f64], width: usize, x: usize, column: &mut [f64]) {
    for (row, value) in light.chunks_exact(width).zip(column) {
        *value = row[x];
    }
}
