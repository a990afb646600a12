//! Clipped samples behind lossy coding, which moves them off the ceiling.
//!
//! A cosine transform of 8 × 8 pixels rings beside hard edges, and colour kept at half size bleeds across
//! them. Measured on a mullioned window, four stops over, before a dark room, coded at quality 75 with
//! colour at half size: of the clipped samples 99 % of red and green stay within 7 codes of 255 and 99 %
//! of blue within 14. So a sample at the ceiling is a seed, and what lies within [`TOLERANCE`] of it
//! belongs to it where it is connected to seeds (eight neighbours), under two provisos:
//!
//! - ringing lifts samples of a bright wall to the ceiling that were never clipped: a seed counts where at
//!   most three times as many of its 5 × 5 neighbours lie within the tolerance as lie at the ceiling;
//! - light that runs smoothly up to the ceiling passes the codes just under it by right: a group of
//!   connected samples just under the ceiling counts where it touches seeds more than twice as often as
//!   light that is darker by no more than twice the tolerance again, and holds at most [`SPREAD`] samples
//!   for every touch.

use super::{Code, Shape};
use rayon::prelude::*;

/// Codes of 8 bits within which a sample may belong to the ceiling; twice that where another channel is at
/// its own, for colour at half size moves one against the other.
pub(super) const TOLERANCE: usize = 12;
/// Samples for each touch with a seed that a group may hold.
const SPREAD: usize = 8;

/// What a sample is, from nothing to a seed.
#[derive(Clone, Copy, PartialEq, Eq)]
enum State {
    /// Well under the ceiling.
    Dark,
    /// A little under what could belong to it.
    Soft,
    /// Near enough to belong to the ceiling.
    Near,
    /// Looked at.
    Seen,
    /// At the ceiling.
    Seed,
}

/// The pixels whose samples were clipped; `least` are the lowest codes at the ceilings.
pub(super) fn marks<T: Code>(codes: &[T], shape: Shape, least: &[usize]) -> Vec<u8> {
    let bits = if least.len() == 1 {
        [7, 0, 0]
    } else {
        [1, 2, 4]
    };
    let mut marks = vec![0_u8; shape.width * shape.height];
    for (c, bit) in bits.into_iter().enumerate().take(least.len()) {
        if least[c] == usize::MAX {
            continue;
        }
        let mut states = states(codes, shape, least, c);
        let kept = groups(&mut states, shape);
        marks
            .par_iter_mut()
            .zip(&states)
            .filter(|(_, state)| **state == State::Seed)
            .for_each(|(mark, _)| *mark |= bit);
        for i in kept {
            marks[i] |= bit;
        }
    }
    marks
}

fn states<T: Code>(codes: &[T], shape: Shape, least: &[usize], c: usize) -> Vec<State> {
    let Shape {
        width,
        height,
        channels,
    } = shape;
    let tolerance = TOLERANCE * T::STEP;
    let top = least[c];
    // Most of a picture is darker than anything that matters here.
    let dark = top.saturating_sub(4 * tolerance);
    let state = |pixel: &[T]| {
        let code: usize = pixel[c].into();
        if code < dark {
            return State::Dark;
        }
        if code >= top {
            return State::Seed;
        }
        // How far under the ceiling a sample may lie here.
        let other = (0..least.len()).any(|d| d != c && pixel[d].into() >= least[d]);
        let reach = if other { 2 * tolerance } else { tolerance };
        if code + reach >= top {
            State::Near
        } else if code + reach + 2 * tolerance >= top {
            State::Soft
        } else {
            State::Dark
        }
    };
    let mut states = vec![State::Dark; width * height];
    // What a sample counts for or against the seeds around it.
    let mut says = vec![0_i8; width * height];
    states
        .par_chunks_mut(width)
        .zip(says.par_chunks_mut(width))
        .zip(codes.par_chunks(width * channels))
        .for_each(|((states, says), codes)| {
            let pixels = codes.chunks_exact(channels);
            for ((own, says), pixel) in states.iter_mut().zip(says).zip(pixels) {
                *own = state(pixel);
                let code: usize = pixel[c].into();
                *says = match own {
                    State::Seed => 3,
                    _ => -i8::from(code + tolerance >= top),
                };
            }
        });
    states
        .par_chunks_mut(width)
        .enumerate()
        .filter(|(_, row)| row.contains(&State::Seed))
        .for_each_init(
            || vec![0_i8; width],
            |sums, (y, row)| {
                // Five rows, then five columns: at most 75, at least −25.
                sums.fill(0);
                for v in y.saturating_sub(2)..(y + 3).min(height) {
                    let says = &says[v * width..(v + 1) * width];
                    sums.iter_mut().zip(says).for_each(|(sum, s)| *sum += s);
                }
                let seeds = row.iter_mut().enumerate();
                for (x, state) in seeds.filter(|(_, state)| **state == State::Seed) {
                    let around = &sums[x.saturating_sub(2)..(x + 3).min(width)];
                    if around.iter().map(|s| i16::from(*s)).sum::<i16>() < 0 {
                        *state = State::Near;
                    }
                }
            },
        );
    states
}

/// The samples under the ceiling that belong to it.
fn groups(states: &mut [State], shape: Shape) -> Vec<usize> {
    let mut kept = Vec::new();
    let mut group = Vec::new();
    for start in 0..states.len() {
        if states[start] != State::Near {
            continue;
        }
        group.clear();
        group.push(start);
        states[start] = State::Seen;
        let (mut touches, mut soft, mut next) = (0, 0, 0);
        while let Some(&at) = group.get(next) {
            next += 1;
            for i in around(at, shape) {
                match states[i] {
                    State::Near => {
                        states[i] = State::Seen;
                        group.push(i);
                    }
                    State::Seed => touches += 1,
                    State::Soft => soft += 1,
                    State::Seen | State::Dark => {}
                }
            }
        }
        if touches > 2 * soft && group.len() <= SPREAD * touches {
            kept.extend_from_slice(&group);
        }
    }
    kept
}

/// The eight neighbours of a pixel, as far as there are any.
fn around(i: usize, shape: Shape) -> impl Iterator<Item = usize> {
    let Shape { width, height, .. } = shape;
    let (x, y) = (i % width, i / width);
    let rows = y.saturating_sub(1)..(y + 2).min(height);
    rows.flat_map(move |v| (x.saturating_sub(1)..(x + 2).min(width)).map(move |u| v * width + u))
        .filter(move |j| *j != i)
}
