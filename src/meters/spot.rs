//! A spot meter: the mean light over a small disc, in stops against key.

use crate::colour::primaries::luminance;
use crate::frame::Frame;
use crate::units::Stops;

/// Level of the mean luminance over a disc, log₂(Y/0.18).
///
/// The centre is in 0..1 of the frame from its top left, the radius in 0..1 of its width; pixel i
/// spans [i/w, (i+1)/w] and counts where its centre is in the disc, and the pixel under the disc's
/// centre always counts. No light reads as the lowest level there is.
#[must_use]
pub fn spot(frame: &Frame, x: f64, y: f64, radius: f64) -> Stops {
    let (width, height) = (frame.width(), frame.height());
    let (cx, cy) = (x * width as f64, y * height as f64);
    let r = radius * width as f64;
    let inside = |c: f64, limit: usize| (c.max(0.0) as usize).min(limit - 1);
    let (columns, rows) = (
        inside(cx - r, width)..=inside(cx + r, width),
        inside(cy - r, height)..=inside(cy + r, height),
    );
    let centre = (inside(cx, width), inside(cy, height));
    let mut sum = 0.0;
    let mut count = 0_u32;
    for py in rows {
        for px in columns.clone() {
            let (dx, dy) = (px as f64 + 0.5 - cx, py as f64 + 0.5 - cy);
            if dx * dx + dy * dy <= r * r || (px, py) == centre {
                sum += f64::from(luminance(frame.pixel(px, py)));
                count += 1;
            }
        }
    }
    Stops::clamped(
        (sum / f64::from(count) / f64::from(Frame::KEY))
            .max(0.0)
            .log2(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn key_reads_zero_and_twice_key_reads_one() {
        let frame = Frame::from_planes(4, 2, std::array::from_fn(|_| vec![0.36; 8]));
        assert!(
            (spot(&frame, 0.5, 0.5, 0.01).get() - 1.0).abs() < 1e-6,
            "one stop over key"
        );
    }

    #[test]
    fn corners_and_black_read() {
        let frame = Frame::black(3, 3);
        assert!(
            spot(&frame, 1.0, 1.0, 0.1).get() <= Stops::LOW,
            "black is the lowest level"
        );
    }
}
