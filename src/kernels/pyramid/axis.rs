//! One axis of one level: where its edges are, and what lies beyond them.
//!
//! Sample k of level l sits at (k + ½)·2^l pixels, so the near edge (0) always falls half-way between
//! two samples and mirrors exactly. The far edge, N pixels away, falls at N/2^l samples: anywhere.
//! Where it falls on a sample or half-way, samples mirror onto samples; elsewhere the mirrored
//! position lies between samples and is interpolated. A few samples beyond the edge
//! ([`MARGIN`]) are stored as decimation made them, so that the interpolation never meets
//! the edge it serves.

use std::f64::consts::PI;

/// What the world beyond the frame is taken to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::kernels) enum Outside {
    /// The scene goes on as its mirror image, the edge pixel repeated.
    Mirror,
    /// No light.
    Dark,
}

/// Samples stored beyond the far edge of a decimated level.
pub(super) const MARGIN: usize = 8;

/// Samples stored before the near edge when the outside is dark: how far decimation spreads light
/// (three samples, for six taps at any depth), made even so that merging keeps step.
const LEAD: usize = 4;

/// Taps of the interpolation at a fractional edge.
const INTERPOLATION: usize = 14;

/// One axis of one level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(in crate::kernels) struct Axis {
    /// The far edge, in samples from the near one.
    edge: f64,
    /// Samples stored before the near edge.
    pub(super) lead: usize,
    /// Samples stored in all.
    pub(in crate::kernels) stored: usize,
    outside: Outside,
}

/// Where the light of a sample that is not stored is found.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Found {
    /// There is none.
    Dark,
    /// It is another sample's.
    At(usize),
    /// It lies between samples: their indices and weights.
    Between(Box<[(usize, f32); INTERPOLATION]>),
}

impl Axis {
    /// The axis of a frame `pixels` long, at a level of its pyramid.
    pub(in crate::kernels) fn new(pixels: usize, level: usize, outside: Outside) -> Self {
        if level == 0 {
            return Self {
                edge: pixels as f64,
                lead: 0,
                stored: pixels,
                outside,
            };
        }
        let edge = pixels as f64 / (1_usize << level) as f64;
        let lead = if outside == Outside::Dark { LEAD } else { 0 };
        Self {
            edge,
            lead,
            stored: lead + edge.ceil() as usize + MARGIN,
            outside,
        }
    }

    /// The far edge, in samples from the near one.
    pub(super) const fn edge(&self) -> f64 {
        self.edge
    }

    /// What the outside is.
    pub(super) const fn outside(&self) -> Outside {
        self.outside
    }

    /// Where the light of the sample with stored index `index` is found.
    pub(super) fn find(&self, index: isize) -> Found {
        if index >= 0 && index < self.stored as isize {
            return Found::At(index as usize);
        }
        if self.outside == Outside::Dark {
            return Found::Dark;
        }
        // Mirrored, `lead` is 0: a stored index is a sample number.
        let mut at = index as f64;
        while at < -0.5 || at > self.edge - 0.5 {
            at = if at < -0.5 {
                -1.0 - at
            } else {
                2.0 * self.edge - 1.0 - at
            };
        }
        let below = at.floor();
        let fraction = at - below;
        if fraction == 0.0 {
            return Found::At(below as usize);
        }
        let first = below as isize - INTERPOLATION as isize / 2 + 1;
        let mut taps = [(0_usize, 0.0_f64); INTERPOLATION];
        for (j, tap) in taps.iter_mut().enumerate() {
            let sample = first + j as isize;
            let mirrored = if sample < 0 { -1 - sample } else { sample };
            *tap = (
                (mirrored as usize).min(self.stored - 1),
                windowed_sinc(sample as f64 - at),
            );
        }
        let sum: f64 = taps.iter().map(|tap| tap.1).sum();
        Found::Between(Box::new(
            taps.map(|(sample, weight)| (sample, (weight / sum) as f32)),
        ))
    }
}

/// The cardinal sine under a Kaiser window (β = 7): within 5e-5 up to a quarter of the sampling rate,
/// and above it every filter of the pyramid has all but closed.
fn windowed_sinc(distance: f64) -> f64 {
    const BETA: f64 = 7.0;
    let reach = 2.0 * distance / INTERPOLATION as f64;
    let inside = (1.0 - reach * reach).max(0.0);
    let sinc = if distance == 0.0 {
        1.0
    } else {
        (PI * distance).sin() / (PI * distance)
    };
    sinc * bessel_i0(BETA * inside.sqrt()) / bessel_i0(BETA)
}

