//! The pyramid of a picture as a shader reads it: geometry that all three channels share, and each channel's
//! taps, designed here and worked through there.
//!
//! A level is stored without an apron: beyond its edges a shader mirrors by arithmetic on whole numbers. Only
//! past a far edge that lies between samples, where the mirror image is interpolated, are samples stored, and
//! [`Joins`] say what they are made of. None of that depends on what is scattered, so that a pyramid serves
//! whatever strength comes next.

use super::axis::{Apron, Axis, Outside, Seam, Sources};
use super::decimate::Decimation;
use super::dense::Dense;
use super::design::LONGEST;
use super::plan::{COARSEST, Plan};
use super::thin;
use crate::optics::mixture::Mixture;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// Samples between the first and the last that a line of [`Joins`] reads or writes, at most.
pub const SPAN_MOST: usize = 128;

/// Groups of four words that one filter takes in a shader's table.
pub(in crate::kernels) const FILTER_FOURS: usize = 1 + HALF_FOURS + SLID;
/// Half the longest filter's taps, in groups of four.
pub(in crate::kernels) const HALF_FOURS: usize = (LONGEST + 1).div_ceil(4);
/// All its taps, slid along four samples.
const SLID: usize = 2 * LONGEST + 4;

/// A picture's levels.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    /// The first level's size; larger than the frame's where that is thin and lies in an even field.
    pub size: [usize; 2],
    /// Whether there is no light beyond the frame.
    pub dark: bool,
    /// What stays of each channel's light.
    pub direct: [f32; 3],
    /// Levels, finest first.
    pub levels: Vec<LaidLevel>,
    /// Every filter: its radius and three words of nothing; half its taps across, the middle one first; its
    /// taps down with the weight in them, four at a time, each a tap further on for the next of four rows.
    pub filters: Vec<[f32; 4]>,
}

/// One level.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidLevel {
    /// How its samples lie.
    pub form: Form,
    /// For each channel where its filters begin in [`Laid::filters`], and how many there are.
    pub filters: [[u32; 2]; 3],
    /// The longest filter's radius.
    pub radius: usize,
    /// Separable dense matrices, channel by channel.
    pub dense: [Vec<DenseTables>; 3],
    /// The channels that have this level.
    pub live: [bool; 3],
}

/// A level's samples: what is the same for whatever is scattered.
#[derive(Debug, Clone, PartialEq)]
pub struct Form {
    /// Samples across and down.
    pub size: [usize; 2],
    /// Samples stored past them, where a far edge lies between samples.
    pub beyond: [usize; 2],
    /// Twice the far edges, in samples from the near ones, where they lie on samples or half-way between two.
    pub twice: [usize; 2],
    /// What the samples at a far edge between samples are made of, across and down.
    pub joins: [Option<Joins>; 2],
    /// The first of the six finer samples that the first of these is made of; nothing at the first level.
    pub begin: [isize; 2],
    /// The sample of this level in which the first one of the finer level lies.
    pub shift: [usize; 2],
}

/// A separable dense matrix.
#[derive(Debug, Clone, PartialEq)]
pub struct DenseTables {
    /// What each sample of a row sends to each, rows of a multiple of 64.
    pub across: Vec<f32>,
    /// What each row receives from each; the weight is in it.
    pub down: Vec<f32>,
}

/// Samples of a line that are weighted sums of others.
#[derive(Debug, Clone, PartialEq)]
pub struct Joins {
    /// Samples that are written or read.
    pub span: Range<usize>,
    /// How many are written.
    pub count: usize,
    /// For each its place from the span's start, its first tap and how many it has; then for each tap its place
    /// and its weight's bits.
    pub table: Vec<u32>,
}

