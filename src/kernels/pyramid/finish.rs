//! Filters a level and merges the coarser one into it, in place or beside it.
//!
//! A strip of rows is worked from the top. Each row is filtered across as it comes into reach and
//! kept in a ring as tall as the filter; a block of four rows is then filtered down from the ring,
//! joined by the coarser level, and written: over the rows it came from, which nobody needs any more (the rows
//! that a neighbouring strip will want have been set aside before, [`Level::set_aside`]), or elsewhere
//! where the light is to be filtered again.

use super::axis::{Apron, Axis};
use super::laid::Taps;
use super::rows::{ALIKE, Across, AcrossTwo, BLOCK, Down, Finish, PIECE, Raise, aligned, padded};
use crate::watch::{Cancelled, Watch};

/// A separable filter of a level: half its taps across, all of them down.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Filter {
    /// Half the taps, centre first; zeros up to the radius of the level.
    across: Vec<f32>,
    /// All taps times the component's weight, [`BLOCK`]` − 1` zeros at either end.
    down: Vec<f32>,
    /// Samples either side.
    radius: usize,
}

impl Filter {
    /// From half the taps, centre first.
    pub(super) fn new(half: &[f64], weight: f64) -> Self {
        let zeros = std::iter::repeat_n(0.0, BLOCK - 1);
        let sides = half[1..].iter().map(|tap| (weight * tap) as f32);
        let down = zeros.clone().chain(sides.clone().rev());
        let down = down
            .chain([(weight * half[0]) as f32])
            .chain(sides)
            .chain(zeros)
            .collect();
        Self {
            across: half.iter().map(|&tap| tap as f32).collect(),
            down,
            radius: half.len() - 1,
        }
    }

    /// The same with zeros for taps beyond its own, up to `reach` on either side.
    fn widen(&mut self, reach: usize) {
        let more = reach - self.reach();
        let zeros = std::iter::repeat_n(0.0, more);
        self.down.splice(0..0, zeros.clone());
        self.down.extend(zeros);
    }

    /// Half the taps either way, without the zeros.
    fn taps(&self) -> Taps {
        let radius = self.radius;
        let middle = BLOCK - 1 + self.reach();
        Taps {
            across: self.across[..=radius].to_vec(),
            down: self.down[middle..=middle + radius].to_vec(),
        }
    }

    /// Rows either side that it is run over.
    const fn reach(&self) -> usize {
        (self.down.len() - 2 * BLOCK).div_ceil(2)
    }
}

/// One level of one channel.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::kernels) struct Level {
    axes: [Axis; 2],
    filters: Vec<Filter>,
    radius: usize,
    across: Apron,
    down: Apron,
    coarser: Option<Coarser>,
}

/// Where the coarser level lies under this one.
#[derive(Debug, Clone, PartialEq)]
struct Coarser {
    axes: [Axis; 2],
    /// Stored index of the coarse sample that the first stored fine one lies in.
    shift: [usize; 2],
}

/// Buffers for one strip.
#[derive(Debug, Default)]
pub(in crate::kernels) struct Buffers {
    extended: Vec<f32>,
    ring: Vec<f32>,
    raised: Vec<f32>,
    spare: Vec<f32>,
}

impl Buffers {
    /// Samples held.
    pub(in crate::kernels) fn len(&self) -> usize {
        let Self {
            extended,
            ring,
            raised,
            spare,
        } = self;
        extended.capacity() + ring.capacity() + raised.capacity() + spare.capacity()
    }
}

/// What a strip is worked with beside its own rows.
#[derive(Debug, Clone, Copy)]
pub(in crate::kernels) struct Around<'a> {
    /// Rows above the strip, [`Level::radius`] of them.
    pub(in crate::kernels) above: &'a [f32],
    /// Rows below it, as many.
    pub(in crate::kernels) beneath: &'a [f32],
    /// The strip's own rows; None where they lie in what is written.
    pub(in crate::kernels) own: Option<&'a [f32]>,
    /// The finished coarser level; empty when there is none.
    pub(in crate::kernels) coarser: &'a [f32],
    /// What stays of the light that is there.
    pub(in crate::kernels) direct: f32,
    /// Light added everywhere.
    pub(in crate::kernels) add: f32,
}

