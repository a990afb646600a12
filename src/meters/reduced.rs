//! The picture that scopes read: reduced by area, so that a preview and the full size tell the same.
//!
//! Each pixel of it is the mean light of what it covers ([`to_width`]), no longer than
//! [`Reduced::LONGEST`] pixels along its longer side; a smaller picture is read as it is, a larger one by
//! way of its preview. Channels are
//! those of working light, and levels are log₂(light/0.18), stops against key.
//!
//! Source: definitions of stop and key (common practice).
//!
//! ```
//! use foreglass::frame::Frame;
//! use foreglass::meters::{Channel, Reduced};
//! let ramp: Vec<f32> = (0..1001).map(|i| 0.18 * (i as f32 / 250.0 - 2.0).exp2()).collect();
//! let read = Reduced::of(&Frame::from_planes(7, 143, [(); 3].map(|()| ramp.clone())));
//! let [low, middle] = read.percentiles(Channel::Green, [0.25, 0.5]);
//! assert!((low.get() + 1.0).abs() < 1e-5 && middle.get().abs() < 1e-5);
//! ```

use crate::frame::{Frame, PREVIEW, at_most, to_width};
use crate::units::{OutOfRange, Stops};

/// What is read of a pixel.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Channel {
    /// Luminance, Y of working light.
    Luminance,
    /// Red of working light.
    Red,
    /// Green of working light.
    Green,
    /// Blue of working light.
    Blue,
}

impl Channel {
    /// All of them, luminance first.
    pub const ALL: [Self; 4] = [Self::Luminance, Self::Red, Self::Green, Self::Blue];

    /// Its name.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Luminance => "luminance",
            Self::Red => "red",
            Self::Green => "green",
            Self::Blue => "blue",
        }
    }

    /// Its place in [`Channel::ALL`].
    #[must_use]
    pub const fn index(self) -> usize {
        self as usize
    }
}

/// A picture as scopes read it.
#[derive(Debug, Clone, PartialEq)]
pub struct Reduced {
    frame: Frame,
    luminance: Vec<f32>,
}

impl Reduced {
    /// Most pixels along the longer side.
    pub const LONGEST: usize = 960;

    /// Of a picture.
    #[must_use]
    pub fn of(frame: &Frame) -> Self {
        let frame = at_most(frame, PREVIEW);
        let (w, h) = (frame.width(), frame.height());
        let long = w.max(h);
        let width = if long > Self::LONGEST {
            ((w * Self::LONGEST + long / 2) / long).max(1)
        } else {
            w
        };
        let frame = to_width(&frame, width).unwrap_or_else(|_| frame.into_owned());
        let pixels = frame.width() * frame.height();
        let luminance = (0..pixels).map(|i| frame.luminance(i)).collect();
        Self { frame, luminance }
    }

    /// Pixels across.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.frame.width()
    }

    /// Pixels down.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.frame.height()
    }

    /// The reduced picture itself.
    #[must_use]
    pub const fn frame(&self) -> &Frame {
        &self.frame
    }

    /// The light of one channel, rows from the top.
    #[must_use]
    pub fn plane(&self, channel: Channel) -> &[f32] {
        match channel {
            Channel::Luminance => &self.luminance,
            Channel::Red => &self.frame.planes()[0],
            Channel::Green => &self.frame.planes()[1],
            Channel::Blue => &self.frame.planes()[2],
        }
    }

    /// The levels that these parts of the pixels (0 to 1, rising or not) do not exceed; no light is the
    /// lowest level there is.
    #[must_use]
    pub fn percentiles<const N: usize>(&self, channel: Channel, parts: [f64; N]) -> [Stops; N] {
        let mut light = self.plane(channel).to_vec();
        let last = light.len() - 1;
        parts.map(|part| {
            let at = (part.clamp(0.0, 1.0) * last as f64).round() as usize;
            let (_, value, _) = light.select_nth_unstable_by(at.min(last), f32::total_cmp);
            level(*value)
        })
    }
}

/// A light's level in stops against key; the lowest there is where there is no light.
#[must_use]
pub fn level(light: f32) -> Stops {
    Stops::clamped(f64::from((light / Frame::KEY).max(0.0).log2()))
}

/// An axis of stops in even bins, each centred on its level, so that key has a bin of its own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Axis {
    low: f32,
    bins: usize,
    per_stop: f32,
}

/// Where a light falls on an axis.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Bin {
    /// Below it, or no light.
    Under,
    /// In this bin.
    In(usize),
    /// Above it.
    Over,
}

impl Axis {
    /// Lowest level of the usual axis.
    pub const LOW: Stops = Stops::clamped(-8.0);
    /// Highest level of the usual axis.
    pub const HIGH: Stops = Stops::clamped(8.0);
    /// Most stops from end to end.
    const MOST: f64 = 60.0;

