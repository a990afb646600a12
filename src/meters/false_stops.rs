//! False stops: every pixel in the colour of its level, in bands of a whole stop round key.
//!
//! A band reaches half a stop either way of its level, so that key's own band is what a meter calls key.
//! Bands darker than key are blue and dark, bands brighter are sand and light, alternately strong and weak
//! in colour; key is cerise, the one hue of its kind, with a gap of lightness on both sides. What lies below
//! the last band is black, what lies above it white. Lightness rises from band to band, so that the order
//! stays in a grey print, and any two colours lie apart for every kind of colour vision (at least
//! ΔE₀₀ 4.5 by the simulation of Machado, Oliveira and Fernandes, "A Physiologically-based Model for
//! Simulation of Color Vision Deficiency", *IEEE Trans. Vis. Comput. Graph.* 15 (2009), severity 1; key at
//! least 12 from all). The palette is our own.
//!
//! ```
//! use foreglass::meters::false_stops::{BANDS, colour};
//! assert_eq!(colour(0.18), BANDS[7].1); // key
//! assert_eq!(colour(0.18 * 4.0), BANDS[9].1); // two stops over
//! assert_eq!((colour(0.0), colour(1e6)), ([0; 3], [255; 3]));
//! ```

use super::painted::{Entry, Painted};
use super::reduced::{Channel, Reduced};
use crate::colour::primaries::luminance;
use crate::frame::Frame;
use rayon::prelude::*;

/// Levels either way of key that have a band.
pub const REACH: i8 = 6;
/// Bands with the two ends.
pub const COUNT: usize = 15;

/// The level of each band in stops against key and its sRGB codes, darkest first; the first stands for all
/// below the second, the last for all above.
pub const BANDS: [(i8, [u8; 3]); COUNT] = [
    (-7, [0, 0, 0]),
    (-6, [16, 26, 46]),
    (-5, [22, 40, 92]),
    (-4, [48, 58, 86]),
    (-3, [44, 72, 140]),
    (-2, [80, 92, 120]),
    (-1, [70, 105, 175]),
    (0, [222, 70, 140]),
    (1, [205, 150, 70]),
    (2, [195, 170, 130]),
    (3, [232, 180, 70]),
    (4, [218, 200, 160]),
    (5, [246, 212, 110]),
    (6, [240, 228, 200]),
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
    let [r, g, b] = frame.planes();
    let mut rgba = vec![u8::MAX; 4 * width * height];
    rgba.par_chunks_exact_mut(4 * width)
        .enumerate()
        .for_each(|(y, row)| {
            for (x, pixel) in row.chunks_exact_mut(4).enumerate() {
                let i = y * width + x;
                pixel[..3].copy_from_slice(&colour(luminance([r[i], g[i], b[i]])));
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
            _ if level < -REACH => "black".to_owned(),
            _ if level > REACH => "past the end".to_owned(),
            0 => "key".to_owned(),
            _ if level < 0 => format!("−{}", -level),
            _ => format!("+{level}"),
        };
        Entry {
            colour,
            from: (level >= -REACH).then_some(middle - 0.5),
            to: (level <= REACH).then_some(middle + 0.5),
            word,
        }
    })
}
