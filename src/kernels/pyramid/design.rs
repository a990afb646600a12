//! Filter design in frequency. Frequencies are in cycles per sample.

use std::borrow::Cow;
use std::f64::consts::PI;
use std::sync::OnceLock;

/// The decimation filter's taps at ½, 1½ and 2½ fine samples either side of the coarse one. Found by
/// search for the least aliasing onto frequencies that the filters of the next level pass; both
/// of its phases sum to ½, so that a point of light keeps its flux wherever it sits.
pub(in crate::kernels) const DECIMATION: [f64; 3] = [
    0.305_802_5 / (2.0 * DECIMATION_SUM),
    0.159_491_59 / (2.0 * DECIMATION_SUM),
    0.034_705_91 / (2.0 * DECIMATION_SUM),
];
const DECIMATION_SUM: f64 = 0.305_802_5 + 0.159_491_59 + 0.034_705_91;

/// The narrowest Gaussian, in samples, that a decimated level carries. Below it the level's own grid
/// begins to show: at 0.9 the spot is 12 % lopsided.
pub(super) const NARROWEST: f64 = 1.85;

/// Gaussians narrower than this many pixels count as light that goes straight on: at half a cycle per
/// pixel, 5 % of them do not.
pub(in crate::kernels) const NEGLIGIBLE: f64 = 0.1;

/// The longest filter, in samples on either side.
pub(in crate::kernels) const LONGEST: usize = 16;

/// A Gaussian narrower than this, in pixels, has a transform that is cut off at half a cycle per pixel
/// before it has died away. Its kernel then rings on as 1/k², and is cut off itself.
const RINGING: f64 = 1.2;

/// The longest filter of a ringing Gaussian, in pixels on either side.
const LONGEST_RINGING: usize = 8;

/// Taps up to this one are left alone: past it a Gaussian that rings has fallen by 200 or more.
const LEFT_RINGING: usize = 4;

/// Taps are left off whose light, beside a single pixel of unit light, would be less than this a pixel:
/// beside one of 1000 times the frame's mean it is a quarter of a hundredth of that mean, and that next to
/// the row and the column of the pixel only.
const SMALLEST_LIGHT: f64 = 2.5e-6;

/// And none that are greater than this part of the largest.
const SMALLEST_TAP: f64 = 2e-4;

/// Frequencies at which a short filter is designed.
const GRID: usize = 512;

/// The level at which a Gaussian of `sigma` pixels runs, were there no end of levels.
pub(super) fn level_of(sigma: f64) -> usize {
    let octaves = (sigma / NARROWEST).log2().floor();
    if octaves > 0.0 {
        octaves.min(60.0) as usize
    } else {
        0
    }
}

/// What one decimation (or merge) does to a frequency of the finer level.
fn decimation_response(frequency: f64) -> f64 {
    let at = |half: f64| (2.0 * PI * frequency * half).cos();
    2.0 * (DECIMATION[0] * at(0.5) + DECIMATION[1] * at(1.5) + DECIMATION[2] * at(2.5))
}

/// What a filter at `level` must do to `frequency` there, so that with all decimations and merges the
/// picture is blurred by a Gaussian of `sigma` samples of that level.
fn wanted_response(sigma: f64, level: usize, frequency: f64) -> f64 {
    gaussian(sigma, frequency) / below(level, frequency)
}

fn gaussian(sigma: f64, frequency: f64) -> f64 {
    (-2.0 * (PI * sigma * frequency).powi(2)).exp()
}

/// What all decimations and merges under a level do to a frequency there.
fn below(level: usize, frequency: f64) -> f64 {
    let mut below = 1.0;
    let mut fine = frequency;
    for _ in 0..level {
        fine /= 2.0;
        below *= decimation_response(fine);
    }
    below * below
}

/// The same at the frequencies of [`GRID`], which every strength asks for anew.
fn below_on_grid(level: usize) -> Cow<'static, [f64]> {
    static KNOWN: [OnceLock<Vec<f64>>; 24] = [const { OnceLock::new() }; 24];
    let all = || {
        (0..=GRID / 2)
            .map(|j| below(level, j as f64 / GRID as f64))
            .collect()
    };
    match KNOWN.get(level) {
        Some(known) => Cow::Borrowed(known.get_or_init(all)),
        None => Cow::Owned(all()),
    }
}