    /// An axis whose first bin is centred on `low` and its last on `high` (or as near as whole bins
    /// come to it), `per_stop` to the stop.
    ///
    /// # Errors
    /// [`OutOfRange`] unless `high` lies 1 to 60 stops above `low`, with 1 to 64 bins to the stop.
    pub fn new(low: Stops, high: Stops, per_stop: u8) -> Result<Self, OutOfRange> {
        let refuse = |quantity, value, low, high, unit| {
            Err(OutOfRange {
                quantity,
                value,
                low,
                high,
                unit,
            })
        };
        let stops = high.get() - low.get();
        if !(1.0..=Self::MOST).contains(&stops) {
            return refuse("range of levels", stops, 1.0, Self::MOST, "stops");
        }
        if !(1..=64).contains(&per_stop) {
            let n = f64::from(per_stop);
            return refuse("bins to the stop", n, 1.0, 64.0, "(whole number)");
        }
        Ok(Self::made(low, stops, per_stop))
    }

    /// The usual axis, −8 to +8 stops against key.
    #[must_use]
    pub fn usual(per_stop: u8) -> Self {
        let stops = Self::HIGH.get() - Self::LOW.get();
        Self::made(Self::LOW, stops, per_stop.clamp(1, 64))
    }

    fn made(low: Stops, stops: f64, per_stop: u8) -> Self {
        Self {
            low: low.get() as f32,
            bins: (stops * f64::from(per_stop)).round() as usize + 1,
            per_stop: f32::from(per_stop),
        }
    }

    /// How many bins it has.
    #[must_use]
    pub const fn bins(&self) -> usize {
        self.bins
    }

    /// Bins to the stop.
    #[must_use]
    pub fn per_stop(&self) -> f64 {
        f64::from(self.per_stop)
    }

    /// The level in the middle of a bin.
    #[must_use]
    pub fn centre(&self, bin: usize) -> Stops {
        Stops::clamped(f64::from(self.low) + bin as f64 / self.per_stop())
    }

    /// The levels at the lower edge of the first bin and the upper edge of the last.
    #[must_use]
    pub fn ends(&self) -> [Stops; 2] {
        let half = 0.5 / self.per_stop();
        let [first, last] = [0, self.bins - 1].map(|bin| self.centre(bin).get());
        [first - half, last + half].map(Stops::clamped)
    }

    /// Where on the axis a level lies: 0 at its lower end, 1 at its upper; beyond, out of 0 to 1.
    #[must_use]
    pub fn part(&self, level: Stops) -> f64 {
        let [low, high] = self.ends().map(Stops::get);
        (level.get() - low) / (high - low)
    }

    /// Where a light falls.
    #[must_use]
    pub fn place(&self, light: f32) -> Bin {
        // No light has the level −∞, and stays under; so does what is below none.
        let at = ((light / Frame::KEY).max(0.0).log2() - self.low) * self.per_stop + 0.5;
        if at >= 0.0 {
            let bin = at as usize;
            if bin < self.bins {
                Bin::In(bin)
            } else {
                Bin::Over
            }
        } else {
            Bin::Under
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn key_has_a_bin_of_its_own_and_ends_are_half_a_bin_out() {
        let axis = Axis::usual(8);
        assert_eq!(axis.bins(), 129, "sixteen stops in eighths, both ends in");
        assert_eq!(axis.place(0.18), Bin::In(64), "key in the middle");
        assert_eq!(axis.place(0.0), Bin::Under, "no light");
        assert_eq!(axis.place(-1.0), Bin::Under, "less than none");
        let at = |stops: f32| axis.place(0.18 * stops.exp2());
        assert_eq!([at(-8.06), at(-8.07)], [Bin::In(0), Bin::Under]);
        assert_eq!([at(8.06), at(8.07)], [Bin::In(128), Bin::Over]);
        assert!(axis.part(Stops::ZERO) - 0.5 < 1e-9, "key half way up");
    }

    #[test]
    fn an_axis_that_is_none_is_refused() {
        let s = Stops::clamped;
        for (low, high, per) in [
            (0.0, 0.0, 8),
            (1.0, -1.0, 8),
            (-40.0, 40.0, 8),
            (0.0, 4.0, 0),
        ] {
            assert!(
                Axis::new(s(low), s(high), per).is_err(),
                "{low} {high} {per}"
            );
        }
        let axis = Axis::new(s(-3.0), s(2.5), 2).expect("an axis");
        assert_eq!(
            (axis.bins(), axis.centre(11).get()),
            (12, 2.5),
            "eleven halves"
        );
    }
}
