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
//!
//! Most of a picture is not near a ceiling: the first pass, on all cores, finds seeds, and everything after it
//! looks only at what lies beside them.

use super::{Code, Shape};
use rayon::prelude::*;

/// Codes of 8 bits within which a sample may belong to the ceiling; twice that where another channel is at
/// its own, for colour at half size moves one against the other.
pub(super) const TOLERANCE: usize = 12;
/// Samples for each touch with a seed that a group may hold.
const SPREAD: usize = 8;
/// Rows that a core looks at in one go.
const BAND: usize = 64;

/// What a sample is, from nothing to a seed.
#[derive(Clone, Copy, PartialEq, Eq)]
#[repr(u8)]
enum State {
    /// Not looked at.
    Unknown,
    /// Well under the ceiling.
    Dark,
    /// A little under what could belong to it.
    Soft,
    /// Near enough to belong to the ceiling.
    Near,
    /// Near, and in a group.
    Grouped,
    /// At the ceiling.
    Seed,
}

impl State {
    const ALL: [Self; 6] = [
        Self::Unknown,
        Self::Dark,
        Self::Soft,
        Self::Near,
        Self::Grouped,
        Self::Seed,
    ];
}

/// The pixels whose samples were clipped; `least` are the lowest codes at the ceilings.
pub(super) fn marks<T: Code>(codes: &[T], shape: Shape, least: &[usize]) -> Vec<u8> {
    let mut seeds = vec![0_u8; shape.width * shape.height];
    let picture = Picture {
        codes,
        shape,
        least,
    };
    seeds
        .par_chunks_mut(BAND * shape.width)
        .enumerate()
        .for_each(|(n, band)| picture.seeds(n * BAND, band));
    let starts = picture.starts(&seeds);
    let channels: Vec<usize> = (0..least.len())
        .filter(|c| least[*c] != usize::MAX)
        .collect();
    let kept: Vec<Vec<u32>> = channels
        .par_iter()
        .map(|c| Groups::new(picture, &seeds, *c).kept(&starts))
        .collect();
    for (c, kept) in channels.into_iter().zip(kept) {
        for i in kept {
            seeds[i as usize] |= picture.bits(c);
        }
    }
    seeds
}

/// The samples and their ceilings.
struct Picture<'a, T> {
    codes: &'a [T],
    shape: Shape,
    least: &'a [usize],
}

/// For every sample of a row, the code above which it is at the ceiling, and the one above which it speaks
/// against seeds beside it.
struct Ceilings<T> {
    under: Vec<T>,
    near: Vec<T>,
}

impl<T> Clone for Picture<'_, T> {
    fn clone(&self) -> Self {
        *self
    }
}

impl<T> Copy for Picture<'_, T> {}

