//! The loops over rows on the way down a pyramid.

#![expect(
    clippy::inline_always,
    reason = "only code inlined into pulp's dispatch is vectorised"
)]

use super::design::DECIMATION;
use pulp::{Simd, WithSimd};

/// Decimates eight rows to two, down.
pub(super) struct Gather<'a> {
    /// Eight rows, as long as `out`.
    pub(super) rows: [&'a [f32]; 8],
    /// Two rows.
    pub(super) out: [&'a mut [f32]; 2],
}

impl WithSimd for Gather<'_> {
    type Output = ();

    #[inline(always)]
    fn with_simd<S: Simd>(self, _simd: S) {
        let [a, b, c] = DECIMATION.map(|tap| tap as f32);
        let [first, second] = self.out;
        let n = first.len();
        let second = &mut second[..n];
        let [r0, r1, r2, r3, r4, r5, r6, r7] = self.rows.map(|row| &row[..n]);
        for i in 0..n {
            first[i] = a * (r2[i] + r3[i]) + b * (r1[i] + r4[i]) + c * (r0[i] + r5[i]);
            second[i] = a * (r4[i] + r5[i]) + b * (r3[i] + r6[i]) + c * (r2[i] + r7[i]);
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
