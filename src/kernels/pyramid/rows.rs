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

/// Samples of a line of a processor's cache, which is also its widest register.
const LINE: usize = 64 / size_of::<f32>();

/// `length` samples of a buffer from the beginning of a line on: what straddles two takes twice as long to be loaded.
pub(super) fn aligned(buffer: &mut Vec<f32>, length: usize) -> &mut [f32] {
    buffer.resize(length + LINE - 1, 0.0);
    let first = buffer.as_ptr().align_offset(LINE * size_of::<f32>());
    // Where that cannot be told, it is only slower.
    let first = first.min(LINE - 1);
    &mut buffer[first..first + length]
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

/// `count` vectors of `row`, from column `from`.
#[inline(always)]
fn vectors<S: Simd>(row: &[f32], from: usize, count: usize) -> &[S::f32s] {
    &S::as_simd_f32s(&row[from..from + count * S::F32_LANES]).0[..count]
}

/// Vectors to the front of `out`; one by one, because a slice copy would be a call.
#[inline(always)]
fn store<S: Simd, const N: usize>(out: &mut [f32], vectors: &[S::f32s; N]) {
    let out = S::as_mut_simd_f32s(&mut out[..N * S::F32_LANES]).0;
    out[..N].copy_from_slice(&vectors[..N]);
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
            store::<S, 4>(out, &sum);
        }
    }
}

/// Two filters across at once: the row is read, and its pairs are added, once for both.
pub(super) struct AcrossTwo<'a> {
    /// As [`Across::from`], for the longer filter.
    pub(super) from: &'a [f32],
    /// Half the taps of either, the shorter one's followed by zeros.
    pub(super) taps: [&'a [f32]; 2],
    /// Whole pieces, equally many.
    pub(super) out: [&'a mut [f32]; 2],
}

impl WithSimd for AcrossTwo<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let [first, second] = self.taps;
        let [out, other] = self.out;
        let radius = first.len() - 1;
        let step = 4 * S::F32_LANES;
        let pieces = out.chunks_exact_mut(step).zip(other.chunks_exact_mut(step));
        for (piece, (out, other)) in pieces.enumerate() {
            let from = &self.from[piece * step..piece * step + step + 2 * radius];
            let middle = four::<S>(&from[radius..]);
            let (f, s) = (simd.splat_f32s(first[0]), simd.splat_f32s(second[0]));
            let mut sum = middle.map(|light| simd.mul_f32s(f, light));
            let mut too = middle.map(|light| simd.mul_f32s(s, light));
            for (t, (&f, &s)) in first.iter().zip(second).enumerate().skip(1) {
                let (f, s) = (simd.splat_f32s(f), simd.splat_f32s(s));
                let left = four::<S>(&from[radius - t..]);
                let right = four::<S>(&from[radius + t..]);
                for i in 0..4 {
                    let pair = simd.add_f32s(left[i], right[i]);
                    sum[i] = simd.mul_add_e_f32s(f, pair, sum[i]);
                    too[i] = simd.mul_add_e_f32s(s, pair, too[i]);
                }
            }
            store::<S, 4>(out, &sum);
            store::<S, 4>(other, &too);
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

/// Vectors of each row that a block holds in registers.
const WIDE: usize = 2;

/// Sums for four rows.
type Sums<S> = [[<S as Simd>::f32s; WIDE]; BLOCK];

impl Down<'_> {
    /// Adds the filtered light of four rows, from column `x`, to `sum`. Row by row: each is read once
    /// and multiplied for all four.
    #[inline(always)]
    fn add_each<S: Simd>(&self, simd: S, x: usize, sum: &mut Sums<S>) {
        for (j, row) in self.rows.iter().enumerate() {
            let light = S::as_simd_f32s(&row[x..x + WIDE * S::F32_LANES]).0;
            let taps = &self.taps[j..j + BLOCK];
            for (sum, &tap) in sum.iter_mut().zip(taps.iter().rev()) {
                let tap = simd.splat_f32s(tap);
                for i in 0..WIDE {
                    sum[i] = simd.mul_add_e_f32s(tap, light[i], sum[i]);
                }
            }
        }
    }
}

/// Adds the filtered light of four rows, one vector of each, to `sum`, with registers enough to hold a
/// column of all rows: rows at equal distances are added before they are multiplied, which halves
/// the multiplications.
#[inline(always)]
fn add_pairs<S: Simd, const RADIUS: usize>(
    simd: S,
    light: &[S::f32s; COLUMN],
    taps: &[f32; COLUMN],
    sum: &mut [S::f32s; BLOCK],
) {
    let tap = simd.splat_f32s(taps[0]);
    for k in 0..BLOCK {
        sum[k] = simd.mul_add_e_f32s(tap, light[k + RADIUS], sum[k]);
    }
    for t in 0..RADIUS {
        let tap = simd.splat_f32s(taps[t + 1]);
        for k in 0..BLOCK {
            let pair = simd.add_f32s(light[k + RADIUS - t - 1], light[k + RADIUS + t + 1]);
            sum[k] = simd.mul_add_e_f32s(tap, pair, sum[k]);
        }
    }
}

/// Rows under the longest filter that [`add_pairs`] is made for: with its sums they fill 32 registers.
const COLUMN: usize = 24;

/// The longest filters, in samples on either side, of which two are run at once.
pub(super) const ALIKE: usize = (COLUMN - BLOCK) / 2;

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

impl WithSimd for Finish<'_, '_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, simd: S) {
        let radius = |filter: &Down<'_>| (filter.rows.len() - BLOCK) / 2;
        // Rows of both filters reach as far: the shorter one's taps end in zeros.
        let (first, second) = (self.filters.first(), self.filters.get(1));
        let reach = first.map_or(0, radius);
        let alike = second.is_none_or(|second| radius(second) == reach);
        if S::F32_LANES < 16 || !alike {
            return self.run(simd);
        }
        match (reach, second.is_some()) {
            (4, false) => self.run_pairs::<S, 4, 1>(simd),
            (5, false) => self.run_pairs::<S, 5, 1>(simd),
            (6, false) => self.run_pairs::<S, 6, 1>(simd),
            (7, false) => self.run_pairs::<S, 7, 1>(simd),
            (8, false) => self.run_pairs::<S, 8, 1>(simd),
            (9, false) => self.run_pairs::<S, 9, 1>(simd),
            (10, false) => self.run_pairs::<S, 10, 1>(simd),
            (6, true) => self.run_pairs::<S, 6, 2>(simd),
            (7, true) => self.run_pairs::<S, 7, 2>(simd),
            (8, true) => self.run_pairs::<S, 8, 2>(simd),
            (9, true) => self.run_pairs::<S, 9, 2>(simd),
            (10, true) => self.run_pairs::<S, 10, 2>(simd),
            _ => self.run(simd),
        }
    }
}