/// The modified Bessel function I₀, by its power series (DLMF 10.25.2).
fn bessel_i0(x: f64) -> f64 {
    let quarter = x * x / 4.0;
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..32 {
        term *= quarter / f64::from(k * k);
        sum += term;
    }
    sum
}

/// The samples on either side of what is stored, for filters that reach so far.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Apron {
    before: Vec<Found>,
    after: Vec<Found>,
    stored: usize,
    /// The samples that the apron is made of are stored before `ends.0` and from `ends.1` on.
    ends: (usize, usize),
}

impl Apron {
    /// The apron of `axis`, `before` samples wide on the near side and `after` on the far.
    pub(super) fn new(axis: &Axis, before: usize, after: usize) -> Self {
        let stored = axis.stored;
        let find = |from: isize| move |i: usize| axis.find(from + i as isize);
        let before: Vec<_> = (0..before).map(find(-(before as isize))).collect();
        let after: Vec<_> = (0..after).map(find(stored as isize)).collect();
        let last = before.iter().flat_map(Found::sources).max();
        let first = after.iter().flat_map(Found::sources).min();
        let ends = (last.map_or(0, |last| last + 1), first.unwrap_or(stored));
        Self {
            before,
            after,
            stored,
            ends,
        }
    }

    /// Samples before what is stored.
    pub(super) fn before(&self) -> usize {
        self.before.len()
    }

    /// Samples in all.
    pub(super) fn len(&self) -> usize {
        self.before.len() + self.stored + self.after.len()
    }

    /// Writes the apron of a line that lies in the middle of `line` already.
    pub(super) fn fill(&self, line: &mut [f32]) {
        let (before, rest) = line.split_at_mut(self.before.len());
        let (middle, after) = rest.split_at_mut(self.stored);
        for (found, out) in self.before.iter().zip(before) {
            *out = found.sample(middle);
        }
        for (found, out) in self.after.iter().zip(after) {
            *out = found.sample(middle);
        }
    }

    /// Copies a line into the middle of `out` and gives it its apron; with `ends` (a, b) only its
    /// samples up to a and from b, and what the apron is made of.
    pub(super) fn extend(&self, line: &[f32], ends: Option<(usize, usize)>, out: &mut [f32]) {
        let middle = &mut out[self.before.len()..self.before.len() + self.stored];
        let (a, b) = ends.unwrap_or((line.len(), line.len()));
        let (a, b) = (a.max(self.ends.0), b.min(self.ends.1));
        middle[..a].copy_from_slice(&line[..a]);
        middle[b..].copy_from_slice(&line[b..]);
        self.fill(out);
    }

    /// Writes the rows before and after `plane` (rows `width` long) to `before` and `after`.
    pub(super) fn rows(
        &self,
        plane: &[f32],
        width: usize,
        before: &mut Vec<f32>,
        after: &mut Vec<f32>,
    ) {
        for (side, out) in [(&self.before, before), (&self.after, after)] {
            out.resize(side.len() * width, 0.0);
            for (found, out) in side.iter().zip(out.chunks_exact_mut(width)) {
                found.row(plane, out);
            }
        }
    }
}

impl Apron {
    /// Writes the row with index `y`, which is not stored, of `plane`; rows are as long as `out`.
    pub(super) fn row(&self, y: isize, plane: &[f32], out: &mut [f32]) {
        let found = if y < 0 {
            &self.before[(y + self.before.len() as isize) as usize]
        } else {
            &self.after[y as usize - self.stored]
        };
        found.row(plane, out);
    }
}

impl Found {
    /// The stored samples that it is made of.
    fn sources(&self) -> Vec<usize> {
        match self {
            Self::Dark => Vec::new(),
            Self::At(i) => vec![*i],
            Self::Between(taps) => taps.iter().map(|tap| tap.0).collect(),
        }
    }

    fn sample(&self, line: &[f32]) -> f32 {
        match self {
            Self::Dark => 0.0,
            Self::At(i) => line[*i],
            Self::Between(taps) => taps.iter().map(|&(i, w)| w * line[i]).sum(),
        }
    }

    /// Writes one row; `plane`'s rows are as long as `out`.
    pub(super) fn row(&self, plane: &[f32], out: &mut [f32]) {
        let width = out.len();
        let stored = |i: usize| &plane[i * width..(i + 1) * width];
        match self {
            Self::Dark => out.fill(0.0),
            Self::At(i) => out.copy_from_slice(stored(*i)),
            Self::Between(taps) => {
                out.fill(0.0);
                for &(i, w) in taps.iter() {
                    for (out, light) in out.iter_mut().zip(stored(i)) {
                        *out += w * light;
                    }
                }
            }
        }
    }
}
