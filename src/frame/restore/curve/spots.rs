//! What the pins lie on, as a picture curve meets it.
//!
//! A meter's spot reads the mean luminance of scene light, while the curve acts on each channel of each
//! pixel before. Luminance is a sum over channels and pixels, so a spot is told by how much of the curve's
//! value at each node of the grid it sums: exact for coloured, graded and noisy spots, and small.

use super::grid::Grid;
use super::typical::{self, GREY};
use crate::colour::primaries::LUMA64;
use crate::colour::transfer;
use crate::frame::restore::Decoded;
use crate::frame::restore::{Ask, Pin, Role};

/// What a spot meter's reading is good for, in stops: they are read to a tenth.
const METER: f64 = 0.1;
/// How far a spot's level may be off, in stops, where all of its light was cut off.
const LOST: f64 = 2.0;
/// Pixels of a spot that are read at most; of larger ones every n-th.
const PIXELS: usize = 4096;

/// A metered spot.
#[derive(Debug, Clone)]
pub(super) struct Spot {
    /// Which pin, from 0.
    pub(super) pin: usize,
    /// What the meter said.
    pub(super) said: f64,
    /// Its level by plain decoding.
    pub(super) plain: f64,
    /// How far the reading may be off, in stops.
    pub(super) sigma: f64,
    /// Node, and how much of the curve's light there it sums.
    parts: Vec<(usize, f64)>,
}

impl Spot {
    /// Its level through a curve of these heights, less what is the same for all.
    pub(super) fn level(&self, heights: &[f64]) -> f64 {
        let sum: f64 = self.parts.iter().map(|(n, w)| w * heights[*n].exp2()).sum();
        sum.max(f64::MIN_POSITIVE).log2()
    }

    /// How much of a change of height at each node reaches its level.
    pub(super) fn shares(&self, heights: &[f64]) -> Vec<(usize, f64)> {
        let light: Vec<f64> = self
            .parts
            .iter()
            .map(|(n, w)| w * heights[*n].exp2())
            .collect();
        let sum: f64 = light.iter().sum::<f64>().max(f64::MIN_POSITIVE);
        self.parts
            .iter()
            .zip(light)
            .map(|((n, _), l)| (*n, l / sum))
            .collect()
    }
}

/// Every pin that shapes the curve, and the role of every pin.
pub(super) fn read(
    still: &Decoded<'_>,
    ask: &Ask,
    on_clipped: &[bool],
    grid: &Grid,
) -> (Vec<Spot>, Vec<Role>) {
    let mut spots = Vec::new();
    let mut roles = Vec::new();
    for (i, (pin, clipped)) in ask.pins.iter().zip(on_clipped).enumerate() {
        let spot = if *clipped {
            None
        } else {
            spot(still, i, pin, grid)
        };
        roles.push(match (&spot, clipped) {
            (Some(_), _) => Role::Curve,
            (None, true) => Role::Level,
            (None, false) => Role::Dark,
        });
        spots.extend(spot);
    }
    (spots, roles)
}

/// A pin's spot; None where it has too little light to say anything.
fn spot(still: &Decoded<'_>, i: usize, pin: &Pin, grid: &Grid) -> Option<Spot> {
    let frame = &still.frame;
    let (width, height) = (frame.width(), frame.height());
    let [r, g, b] = frame.planes();
    let rows = still.native.to_working.rows();
    let luma = [0, 1, 2].map(|c| (0..3).map(|row| LUMA64[row] * rows[row][c]).sum::<f64>());
    let lights: Vec<f64> = grid.nodes.iter().map(|u| GREY * u.exp2()).collect();
    let last = lights.len() - 1;
    let radius = pin.disc.radius * width as f64;
    let every = ((radius * radius * std::f64::consts::PI) as usize / PIXELS).max(1);
    let mut sums = vec![0.0; lights.len()];
    let (mut plain, mut all, mut lost) = (0.0, 0.0, 0.0);
    for (p, part) in pin.disc.covered(width, height).step_by(every) {
        let working = [r[p], g[p], b[p]].map(f64::from);
        let native = still.native.from_working.apply(working);
        all += part;
        let cut_off = f64::from(u8::from(still.native.is_cut_off(p)));
        for (v, weight) in native.into_iter().zip(luma) {
            let weight = part * weight;
            lost += cut_off * weight * v;
            plain += weight * v;
            let after = lights.partition_point(|light| *light <= v);
            if after == 0 {
                sums[0] += weight * v / lights[0];
            } else if after > last {
                sums[last] += weight * v / lights[last];
            } else {
                let part = (v - lights[after - 1]) / (lights[after] - lights[after - 1]);
                sums[after - 1] += weight * (1.0 - part);
                sums[after] += weight * part;
            }
        }
    }
    let lost = (lost / plain).clamp(0.0, 1.0);
    let plain = plain / all;
    // Darker than the grid there is nothing that a curve could go by.
    if plain.is_nan() || plain < lights[0] {
        return None;
    }
    let parts: Vec<(usize, f64)> = sums
        .into_iter()
        .enumerate()
        .filter(|(_, sum)| sum.abs() > 0.0)
        .map(|(node, sum)| (node, sum / all))
        .collect();
    Some(Spot {
        pin: i,
        said: pin.stops.get(),
        plain: (plain / GREY).log2(),
        sigma: METER.hypot(code(still, plain)).hypot(LOST * lost),
        parts,
    })
}

/// How far a level may be off, in scene stops, because its codes are whole numbers.
fn code(still: &Decoded<'_>, plain: f64) -> f64 {
    if still.native.bits != 8 || !still.native.for_display {
        return 0.0;
    }
    let curve = transfer::Curve::Srgb;
    let code = curve.encode64(plain);
    let light = |code: f64| curve.decode64(code.max(0.25 / 255.0));
    let step = (light(code + 0.5 / 255.0) / light(code - 0.5 / 255.0)).log2();
    // An even spread of ± half a code; a usual curve's scene stops a plain stop.
    step / 12.0_f64.sqrt() * typical::log_slope((plain / GREY).log2().min(0.0)).exp()
}
