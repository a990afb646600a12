//! What runs where, for one channel of one frame size.

use super::axis::{Axis, Outside};
use super::decimate::Decimation;
use super::dense::Dense;
use super::design::{NEGLIGIBLE, level_of, short_filter};
use super::finish::{Filter, Level};
use crate::optics::mixture::Mixture;

/// The shorter side of the coarsest level, in samples, is at least this: the longest filter with its
/// apron and its interpolation then meets either edge but once.
pub(super) const COARSEST: usize = 32;

/// All that one channel's mixture needs on one size of frame.
#[derive(Debug, Clone, PartialEq)]
pub(in crate::kernels) struct Plan {
    /// Light that goes straight on, and Gaussians too narrow to show.
    pub(in crate::kernels) direct: f32,
    /// Share of the frame's mean that is added everywhere.
    pub(in crate::kernels) veil: f64,
    /// Levels, finest first.
    pub(in crate::kernels) levels: Vec<Level>,
    /// From each level to the next.
    pub(in crate::kernels) decimations: Vec<Decimation>,
    /// At the last level.
    pub(in crate::kernels) dense: Vec<Dense>,
}

impl Plan {
    /// The plan for a frame of `size` (across, down), at least [`COARSEST`] either way.
    pub(in crate::kernels) fn new(mixture: &Mixture, size: [usize; 2], outside: Outside) -> Self {
        let coarsest = (size[0].min(size[1]) / COARSEST).max(1).ilog2() as usize;
        let shown = || mixture.gaussians.iter().filter(|g| g.sigma >= NEGLIGIBLE);
        let straight: f64 = mixture
            .gaussians
            .iter()
            .filter(|g| g.sigma < NEGLIGIBLE)
            .map(|g| g.weight)
            .sum();
        let deepest = shown()
            .map(|g| level_of(g.sigma).min(coarsest))
            .max()
            .unwrap_or(0);
        let axes = |level: usize| size.map(|pixels| Axis::new(pixels, level, outside));
        let mut levels = Vec::with_capacity(deepest + 1);
        let mut dense = Vec::new();
        for level in 0..=deepest {
            let scale = (1_usize << level) as f64;
            let filters = shown()
                .filter(|g| level_of(g.sigma) == level)
                .map(|g| Filter::new(&short_filter(g.sigma / scale, level), g.weight));
            let coarser = (level < deepest).then(|| axes(level + 1));
            levels.push(Level::new(axes(level), filters.collect(), coarser));
            if level == coarsest {
                let wide = shown().filter(|g| level_of(g.sigma) > level);
                dense = wide
                    .map(|g| Dense::new(&axes(level), g.sigma / scale, level, g.weight))
                    .collect();
            }
        }
        Self {
            direct: (mixture.direct + straight) as f32,
            // With a field around it the frame gives half of the veil, and the field the other half.
            veil: match outside {
                Outside::Mirror => mixture.veil,
                Outside::Dark => 0.5 * mixture.veil,
            },
            decimations: (0..deepest)
                .map(|l| Decimation::new(axes(l), axes(l + 1)))
                .collect(),
            levels,
            dense,
        }
    }
}