impl Level {
    /// A level with its filters; `coarser` are the axes of the level to be merged into it.
    pub(super) fn new(
        axes: [Axis; 2],
        mut filters: Vec<Filter>,
        coarser: Option<[Axis; 2]>,
    ) -> Self {
        let radius = filters
            .iter()
            .map(|filter| filter.radius)
            .max()
            .unwrap_or(0);
        for filter in &mut filters {
            filter.across.resize(radius + 1, 0.0);
        }
        // Two are run over a block at once where they reach as far.
        if let [first, second, ..] = filters.as_mut_slice() {
            let reach = first.radius.max(second.radius);
            if reach <= ALIKE {
                first.widen(reach);
                second.widen(reach);
            }
        }
        let [across, down] = axes.map(|axis| Apron::new(&axis, radius, radius));
        let coarser = coarser.map(|coarse| Coarser {
            axes: coarse,
            shift: [0, 1].map(|i| coarse[i].lead - axes[i].lead / 2),
        });
        Self {
            axes,
            filters,
            radius,
            across,
            down,
            coarser,
        }
    }

    /// Samples, across and down.
    pub(in crate::kernels) const fn size(&self) -> [usize; 2] {
        [self.axes[0].stored, self.axes[1].stored]
    }

    /// Its filters' taps.
    pub(super) fn taps(&self) -> impl Iterator<Item = Taps> {
        self.filters.iter().map(Filter::taps)
    }

    /// Rows that a strip needs of its neighbours.
    pub(in crate::kernels) const fn radius(&self) -> usize {
        self.radius
    }

    /// Copies the rows around the strip that begins at row `first` of `plane`, before work in place
    /// begins.
    fn set_aside(
        &self,
        plane: &[f32],
        (first, rows): (usize, usize),
        above: &mut [f32],
        beneath: &mut [f32],
    ) {
        let [width, height] = self.size();
        for (out, from) in [
            (above, first as isize - self.radius as isize),
            (beneath, (first + rows) as isize),
        ] {
            for (i, out) in out.chunks_exact_mut(width).enumerate() {
                let y = from + i as isize;
                if y >= 0 && (y as usize) < height {
                    let at = y as usize * width;
                    out.copy_from_slice(&plane[at..at + width]);
                } else {
                    self.down.row(y, plane, out);
                }
            }
        }
    }

    /// Copies the rows around every strip of `rows` rows, one after the other, above and beneath; gives how many
    /// samples either are.
    pub(in crate::kernels) fn set_all_aside(
        &self,
        plane: &[f32],
        rows: usize,
        aside: &mut Vec<f32>,
    ) -> usize {
        let [width, height] = self.size();
        let length = self.radius * width;
        aside.resize(2 * length * height.div_ceil(rows), 0.0);
        if length > 0 {
            for (strip, around) in aside.chunks_exact_mut(2 * length).enumerate() {
                let (above, beneath) = around.split_at_mut(length);
                let first = strip * rows;
                self.set_aside(plane, (first, rows.min(height - first)), above, beneath);
            }
        }
        length
    }

    /// Finishes a strip. `first` is its first row, a multiple of four.
    pub(in crate::kernels) fn strip(
        &self,
        first: usize,
        rows: &mut [f32],
        around: Around<'_>,
        buffers: &mut Buffers,
        watch: &Watch,
    ) -> Result<(), Cancelled> {
        let width = self.axes[0].stored;
        let height = rows.len() / width;
        let stride = padded(width);
        let mut work = Strip::new(self, stride, buffers);
        let whole = width / PIECE * PIECE;
        for y in (0..height).step_by(BLOCK) {
            watch.check()?;
            if self.radius > 0 || !self.filters.is_empty() {
                work.take_rows(y, around.own.unwrap_or(rows), &around);
            }
            work.raise_rows((first + y) / 2, around.coarser);
            let live = (height - y).min(BLOCK);
            let place = y * width..(y + live) * width;
            let block = &mut rows[place.clone()];
            if let Some(own) = around.own {
                block.copy_from_slice(&own[place]);
            }
            if live == BLOCK {
                let (r0, rest) = block.split_at_mut(width);
                let (r1, rest) = rest.split_at_mut(width);
                let (r2, r3) = rest.split_at_mut(width);
                let [w0, w1, w2, w3] = [r0, r1, r2, r3].map(|row| &mut row[..whole]);
                work.block(y, (first + y) / 2, [w0, w1, w2, w3], 0, &around);
                work.piecewise(y, (first + y) / 2, block, whole, &around);
            } else {
                work.piecewise(y, (first + y) / 2, block, 0, &around);
            }
        }
        Ok(())
    }
}

