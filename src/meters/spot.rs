//! A spot meter: the mean light over a small disc, in stops against key.

use crate::frame::{Disc, Frame};
use crate::units::Stops;

/// Level of the mean luminance over a disc, log₂(Y/0.18).
///
/// The centre is in 0..1 of the frame from its top left, the radius in 0..1 of its width; pixel i
/// spans [i/w, (i+1)/w] and counts where its centre is in the disc, and the pixel under the disc's
/// centre always counts. No light reads as the lowest level there is.
#[must_use]
pub fn spot(frame: &Frame, x: f64, y: f64, radius: f64) -> Stops {
    let light = Disc { x, y, radius }.mean(frame);
    Stops::clamped((light / f64::from(Frame::KEY)).max(0.0).log2())
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
