//! A function of the length of a frequency, tabulated over octaves and quick to read.

use rayon::prelude::*;
use std::ops::Range;

/// A function of |ν| on equal parts of every octave up to past any lens's pixels; straight lines between
/// them, and below the first as at it.
#[derive(Debug, PartialEq)]
pub(super) struct Octaves {
    values: Vec<f32>,
    low: f32,
    /// Bits of the mantissa that do not count steps.
    shift: u32,
}

impl Octaves {
    /// Over octaves from 2^start to 2^end, with 2^`bits` steps in each.
    pub(super) fn of(octaves: Range<i32>, bits: u32, f: impl Fn(f64) -> f64 + Sync) -> Self {
        let low = (octaves.start as f32).exp2();
        let shift = 23 - bits;
        let count = ((octaves.len() as u32) << bits) + 1;
        let place = |i: u32| f64::from(f32::from_bits(low.to_bits() + (i << shift)));
        let values = (0..count)
            .into_par_iter()
            .map(|i| f(place(i)) as f32)
            .collect();
        Self { values, low, shift }
    }

    pub(super) fn at(&self, nu: f32) -> f32 {
        let past = nu.abs().max(self.low).to_bits() - self.low.to_bits();
        let i = ((past >> self.shift) as usize).min(self.values.len() - 2);
        let t = (past & ((1 << self.shift) - 1)) as f32 / (1 << self.shift) as f32;
        let (a, b) = (self.values[i], self.values[i + 1]);
        a + t * (b - a)
    }
}