/// Splits a row into its near end, which is copied, its middle, which is not, and its far end.
fn pieces<'a, const N: usize>(
    row: &'a [f32],
    extended: &'a [f32],
    inner: Option<(usize, usize)>,
    radius: usize,
    out: [&'a mut [f32]; N],
) -> impl Iterator<Item = (&'a [f32], [&'a mut [f32]; N])> {
    let (begin, end) = inner.unwrap_or((out[0].len(), out[0].len()));
    let mut outs = out.map(|out| {
        let (left, rest) = out.split_at_mut(begin);
        let (middle, right) = rest.split_at_mut(end - begin);
        [left, middle, right].into_iter()
    });
    let middle = if inner.is_some() {
        &row[begin - radius..]
    } else {
        row
    };
    [extended, middle, &extended[end..]]
        .into_iter()
        .filter_map(move |from| {
            let out = outs.each_mut().map(|out| out.next().unwrap_or_default());
            (!out[0].is_empty()).then_some((from, out))
        })
}

/// A strip at work.
struct Strip<'a> {
    level: &'a Level,
    arch: pulp::Arch,
    stride: usize,
    /// Rows that each filter's ring holds.
    tall: usize,
    /// Next row to be filtered across, counted from `radius` above the strip.
    next: usize,
    /// Next coarser row to be merged across, where known.
    next_raised: Option<usize>,
    extended: &'a mut [f32],
    ring: &'a mut [f32],
    raised: &'a mut [f32],
    spare: &'a mut [f32],
}

impl<'a> Strip<'a> {
    fn new(level: &'a Level, stride: usize, buffers: &'a mut Buffers) -> Self {
        let tall = 2 * level.radius + BLOCK;
        let Buffers {
            extended,
            ring,
            raised,
            spare,
        } = buffers;
        let extended = aligned(extended, stride + 2 * level.radius + 2 * PIECE);
        let ring = aligned(ring, level.filters.len() * tall * stride);
        let raised = aligned(raised, BLOCK * stride);
        let spare = aligned(spare, BLOCK * PIECE);
        Self {
            level,
            arch: pulp::Arch::new(),
            stride,
            tall,
            next: 0,
            next_raised: None,
            extended,
            ring,
            raised,
            spare,
        }
    }

    /// Filters across all rows that the block at `y` reaches and that have not been.
    fn take_rows(&mut self, y: usize, rows: &[f32], around: &Around<'_>) {
        let width = self.level.axes[0].stored;
        let radius = self.level.radius;
        let height = rows.len() / width;
        while self.next < y + BLOCK + 2 * radius {
            if self.next >= height + 2 * radius {
                // Below the strip's last row, for the rows of a last block that are not there.
                for i in 0..self.level.filters.len() {
                    let at = (i * self.tall + self.next % self.tall) * self.stride;
                    self.ring[at..at + self.stride].fill(0.0);
                }
                self.next += 1;
                continue;
            }
            let (from, at) = match self.next {
                next if next < radius => (around.above, next),
                next if next < radius + height => (rows, next - radius),
                next => (around.beneath, next - radius - height),
            };
            self.take_row(&from[at * width..(at + 1) * width]);
        }
    }

    /// Filters one row across. Only the pieces at either end are copied, to give them their apron.
    fn take_row(&mut self, row: &[f32]) {
        let radius = self.level.radius;
        // Whole pieces whose apron is in the row itself lie between these two.
        let (begin, end) = (PIECE, row.len().saturating_sub(radius) / PIECE * PIECE);
        let inner = if end > begin {
            Some((begin, end))
        } else {
            None
        };
        self.level.across.extend(
            row,
            inner
                .map(|_| PIECE + radius)
                .zip(inner.map(|i| i.1 - radius)),
            self.extended,
        );
        let at = self.next % self.tall * self.stride;
        let mut lines = self.ring.chunks_exact_mut(self.tall * self.stride);
        let mut filters = self.level.filters.iter();
        while let (Some(filter), Some(ring)) = (filters.next(), lines.next()) {
            let out = &mut ring[at..at + self.stride];
            if let (Some(other), Some(ring)) = (filters.next(), lines.next()) {
                let out = [out, &mut ring[at..at + self.stride]];
                let taps = [filter.across.as_slice(), other.across.as_slice()];
                for (from, out) in pieces(row, self.extended, inner, radius, out) {
                    self.arch.dispatch(AcrossTwo { from, taps, out });
                }
            } else {
                let taps = filter.across.as_slice();
                for (from, [out]) in pieces(row, self.extended, inner, radius, [out]) {
                    self.arch.dispatch(Across { from, taps, out });
                }
            }
        }
        self.next += 1;
    }