impl Joins {
    /// The samples that a seam writes and `beyond` more past them, all made of what decimation has made; None
    /// where the edge lies on samples or half-way between two.
    fn of(axis: &Axis, beyond: usize) -> Option<Self> {
        let mut made: BTreeMap<usize, Sources> = Seam::new(axis).targets().collect();
        if made.is_empty() {
            return None;
        }
        let [_, far] = Apron::new(axis, 0, beyond).targets();
        for (target, sources) in far {
            // Of joined samples: of what those are made of.
            let mut taps = BTreeMap::new();
            for (at, weight) in sources {
                let own = vec![(at, 1.0)];
                for (from, share) in made.get(&at).unwrap_or(&own) {
                    *taps.entry(*from).or_insert(0.0) += f64::from(weight) * f64::from(*share);
                }
            }
            let taps = taps.into_iter().map(|(at, w)| (at, w as f32)).collect();
            let _new = made.insert(target, taps);
        }
        let places = || {
            let taps = made.values().flatten().map(|tap| tap.0);
            made.keys().copied().chain(taps)
        };
        let start = places().min()?;
        let end = places().max()? + 1;
        let (mut heads, mut tails) = (Vec::new(), Vec::new());
        for (target, taps) in &made {
            let first = tails.len() / 2;
            heads.extend([target - start, first, taps.len()].map(|n| n as u32));
            tails.extend(
                taps.iter()
                    .flat_map(|(at, w)| [(at - start) as u32, w.to_bits()]),
            );
        }
        heads.extend(tails);
        Some(Self {
            span: start..end,
            count: made.len(),
            table: heads,
        })
    }
}

impl Form {
    /// Level `level` of a frame of `pixels`, of which `coarsest` is the last.
    fn new(pixels: [usize; 2], level: usize, coarsest: usize, outside: Outside) -> Self {
        let axes = |level: usize| pixels.map(|n| Axis::new(n, level, outside));
        let own = axes(level);
        let from = level.checked_sub(1).map(|finer| {
            let fine = axes(finer);
            let shift = [0, 1].map(|i| own[i].lead - fine[i].lead / 2);
            (Decimation::new(fine, own).begin(), shift)
        });
        let (begin, shift) = from.unwrap_or_default();
        let reach = if level < coarsest {
            Decimation::new(own, axes(level + 1)).reach()
        } else {
            [[0; 2]; 2]
        };
        let after = [0, 1].map(|i| LONGEST.max(reach[i][1]));
        let joins = [0, 1].map(|i| Joins::of(&own[i], after[i]));
        Self {
            size: own.map(|axis| axis.stored),
            beyond: [0, 1].map(|i| if joins[i].is_some() { after[i] } else { 0 }),
            twice: own.map(|axis| (2.0 * axis.edge()) as usize),
            joins,
            begin,
            shift,
        }
    }

    /// Samples stored, across and down.
    #[must_use]
    pub fn stored(&self) -> [usize; 2] {
        [0, 1].map(|i| self.size[i] + self.beyond[i])
    }

    /// Rows that are read where rows from `first` on and before `end` are asked for, which may lie beyond the edges.
    #[must_use]
    pub fn rows(&self, first: isize, end: isize) -> Range<usize> {
        let (stored, twice) = (self.stored()[1] as isize, self.twice[1] as isize);
        let mirrored = |y: isize| {
            let y = if y < 0 { -1 - y } else { y };
            if y < stored { y } else { twice - 1 - y }
        };
        let held = |y: isize| mirrored(y).clamp(0, stored - 1);
        let (inside, last) = (first.clamp(0, stored - 1), (end - 1).clamp(0, stored - 1));
        let places = [inside, last, held(first), held(end - 1)];
        let low = places.into_iter().fold(isize::MAX, isize::min);
        let high = places.into_iter().fold(0, isize::max);
        low as usize..high as usize + 1
    }
}

