//! The pyramid of a picture as a shader reads it: geometry that all three channels share, and each channel's
//! taps, designed here and worked through there.
//!
//! A level is stored without an apron: beyond its edges a shader mirrors by arithmetic on whole numbers. Only
//! past a far edge that lies between samples, where the mirror image is interpolated, are samples stored, and
//! [`Joins`] say what finer samples they are made of, decimation included. None of that depends on what is scattered, so that a pyramid serves
//! whatever strength comes next.

use super::axis::{Apron, Axis, Outside, Seam, Sources};
use super::decimate::Decimation;
use super::dense::Dense;
use super::design::{DECIMATION, LONGEST, NEGLIGIBLE};
use super::finish::Level;
use super::plan::{COARSEST, Plan};
use super::rows::padded;
use super::thin;
use super::twin::HALVED;
use crate::optics::mixture::Mixture;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::ops::Range;

/// Samples of a line that one workgroup reads for what [`Joins`] tell of, at most.
pub(super) const REACHED_MOST: usize = 252;

/// Groups of four words that the matrices of a level take at most: 32 MiB, which goes to the device for every strength.
const FOURS_MOST: usize = 1 << 21;

/// Groups of four words that one filter takes in a shader's table.
pub(in crate::kernels) const FILTER_FOURS: usize = 1 + (LONGEST + 1) + SLID;
/// All taps of the longest filter, slid along four samples.
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
    /// Every filter: its radius; half its taps across, the middle one first, each like the radius with three words
    /// of nothing; its taps down with the weight in them, four at a time, each a tap further on for the next of
    /// four rows.
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
    /// Separable dense matrices, all of a level's filters among them, or nothing: four at a time, of each what every
    /// sample sends to each of a row, then what each row receives from every one.
    pub dense: Vec<[f32; 4]>,
    /// For each channel where its matrices begin, and how many fours of them there are.
    pub fours: [[u32; 2]; 3],
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
    /// The samples at a far edge between samples, across and down.
    pub joins: [Option<Joins>; 2],
    /// What they are made of: for each its first tap and how many it has; then for each tap its finer place and its
    /// weight's bits.
    pub table: Vec<u32>,
    /// The first of the six finer samples that the first of these is made of; nothing at the first level.
    pub begin: [isize; 2],
    /// The sample of this level in which the first one of the finer level lies.
    pub shift: [usize; 2],
}

/// A separable dense matrix.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct DenseTables {
    /// What each sample of a row sends to each, rows of a multiple of 64.
    pub(super) across: Vec<f32>,
    /// What each row receives from each; the weight is in it.
    pub(super) down: Vec<f32>,
}

/// Samples of a line that are joined with its mirror image: weighted sums of finer samples.
#[derive(Debug, Clone, PartialEq)]
pub struct Joins {
    /// The first of them; all after it are of them too.
    pub first: usize,
    /// Finer samples that they are made of, which may lie beyond the finer edges.
    pub span: Range<isize>,
    /// Where in [`Form::table`] the first of them is found.
    pub at: usize,
}

impl Joins {
    /// The samples that a seam writes and `beyond` more past them, all made of the finer samples that those are which
    /// decimation makes, of which the first is made of six from `begin` on; None where the edge lies on samples or
    /// half-way between two.
    fn of(axis: &Axis, beyond: usize, begin: isize, table: &mut Vec<u32>) -> Option<Self> {
        let mut made: BTreeMap<usize, Sources> = Seam::new(axis).targets().collect();
        let first = *made.keys().next()?;
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
        let finer: Vec<_> = made.values().map(|taps| decimated(taps, begin)).collect();
        let places = || finer.iter().flat_map(BTreeMap::keys);
        let span = *places().min()?..places().max()? + 1;
        let at = table.len();
        let mut tap = at + 2 * finer.len();
        for taps in &finer {
            table.extend([tap, taps.len()].map(|n| n as u32));
            tap += 2 * taps.len();
        }
        let taps = finer.iter().flatten();
        table.extend(taps.flat_map(|(place, w)| [*place as i32 as u32, (*w as f32).to_bits()]));
        Some(Self { first, span, at })
    }

    /// The most samples of the finer line that one workgroup reads for them.
    fn reached(&self, begin: isize) -> usize {
        // The workgroup in which they begin makes some before them.
        let own = begin + 2 * (self.first as isize - HALVED[0] as isize + 1);
        (self.span.end - own.min(self.span.start)) as usize
    }
}

