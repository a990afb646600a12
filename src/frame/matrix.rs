//! A 3×3 matrix over three planes.

use crate::colour::Matrix3;
use rayon::prelude::*;

/// Rows of a matrix, in the precision of pixels.
pub(super) type Rows = [[f32; 3]; 3];

/// Samples worked on by one task: large enough to be worth handing out, small enough for the cache.
pub(super) const RUN: usize = 1 << 14;

pub(super) fn mul(m: &Rows, [r, g, b]: [f32; 3]) -> [f32; 3] {
    [
        m[0][0] * r + m[0][1] * g + m[0][2] * b,
        m[1][0] * r + m[1][1] * g + m[1][2] * b,
        m[2][0] * r + m[2][1] * g + m[2][2] * b,
    ]
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
