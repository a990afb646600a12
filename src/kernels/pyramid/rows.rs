//! The loops over rows, for whatever vector width the machine has.
//!
//! Each is an operation that `pulp` runs with the widest instructions found at run time; on a machine
//! without any the same loops run one lane at a time.

#![expect(
    clippy::inline_always,
    reason = "only code inlined into pulp's dispatch is vectorised"
)]

use super::design::DECIMATION;
use pulp::{Simd, WithSimd};

/// Rows are filtered in pieces of this many samples (four of the widest vectors); buffers are a
/// multiple of it long.
pub(super) const PIECE: usize = 64;

/// Rows that are finished together, so that a row read once serves four.
pub(super) const BLOCK: usize = 4;

/// `length`, rounded up to whole pieces.
pub(super) const fn padded(length: usize) -> usize {
    length.div_ceil(PIECE) * PIECE
}

/// Filters a row across: `out[x] = Σ taps[|t|]·from[x + t + radius]`.
pub(super) struct Across<'a> {
    /// The row with its apron of `taps.len() − 1` samples either side, at least `out.len()` and twice
    /// that long.
    pub(super) from: &'a [f32],
    /// Half the taps, centre first.
    pub(super) taps: &'a [f32],
    /// Whole pieces.
    pub(super) out: &'a mut [f32],
}

/// Four vectors from the front of `from`.
#[inline(always)]
fn four<S: Simd>(from: &[f32]) -> [S::f32s; 4] {
    let vectors = S::as_simd_f32s(&from[..4 * S::F32_LANES]).0;
    [vectors[0], vectors[1], vectors[2], vectors[3]]
}

impl WithSimd for Across<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let radius = self.taps.len() - 1;
        let step = 4 * S::F32_LANES;
        let centre = simd.splat_f32s(self.taps[0]);
        for (piece, out) in self.out.chunks_exact_mut(step).enumerate() {
            let from = &self.from[piece * step..piece * step + step + 2 * radius];
            let mut sum = four::<S>(&from[radius..]).map(|light| simd.mul_f32s(centre, light));
            for (t, &tap) in self.taps.iter().enumerate().skip(1) {
                let tap = simd.splat_f32s(tap);
                let left = four::<S>(&from[radius - t..]);
                let right = four::<S>(&from[radius + t..]);
                for i in 0..4 {
                    sum[i] = simd.mul_add_e_f32s(tap, simd.add_f32s(left[i], right[i]), sum[i]);
                }
            }
            let vectors = S::as_mut_simd_f32s(out).0;
            vectors.copy_from_slice(&sum);
        }
    }
}

/// One filter's part in a block of rows.
#[derive(Clone, Copy)]
pub(super) struct Down<'a> {
    /// Rows already filtered across, from `radius` above the block to `radius` below it.
    pub(super) rows: &'a [&'a [f32]],
    /// All taps, with [`BLOCK`]` − 1` zeros at either end; the component's weight is in them.
    pub(super) taps: &'a [f32],
}

/// Finishes a block of rows: `out = direct·out + add + Σ filtered down + merged from the coarser level`.
pub(super) struct Finish<'a, 'b> {
    /// Four rows of whole pieces.
    pub(super) out: [&'a mut [f32]; BLOCK],
    /// What stays of what is there.
    pub(super) direct: f32,
    /// Light added everywhere.
    pub(super) add: f32,
    /// The filters of this level.
    pub(super) filters: &'b [Down<'b>],
    /// The coarser level's rows, already merged across: the one above the block, the two that the
    /// block lies in, the one below.
    pub(super) coarser: Option<[&'b [f32]; BLOCK]>,
    /// Where in all other rows `out` begins.
    pub(super) from: usize,
}

/// Coarser rows' weights in each of four rows: the transpose of the decimation, times two.
const MERGE: [[f32; BLOCK]; BLOCK] = {
    let [a, b, c] = MERGE_TAPS;
    [
        [b, a, c, 0.0],
        [c, a, b, 0.0],
        [0.0, b, a, c],
        [0.0, c, a, b],
    ]
};

const MERGE_TAPS: [f32; 3] = [
    (2.0 * DECIMATION[0]) as f32,
    (2.0 * DECIMATION[1]) as f32,
    (2.0 * DECIMATION[2]) as f32,
];

/// Vectors of each row that a block holds in registers.
const WIDE: usize = 2;

impl WithSimd for Finish<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let Self {
            out,
            direct,
            add,
            filters,
            coarser,
            from,
        } = self;
        let [o0, o1, o2, o3] = out;
        let step = WIDE * S::F32_LANES;
        let direct = simd.splat_f32s(direct);
        let add = simd.splat_f32s(add);
        let pieces = o0.chunks_exact_mut(step).zip(o1.chunks_exact_mut(step));
        let pieces = pieces.zip(o2.chunks_exact_mut(step).zip(o3.chunks_exact_mut(step)));
        for (piece, ((o0, o1), (o2, o3))) in pieces.enumerate() {
            let mut out = [o0, o1, o2, o3].map(|row| S::as_mut_simd_f32s(row).0);
            let x = from + piece * step;
            let mut sum = [[add; WIDE]; BLOCK];
            for (sum, out) in sum.iter_mut().zip(&out) {
                for i in 0..WIDE {
                    sum[i] = simd.mul_add_e_f32s(direct, out[i], sum[i]);
                }
            }
            for filter in filters {
                for (j, row) in filter.rows.iter().enumerate() {
                    let light = S::as_simd_f32s(&row[x..x + step]).0;
                    let taps = &filter.taps[j..j + BLOCK];
                    for (sum, &tap) in sum.iter_mut().zip(taps.iter().rev()) {
                        let tap = simd.splat_f32s(tap);
                        for i in 0..WIDE {
                            sum[i] = simd.mul_add_e_f32s(tap, light[i], sum[i]);
                        }
                    }
                }
            }
            if let Some(rows) = coarser {
                for (j, row) in rows.iter().enumerate() {
                    let light = S::as_simd_f32s(&row[x..x + step]).0;
                    for (sum, weights) in sum.iter_mut().zip(&MERGE) {
                        let weight = simd.splat_f32s(weights[j]);
                        for i in 0..WIDE {
                            sum[i] = simd.mul_add_e_f32s(weight, light[i], sum[i]);
                        }
                    }
                }
            }
            for (out, sum) in out.iter_mut().zip(&sum) {
                out.copy_from_slice(sum);
            }
        }
    }
}

