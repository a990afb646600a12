//! The channels that a file's own codes stand for, and where they ran out.

use super::{Disc, Frame};
use crate::colour::Matrix3;
use std::sync::Arc;

/// The way from working light back to a file's own channels, and what was cut off there.
#[derive(Debug, Clone)]
pub struct Native {
    /// From the file's channels, linear, to working light.
    pub to_working: Matrix3,
    /// And back.
    pub from_working: Matrix3,
    /// Whether its encoding is one made for a display, behind which a camera's picture curve is to be
    /// expected.
    pub for_display: bool,
    /// Bits of a sample of its codes; 32 for float, 16 for half float.
    pub bits: u8,
    /// The samples that were cut off; None where none were.
    pub clipped: Option<Arc<Clipped>>,
}

/// The samples of a picture that were cut off at the top of their range.
#[derive(Debug, Clone, PartialEq)]
pub struct Clipped {
    /// For every pixel, rows from the top: bit 0 red, bit 1 green, bit 2 blue.
    pub channels: Vec<u8>,
    /// The plainly decoded light of the code at which each channel ends, in the file's own channels.
    pub ceiling: [f32; 3],
}

impl Native {
    /// Of light that is no file's: its channels are those of working light, and nothing was cut off.
    #[must_use]
    pub const fn working() -> Self {
        Self {
            to_working: Matrix3::IDENTITY,
            from_working: Matrix3::IDENTITY,
            for_display: false,
            bits: 32,
            clipped: None,
        }
    }

    /// Whether a channel of a pixel was cut off.
    #[must_use]
    pub fn is_cut_off(&self, pixel: usize) -> bool {
        self.clipped
            .as_ref()
            .is_some_and(|clipped| clipped.channels[pixel] != 0)
    }

    /// Whether most of a disc's light is clipped light, or most of the pixels around its centre are clipped:
    /// a lamp smaller than the meter's spot. `frame` is the plainly decoded light.
    #[must_use]
    pub fn is_clipped(&self, disc: Disc, frame: &Frame) -> bool {
        if self.clipped.is_none() {
            return false;
        }
        let (width, height) = (frame.width(), frame.height());
        let light = |i: usize| f64::from(frame.luminance(i)).max(0.0);
        let (lost, all) = disc
            .covered(width, height)
            .fold((0.0, 0.0), |(lost, all), (i, part)| {
                let light = part * light(i);
                let cut_off = f64::from(u8::from(self.is_cut_off(i)));
                (lost + cut_off * light, all + light)
            });
        // The pixel at the centre and its eight neighbours.
        let centre = Disc {
            radius: disc.radius.min(1.5 / width as f64),
            ..disc
        };
        let (near, count) = centre
            .pixels(width, height)
            .fold((0_usize, 0_usize), |(near, count), i| {
                (near + usize::from(self.is_cut_off(i)), count + 1)
            });
        2.0 * lost > all || 2 * near > count
    }
}
