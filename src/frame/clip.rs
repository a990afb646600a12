//! Where a file's codes ran out: the samples that were cut off at the top of their range.
//!
//! Looked for channel by channel in the codes as they lie in the file, before any curve, table or matrix.
//! A channel's ceiling is the top code of its bits (that of fewer bits moved up counts too: 10 bits in 16
//! end at 65472). It may also lie lower, where a camera or a conversion ended early; then the largest code
//! has to be a pile that light runs up to:
//!
//! - at least 16 pixels and a ten-thousandth of the picture lie on it, in the upper half of the range;
//! - at least [`SPIKE`] times as many as on each of the eight 8-bit steps under it, on average. Smooth
//!   shading that has its top there gives at most 5.1 times: along one direction a round top spends √n of
//!   its length on the first n codes, and 1 : (√17 − 1)/16 is 1 : 0.195;
//! - and each of those eight steps has at least [`RUN_UP`] of the pile's side (the root of its pixels). A
//!   white wall without noise, at code 252, is a pile too, but with no light running up to it.
//!
//! The rules are our own: common practice knows the top code only. Files of floats have no ceiling.

// Codes that lossy coding moved off the ceiling.
mod lossy;

use super::develop::{Raw, Samples};
use super::matrix::RUN;
use super::native::Clipped;
use super::orient::Orientation;
use crate::colour::Matrix3;
use rayon::prelude::*;

/// How many times as high as the codes under it a pile is.
const SPIKE: f64 = 8.0;
/// Pixels on each code under a pile, in parts of its side.
const RUN_UP: f64 = 0.05;
/// Steps of 8 bits under a pile that are looked at.
const UNDER: usize = 8;

/// A sample as an integer.
trait Code: Copy + Sync + PartialOrd + Into<usize> {
    const BITS: u32;
    const TOP: Self;
    /// One step of 8 bits.
    const STEP: usize = ((1 << Self::BITS) - 1) / 255;

    /// A code that has so many bits.
    fn of(code: usize) -> Self;
}

impl Code for u8 {
    const BITS: u32 = 8;
    const TOP: Self = Self::MAX;

    fn of(code: usize) -> Self {
        code as Self
    }
}

impl Code for u16 {
    const BITS: u32 = 16;
    const TOP: Self = Self::MAX;

    fn of(code: usize) -> Self {
        code as Self
    }
}

/// Samples that were cut off, as the file holds them.
pub(super) struct Cut {
    /// As [`Clipped::channels`].
    channels: Vec<u8>,
    /// Every channel's ceiling as a code of 0 to 1.
    codes: [f32; 3],
}

impl Cut {
    /// What is cut off in a decoded still; None where nothing is.
    pub(super) fn find(raw: &Raw) -> Option<Self> {
        let shape = Shape {
            width: raw.width,
            height: raw.height,
            channels: raw.channels,
        };
        // What kind of coding it is stands in the kind of file.
        let lossy = raw.kind.contains("JPEG");
        match &raw.samples {
            Samples::U8(codes) => find(codes, shape, lossy),
            Samples::U16(codes) => find(codes, shape, lossy),
            Samples::F32(_) | Samples::Planes(_) => None,
        }
    }

    /// Of the picture made smaller: `scale` takes the flags of all pixels.
    pub(super) fn scaled(self, scale: impl FnOnce(&[u8]) -> Vec<u8>) -> Self {
        Self {
            channels: scale(&self.channels),
            ..self
        }
    }

    /// Turned as the picture is.
    pub(super) fn upright(mut self, turn: Orientation, width: usize, height: usize) -> Self {
        if !turn.is_upright() {
            self.channels = turn.apply(&self.channels, width, height);
        }
        self
    }

    /// The ceilings as light, where each channel's code stands for that channel's light alone.
    pub(super) fn by_channel(self, light: impl Fn(usize, f32) -> f32) -> Clipped {
        Clipped {
            ceiling: std::array::from_fn(|c| light(c, self.codes[c])),
            channels: self.channels,
        }
    }

    /// The same where a table mixed the channels: only what was cut off in all of them is told apart then,
    /// and the ceiling is read off such a pixel's working light.
    pub(super) fn mixed(mut self, planes: &[Vec<f32>; 3], back: &Matrix3) -> Option<Clipped> {
        let whole = self.channels.iter().position(|bits| *bits == 7)?;
        let light = [0, 1, 2].map(|c| f64::from(planes[c][whole]));
        self.channels
            .par_iter_mut()
            .for_each(|bits| *bits = if *bits == 7 { 7 } else { 0 });
        Some(Clipped {
            channels: self.channels,
            ceiling: back.apply(light).map(|v| v as f32),
        })
    }
}

/// How interleaved samples lie.
#[derive(Clone, Copy)]
struct Shape {
    width: usize,
    height: usize,
    channels: usize,
}

impl Shape {
    /// Channels that hold colour; a grey file has one, and alpha is none.
    const fn colours(self) -> usize {
        if self.channels <= 2 { 1 } else { 3 }
    }
}

