//! False stops: every pixel in the colour of its level, in bands of a whole stop round key.
//!
//! A band reaches half a stop either way of its level, so that key's own band is what a meter calls key.
//! Bands darker than key are dark, deep blue and slate in turn; bands brighter are light, ochre and sand in
//! turn; key alone is cerise. What lies below the last band is black, what lies above it white.
//!
//! Lightness rises from band to band, by 4 of L\* at least, so that the order stays in a grey print. Any
//! two colours lie ΔE₀₀ 9 apart or more and key 15 from all others, for the usual eye and for those without
//! long-, middle- or short-wave cones: Machado, Oliveira and Fernandes, "A Physiologically-based Model for
//! Simulation of Color Vision Deficiency", *IEEE Trans. Vis. Comput. Graph.* 15 (2009), severity 1. The
//! palette is our own; a search under these conditions gave its codes.
//!
//! ```
//! use foreglass::meters::false_stops::{BANDS, colour};
//! assert_eq!(colour(0.18), BANDS[7].1); // key
//! assert_eq!(colour(0.18 * 4.0), BANDS[9].1); // two stops over
//! assert_eq!((colour(0.0), colour(1e6)), ([0; 3], [255; 3]));
//! ```

use super::painted::{Entry, Painted};
use super::reduced::{Channel, Reduced};
use crate::frame::Frame;
use crate::units::level_mark;
use rayon::prelude::*;

/// Levels either way of key that have a band.
pub const REACH: i8 = 6;
/// Bands with the two ends.
pub const COUNT: usize = 15;

/// The level of each band in stops against key and its sRGB codes, darkest first; the first stands for all
/// below the second, the last for all above.
pub const BANDS: [(i8, [u8; 3]); COUNT] = [
    (-7, [0, 0, 0]),
    (-6, [2, 30, 68]),
    (-5, [43, 47, 52]),
    (-4, [29, 59, 113]),
    (-3, [72, 77, 82]),
    (-2, [0, 84, 173]),
    (-1, [96, 105, 108]),
    (0, [238, 83, 159]),
    (1, [189, 148, 22]),
    (2, [187, 164, 137]),
    (3, [234, 172, 106]),
    (4, [206, 194, 182]),
    (5, [234, 211, 47]),
    (6, [255, 236, 217]),
    (7, [255, 255, 255]),
];

/// The band of a light, counted from the first.
#[must_use]
pub fn band(light: f32) -> usize {
    let reach = f32::from(REACH);
    let level = (light / Frame::KEY).max(0.0).log2();
    // No light is −∞, and goes into the first.
    (level.round().clamp(-reach - 1.0, reach + 1.0) + reach + 1.0) as usize
}

/// The sRGB codes of a light.
#[must_use]
pub fn colour(light: f32) -> [u8; 3] {
    BANDS[band(light)].1
}

/// Paints a picture's levels, at its size.
#[must_use]
pub fn paint(frame: &Frame) -> Painted {
    let (width, height) = (frame.width(), frame.height());
    let mut rgba = vec![u8::MAX; 4 * width * height];
    rgba.par_chunks_exact_mut(4 * width)
        .enumerate()
        .for_each(|(y, row)| {
            for (x, pixel) in row.chunks_exact_mut(4).enumerate() {
                let i = y * width + x;
                pixel[..3].copy_from_slice(&colour(frame.luminance(i)));
            }
        });
    Painted {
        width: u32::try_from(width).unwrap_or(u32::MAX),
        height: u32::try_from(height).unwrap_or(u32::MAX),
        rgba,
    }
}

/// The part of a picture in each band.
#[must_use]
pub fn shares(picture: &Reduced) -> [f64; COUNT] {
    let plane = picture.plane(Channel::Luminance);
    let mut counts = [0_u32; COUNT];
    for light in plane {
        counts[band(*light)] += 1;
    }
    counts.map(|count| f64::from(count) / plane.len() as f64)
}

/// What the colours say, darkest first.
#[must_use]
pub fn legend() -> [Entry; COUNT] {
    BANDS.map(|(level, colour)| {
        let middle = f64::from(level);
        let word = match level {
            _ if level < -REACH => "under".to_owned(),
            _ if level > REACH => "over".to_owned(),
            _ => level_mark(level.into()),
        };
        Entry {
            colour,
            from: (level >= -REACH).then_some(middle - 0.5),
            to: (level <= REACH).then_some(middle + 0.5),
            word,
        }
    })
}