/// The finer samples of which weighted samples are made, the first of these of six from `begin` on.
fn decimated(taps: &Sources, begin: isize) -> BTreeMap<isize, f64> {
    let [near, next, far] = DECIMATION;
    let mut finer = BTreeMap::new();
    for (at, weight) in taps {
        for (place, share) in (0..).zip([far, next, near, near, next, far]) {
            *finer.entry(begin + 2 * *at as isize + place).or_insert(0.0) +=
                f64::from(*weight) * share;
        }
    }
    finer
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
        let mut table = Vec::new();
        let joins = [0, 1].map(|i| Joins::of(&own[i], after[i], begin[i], &mut table));
        Self {
            size: own.map(|axis| axis.stored),
            beyond: [0, 1].map(|i| if joins[i].is_some() { after[i] } else { 0 }),
            twice: own.map(|axis| (2.0 * axis.edge()) as usize),
            joins,
            table,
            begin,
            shift,
        }
    }

    /// Samples of a finer line that one workgroup reads, at most, where some are joined.
    fn reached(&self) -> usize {
        let joins = self.joins.iter().zip(self.begin);
        let own = joins.filter_map(|(joins, begin)| joins.as_ref().map(|j| j.reached(begin)));
        own.max().unwrap_or(0)
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

/// A frame of `size` and three mixtures; None where matrices for a thin or a long frame would be larger than is sensible.
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
            dense: Vec::new(),
            fours: [[0; 2]; 3],
            live: [0, 1, 2].map(|c: usize| l < plans[c].levels.len()),
        };
        // Where there are matrices, there is no coarser level, and filters are matrices too: all go at once.
        if l == coarsest && plans.iter().any(|plan| !plan.dense.is_empty()) {
            let axes = size.map(|n| Axis::new(n, l, outside));
            let matrices = plans.iter().map(|plan| {
                let filters = plan.levels.get(l).map_or(0, |level| level.taps().count());
                filters + plan.dense.len()
            });
            if !is_sensible(matrices, level.form.size) {
                return None;
            }
            let own = [0, 1, 2].map(|c: usize| {
                let filters = plans[c].levels.get(l).into_iter().flat_map(Level::taps);
                let banded = filters.map(|taps| banded(&taps, &axes));
                let wide = plans[c].dense.iter().map(Dense::tables);
                banded.chain(wide).collect()
            });
            (level.dense, level.fours) = fours(&own, level.form.size);
            levels.push(level);
            continue;
        }
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
        }
        levels.push(level);
    }
    let mut forms = levels.iter().map(|level| &level.form);
    if forms.any(|form| form.reached() > REACHED_MOST) {
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

/// A filter on axes x, y as matrices.
fn banded(taps: &Taps, axes: &[Axis; 2]) -> DenseTables {
    let [width, height] = axes.map(|axis| axis.stored);
    let wide = padded(width);
    let mut tables = DenseTables {
        across: vec![0.0; width * wide],
        down: vec![0.0; height * height],
    };
    each_tap(&taps.across, &axes[0], |i, from, w| {
        tables.across[from * wide + i] += w;
    });
    each_tap(&taps.down, &axes[1], |i, from, w| {
        tables.down[i * height + from] += w;
    });
    tables
}

/// Calls `add` with every sample of an axis, each that half the taps of a filter take light from, and how much.
fn each_tap(half: &[f32], axis: &Axis, mut add: impl FnMut(usize, usize, f32)) {
    let radius = half.len() as isize - 1;
    for i in 0..axis.stored {
        for t in -radius..=radius {
            for (from, share) in axis.find(i as isize + t).weighted() {
                add(i, from, half[t.unsigned_abs()] * share);
            }
        }
    }
}

/// Whether so many matrices a channel are worth sending for a level of a size: they go four at a time.
fn is_sensible(channels: impl Iterator<Item = usize>, [width, height]: [usize; 2]) -> bool {
    let fours: usize = channels.map(|matrices| matrices.div_ceil(4)).sum();
    fours * (width * width + height * height) <= FOURS_MOST
}

/// Matrices as the shader reads them, four at a time, and for each channel where its own begin and how many fours.
fn fours(
    channels: &[Vec<DenseTables>; 3],
    [width, height]: [usize; 2],
) -> (Vec<[f32; 4]>, [[u32; 2]; 3]) {
    let mut table = Vec::new();
    let heads = channels.each_ref().map(|own| {
        let first = table.len() as u32;
        for four in own.chunks(4) {
            let of = |part: fn(&DenseTables) -> &[f32], at: usize| {
                [0, 1, 2, 3].map(|k: usize| four.get(k).map_or(0.0, |m| part(m)[at]))
            };
            let wide = four[0].across.len() / width;
            let across = (0..width).flat_map(|j| (0..width).map(move |i| j * wide + i));
            table.extend(across.map(|at| of(|m| &m.across, at)));
            table.extend((0..height * height).map(|at| of(|m| &m.down, at)));
        }
        [first, own.len().div_ceil(4) as u32]
    });
    (table, heads)
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
    let tap = |at: usize| if at <= radius { taps.across[at] } else { 0.0 };
    table.extend((0..=LONGEST).map(|at| [tap(at), 0.0, 0.0, 0.0]));
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
    let matrices = mixtures.iter().map(|mixture| {
        let shown = mixture.gaussians.iter().filter(|g| g.sigma >= NEGLIGIBLE);
        shown.count()
    });
    if !is_sensible(matrices, size) {
        return None;
    }
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
        table: Vec::new(),
        begin: [0; 2],
        shift: [0; 2],
    };
    let (dense, fours) = fours(&dense, size);
    let level = LaidLevel {
        form,
        filters: [[0; 2]; 3],
        radius: 0,
        dense,
        fours,
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::optics::mixture::Gaussian;

    #[test]
    fn a_long_level_takes_no_more_than_is_sensible() {
        let wide = |count: usize| Mixture {
            direct: 0.4,
            gaussians: (1..=count)
                .map(|k| Gaussian {
                    weight: 0.5 / count as f64,
                    sigma: 400.0 * k as f64,
                })
                .collect(),
            veil: 0.0,
        };
        // Fours of words that the matrices take, and those of one four of matrices.
        let words = |count: usize, size: [usize; 2]| {
            let mixtures = [(); 3].map(|()| wide(count));
            let laid = lay(&mixtures, size, Outside::Mirror)?;
            let level = laid.levels.last()?;
            let each = level.form.size.map(|n| n * n);
            Some((level.dense.len(), each[0] + each[1]))
        };
        let (long, each) = words(4, [8192, 512]).expect("one four a channel");
        assert_eq!(long, 3 * each);
        assert!(9 * each > FOURS_MOST, "three would be too many: {each}");
        let (short, each) = words(12, [2048, 512]).expect("three of them");
        assert_eq!(short, 9 * each);
        assert_eq!(words(12, [8192, 512]), None);
    }
}
