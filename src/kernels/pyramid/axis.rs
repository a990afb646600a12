//! One axis of one level: where its edges are, and what lies beyond them.
//!
//! Sample k of level l sits at (k + ½)·2^l pixels, so the near edge (0) always falls half-way between
//! two samples and mirrors exactly. The far edge, N pixels away, falls at N/2^l samples: anywhere.
//! Where it falls on a sample or half-way, samples mirror onto samples; elsewhere the mirrored
//! position lies between samples, and the mirror image is interpolated.
//!
//! There the frame's light must not end abruptly at its edge: a point of light beside it reaches a few
//! samples either way, of which some would be taken as they are and some from the mirror image, at
//! another phase, and they would not add up to its flux. So samples fade out across the edge
//! ([`Axis::share`]), the mirror image fades out the other way, and both are added ([`Seam`]).

use std::f64::consts::SQRT_2;

/// What the world beyond the frame is taken to be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(in crate::kernels) enum Outside {
    /// The scene goes on as its mirror image, the edge pixel repeated.
    Mirror,
    /// No light.
    Dark,
}

/// Samples stored beyond the far edge of a decimated level: as many as merging reaches for.
const MARGIN: usize = 8;

/// Samples over which light fades out, either side of a fractional edge.
const FADE: usize = 8;

/// Samples stored beyond a fractional edge: the mirror image of the samples further out than these is
/// made of samples that neither fade nor lie under the mirror image of those that do.
const SEAM: usize = 2 * FADE + INTERPOLATION / 2 + 1;

/// Samples stored before the near edge when the outside is dark: how far decimation spreads light
/// (three samples, for six taps at any depth), made even so that merging keeps step.
const LEAD: usize = 4;

/// Taps of the interpolation at a fractional edge.
const INTERPOLATION: usize = 16;

/// Samples and their weights.
pub(super) type Sources = Vec<(usize, f32)>;

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
        let (lead, margin) = match outside {
            Outside::Dark => (LEAD, MARGIN),
            Outside::Mirror if (2.0 * edge).fract() == 0.0 => (0, MARGIN),
            Outside::Mirror => (0, SEAM),
        };
        Self {
            edge,
            lead,
            stored: lead + edge.ceil() as usize + margin,
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
        if index < 0 {
            return Found::At((-1 - index) as usize);
        }
        self.between(2.0 * self.edge - 1.0 - index as f64)
    }

    /// How much of sample `index` counts as the frame's light, the rest being the mirror image's; the
    /// shares at equal distances inside and outside the edge add up to 1.
    pub(super) fn share(&self, index: usize) -> f64 {
        let beyond = index as f64 + 0.5 - self.edge;
        if !self.is_fractional() {
            return if beyond < 0.0 {
                1.0
            } else {
                0.5 * f64::from(u8::from(beyond == 0.0))
            };
        }
        // A Gaussian fade: closed at its ends, and at every frequency that interpolation does not keep.
        0.5 * libm::erfc(4.0 * beyond / (FADE as f64 * SQRT_2))
    }

    /// Whether the far edge falls elsewhere than on a sample or half-way between two.
    fn is_fractional(&self) -> bool {
        (2.0 * self.edge).fract() != 0.0
    }

    /// What lies at a position within what is stored.
    fn between(&self, at: f64) -> Found {
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
                lagrange(j, fraction),
            );
        }
        let sum: f64 = taps.iter().map(|tap| tap.1).sum();
        Found::Between(Box::new(
            taps.map(|(sample, weight)| (sample, (weight / sum) as f32)),
        ))
    }
}

/// How samples about a fractional edge are joined with their mirror image, once they have been made.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Seam(Vec<(usize, Vec<(usize, f32)>)>);

