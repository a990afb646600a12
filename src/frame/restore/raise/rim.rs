//! What is seen around clipped light: how steeply it rises there, and what hue it has.

use super::Scene;
use super::grid::{Grid, OUT};
use rayon::prelude::*;

/// Pixels looked at either way of a pixel at the rim.
const REACH: usize = 2;
/// Light counts as near the level of the clip from here, in parts of it: one stop under.
const NEAR: f32 = 0.5;
/// The faintest light that a slope is told by, in stops under the clip.
const FAINT: f32 = 8.0;
/// The faintest part of a hue, in stops under its strongest channel.
pub(super) const DEEPEST: f32 = -6.0;

/// The light around one clipped pixel that has unclipped ones beside it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Rim {
    /// Stops a pixel by which light falls away from the clip.
    pub(super) slope: f32,
    /// The channels of light near the clip level against their ceilings, in stops under the strongest.
    pub(super) hue: [f32; 3],
    /// The part of what is seen that is near the clip level.
    pub(super) near: f32,
}

/// The rim at every cell; None within.
pub(super) fn look(scene: &Scene<'_>, grid: &Grid) -> Vec<Option<Rim>> {
    (0..grid.len())
        .into_par_iter()
        .map(|i| {
            let at_rim = grid.next[i].contains(&OUT);
            at_rim.then(|| around(scene, grid.at[i] as usize))
        })
        .collect()
}

fn around(scene: &Scene<'_>, at: usize) -> Rim {
    let (x, y) = (at % scene.width, at / scene.width);
    let (mut fall, mut seen, mut near) = (0.0, 0.0_f32, 0.0);
    let mut sums = [0.0_f32; 3];
    for v in y.saturating_sub(REACH)..(y + REACH + 1).min(scene.height) {
        for u in x.saturating_sub(REACH)..(x + REACH + 1).min(scene.width) {
            let i = v * scene.width + u;
            if scene.bits[i] != 0 {
                continue;
            }
            let part = scene.against_ceiling(i);
            let most = part.iter().fold(0.0_f32, |a, b| a.max(*b));
            seen += 1.0;
            // The pixels seen lie half a pixel and one and a half beyond the clip: one on average.
            fall -= most.clamp((-FAINT).exp2(), 1.0).log2();
            if most >= NEAR {
                near += 1.0;
                sums.iter_mut().zip(part).for_each(|(s, v)| *s += v);
            }
        }
    }
    let seen = seen.max(1.0);
    let most = sums.iter().fold(0.0_f32, |a, b| a.max(*b));
    let under = |v: f32| {
        if most > 0.0 {
            (v / most).log2().max(DEEPEST)
        } else {
            0.0
        }
    };
    Rim {
        slope: fall / seen,
        hue: sums.map(under),
        near: near / seen,
    }
}