/// A frame of `size` and three mixtures; None where a matrix for a thin frame would be larger than is sensible.
pub(in crate::kernels) fn lay(
    mixtures: &[Mixture; 3],
    size: [usize; 2],
    outside: Outside,
) -> Option<Laid> {
    if thin::is_thin(size) && outside == Outside::Mirror {
        return lay_thin(mixtures, size);
    }
    let size = thin::enough(size);
    let plans: Vec<Plan> = mixtures
        .par_iter()
        .map(|mixture| Plan::new(mixture, size, outside))
        .collect();
    let coarsest = (size[0].min(size[1]) / COARSEST).max(1).ilog2() as usize;
    let depth = plans.iter().map(|plan| plan.levels.len()).max();
    let mut filters = Vec::new();
    let mut levels = Vec::new();
    for l in 0..depth.unwrap_or(0) {
        let mut level = LaidLevel {
            form: Form::new(size, l, coarsest, outside),
            filters: [[0; 2]; 3],
            radius: 0,
            dense: Default::default(),
            live: [0, 1, 2].map(|c: usize| l < plans[c].levels.len()),
        };
        for (c, plan) in plans.iter().enumerate() {
            let Some(own) = plan.levels.get(l) else {
                continue;
            };
            level.radius = level.radius.max(own.radius());
            level.filters[c][0] = filters.len() as u32;
            for taps in own.taps() {
                level.filters[c][1] += 1;
                put(&mut filters, &taps);
            }
            if l + 1 == plan.levels.len() {
                level.dense[c] = plan.dense.iter().map(Dense::tables).collect();
            }
        }
        levels.push(level);
    }
    if joined(&levels).any(|joins| joins.span.len() > SPAN_MOST) {
        return None;
    }
    Some(Laid {
        size,
        dark: outside == Outside::Dark,
        direct: [0, 1, 2].map(|c: usize| plans[c].direct),
        levels,
        filters,
    })
}

fn joined(levels: &[LaidLevel]) -> impl Iterator<Item = &Joins> {
    levels.iter().flat_map(|l| l.form.joins.iter().flatten())
}

/// Half the taps of a filter, the middle one first: across, and down with the weight in them.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Taps {
    /// Across.
    pub(super) across: Vec<f32>,
    /// Down.
    pub(super) down: Vec<f32>,
}

/// Appends a filter as the shader reads it.
fn put(table: &mut Vec<[f32; 4]>, taps: &Taps) {
    // What has been padded to the length of its neighbours is as short as it was.
    let radius = taps.across.iter().rposition(|tap| tap.abs() > 0.0);
    let radius = radius.unwrap_or(0);
    table.push([radius as f32, 0.0, 0.0, 0.0]);
    let mut half = [[0.0; 4]; HALF_FOURS];
    half.as_flattened_mut()[..=radius].copy_from_slice(&taps.across[..=radius]);
    table.extend(half);
    let down = |at: usize| {
        let far = at.abs_diff(radius);
        if far <= radius { taps.down[far] } else { 0.0 }
    };
    // The tap of row k of four for sample t is tap t − k, counted from the first.
    let slid = (0..SLID).map(|t| [0, 1, 2, 3].map(|k: usize| t.checked_sub(k).map_or(0.0, down)));
    table.extend(slid);
}

/// A mirrored frame too thin for a pyramid: a matrix for each Gaussian, exact.
fn lay_thin(mixtures: &[Mixture; 3], size: [usize; 2]) -> Option<Laid> {
    let mut direct = [0.0; 3];
    let mut dense: [Vec<DenseTables>; 3] = Default::default();
    for (c, mixture) in mixtures.iter().enumerate() {
        (direct[c], dense[c]) = thin::matrices(mixture, size)?;
    }
    let form = Form {
        size,
        beyond: [0; 2],
        twice: size.map(|n| 2 * n),
        joins: [None, None],
        begin: [0; 2],
        shift: [0; 2],
    };
    let level = LaidLevel {
        form,
        filters: [[0; 2]; 3],
        radius: 0,
        dense,
        live: [true; 3],
    };
    Some(Laid {
        size,
        dark: false,
        direct,
        levels: vec![level],
        filters: Vec::new(),
    })
}
