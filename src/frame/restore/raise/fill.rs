//! Smooth fields over clipped pixels: the profile by which light rises from the rim, and what the hue of the
//! rim asks of the channels that are lost.

use super::grid::{Grid, OUT};
use super::rim::{self, Rim};
use super::solve::{Sizes, System};
use super::{Hue, Scene, Work};
use rayon::prelude::*;

/// The steepest rise, in pixels: that of a hard edge.
const SHORTEST: f32 = 1.5;
/// How much a rim counts in the hue where no light near the clip is seen: there it says neutral.
const DARK: f32 = 0.05;
/// Shares of a rim's light that are near the clip, from which its hue begins to count, and counts fully.
const NEAR: [f32; 2] = [0.2, 0.5];
/// How far a hue that the pictured channels tell is carried into light that is lost altogether, pixels.
const CARRIED: f32 = 8.0;
/// Least source of the profile, where all but a faint channel is the picture's own.
const FAINTEST: f64 = 0.05;
/// A hold too weak to matter, where nothing else holds.
const SLIGHT: f32 = 1e-6;
/// One that nothing moves.
const FIRM: f32 = 1e5;

/// Every cell's light and what may be added to it.
pub(super) struct Fields {
    /// The picture's own light, and the ceiling where a channel is lost.
    pub(super) plain: Vec<[f32; 3]>,
    /// What the rim's hue asks of each channel, in stops; none is negative.
    pub(super) hue: Vec<[f32; 3]>,
    /// The profile, 0 to 1 in every area.
    pub(super) profile: Vec<f32>,
}

pub(super) fn fill(scene: &Scene<'_>, sizes: &Sizes, works: &[Work]) -> Fields {
    let grid = sizes.finest();
    let plain: Vec<[f32; 3]> = grid
        .at
        .par_iter()
        .map(|&i| {
            let (bits, own) = (scene.bits[i as usize], scene.pixel(i as usize));
            std::array::from_fn(|c| {
                if lost(bits, c) {
                    own[c].max(scene.ceiling[c])
                } else {
                    own[c]
                }
            })
        })
        .collect();
    let rims = rim::look(scene, grid);
    let spread = spread(sizes, works, &rims);
    let hue = hues(scene, sizes, &plain, &spread);
    let mut profile = profile(scene, sizes, &spread);
    for work in works {
        let cells = || work.cells.iter().cloned().flatten();
        let most = cells().map(|i| profile[i]).fold(0.0_f32, f32::max);
        if most > 0.0 {
            cells().for_each(|i| profile[i] = (profile[i] / most).max(0.0));
        }
    }
    Fields {
        plain,
        hue,
        profile,
    }
}

const fn lost(bits: u8, channel: usize) -> bool {
    bits >> channel & 1 == 1
}

/// How many of a cell's sides lie on the rim.
fn rim_sides(grid: &Grid, i: usize) -> f32 {
    let sides = grid.next[i].iter().filter(|j| **j == OUT);
    sides.count() as f32
}

/// What the rim tells, spread over the area: the hue in three lanes, the logarithm of the rise in the last.
fn spread(sizes: &Sizes, works: &[Work], rims: &[Option<Rim>]) -> Vec<[f32; 4]> {
    let grid = sizes.finest();
    let mut hold = vec![[SLIGHT; 4]; grid.len()];
    let mut pull = vec![[0.0; 4]; grid.len()];
    for work in works {
        let cells = || work.cells.iter().cloned().flatten();
        let length: f32 = cells().map(|i| rim_sides(grid, i)).sum();
        let longest = (cells().count() as f32 / length.max(1.0)).max(SHORTEST);
        let asked = work.asked.goals.iter().map(|goal| goal.stops);
        let shown = Scene::stops(work.before).get();
        let excess = (asked.fold(f64::MIN, f64::max) - shown).clamp(0.0, 40.0) as f32;
        for i in cells() {
            let Some(rim) = &rims[i] else { continue };
            let sides = rim_sides(grid, i);
            let rise = (excess / rim.slope.max(1e-3)).clamp(SHORTEST, longest).ln();
            let sure = match work.asked.hue {
                Hue::Rim => smooth((rim.near - NEAR[0]) / (NEAR[1] - NEAR[0])),
                Hue::Neutral => 0.0,
            };
            let hue = rim.hue.map(|h| sides * sure * h);
            let counts = sides * sure.max(DARK);
            hold[i] = [counts, counts, counts, sides];
            pull[i] = [hue[0], hue[1], hue[2], sides * rise];
        }
        if length <= 0.0 {
            // No rim at all, the whole frame: anything will do, and nothing may be divided by nothing.
            cells().for_each(|i| hold[i] = [1.0; 4]);
        }
    }
    sizes.solve(System {
        conductance: vec![1.0; grid.len()],
        hold,
        pull,
    })
}

