//! Strips of a picture that are made on all cores and taken in their order.

use super::WriteError;
use crate::watch::Watch;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Strips for each core that are made before the ones made earlier are all taken. Two such batches are held
/// at a time, one being made while the other goes out; larger ones leave fewer cores idle at their ends.
const BATCH: usize = 6;

/// Progress once the last strip has gone out; the rest is for the disk.
const MADE: f32 = 0.97;

/// Rows cut into strips of one height; the last may be lower.
#[derive(Debug, Clone, Copy)]
pub(super) struct Strips {
    pub(super) height: usize,
    pub(super) rows: usize,
}

impl Strips {
    pub(super) const fn count(self) -> usize {
        self.height.div_ceil(self.rows)
    }

    pub(super) fn rows_of(self, n: usize) -> Range<usize> {
        n * self.rows..((n + 1) * self.rows).min(self.height)
    }
}

/// Makes every strip by `make`, on all cores, and hands them to `put` in their order, one batch going out
/// while the next is made. Besides what `make` itself needs, two batches of strips are held and no more.
///
/// The watch is asked before each strip; progress goes strip by strip.
pub(super) fn in_order<T: Send>(
    strips: Strips,
    watch: &Watch,
    make: impl Fn(usize) -> Result<T, WriteError> + Sync,
    put: impl FnMut(usize, T) -> Result<(), WriteError> + Send,
) -> Result<(), WriteError> {
    let count = strips.count();
    let done = AtomicUsize::new(0);
    let make = |n: usize| {
        watch.check()?;
        let strip = make(n)?;
        let done = done.fetch_add(1, Ordering::Relaxed) + 1;
        watch.set_progress(MADE * done as f32 / count as f32);
        Ok(strip)
    };
    let batch = BATCH * rayon::current_num_threads();
    let made = |from: usize| -> Result<Vec<T>, WriteError> {
        let range = from..(from + batch).min(count);
        range.into_par_iter().map(make).collect()
    };
    let mut put = put;
    let mut out = |from: usize, strips: Vec<T>| {
        let mut numbered = (from..).zip(strips);
        numbered.try_for_each(|(n, strip)| {
            watch.check()?;
            put(n, strip)
        })
    };
    let mut ready = made(0)?;
    for from in (0..count).step_by(batch) {
        let (next, gone) = rayon::join(|| made(from + batch), || out(from, ready));
        gone?;
        ready = next?;
    }
    Ok(())
}
