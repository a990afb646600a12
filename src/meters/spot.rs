//! A spot meter: the mean light over a small disc, in stops against key; and the contrast of two spots.
//!
//! A ratio of light is told as 2^stops to one: two stops between key and fill are 4:1 (common practice, no
//! source).
//!
//! ```
//! use foreglass::meters::spot::Contrast;
//! use foreglass::units::Stops;
//! let contrast = Contrast::between(Stops::new(1.5)?, Stops::new(-0.5)?).unwrap();
//! assert_eq!((contrast.stops.get(), contrast.ratio()), (2.0, 4.0));
//! # Ok::<(), foreglass::units::OutOfRange>(())
//! ```

use crate::frame::{Disc, Frame};
use crate::units::Stops;

/// Level of the mean luminance over a disc, log₂(Y/0.18).
///
/// The centre is in 0..1 of the frame from its top left, the radius in 0..1 of its width; which light
/// counts is said at [`Disc`]. No light reads as the lowest level there is.
#[must_use]
pub fn spot(frame: &Frame, x: f64, y: f64, radius: f64) -> Stops {
    let light = Disc { x, y, radius }.mean(frame);
    Stops::clamped((light / f64::from(Frame::KEY)).max(0.0).log2())
}

/// How much brighter one spot is than another: key against fill.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Contrast {
    /// The first level less the second.
    pub stops: Stops,
}

impl Contrast {
    /// Of two levels; None where either has no light in it.
    #[must_use]
    pub fn between(key: Stops, fill: Stops) -> Option<Self> {
        let lit = |stops: Stops| stops.get() > Stops::LOW;
        (lit(key) && lit(fill)).then(|| Self { stops: key - fill })
    }

    /// The first light over the second: n of "n:1".
    #[must_use]
    pub fn ratio(self) -> f64 {
        self.stops.factor()
    }
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
        let black = spot(&frame, 1.0, 1.0, 0.1);
        assert!(black.get() <= Stops::LOW, "black is the lowest level");
        assert_eq!(
            Contrast::between(Stops::ZERO, black),
            None,
            "and has no ratio"
        );
    }
}
