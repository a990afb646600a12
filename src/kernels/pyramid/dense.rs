//! The widest Gaussians, at the coarsest level, as dense matrices.
//!
//! A level a few dozen samples across is too small for a filter that reaches past it several times
//! over. There each axis is multiplied by a matrix in which all mirror images are added up, each
//! where it truly lies: between samples the kernel is as good as on them.

use super::axis::{Axis, Outside};
use super::design::{kernel_at, wanted_response};
use super::laid::DenseTables;
use super::rows::{Axpy, padded};
use std::f64::consts::PI;

/// A separable Gaussian as a matrix for each axis.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::kernels) struct Dense {
    size: [usize; 2],
    /// `across[j]` is what sample j sends to each of a row.
    across: Vec<f32>,
    /// `down[i]` is what row i receives from each row; the component's weight is in it.
    down: Vec<f32>,
}

impl Dense {
    /// A Gaussian of `sigma` samples of `level`.
    pub(super) fn new(axes: &[Axis; 2], sigma: f64, level: usize, weight: f64) -> Self {
        let size = axes.map(|axis| axis.stored);
        let mut across = vec![0.0; size[0] * padded(size[0])];
        for (i, row) in matrix(&axes[0], sigma, level)
            .chunks_exact(size[0])
            .enumerate()
        {
            for (j, value) in row.iter().enumerate() {
                across[j * padded(size[0]) + i] = *value as f32;
            }
        }
        let down = matrix(&axes[1], sigma, level)
            .iter()
            .map(|v| (weight * v) as f32)
            .collect();
        Self { size, across, down }
    }

    /// As a shader reads it.
    pub(super) fn tables(&self) -> DenseTables {
        DenseTables {
            across: self.across.clone(),
            down: self.down.clone(),
        }
    }

    /// Adds the blurred `plane` to `out`; `buffer` is room.
    pub(in crate::kernels) fn add(&self, plane: &[f32], out: &mut [f32], buffer: &mut Vec<f32>) {
        let arch = pulp::Arch::new();
        let [width, height] = self.size;
        let stride = padded(width);
        buffer.clear();
        buffer.resize(stride * height, 0.0);
        for (row, sum) in plane
            .chunks_exact(width)
            .zip(buffer.chunks_exact_mut(stride))
        {
            arch.dispatch(Axpy {
                factors: row,
                rows: &self.across,
                out: sum,
            });
        }
        let mut sum = vec![0.0; stride];
        for (factors, out) in self
            .down
            .chunks_exact(height)
            .zip(out.chunks_exact_mut(width))
        {
            sum.fill(0.0);
            arch.dispatch(Axpy {
                factors,
                rows: buffer,
                out: &mut sum,
            });
            for (out, light) in out.iter_mut().zip(&sum) {
                *out += light;
            }
        }
    }
}

/// Row i: what sample i receives from each stored sample.
fn matrix(axis: &Axis, sigma: f64, level: usize) -> Vec<f64> {
    match axis.outside() {
        Outside::Dark => dark(axis.stored, sigma, level),
        Outside::Mirror => mirrored(axis, sigma, level),
    }
}

/// Light that leaves is gone: a sample receives by its distance alone.
fn dark(n: usize, sigma: f64, level: usize) -> Vec<f64> {
    let kernel = kernel_at(sigma, level, 1.0 - n as f64, 2 * n - 1);
    let rows = (0..n).flat_map(|i| kernel[i..i + n].iter().rev());
    rows.copied().collect()
}

/// All mirror images of a sample at once: a kernel repeated about the edges 0 and e is a sum of cosines,
/// `(1 + 2 Σ R(k/2e) cos(πkx/e) cos(πky/e)) / e` from x to y (Poisson's sum), wherever the far edge falls.
fn mirrored(axis: &Axis, sigma: f64, level: usize) -> Vec<f64> {
    let (n, edge) = (axis.stored, axis.edge());
    let responses: Vec<f64> = (1..)
        .map(|k| 0.5 * f64::from(k) / edge)
        .take_while(|frequency| *frequency <= 0.5)
        .map(|frequency| wanted_response(sigma, level, frequency))
        .take_while(|response| *response > NOTHING)
        .collect();
    let terms = responses.len();
    let cosine = |i: usize, k: usize| {
        let half_turns = (k + 1) as f64 * (i as f64 + 0.5) / edge;
        (PI * (half_turns % 2.0)).cos()
    };
    let cosines: Vec<f64> = (0..n)
        .flat_map(|i| (0..terms).map(move |k| cosine(i, k)))
        .collect();
    let line = |i: usize| &cosines[i * terms..(i + 1) * terms];
    let mut out = Vec::with_capacity(n * n);
    for i in 0..n {
        let sent: Vec<f64> = responses.iter().zip(line(i)).map(|(r, c)| r * c).collect();
        out.extend((0..n).map(|j| {
            let sum: f64 = sent.iter().zip(line(j)).map(|(a, b)| a * b).sum();
            axis.share(j) * (1.0 + 2.0 * sum) / edge
        }));
    }
    out
}

/// A response that does nothing.
const NOTHING: f64 = 1e-12;