impl Seam {
    /// The seam of `axis`; empty unless its edge is fractional.
    pub(super) fn new(axis: &Axis) -> Self {
        if axis.outside == Outside::Dark || !axis.is_fractional() {
            return Self(Vec::new());
        }
        let first = axis.edge.floor() as usize - FADE - INTERPOLATION / 2;
        let stitch = |index: usize| {
            let mut taps = vec![(index, axis.share(index) as f32)];
            if let Found::Between(image) = axis.between(2.0 * axis.edge - 1.0 - index as f64) {
                taps.extend(image.map(|(i, weight)| (i, weight * axis.share(i) as f32)));
            }
            (index, taps)
        };
        Self((first..axis.stored).map(stitch).collect())
    }

    /// The samples that it writes, and what each is made of.
    pub(super) fn targets(self) -> impl Iterator<Item = (usize, Sources)> {
        self.0.into_iter()
    }

    /// Joins one line of samples; `room` is for the result.
    pub(super) fn line(&self, line: &mut [f32], room: &mut Vec<f32>) {
        room.clear();
        room.extend(self.0.iter().map(|(_, taps)| weighted(taps, line)));
        for ((index, _), new) in self.0.iter().zip(&*room) {
            line[*index] = *new;
        }
    }

    /// Joins the rows of a plane, `width` long.
    pub(super) fn rows(&self, plane: &mut [f32], width: usize, room: &mut Vec<f32>) {
        room.clear();
        room.resize(self.0.len() * width, 0.0);
        for ((_, taps), new) in self.0.iter().zip(room.chunks_exact_mut(width)) {
            add_rows(taps, plane, new);
        }
        for ((index, _), new) in self.0.iter().zip(room.chunks_exact(width)) {
            plane[index * width..(index + 1) * width].copy_from_slice(new);
        }
    }
}

fn weighted(taps: &[(usize, f32)], line: &[f32]) -> f32 {
    taps.iter().map(|&(i, w)| w * line[i]).sum()
}

/// Adds weighted rows of `plane` to `out`.
fn add_rows(taps: &[(usize, f32)], plane: &[f32], out: &mut [f32]) {
    let width = out.len();
    for &(i, w) in taps {
        for (out, light) in out.iter_mut().zip(&plane[i * width..(i + 1) * width]) {
            *out += w * light;
        }
    }
}

/// Lagrange's weight of sample `j` of [`INTERPOLATION`] for a position `fraction` of the way from
/// the first of the middle two to the second. Exact for slow changes of light, which is what flux asks
/// for, and within 3e-4 up to a quarter of the sampling rate, where all filters have all but closed.
fn lagrange(j: usize, fraction: f64) -> f64 {
    let at = (INTERPOLATION / 2 - 1) as f64 + fraction;
    let others = (0..INTERPOLATION).filter(|&m| m != j);
    others
        .map(|m| (at - m as f64) / (j as f64 - m as f64))
        .product()
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

    /// Samples after it.
    pub(super) fn after(&self) -> usize {
        self.after.len()
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

impl Apron {
    /// The near side's samples and the far side's, and what each is made of, all counted from the first
    /// of the apron.
    pub(super) fn targets(&self) -> [Vec<(usize, Sources)>; 2] {
        let lead = self.before.len();
        let of = |first: usize, side: &[Found]| {
            let moved = |found: &Found| {
                let taps = found.weighted().into_iter().map(|(at, w)| (at + lead, w));
                taps.collect()
            };
            (first..).zip(side.iter().map(moved)).collect()
        };
        [of(0, &self.before), of(lead + self.stored, &self.after)]
    }
}

impl Found {
    /// The stored samples that it is made of, weighted.
    pub(super) fn weighted(&self) -> Sources {
        match self {
            Self::Dark => Vec::new(),
            Self::At(i) => vec![(*i, 1.0)],
            Self::Between(taps) => taps.to_vec(),
        }
    }

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
            Self::Between(taps) => weighted(&**taps, line),
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
                add_rows(&**taps, plane, out);
            }
        }
    }
}