/// Merges a coarser row across: twice as many samples, all of `out`.
pub(super) struct Raise<'a> {
    /// The coarser row, beginning one sample before the first that `out` lies in.
    pub(super) from: &'a [f32],
    /// The finer row, whole pieces.
    pub(super) out: &'a mut [f32],
}

impl WithSimd for Raise<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        let [a, b, c] = MERGE_TAPS;
        let half = self.out.len() / 2;
        let (left, centre, right) = (
            &self.from[..half],
            &self.from[1..=half],
            &self.from[2..half + 2],
        );
        for (k, out) in self.out.chunks_exact_mut(2).enumerate() {
            out[0] = b * left[k] + a * centre[k] + c * right[k];
            out[1] = c * left[k] + a * centre[k] + b * right[k];
        }
    }
}

/// Decimates six rows to one, down; and sums the two in the middle.
pub(super) struct Gather<'a> {
    /// Six rows, as long as `out`.
    pub(super) rows: [&'a [f32]; 6],
    /// One row.
    pub(super) out: &'a mut [f32],
}

impl WithSimd for Gather<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        let [a, b, c] = DECIMATION.map(|tap| tap as f32);
        let n = self.out.len();
        let [r0, r1, r2, r3, r4, r5] = self.rows.map(|row| &row[..n]);
        for (i, out) in self.out.iter_mut().enumerate() {
            *out = a * (r2[i] + r3[i]) + b * (r1[i] + r4[i]) + c * (r0[i] + r5[i]);
        }
    }
}

/// Decimates one row across.
pub(super) struct Halve<'a> {
    /// The finer row, beginning two samples before the first that `out` lies in.
    pub(super) from: &'a [f32],
    /// Room for its even and odd samples, each `out.len() + 2`.
    pub(super) even: &'a mut [f32],
    /// As `even`.
    pub(super) odd: &'a mut [f32],
    /// The coarser row.
    pub(super) out: &'a mut [f32],
}

impl WithSimd for Halve<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        let [a, b, c] = DECIMATION.map(|tap| tap as f32);
        let n = self.out.len();
        let (even, odd) = (&mut self.even[..n + 2], &mut self.odd[..n + 2]);
        for ((pair, even), odd) in self.from.chunks_exact(2).zip(&mut *even).zip(&mut *odd) {
            *even = pair[0];
            *odd = pair[1];
        }
        let (e0, e1, e2) = (&even[..n], &even[1..=n], &even[2..n + 2]);
        let (o0, o1, o2) = (&odd[..n], &odd[1..=n], &odd[2..n + 2]);
        for (i, out) in self.out.iter_mut().enumerate() {
            *out = a * (e1[i] + o1[i]) + b * (o0[i] + e2[i]) + c * (e0[i] + o2[i]);
        }
    }
}

/// The sum of a row. In f32 over lanes, so a row is at most a few thousand terms a lane.
pub(super) struct Sum<'a>(pub(super) &'a [f32]);

impl WithSimd for Sum<'_> {
    type Output = f64;

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) -> f64 {
        let (vectors, rest) = S::as_simd_f32s(self.0);
        let mut sum = rest.iter().map(|&x| f64::from(x)).sum::<f64>();
        for vectors in vectors.chunks(64) {
            let mut part = simd.splat_f32s(0.0);
            for &vector in vectors {
                part = simd.add_f32s(part, vector);
            }
            sum += f64::from(simd.reduce_sum_f32s(part));
        }
        sum
    }
}

/// `out += Σ factors[j]·rows[j]`.
pub(super) struct Axpy<'a> {
    /// One for each row.
    pub(super) factors: &'a [f32],
    /// Rows as long as `out`, one after the other.
    pub(super) rows: &'a [f32],
    /// Whole pieces.
    pub(super) out: &'a mut [f32],
}

impl WithSimd for Axpy<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let stride = self.out.len();
        let step = 4 * S::F32_LANES;
        for (piece, out) in self.out.chunks_exact_mut(step).enumerate() {
            let mut sum = four::<S>(out);
            for (&factor, row) in self.factors.iter().zip(self.rows.chunks_exact(stride)) {
                let factor = simd.splat_f32s(factor);
                let light = four::<S>(&row[piece * step..]);
                for i in 0..4 {
                    sum[i] = simd.mul_add_e_f32s(factor, light[i], sum[i]);
                }
            }
            S::as_mut_simd_f32s(out).0.copy_from_slice(&sum);
        }
    }
}
