//! Making a smaller picture: each pixel is the mean of the light over the area it covers.
//!
//! Worked in linear light, with exact fractional coverage, so the frame's mean is kept; only
//! down-scaling, because a preview invents nothing.

use super::Frame;
use rayon::prelude::*;
use std::borrow::Cow;

/// A width that a frame cannot be brought to.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the width {wanted} px is out of range: 1 to {limit} px, the picture's own width")]
pub struct ResizeError {
    /// The width asked for.
    pub wanted: usize,
    /// The frame's width.
    pub limit: usize,
}

/// The frame at `width` pixels across, its height in proportion (rounded, at least one).
///
/// # Errors
/// [`ResizeError`] for a width of zero or beyond the frame's own.
///
/// ```
/// use foreglass::frame::{Frame, to_width};
/// let row = vec![0.0, 1.0, 2.0, 3.0];
/// let small = to_width(&Frame::from_planes(4, 1, [row.clone(), row.clone(), row]), 2)?;
/// assert_eq!(small.planes()[0], [0.5, 2.5]);
/// # Ok::<(), foreglass::frame::ResizeError>(())
/// ```
pub fn to_width(frame: &Frame, width: usize) -> Result<Frame, ResizeError> {
    let (w, h) = (frame.width(), frame.height());
    if width == 0 || width > w {
        return Err(ResizeError {
            wanted: width,
            limit: w,
        });
    }
    if width == w {
        return Ok(frame.clone());
    }
    let height = height_for((w, h), width);
    if [w, h] == [2 * width, 2 * height] {
        let planes = frame.planes().each_ref().map(|plane| halved(plane, w));
        return Ok(Frame::from_planes(width, height, planes));
    }
    let (across, down) = (Coverage::new(w, width), Coverage::new(h, height));
    let shrink = |plane: &Vec<f32>| {
        let mut out = vec![0.0_f32; width * height];
        out.par_chunks_mut(width).enumerate().for_each_init(
            || vec![0.0_f32; w],
            |sum, (y, row)| {
                sum.fill(0.0);
                let (first, weights) = down.of(y);
                for (k, &weight) in weights.iter().enumerate() {
                    let line = &plane[(first + k) * w..(first + k + 1) * w];
                    sum.iter_mut()
                        .zip(line)
                        .for_each(|(s, &v)| *s += weight * v);
                }
                for (x, out) in row.iter_mut().enumerate() {
                    let (first, weights) = across.of(x);
                    let cells = &sum[first..first + weights.len()];
                    *out = weights.iter().zip(cells).map(|(&w, &v)| w * v).sum();
                }
            },
        );
        out
    };
    Ok(Frame::from_planes(
        width,
        height,
        frame.planes().each_ref().map(shrink),
    ))
}

/// Half as wide and half as high: what the shares of [`Coverage`] come to there, to the bit.
fn halved(plane: &[f32], width: usize) -> Vec<f32> {
    let mut out = vec![0.0_f32; plane.len() / 4];
    let rows = out.par_chunks_mut(width / 2);
    rows.zip(plane.par_chunks(2 * width))
        .for_each(|(out, two)| {
            let (above, below) = two.split_at(width);
            let pairs = above.chunks_exact(2).zip(below.chunks_exact(2));
            for (out, (a, b)) in out.iter_mut().zip(pairs) {
                *out = 0.5 * (0.5 * a[0] + 0.5 * b[0]) + 0.5 * (0.5 * a[1] + 0.5 * b[1]);
            }
        });
    out
}

/// The height that goes with a width: of a picture of (w, h), the nearest in proportion.
pub(crate) fn height_for((w, h): (usize, usize), width: usize) -> usize {
    ((h * width + w / 2) / w).max(1)
}

/// Pixels of a preview.
pub const PREVIEW: usize = 2_000_000;

/// The frame at no more than `limit` pixels (at least one across); itself where it has no more.
///
/// Whoever reads a picture at [`PREVIEW`] reads the same of the preview and of the full size.
#[must_use]
pub fn at_most(frame: &Frame, limit: usize) -> Cow<'_, Frame> {
    let (w, h) = (frame.width(), frame.height());
    if w * h <= limit {
        return Cow::Borrowed(frame);
    }
    let mut width = (limit as f64 * w as f64 / h as f64).sqrt() as usize;
    // Its height is rounded: what comes out must not be made smaller once more.
    while width > 1 && width * height_for((w, h), width) > limit {
        width -= 1;
    }
    let width = width.clamp(1, w);
    to_width(frame, width).map_or(Cow::Borrowed(frame), Cow::Owned)
}

/// For each output cell along an axis: the first input cell under it, and each one's share.
pub(super) struct Coverage {
    starts: Vec<usize>,
    weights: Vec<Vec<f32>>,
}

impl Coverage {
    pub(super) fn new(from: usize, to: usize) -> Self {
        // In units of 1/(from·to) of the axis every edge is a whole number, so shares are exact.
        let (mut starts, mut weights) = (Vec::with_capacity(to), Vec::with_capacity(to));
        for cell in 0..to {
            let (low, high) = (cell * from, (cell + 1) * from);
            let (first, last) = (low / to, high.div_ceil(to));
            starts.push(first);
            let share = |i: usize| high.min((i + 1) * to) - low.max(i * to);
            weights.push(
                (first..last)
                    .map(|i| share(i) as f32 / from as f32)
                    .collect(),
            );
        }
        Self { starts, weights }
    }

    pub(super) fn of(&self, cell: usize) -> (usize, &[f32]) {
        (self.starts[cell], &self.weights[cell])
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn mean(plane: &[f32]) -> f64 {
        plane.iter().map(|&v| f64::from(v)).sum::<f64>() / plane.len() as f64
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]
        #[test]
        fn the_mean_of_the_light_is_kept(
            w in 1_usize..90, h in 1_usize..70, part in 0.01_f64..1.0, seed in 0_u32..1000,
        ) {
            let value = |i: usize| ((i as u32).wrapping_mul(2_654_435_761) ^ seed) as f32 / 4e9;
            let plane: Vec<f32> = (0..w * h).map(value).collect();
            let before = mean(&plane);
            let frame = Frame::from_planes(w, h, [plane.clone(), plane.clone(), plane]);
            let width = ((w as f64 * part) as usize).max(1);
            let small = to_width(&frame, width).unwrap();
            let limit = small.width() * small.height();
            let within = at_most(&frame, limit);
            prop_assert!(within.width() * within.height() <= limit.max(h));
            prop_assert_eq!(at_most(&within, limit), Cow::Borrowed(&*within));
            let after = mean(&small.planes()[2]);
            prop_assert!((after - before).abs() <= 2e-6, "{before} became {after}");
        }
    }

    #[test]
    fn a_whole_factor_is_the_plain_mean_and_enlarging_is_refused() {
        let plane: Vec<f32> = (0..24_u8).map(f32::from).collect();
        let frame = Frame::from_planes(6, 4, [plane.clone(), plane.clone(), plane]);
        let small = to_width(&frame, 3).unwrap();
        assert_eq!((small.width(), small.height()), (3, 2), "in proportion");
        assert!(
            (small.planes()[0][0] - 3.5).abs() < 1e-6,
            "the mean of 0, 1, 6 and 7"
        );
        let refused = to_width(&frame, 7).unwrap_err().to_string();
        assert!(
            refused.contains("7 px") && refused.contains("1 to 6 px"),
            "{refused}"
        );
        assert!(to_width(&frame, 0).is_err(), "no pixels, no picture");
    }
}
