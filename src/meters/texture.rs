//! Texture kept: how much of the local contrast of a frame comes through glass, at three scales.
//!
//! Local contrast in a band is Peli's: the band over the light that lies below it in frequency, both
//! of linear luminance, so that it is a ratio wherever the picture is bright or dark and exposure does
//! not count. A band is the difference of two Gaussians, σ and 2σ; it peaks at ν₀ with
//! `(2π ν₀ σ)² = ⅔ ln 4` and is half as strong at 0.47 ν₀ and 1.76 ν₀. The scales are two octaves
//! apart: fine peaks at 160 cycles per picture height (pores, lashes, cloth), medium at 40 (the
//! modelling of a face in close-up), coarse at 10 (shapes). What is kept is the root mean square of the
//! contrast through glass over that of the bare frame, told in per cent and in decibels, 20 log₁₀ of it; a
//! frame with too few rows for a scale, or nothing there to keep, has none. The energy of a band is the
//! mean square of its contrast, so that the decibels are 10 log₁₀ of the energies' ratio too.
//!
//! ```
//! use foreglass::meters::texture::Band;
//! let band = Band { bare: 0.02, glass: 0.01 };
//! assert_eq!(band.percent(), 50.0);
//! assert!((band.db() + 6.0206).abs() < 1e-4);
//! ```
//!
//! Source: E. Peli, "Contrast in complex images", *J. Opt. Soc. Am. A* 7 (1990) 2032, for the
//! contrast; the scales are our own choice.

use super::{BLACK, Region, reduced};
use crate::frame::{Frame, mirrored};
use rayon::prelude::*;
use std::f64::consts::PI;

/// Where the bands peak, in cycles per picture height: fine, medium, coarse.
pub const PEAKS: [f64; 3] = [160.0, 40.0, 10.0];

/// Rows that a band is worked at, per cycle of its peak; taller frames are averaged down to that.
const ROWS: f64 = 12.0;
/// Rows that a band needs, per cycle of its peak.
const LEAST_ROWS: f64 = 4.0;
/// Contrast, root mean square, under which there is nothing to keep.
const NOTHING: f64 = 1e-5;

/// Least part kept that decibels are told of.
const LEAST_KEPT: f64 = 1e-6;

/// Texture at each scale.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Texture {
    /// Pores, lashes, cloth.
    pub fine: Option<Band>,
    /// Modelling.
    pub medium: Option<Band>,
    /// Shapes.
    pub coarse: Option<Band>,
}

/// Local contrast in one band, root mean square.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Of the bare frame; more than nothing.
    pub bare: f64,
    /// Through glass.
    pub glass: f64,
}

impl Band {
    /// The energies, bare and through glass: mean squares of the contrast.
    #[must_use]
    pub fn energies(self) -> [f64; 2] {
        [self.bare, self.glass].map(|c| c * c)
    }

    /// What is kept of the contrast, per cent.
    #[must_use]
    pub fn percent(self) -> f64 {
        100.0 * self.glass / self.bare
    }

    /// What is kept in decibels; negative where texture is lost, and no less than −120.
    #[must_use]
    pub fn db(self) -> f64 {
        20.0 * (self.glass / self.bare).max(LEAST_KEPT).log10()
    }
}

impl Texture {
    /// The scales by name, finest first, with where their bands peak in cycles per picture height.
    #[must_use]
    pub const fn scales(&self) -> [(&'static str, f64, Option<Band>); 3] {
        [
            ("fine", PEAKS[0], self.fine),
            ("medium", PEAKS[1], self.medium),
            ("coarse", PEAKS[2], self.coarse),
        ]
    }
}

/// The texture that glass keeps of a region; `gain` is what the glass makes of an even field.
///
/// # Panics
/// When the two frames differ in size.
#[must_use]
pub fn kept(bare: &Frame, glass: &Frame, gain: f64, region: Region) -> Texture {
    let [fine, medium, coarse] = PEAKS.map(|peak| {
        let rows = bare.height() as f64;
        if rows < LEAST_ROWS * peak {
            return None;
        }
        let worked = (ROWS * peak).min(rows) / rows;
        let width = (worked * bare.width() as f64).round() as usize;
        let (w, h, before) = reduced(bare, width, 1.0);
        let (_, _, after) = reduced(glass, width, gain);
        assert_eq!(before.len(), after.len(), "two pictures of one frame");
        let sigma = (2.0 / 3.0 * 4_f64.ln()).sqrt() / (2.0 * PI * peak) * h as f64;
        let bare = contrast(&before, [w, h], sigma, region);
        let glass = contrast(&after, [w, h], sigma, region);
        (bare > NOTHING).then_some(Band { bare, glass })
    });
    Texture {
        fine,
        medium,
        coarse,
    }
}

/// Root mean square of the local contrast over a region, in the band that starts at `sigma`.
fn contrast(light: &[f32], [width, height]: [usize; 2], sigma: f64, region: Region) -> f64 {
    let narrow = blurred(light, width, sigma);
    let wide = blurred(light, width, 2.0 * sigma);
    let [columns, rows] = region.cells(width, height);
    let count = columns.len() * rows.len();
    let squares: f64 = rows
        .flat_map(|y| columns.clone().map(move |x| y * width + x))
        .map(|i| {
            let below = f64::from(wide[i]);
            let c = (f64::from(narrow[i]) - below) / (below.max(0.0) + BLACK);
            c * c
        })
        .sum();
    (squares / count as f64).sqrt()
}

/// A plane under a Gaussian, mirrored about its borders.
fn blurred(plane: &[f32], width: usize, sigma: f64) -> Vec<f32> {
    let height = plane.len() / width;
    let reach = (4.0 * sigma).ceil().max(1.0) as usize;
    let mut taps: Vec<f32> = (0..=2 * reach)
        .map(|k| {
            let t = (k as f64 - reach as f64) / sigma;
            (-0.5 * t * t).exp() as f32
        })
        .collect();
    let all: f32 = taps.iter().sum();
    taps.iter_mut().for_each(|t| *t /= all);
    // Counted from `reach` before the border.
    let from_edge = |at: usize, count: usize| mirrored(at as isize - reach as isize, count);
    let mut across = vec![0.0; plane.len()];
    across
        .par_chunks_mut(width)
        .zip(plane.par_chunks(width))
        .for_each_init(
            || vec![0.0; width + 2 * reach],
            |padded, (out, row)| {
                for (at, v) in padded.iter_mut().enumerate() {
                    *v = row[from_edge(at, width)];
                }
                for (x, out) in out.iter_mut().enumerate() {
                    let near = &padded[x..x + taps.len()];
                    *out = near.iter().zip(&taps).map(|(v, t)| v * t).sum();
                }
            },
        );
    let mut down = vec![0.0; plane.len()];
    down.par_chunks_mut(width).enumerate().for_each(|(y, out)| {
        for (k, tap) in taps.iter().enumerate() {
            let from = from_edge(y + k, height) * width;
            let row = &across[from..from + width];
            out.iter_mut().zip(row).for_each(|(o, v)| *o += tap * v);
        }
    });
    down
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_gaussian_keeps_light_and_borders() {
        let plane: Vec<f32> = (0..12).map(|i| if i == 0 { 12.0 } else { 0.0 }).collect();
        for sigma in [0.5, 2.0, 30.0] {
            let out = blurred(&plane, 4, sigma);
            let sum: f32 = out.iter().sum();
            assert!((sum - 12.0).abs() < 1e-4, "σ {sigma}: {sum}");
        }
    }
}