/// From 0 to 1 with level ends.
fn smooth(x: f32) -> f32 {
    let x = x.clamp(0.0, 1.0);
    x * x * (3.0 - 2.0 * x)
}

/// What the hue asks of lost channels.
///
/// Against the ceilings light of hue h and brightness s (stops) is s + h(c). Where channels are left they
/// tell s, those nearer to their ceiling the less, so that nothing jumps where one is lost; where none is,
/// s is the least at which every channel is at its ceiling, led over from the pixels beside that still know.
fn hues(
    scene: &Scene<'_>,
    sizes: &Sizes,
    plain: &[[f32; 3]],
    spread: &[[f32; 4]],
) -> Vec<[f32; 3]> {
    let grid = sizes.finest();
    let hue =
        |i: usize| -> [f32; 3] { std::array::from_fn(|c| spread[i][c].clamp(rim::DEEPEST, 0.0)) };
    let bits = |i: usize| scene.bits[grid.at[i] as usize];
    let least = |h: [f32; 3]| -h.iter().fold(0.0_f32, |a, b| a.min(*b));
    // How much brighter than the least a pixel is that still knows.
    let over = |i: usize| -> f32 {
        let h = hue(i);
        let (mut sum, mut weights) = (0.0, 0.0);
        for c in (0..3).filter(|c| !lost(bits(i), *c)) {
            let part = (plain[i][c] / scene.ceiling[c]).clamp(1e-4, 1.0);
            let weight = 1e-3 + 1.0 - part.powi(4);
            sum += weight * (part.log2() - h[c]);
            weights += weight;
        }
        sum / weights - least(h)
    };
    let cells = grid.len();
    let coloured = (0..cells).into_par_iter().any(|i| least(hue(i)) > 1e-3);
    if !coloured {
        return vec![[0.0; 3]; cells];
    }
    let mut system = System {
        conductance: vec![CARRIED * CARRIED; cells],
        hold: vec![[1.0]; cells],
        pull: vec![[0.0]; cells],
    };
    for i in 0..cells {
        if bits(i) != 7 {
            system.hold[i] = [FIRM];
            system.pull[i] = [FIRM * over(i)];
        }
    }
    let led = sizes.solve(system);
    (0..cells)
        .into_par_iter()
        .map(|i| {
            let (h, bits) = (hue(i), bits(i));
            let led = if bits == 7 { led[i][0] } else { over(i) };
            let bright = least(h) + led;
            std::array::from_fn(|c| {
                if lost(bits, c) {
                    // Light already above the ceiling needs that much less.
                    let there = (plain[i][c] / scene.ceiling[c]).max(1.0).log2();
                    (bright + h[c] - there).clamp(0.0, -2.0 * rim::DEEPEST)
                } else {
                    0.0
                }
            })
        })
        .collect()
}

/// The profile: its source is the part of the light that is lost.
fn profile(scene: &Scene<'_>, sizes: &Sizes, spread: &[[f32; 4]]) -> Vec<f32> {
    let grid = sizes.finest();
    let part = |bits: u8| -> f32 {
        let light = |c: usize| scene.weights[c] * f64::from(scene.ceiling[c]);
        let all: f64 = (0..3).map(light).sum();
        let lost: f64 = (0..3).filter(|c| lost(bits, *c)).map(light).sum();
        (lost / all).clamp(FAINTEST, 1.0) as f32
    };
    let source: [f32; 8] = std::array::from_fn(|bits| part(bits as u8));
    let conductance: Vec<f32> = spread
        .par_iter()
        .map(|lanes| (2.0 * lanes[3].max(SHORTEST.ln())).exp())
        .collect();
    let hold = (0..grid.len()).into_par_iter();
    let hold = hold.map(|i| [1.0 + conductance[i] * rim_sides(grid, i)]);
    let pull = grid.at.par_iter();
    let pull = pull.map(|i| [source[usize::from(scene.bits[*i as usize] & 7)]]);
    let field = sizes.solve(System {
        hold: hold.collect(),
        pull: pull.collect(),
        conductance,
    });
    field.into_par_iter().map(|[p]| p).collect()
}
