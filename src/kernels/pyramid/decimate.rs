//! Makes the next coarser level: half as many samples either way, by six taps down, then across.
//!
//! Fused row by row: six rows go down to one, which goes across while it is still in cache. The first
//! pass over a frame also sums it, for the veil.

use super::axis::{Apron, Axis, Seam};
use super::halve::{Gather, Halve, Sum};
use crate::watch::{Cancelled, Watch};
use rayon::prelude::*;

/// How one level of one frame size is made from the finer one.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::kernels) struct Decimation {
    fine: [Axis; 2],
    coarse: [Axis; 2],
    across: Apron,
    down: Apron,
    seams: [Seam; 2],
    /// Fine samples from the first stored one to the first that the first coarse one is made of.
    begin: [isize; 2],
}

/// Buffers for one strip.
#[derive(Debug, Default)]
pub(in crate::kernels) struct Buffers {
    extended: Vec<f32>,
    even: Vec<f32>,
    odd: Vec<f32>,
    seam: Vec<f32>,
}

/// A level's rows beyond its own, for all strips.
#[derive(Debug, Default)]
pub(in crate::kernels) struct Beyond {
    before: Vec<f32>,
    after: Vec<f32>,
}

impl Buffers {
    /// Samples held.
    pub(in crate::kernels) fn len(&self) -> usize {
        let Self {
            extended,
            even,
            odd,
            seam,
        } = self;
        extended.capacity() + even.capacity() + odd.capacity() + seam.capacity()
    }
}

impl Beyond {
    /// Samples held.
    pub(in crate::kernels) fn len(&self) -> usize {
        self.before.capacity() + self.after.capacity()
    }
}

impl Decimation {
    /// From axes x, y of the finer level to those of the coarser.
    pub(super) fn new(fine: [Axis; 2], coarse: [Axis; 2]) -> Self {
        let begin = [0, 1].map(|i| fine[i].lead as isize - 2 * coarse[i].lead as isize - 2);
        let apron = |i: usize| {
            let end = begin[i] + 2 * coarse[i].stored as isize + 4;
            let after = (end - fine[i].stored as isize).max(0) as usize;
            Apron::new(&fine[i], (-begin[i]).max(0) as usize, after)
        };
        Self {
            across: apron(0),
            down: apron(1),
            fine,
            coarse,
            seams: coarse.each_ref().map(Seam::new),
            begin,
        }
    }

    /// Samples of the coarser level, across and down.
    pub(in crate::kernels) const fn coarse(&self) -> [usize; 2] {
        [self.coarse[0].stored, self.coarse[1].stored]
    }

    /// Samples before and after the finer level's own that it reaches for, across and down.
    pub(super) fn reach(&self) -> [[usize; 2]; 2] {
        [&self.across, &self.down].map(|apron| [apron.before(), apron.after()])
    }

    /// The first finer sample that the first coarser one is made of, across and down.
    pub(super) const fn begin(&self) -> [isize; 2] {
        self.begin
    }

    /// Prepares the rows beyond the finer level, `from`.
    pub(in crate::kernels) fn prepare(&self, from: &[f32], beyond: &mut Beyond) {
        self.down.rows(
            from,
            self.fine[0].stored,
            &mut beyond.before,
            &mut beyond.after,
        );
    }

    /// Mends the rows beyond the far edge, once all have been made; `beyond` is used up.
    pub(in crate::kernels) fn mend(&self, coarse: &mut [f32], beyond: &mut Beyond) {
        self.seams[1].rows(coarse, self.coarse[0].stored, &mut beyond.after);
    }

    /// Makes rows from `first` on of the coarser level, as many as `out` holds. With `sum`, returns the
    /// sum of the finer rows under them (each row of a frame lies under exactly one coarse row).
    pub(in crate::kernels) fn strip(
        &self,
        from: &[f32],
        beyond: &Beyond,
        (first, out): (usize, &mut [f32]),
        sum: bool,
        buffers: &mut Buffers,
        watch: &Watch,
    ) -> Result<f64, Cancelled> {
        let arch = pulp::Arch::new();
        let (width, height) = (self.fine[0].stored, self.fine[1].stored as isize);
        let coarse_width = self.coarse[0].stored;
        let before = self.down.before() as isize;
        let row = |y: isize| {
            let (rows, y) = match y {
                y if y < 0 => (beyond.before.as_slice(), y + before),
                y if y < height => (from, y),
                y => (beyond.after.as_slice(), y - height),
            };
            &rows[y as usize * width..(y as usize + 1) * width]
        };
        buffers.extended.resize(2 * self.across.len(), 0.0);
        buffers.even.resize(coarse_width + 2, 0.0);
        buffers.odd.resize(coarse_width + 2, 0.0);
        let begin_across = (self.begin[0] + self.across.before() as isize) as usize;
        let mut total = 0.0;
        let length = self.across.len();
        let middle = self.across.before()..self.across.before() + width;
        for (pair, out) in out.chunks_mut(2 * coarse_width).enumerate() {
            if pair % 4 == 0 {
                watch.check()?;
            }
            let top = self.begin[1] + 2 * (first + 2 * pair) as isize;
            let live = out.len() / coarse_width;
            // The last of an odd number of rows is made twice.
            let rows = [0, 1, 2, 3, 4, 5, 6, 7]
                .map(|j| row(if live == 2 { top + j } else { top + j % 6 }));
            let (one, two) = buffers.extended.split_at_mut(length);
            arch.dispatch(Gather {
                rows,
                out: [&mut one[middle.clone()], &mut two[middle.clone()]],
            });
            if sum {
                for y in top + 2..top + 2 + 2 * live as isize {
                    if (0..height).contains(&y) {
                        total += arch.dispatch(Sum(row(y)));
                    }
                }
            }
            for (line, out) in [one, two]
                .into_iter()
                .zip(out.chunks_exact_mut(coarse_width))
            {
                self.across.fill(line);
                arch.dispatch(Halve {
                    from: &line[begin_across..],
                    even: &mut buffers.even,
                    odd: &mut buffers.odd,
                    out,
                });
                self.seams[0].line(out, &mut buffers.seam);
            }
        }
        Ok(total)
    }
}

/// The mean of a plane.
pub(in crate::kernels) fn mean(plane: &[f32]) -> f64 {
    // Added up in the order of the parts, so that the result does not depend on timing.
    let parts: Vec<f64> = plane.par_chunks(1 << 16).map(sum).collect();
    parts.iter().sum::<f64>() / plane.len() as f64
}

/// The sum of rows of a frame that has no coarser level.
pub(in crate::kernels) fn sum(rows: &[f32]) -> f64 {
    pulp::Arch::new().dispatch(Sum(rows))
}
