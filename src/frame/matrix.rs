//! A 3×3 matrix over three planes.

use crate::colour::Matrix3;
use rayon::prelude::*;

/// Rows of a matrix, in the precision of pixels.
pub(super) type Rows = [[f32; 3]; 3];

/// Samples worked on by one task: large enough to be worth handing out, small enough for the cache.
pub(super) const RUN: usize = 1 << 14;

/// One row's product.
#[inline(always)]
pub(super) fn dot(row: &[f32; 3], [r, g, b]: [f32; 3]) -> f32 {
    row[0] * r + row[1] * g + row[2] * b
}

pub(super) fn mul(m: &Rows, light: [f32; 3]) -> [f32; 3] {
    [dot(&m[0], light), dot(&m[1], light), dot(&m[2], light)]
}

/// Multiplies every pixel in place; the identity costs nothing.
pub(super) fn apply(matrix: &Matrix3, planes: &mut [Vec<f32>; 3]) {
    if *matrix == Matrix3::IDENTITY {
        return;
    }
    let rows = matrix.rows_f32();
    let [r, g, b] = planes;
    r.par_chunks_mut(RUN)
        .zip(g.par_chunks_mut(RUN))
        .zip(b.par_chunks_mut(RUN))
        .for_each(|((r, g), b)| {
            for ((r, g), b) in r.iter_mut().zip(g.iter_mut()).zip(b.iter_mut()) {
                [*r, *g, *b] = mul(&rows, [*r, *g, *b]);
            }
        });
}