    /// Merges across the coarser rows that the block needs whose first row lies in coarser row `row`.
    fn raise_rows(&mut self, row: usize, plane: &[f32]) {
        let Some(coarser) = &self.level.coarser else {
            return;
        };
        let (width, height) = (coarser.axes[0].stored, coarser.axes[1].stored);
        // Counted from one before, so that nothing is negative.
        let begin = self.next_raised.unwrap_or(row).max(row);
        for k in begin..row + BLOCK {
            // Before the near edge of a mirrored level lies its first row again.
            let y = (k + coarser.shift[1]).saturating_sub(1).min(height - 1);
            let from = &plane[y * width..(y + 1) * width];
            let at = k % BLOCK * self.stride;
            let shift = coarser.shift[0];
            self.arch.dispatch(Raise {
                from: &from[shift..],
                before: from[shift.saturating_sub(1)],
                out: &mut self.raised[at..at + self.stride],
            });
        }
        self.next_raised = Some(row + BLOCK);
    }

    /// Finishes whole pieces of a block of four rows.
    fn block(
        &self,
        y: usize,
        row: usize,
        out: [&mut [f32]; BLOCK],
        from: usize,
        around: &Around<'_>,
    ) {
        let filters = &self.level.filters;
        let radius = self.level.radius;
        let mut slices: Vec<&[f32]> = Vec::with_capacity(filters.len() * self.tall);
        for (i, filter) in filters.iter().enumerate() {
            let top = y + radius - filter.reach();
            for j in top..top + 2 * filter.reach() + BLOCK {
                let at = (i * self.tall + j % self.tall) * self.stride;
                slices.push(&self.ring[at..at + self.stride]);
            }
        }
        let mut rest = slices.as_slice();
        let downs: Vec<Down<'_>> = filters
            .iter()
            .map(|filter| {
                let (rows, others) = rest.split_at(2 * filter.reach() + BLOCK);
                rest = others;
                Down {
                    rows,
                    taps: &filter.down,
                }
            })
            .collect();
        let coarser = self.level.coarser.as_ref().map(|_| {
            [0, 1, 2, 3].map(|j| {
                let at = (row + j) % BLOCK * self.stride;
                &self.raised[at..at + self.stride]
            })
        });
        self.arch.dispatch(Finish {
            out,
            direct: around.direct,
            add: around.add,
            filters: &downs,
            coarser,
            from,
        });
    }

    /// Finishes what is not whole: up to four rows of `block`, from column `from` on, by way of a copy.
    fn piecewise(
        &mut self,
        y: usize,
        row: usize,
        block: &mut [f32],
        from: usize,
        around: &Around<'_>,
    ) {
        let width = self.level.axes[0].stored;
        let spare = std::mem::take(&mut self.spare);
        for x in (from..width).step_by(PIECE) {
            let live = (width - x).min(PIECE);
            for (row, copy) in block.chunks_exact(width).zip(spare.chunks_exact_mut(PIECE)) {
                copy[..live].copy_from_slice(&row[x..x + live]);
            }
            let (s0, rest) = spare.split_at_mut(PIECE);
            let (s1, rest) = rest.split_at_mut(PIECE);
            let (s2, s3) = rest.split_at_mut(PIECE);
            self.block(y, row, [s0, s1, s2, s3], x, around);
            for (row, copy) in block.chunks_exact_mut(width).zip(spare.chunks_exact(PIECE)) {
                row[x..x + live].copy_from_slice(&copy[..live]);
            }
        }
        self.spare = spare;
    }
}