/// A filter's rows as vectors, and half its taps.
struct Pairs<'a, S: Simd> {
    rows: [&'a [S::f32s]; COLUMN],
    taps: [f32; COLUMN],
}

impl Finish<'_, '_> {
    /// The first filters by [`add_pairs`], their radius and number known; any others are run over what they
    /// leave.
    #[inline(always)]
    fn run_pairs<S: Simd, const RADIUS: usize, const FILTERS: usize>(self, simd: S) {
        let Self {
            out,
            direct,
            add,
            filters,
            coarser,
            from,
        } = self;
        let [mut q0, mut q1, mut q2, mut q3] = out;
        let n = q0.len() / S::F32_LANES;
        let part = |row| vectors::<S>(row, from, n);
        let pairs: [Pairs<'_, S>; FILTERS] = std::array::from_fn(|i| {
            let middle = &filters[i].taps[BLOCK - 1 + RADIUS..];
            Pairs {
                rows: std::array::from_fn(|j| part(filters[i].rows[j.min(2 * RADIUS + BLOCK - 1)])),
                taps: std::array::from_fn(|t| if t <= RADIUS { middle[t] } else { 0.0 }),
            }
        });
        let coarser = coarser.map(|rows| rows.map(part));
        let weights = MERGE_TAPS.map(|weight| simd.splat_f32s(weight));
        let (direct, add) = (simd.splat_f32s(direct), simd.splat_f32s(add));
        let [o0, o1, o2, o3] =
            [&mut q0, &mut q1, &mut q2, &mut q3].map(|row| &mut S::as_mut_simd_f32s(row).0[..n]);
        for v in 0..n {
            let mut sum =
                [o0[v], o1[v], o2[v], o3[v]].map(|light| simd.mul_add_e_f32s(direct, light, add));
            if let Some(rows) = coarser {
                let [r0, r1, r2, r3] = rows.map(|row| row[v]);
                let [a, b, c] = weights;
                let merge = |sum, left, middle, right| {
                    let sum = simd.mul_add_e_f32s(b, left, sum);
                    simd.mul_add_e_f32s(c, right, simd.mul_add_e_f32s(a, middle, sum))
                };
                sum[0] = merge(sum[0], r0, r1, r2);
                sum[1] = merge(sum[1], r2, r1, r0);
                sum[2] = merge(sum[2], r1, r2, r3);
                sum[3] = merge(sum[3], r3, r2, r1);
            }
            for Pairs { rows, taps } in &pairs {
                let mut light = [simd.splat_f32s(0.0); COLUMN];
                for j in 0..2 * RADIUS + BLOCK {
                    light[j] = rows[j][v];
                }
                add_pairs::<S, RADIUS>(simd, &light, taps, &mut sum);
            }
            o0[v] = sum[0];
            o1[v] = sum[1];
            o2[v] = sum[2];
            o3[v] = sum[3];
        }
        if filters.len() > FILTERS {
            let out = [q0, q1, q2, q3];
            let filters = &filters[FILTERS..];
            Finish {
                out,
                direct: 1.0,
                add: 0.0,
                filters,
                coarser: None,
                from,
            }
            .run(simd);
        }
    }

    /// For any radius and any number of registers.
    #[inline(always)]
    fn run<S: Simd>(self, simd: S) {
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
                filter.add_each(simd, x, &mut sum);
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
                out[..WIDE].copy_from_slice(&sum[..WIDE]);
            }
        }
    }
}

/// Merges a coarser row across: two samples for each of its own.
pub(super) struct Raise<'a> {
    /// The coarser row, from the first sample that `out` lies in.
    pub(super) from: &'a [f32],
    /// The sample before it.
    pub(super) before: f32,
    /// The finer row; as much of it is written as `from` provides for.
    pub(super) out: &'a mut [f32],
}

impl WithSimd for Raise<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        let [a, b, c] = MERGE_TAPS;
        let from = self.from;
        let count = (self.out.len() / 2).min(from.len() - 1);
        self.out[0] = b * self.before + a * from[0] + c * from[1];
        self.out[1] = c * self.before + a * from[0] + b * from[1];
        let n = count - 1;
        let (left, centre, right) = (&from[..n], &from[1..=n], &from[2..n + 2]);
        for (k, out) in self.out[2..2 + 2 * n].chunks_exact_mut(2).enumerate() {
            out[0] = b * left[k] + a * centre[k] + c * right[k];
            out[1] = c * left[k] + a * centre[k] + b * right[k];
        }
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
            store::<S, 4>(out, &sum);
        }
    }
}