fn find<T: Code>(codes: &[T], shape: Shape, lossy: bool) -> Option<Cut> {
    let counts = histograms(codes, shape);
    let pixels = shape.width * shape.height;
    let tops: Vec<Option<usize>> = counts
        .iter()
        .map(|counts| ceiling::<T>(counts, pixels, lossy))
        .collect();
    if tops.iter().all(Option::is_none) {
        return None;
    }
    // A channel without a ceiling ends where the file's bits end.
    let full = (1 << T::BITS) - 1;
    let top = |c: usize| tops[c.min(tops.len() - 1)];
    let code = |c: usize| top(c).unwrap_or(full) as f32 / full as f32;
    let least: Vec<usize> = tops
        .iter()
        .map(|top| top.map_or(usize::MAX, |t| t - T::STEP / 4))
        .collect();
    let channels = if lossy {
        lossy::marks(codes, shape, &least)
    } else {
        marks(codes, shape, &least)
    };
    let marked = |run: &[u8]| run.iter().fold(0, |all, bits| all | bits) != 0;
    channels.par_chunks(RUN).any(marked).then(|| Cut {
        channels,
        codes: std::array::from_fn(code),
    })
}

/// How many pixels have each code, for each colour.
fn histograms<T: Code>(codes: &[T], shape: Shape) -> Vec<Vec<u32>> {
    // Of every code the counts of red, green and blue lie together. Neighbours are often alike, and a count waits
    // for the one before it: they count in turn.
    let zero = || [(); 2].map(|()| vec![0_u32; 4 << T::BITS]);
    let at = |code: T, c: usize| -> usize {
        let code: usize = code.into();
        4 * code + c
    };
    let count = |mut counts: [Vec<u32>; 2], piece: &[T]| {
        let [mut own, mut next] = counts.each_mut();
        for pixel in piece.chunks_exact(shape.channels) {
            if let [r, g, b, ..] = *pixel {
                own[at(r, 0)] += 1;
                own[at(g, 1)] += 1;
                own[at(b, 2)] += 1;
            } else {
                own[at(pixel[0], 0)] += 1;
            }
            std::mem::swap(&mut own, &mut next);
        }
        counts
    };
    // A few large pieces: each carries counts of its own.
    let rows = shape.height.div_ceil(16).max(1);
    let counts = codes
        .par_chunks(rows * shape.width * shape.channels)
        .fold(zero, count)
        .reduce(zero, |mut a, b| {
            for (a, b) in a.iter_mut().flatten().zip(b.iter().flatten()) {
                *a += b;
            }
            a
        });
    let codes = |c: usize| {
        let both = counts[0].iter().zip(&counts[1]).skip(c).step_by(4);
        both.map(|(a, b)| a + b).collect()
    };
    (0..shape.colours()).map(codes).collect()
}

/// The code at which a channel ends; None where it does not come to an end.
fn ceiling<T: Code>(counts: &[u32], pixels: usize, lossy: bool) -> Option<usize> {
    let full = counts.len() - 1;
    let largest = counts.iter().rposition(|n| *n > 0)?;
    // 2ᵏ under the end: the top code of fewer bits, moved up.
    let short = full + 1 - largest;
    let at_the_end = short == 1 || (T::BITS > 8 && short <= 256 && short.is_power_of_two());
    if !lossy {
        let piled = || pile::<T>(counts, largest, 0, pixels);
        return (at_the_end || piled()).then_some(largest);
    }
    // Lossy coding throws some samples of a pile above it.
    let from = largest.saturating_sub(2 * lossy::TOLERANCE * T::STEP);
    let best = (from..=largest).max_by_key(|code| counts[*code])?;
    if best < full && pile::<T>(counts, best, lossy::TOLERANCE, pixels) {
        return Some(best);
    }
    at_the_end.then_some(largest)
}

/// Whether a code is a pile that light runs up to; `gap` 8-bit steps under it are not asked.
fn pile<T: Code>(counts: &[u32], code: usize, gap: usize, pixels: usize) -> bool {
    let sum = |from: usize, to: usize| -> f64 {
        let part = counts.get(from..to.min(counts.len())).unwrap_or_default();
        part.iter().map(|n| f64::from(*n)).sum()
    };
    let foot = code.saturating_sub(T::STEP / 4);
    let Some(under) = foot.checked_sub((gap + UNDER) * T::STEP) else {
        return false;
    };
    let on = sum(foot, code + 1);
    let above = sum(code + 1, counts.len());
    let mean = sum(under, under + UNDER * T::STEP) / UNDER as f64;
    2 * code > counts.len()
        && on >= (1e-4 * pixels as f64).max(16.0)
        && on >= 4.0 * above
        && on >= SPIKE * mean
        && mean >= RUN_UP * on.sqrt()
}

/// The pixels at or above the ceilings.
fn marks<T: Code>(codes: &[T], shape: Shape, least: &[usize]) -> Vec<u8> {
    let mut marks = vec![0_u8; shape.width * shape.height];
    let row = shape.width;
    marks
        .par_chunks_mut(row)
        .zip(codes.par_chunks(row * shape.channels))
        .for_each(|(marks, codes)| {
            for (mark, pixel) in marks.iter_mut().zip(codes.chunks_exact(shape.channels)) {
                *mark = at_ceiling(pixel, least);
            }
        });
    marks
}

/// A pixel's bits; a grey one's are all three.
fn at_ceiling<T: Code>(pixel: &[T], least: &[usize]) -> u8 {
    let over = |c: usize| pixel[c].into() >= least[c];
    match least.len() {
        1 => 7 * u8::from(over(0)),
        _ => u8::from(over(0)) | u8::from(over(1)) << 1 | u8::from(over(2)) << 2,
    }
}
