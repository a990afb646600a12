//! Histogram in stops: which part of the picture has which level, in bins of an eighth of a stop.
//!
//! Even bins of stops, not of codes: a picture a stop brighter has the same shape, eight bins further
//! along. Of the picture as [`Reduced`]; light off the axis is counted, under and over, and the shares add up
//! to 1.
//!
//! ```
//! use foreglass::frame::Frame;
//! use foreglass::meters::{Channel, Reduced, histogram::Histogram};
//! let light = vec![0.18, 0.36, 0.36, 0.0];
//! let read = Reduced::of(&Frame::from_planes(4, 1, [(); 3].map(|()| light.clone())));
//! let tally = Histogram::usual(&read);
//! let green = tally.counts(Channel::Green);
//! assert_eq!((green.shares[64], green.shares[72], green.under), (0.25, 0.5, 0.25));
//! ```

use super::reduced::{Axis, Bin, Channel, Reduced};
use rayon::prelude::*;

/// Bins to the stop.
pub const PER_STOP: u8 = 8;

/// Levels of a whole picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Histogram {
    axis: Axis,
    counts: [Counts; 4],
}

/// One channel's.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Counts {
    /// The part of the pixels in each bin, lowest first.
    pub shares: Vec<f64>,
    /// The part below the axis; no light counts here.
    pub under: f64,
    /// The part above the axis.
    pub over: f64,
}

impl Histogram {
    /// Of a picture, on the usual axis.
    #[must_use]
    pub fn usual(picture: &Reduced) -> Self {
        Self::of(picture, Axis::usual(PER_STOP))
    }

    /// Of a picture.
    #[must_use]
    pub fn of(picture: &Reduced, axis: Axis) -> Self {
        let mut counts: [Counts; 4] = std::array::from_fn(|_| Counts::default());
        counts
            .par_iter_mut()
            .zip(Channel::ALL)
            .for_each(|(counts, channel)| *counts = Counts::of(picture.plane(channel), &axis));
        Self { axis, counts }
    }

    /// Its axis of stops.
    #[must_use]
    pub const fn axis(&self) -> &Axis {
        &self.axis
    }

    /// What a channel has.
    #[must_use]
    pub const fn counts(&self, channel: Channel) -> &Counts {
        &self.counts[channel.index()]
    }
}

impl Counts {
    fn of(plane: &[f32], axis: &Axis) -> Self {
        let mut counts = vec![0_u64; axis.bins()];
        let (mut under, mut over) = (0_u64, 0_u64);
        for light in plane {
            match axis.place(*light) {
                Bin::In(bin) => counts[bin] += 1,
                Bin::Under => under += 1,
                Bin::Over => over += 1,
            }
        }
        let share = |count: u64| count as f64 / plane.len() as f64;
        Self {
            shares: counts.into_iter().map(share).collect(),
            under: share(under),
            over: share(over),
        }
    }
}
