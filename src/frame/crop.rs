//! A rectangle out of a frame, or a larger one around it.

use super::Frame;
use rayon::prelude::*;

/// The part of a frame whose left top pixel is `corner` and that is `width × height` pixels large. It may
/// reach beyond the frame, where it is filled with `fill`, grey working light.
///
/// # Panics
/// When a side is zero.
///
/// ```
/// use foreglass::frame::{Frame, crop};
/// let row = vec![1.0, 2.0, 3.0];
/// let frame = Frame::from_planes(3, 1, [row.clone(), row.clone(), row]);
/// assert_eq!(crop(&frame, [1, 0], [1, 1], 0.0).planes()[0], [2.0]);
/// assert_eq!(crop(&frame, [-1, 0], [5, 1], 0.5).planes()[1], [0.5, 1.0, 2.0, 3.0, 0.5]);
/// ```
#[must_use]
pub fn crop(frame: &Frame, corner: [isize; 2], [width, height]: [usize; 2], fill: f32) -> Frame {
    let cut = |plane: &Vec<f32>| {
        let mut out = vec![fill; width * height];
        // Columns of the result that the frame has, and where in the frame they begin.
        let first = corner[0].min(0).unsigned_abs().min(width);
        let from = corner[0].max(0).unsigned_abs();
        let count = frame.width().saturating_sub(from).min(width - first);
        out.par_chunks_mut(width).enumerate().for_each(|(y, row)| {
            let line = usize::try_from(corner[1].saturating_add_unsigned(y))
                .ok()
                .filter(|l| *l < frame.height());
            if let Some(line) = line
                && count > 0
            {
                let start = line * frame.width() + from;
                row[first..first + count].copy_from_slice(&plane[start..start + count]);
            }
        });
        out
    };
    Frame::from_planes(width, height, frame.planes().each_ref().map(cut))
}