/// Cosines of whole parts of a turn, [`GRID`] to a turn.
fn cosines() -> &'static [f64] {
    static KNOWN: OnceLock<Vec<f64>> = OnceLock::new();
    KNOWN.get_or_init(|| {
        let turn = |k: usize| k as f64 / GRID as f64;
        (0..GRID).map(|k| (2.0 * PI * turn(k)).cos()).collect()
    })
}

/// Half the taps (centre first) of the filter of `sigma` samples at `level`, of unit sum.
pub(super) fn short_filter(sigma: f64, level: usize) -> Vec<f64> {
    let longest = if sigma < RINGING {
        LONGEST_RINGING
    } else {
        LONGEST
    };
    let mut taps = impulse(sigma, level, longest + 1);
    if sigma < RINGING {
        // Ringing that ends at once is seen around bright light at its last tap; ended gently, it is missing
        // near half a cycle per pixel alone.
        for (k, tap) in taps.iter_mut().enumerate().skip(LEFT_RINGING + 1) {
            let t = (k - LEFT_RINGING) as f64 / (longest + 1 - LEFT_RINGING) as f64;
            *tap *= (0.5 * PI * t).cos().powi(2);
        }
    }
    // A coarse sample's light is spread over the pixels under it.
    let area = (1_u64 << (2 * level)) as f64;
    let floor = (SMALLEST_TAP * taps[0]).min(SMALLEST_LIGHT * area / taps[0]);
    while taps.len() > 1 && taps.last().is_some_and(|tap| tap.abs() < floor) {
        let _small = taps.pop();
    }
    normalise(&mut taps);
    taps
}

/// The kernel of `sigma` samples at `count` distances a sample apart, from `from` on. It need not be
/// whole: a kernel that no level's own grid shows in is the same at any phase.
pub(super) fn kernel_at(sigma: f64, level: usize, from: f64, count: usize) -> Vec<f64> {
    // Far enough for what the inverse transform repeats to be out of sight.
    let period = 2.0 * (from.abs().max((from + count as f64).abs()) + 8.0 * sigma);
    repeated(sigma, level, period, from, count)
}

/// The same kernel with all that repeat it every `period` samples added up: the sum of its harmonics.
pub(super) fn repeated(sigma: f64, level: usize, period: f64, from: f64, count: usize) -> Vec<f64> {
    let mut out = vec![1.0 / period; count];
    let mut j = 1.0;
    while j / period <= 0.5 {
        let response = wanted_response(sigma, level, j / period);
        if response < 1e-12 {
            break;
        }
        // Turned on from sample to sample: a cosine for each would take most of a strength change's time.
        let (step_sin, step_cos) = (2.0 * PI * j / period).sin_cos();
        let (mut sin, mut cos) = (2.0 * PI * (j * from / period).fract()).sin_cos();
        for value in &mut out {
            *value += 2.0 * response * cos / period;
            (sin, cos) = (
                sin * step_cos + cos * step_sin,
                cos * step_cos - sin * step_sin,
            );
        }
        j += 1.0;
    }
    out
}

/// Taps 0..`count` of the wanted response, by the inverse transform on [`GRID`] frequencies.
fn impulse(sigma: f64, level: usize, count: usize) -> Vec<f64> {
    let mut taps = vec![1.0 / GRID as f64; count];
    let (cosines, below) = (cosines(), below_on_grid(level));
    for j in 1..=GRID / 2 {
        let response = gaussian(sigma, j as f64 / GRID as f64) / below[j];
        if response < 1e-13 {
            break;
        }
        // Frequencies come in pairs ±, except the last of an even grid.
        let pair = if 2 * j == GRID { 1.0 } else { 2.0 };
        for (k, tap) in taps.iter_mut().enumerate() {
            *tap += pair * response * cosines[j * k % GRID] / GRID as f64;
        }
    }
    taps
}

fn normalise(taps: &mut [f64]) {
    let sum = taps[0] + 2.0 * taps[1..].iter().sum::<f64>();
    for tap in taps {
        *tap /= sum;
    }
}