impl<T: Code> Picture<'_, T> {
    /// A channel's bit; grey light is all three.
    const fn bits(&self, c: usize) -> u8 {
        if self.least.len() == 1 { 7 } else { 1 << c }
    }

    fn row(&self, y: usize) -> &[T] {
        let row = self.shape.width * self.shape.channels;
        &self.codes[y * row..(y + 1) * row]
    }

    /// Marks the seeds of a band of rows that begins at `top`. Samples stay interleaved, so that all channels go
    /// through wide registers together.
    fn seeds(&self, top: usize, band: &mut [u8]) {
        let Shape {
            width,
            height,
            channels,
        } = self.shape;
        let ceilings = self.ceilings();
        let at_ceiling = |y: usize| {
            let samples = self.row(y).iter().zip(&ceilings.under);
            samples.fold(false, |any, (code, under)| any | (code > under))
        };
        // What is two pixels off counts too: a row has that much room on either side.
        let room = 2 * channels;
        let (mut sums, mut says) = (vec![0_i8; width * channels + 2 * room], Vec::new());
        let mut seeds = vec![0_u8; width * channels];
        for (marks, y) in band.chunks_exact_mut(width).zip(top..) {
            if !at_ceiling(y) {
                continue;
            }
            // Five rows, then five columns: at most 75, at least −25.
            sums.fill(0);
            for v in y.saturating_sub(2)..(y + 3).min(height) {
                self.says(v, &ceilings, &mut says);
                let sums = sums[room..].iter_mut().zip(&says);
                sums.for_each(|(sum, says)| *sum += says);
            }
            let own = self.row(y).iter().zip(&ceilings.under);
            let offs = [0, 1, 2, 3, 4].map(|off| &sums[off * channels..][..width * channels]);
            for (i, (seed, (code, under))) in seeds.iter_mut().zip(own).enumerate() {
                let around = offs[0][i] + offs[1][i] + offs[2][i] + offs[3][i] + offs[4][i];
                *seed = u8::from((code > under) & (around >= 0));
            }
            for (mark, seeds) in marks.iter_mut().zip(seeds.chunks_exact(channels)) {
                *mark = match *seeds {
                    [r, g, b, ..] => r | g << 1 | b << 2,
                    [grey, ..] => 7 * grey,
                    [] => 0,
                };
            }
        }
    }

    fn ceilings(&self) -> Ceilings<T> {
        let row = |below: usize| -> Vec<T> {
            let of = |c: usize| match self.least.get(c) {
                Some(least) if *least != usize::MAX => T::of(least.saturating_sub(below + 1)),
                // Alpha, and what has no ceiling.
                _ => T::TOP,
            };
            let pixel: Vec<T> = (0..self.shape.channels).map(of).collect();
            pixel.repeat(self.shape.width)
        };
        Ceilings {
            under: row(0),
            near: row(TOLERANCE * T::STEP),
        }
    }

    /// What every sample of a row counts for or against the seeds around it.
    fn says(&self, y: usize, ceilings: &Ceilings<T>, says: &mut Vec<i8>) {
        let samples = self.row(y).iter().zip(&ceilings.under);
        says.clear();
        says.extend(
            samples
                .zip(&ceilings.near)
                .map(|((code, under), near)| 4 * i8::from(code > under) - i8::from(code > near)),
        );
    }

    /// Pixels beside a channel's seed that are none themselves, with those channels' bits: no group but theirs
    /// can count.
    fn starts(&self, seeds: &[u8]) -> Vec<Vec<(u32, u8)>> {
        let Shape { width, height, .. } = self.shape;
        let bands = (0..height.div_ceil(BAND)).into_par_iter();
        let band = |n: usize| {
            let mut found = Vec::new();
            // A pixel's column of three, with room for one more on either side.
            let mut column = vec![0_u8; width + 2];
            let mut beside = vec![0_u8; width];
            for y in n * BAND..((n + 1) * BAND).min(height) {
                column.fill(0);
                for v in y.saturating_sub(1)..(y + 2).min(height) {
                    let marks = &seeds[v * width..(v + 1) * width];
                    let columns = column[1..=width].iter_mut().zip(marks);
                    columns.for_each(|(column, mark)| *column |= mark);
                }
                let own = &seeds[y * width..(y + 1) * width];
                for (x, (beside, own)) in beside.iter_mut().zip(own).enumerate() {
                    *beside = (column[x] | column[x + 1] | column[x + 2]) & !own;
                }
                let places = (y * width) as u32..;
                let pixels = places.zip(&beside).filter(|(_, bits)| **bits != 0);
                found.extend(pixels.map(|(i, bits)| (i, *bits)));
            }
            found
        };
        bands.map(band).collect()
    }

    /// What a sample is that is marked or not.
    fn state(&self, i: usize, c: usize, seeds: &[u8]) -> State {
        if seeds[i] & self.bits(c) != 0 {
            return State::Seed;
        }
        let pixel = &self.codes[i * self.shape.channels..][..self.shape.channels];
        let (top, tolerance) = (self.least[c], TOLERANCE * T::STEP);
        let code: usize = pixel[c].into();
        // How far under the ceiling a sample may lie here.
        let other = (0..self.least.len()).any(|d| d != c && pixel[d].into() >= self.least[d]);
        let reach = if other { 2 * tolerance } else { tolerance };
        // What is at the ceiling and no seed is near it.
        if code + reach >= top {
            State::Near
        } else if code + reach + 2 * tolerance >= top {
            State::Soft
        } else {
            State::Dark
        }
    }
}

/// The groups of connected samples under one channel's ceiling that touch seeds.
struct Groups<'a, T> {
    picture: Picture<'a, T>,
    seeds: &'a [u8],
    c: usize,
    /// States that were asked for, as numbers: memory of zeros costs nothing until it is written to.
    known: Vec<u8>,
}

impl<'a, T: Code> Groups<'a, T> {
    fn new(picture: Picture<'a, T>, seeds: &'a [u8], c: usize) -> Self {
        Self {
            picture,
            seeds,
            c,
            known: vec![State::Unknown as u8; seeds.len()],
        }
    }

    /// The samples under the ceiling that belong to it.
    fn kept(mut self, starts: &[Vec<(u32, u8)>]) -> Vec<u32> {
        let mut kept = Vec::new();
        let bits = self.picture.bits(self.c);
        for (start, beside) in starts.iter().flatten() {
            if beside & bits != 0 && self.state(*start as usize) == State::Near {
                self.follow(*start as usize, &mut kept);
            }
        }
        kept
    }

    fn state(&mut self, i: usize) -> State {
        let known = State::ALL[usize::from(self.known[i])];
        if known != State::Unknown {
            return known;
        }
        let state = self.picture.state(i, self.c, self.seeds);
        self.known[i] = state as u8;
        state
    }

    /// Walks a group from one of its samples, and keeps it if it counts.
    fn follow(&mut self, start: usize, kept: &mut Vec<u32>) {
        let first = kept.len();
        kept.push(start as u32);
        self.known[start] = State::Grouped as u8;
        let (mut touches, mut soft, mut next) = (0, 0, first);
        while let Some(&at) = kept.get(next) {
            next += 1;
            for i in around(at as usize, self.picture.shape) {
                match self.state(i) {
                    State::Near => {
                        self.known[i] = State::Grouped as u8;
                        kept.push(i as u32);
                    }
                    State::Seed => touches += 1,
                    State::Soft => soft += 1,
                    State::Grouped | State::Dark | State::Unknown => {}
                }
            }
        }
        if touches <= 2 * soft || kept.len() - first > SPREAD * touches {
            kept.truncate(first);
        }
    }
}

/// The eight neighbours of a pixel, as far as there are any.
fn around(i: usize, shape: Shape) -> impl Iterator<Item = usize> {
    let Shape { width, height, .. } = shape;
    let (x, y) = (i % width, i / width);
    let rows = y.saturating_sub(1)..(y + 2).min(height);
    rows.flat_map(move |v| (x.saturating_sub(1)..(x + 2).min(width)).map(move |u| v * width + u))
        .filter(move |j| *j != i)
}
