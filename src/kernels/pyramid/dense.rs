//! The widest Gaussians, at the coarsest level, as dense matrices.
//!
//! A level a few dozen samples across is too small for a filter that reaches past it several times
//! over. There each axis is multiplied by a matrix in which all mirror images are added up, each
//! where it truly lies: between samples the kernel is as good as on them.

use super::axis::{Axis, Outside};
use super::design::{kernel_at, repeated};
use super::laid::DenseTables;
use super::rows::{Axpy, padded};

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
    let n = axis.stored;
    let mut out = vec![0.0; n * n];
    // Adds a kernel whose centre for sample 0 is at `from`, sample j sending to i at distance
    // i ∓ j − from.
    let mut add = |kernel: &[f64], mirrored: bool, shares: &[f64]| {
        for (i, row) in out.chunks_exact_mut(n).enumerate() {
            for (j, value) in row.iter_mut().enumerate() {
                let at = if mirrored { i + j } else { i + n - 1 - j };
                *value += shares[j] * kernel[at];
            }
        }
    };
    let count = 2 * n - 1;
    if axis.outside() == Outside::Dark {
        add(
            &kernel_at(sigma, level, 1.0 - n as f64, count),
            false,
            &vec![1.0; n],
        );
        return out;
    }
    // Mirrored, a Gaussian twice as wide as the axis is even to within 1e-8: a wider one is the same.
    let sigma = sigma.min(2.0 * axis.edge());
    let shares: Vec<f64> = (0..n).map(|j| axis.share(j)).collect();
    let period = 2.0 * axis.edge();
    // Sample j repeats at j and, mirrored, at −1 − j, both every period.
    let own = repeated(sigma, level, period, 1.0 - n as f64, count);
    add(&own, false, &shares);
    add(&repeated(sigma, level, period, 1.0, count), true, &shares);
    out
}
