//! Cosine and sine transforms of whole planes, for executors that work on frequencies.

use rayon::prelude::*;
use rustdct::{DctNum, TransformType2And3};

/// Rows that one task takes at a time.
const ROWS: usize = 16;

/// One transform of one line, in place: plan, line, scratch.
pub type Transform<T> = fn(&dyn TransformType2And3<T>, &mut [T], &mut [T]);

/// Type II: values to cosines.
pub fn cosines<T: DctNum>(plan: &dyn TransformType2And3<T>, line: &mut [T], scratch: &mut [T]) {
    plan.process_dct2_with_scratch(line, scratch);
}

/// Type III: cosines to values, times half the length.
pub fn from_cosines<T: DctNum>(
    plan: &dyn TransformType2And3<T>,
    line: &mut [T],
    scratch: &mut [T],
) {
    plan.process_dct3_with_scratch(line, scratch);
}

/// Type III: sines to values, times half the length; the sine of order k stands at k − 1.
pub fn from_sines<T: DctNum>(plan: &dyn TransformType2And3<T>, line: &mut [T], scratch: &mut [T]) {
    plan.process_dst3_with_scratch(line, scratch);
}

/// Transforms every line of `data`, each as long as the plan.
pub fn lines<T: DctNum>(data: &mut [T], plan: &dyn TransformType2And3<T>, transform: Transform<T>) {
    let length = plan.len();
    data.par_chunks_mut(length * ROWS).for_each_init(
        || vec![T::zero(); plan.get_scratch_len()],
        |scratch, rows| {
            for row in rows.chunks_exact_mut(length) {
                transform(plan, row, scratch);
            }
        },
    );
}

/// `from` is `width × height`; `to` becomes `height × width`.
pub fn transpose<T: Copy + Send + Sync>(from: &[T], to: &mut [T], width: usize, height: usize) {
    to.par_chunks_mut(height * ROWS)
        .enumerate()
        .for_each(|(block, columns)| {
            let first = block * ROWS;
            // A block of columns is filled a strip of rows at a time, so that reads stay in the cache.
            for strip in (0..height).step_by(ROWS) {
                let end = (strip + ROWS).min(height);
                for (i, column) in columns.chunks_exact_mut(height).enumerate() {
                    for (y, value) in column[strip..end].iter_mut().enumerate() {
                        *value = from[(strip + y) * width + first + i];
                    }
                }
            }
        });
}
