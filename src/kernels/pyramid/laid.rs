//! The pyramid of one channel as a shader reads it: tables and taps, designed here and worked through there.

use super::axis::{Apron, Axis, Outside, Seam, Sources};
use super::dense::Dense;
use super::plan::Plan;
use super::thin;
use crate::optics::mixture::Mixture;
use std::ops::Range;

/// One channel's levels.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    /// The first level's size; larger than the frame's where that is thin and lies in an even field.
    pub size: [usize; 2],
    /// What stays of the light that is there.
    pub direct: f32,
    /// Levels, finest first.
    pub levels: Vec<LaidLevel>,
}

/// One level: a plane with an apron around it.
#[derive(Debug, Clone, PartialEq)]
pub struct LaidLevel {
    /// Samples across and down, without the apron.
    pub size: [usize; 2],
    /// The apron's samples to the left and above.
    pub before: [usize; 2],
    /// Those to the right and below.
    pub after: [usize; 2],
    /// What joins the level with its mirror image, across and down.
    pub seams: [Option<Joins>; 2],
    /// What the apron is made of, across and down.
    pub aprons: [Vec<Joins>; 2],
    /// Separable filters.
    pub filters: Vec<Taps>,
    /// Separable dense matrices.
    pub dense: Vec<DenseTables>,
    /// Where the coarser level lies.
    pub coarser: Option<Coarser>,
}

/// Half the taps of a filter, the middle one first: across, and down with the weight in them.
#[derive(Debug, Clone, PartialEq)]
pub struct Taps {
    /// Across.
    pub across: Vec<f32>,
    /// Down.
    pub down: Vec<f32>,
}

/// A separable dense matrix.
#[derive(Debug, Clone, PartialEq)]
pub struct DenseTables {
    /// What each sample of a row sends to each, rows of a multiple of 64.
    pub across: Vec<f32>,
    /// What each row receives from each; the weight is in it.
    pub down: Vec<f32>,
}

/// Where a coarser level lies under a finer one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Coarser {
    /// The first of the six finer samples, counted from the finer plane's first, apron included, that its
    /// first sample is made of.
    pub begin: [usize; 2],
    /// Its sample in which the first finer one lies.
    pub shift: [usize; 2],
}

/// Samples of a line that are weighted sums of others.
#[derive(Debug, Clone, PartialEq)]
pub struct Joins {
    /// Samples of the plane, apron included, that are written or read.
    pub span: Range<usize>,
    /// How many are written.
    pub count: usize,
    /// For each its place from the span's start, its first tap and how many it has; then for each tap its place
    /// and its weight's bits.
    pub table: Vec<u32>,
}

impl Joins {
    /// From targets and their taps, all in samples of the plane; None when there are no targets.
    fn of(targets: &[(usize, Sources)]) -> Option<Self> {
        let places = || {
            let taps = targets.iter().flat_map(|(_, taps)| taps).map(|t| t.0);
            targets.iter().map(|t| t.0).chain(taps)
        };
        let start = places().min()?;
        let end = places().max()? + 1;
        let (mut heads, mut tails) = (Vec::new(), Vec::new());
        for (target, taps) in targets {
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
            count: targets.len(),
            table: heads,
        })
    }

    fn seam(axis: &Axis, before: usize) -> Option<Self> {
        let moved = |(target, taps): (usize, Sources)| {
            let taps = taps.into_iter().map(|(at, w)| (at + before, w));
            (target + before, taps.collect())
        };
        let targets: Vec<_> = Seam::new(axis).targets().map(moved).collect();
        Self::of(&targets)
    }

    /// The near side and the far side by themselves: between them lies the whole picture.
    fn aprons(axis: &Axis, before: usize, after: usize) -> Vec<Self> {
        let apron = Apron::new(axis, before, after);
        let sides = apron.targets();
        // Dark samples are nothing, and stay so.
        let lit = |side: Vec<(usize, Sources)>| {
            let lit: Vec<_> = side.into_iter().filter(|t| !t.1.is_empty()).collect();
            Self::of(&lit)
        };
        sides.into_iter().filter_map(lit).collect()
    }
}

impl Laid {
    /// A mixture on a frame of `size`; None where a matrix for a thin frame would be larger than is
    /// sensible.
    pub(in crate::kernels) fn new(
        mixture: &Mixture,
        size: [usize; 2],
        outside: Outside,
    ) -> Option<Self> {
        if thin::is_thin(size) && outside == Outside::Mirror {
            return Self::thin(mixture, size);
        }
        let size = thin::enough(size);
        let plan = Plan::new(mixture, size, outside);
        let last = plan.levels.len() - 1;
        let levels = plan.levels.iter().enumerate().map(|(l, level)| {
            let axes = level.axes();
            let radius = level.radius();
            let decimation = plan.decimations.get(l);
            let reach = decimation.map_or([[0; 2]; 2], super::decimate::Decimation::reach);
            let before = [0, 1].map(|i| radius.max(reach[i][0]));
            let after = [0, 1].map(|i| radius.max(reach[i][1]));
            let dense = if l == last {
                plan.dense.as_slice()
            } else {
                &[]
            };
            LaidLevel {
                size: level.size(),
                before,
                after,
                seams: [0, 1].map(|i| Joins::seam(&axes[i], before[i])),
                aprons: [0, 1].map(|i| Joins::aprons(&axes[i], before[i], after[i])),
                filters: level.taps().collect(),
                dense: dense.iter().map(Dense::tables).collect(),
                coarser: decimation.zip(level.shift()).map(|(d, shift)| Coarser {
                    begin: [0, 1].map(|i| (d.begin()[i] + before[i] as isize) as usize),
                    shift,
                }),
            }
        });
        Some(Self {
            size,
            direct: plan.direct,
            levels: levels.collect(),
        })
    }

    /// A mirrored frame too thin for a pyramid: a matrix for each Gaussian, exact.
    fn thin(mixture: &Mixture, size: [usize; 2]) -> Option<Self> {
        let (direct, dense) = thin::matrices(mixture, size)?;
        let level = LaidLevel {
            size,
            before: [0; 2],
            after: [0; 2],
            seams: [None, None],
            aprons: [Vec::new(), Vec::new()],
            filters: Vec::new(),
            dense,
            coarser: None,
        };
        Some(Self {
            size,
            direct,
            levels: vec![level],
        })
    }
}
