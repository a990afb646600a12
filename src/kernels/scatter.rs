//! Scattered light: the frame convolved with a mixture of Gaussians, each channel with its own.
//!
//! `out = direct·I + Σ weight·(G(σ) ∗ I) + veil·mean(I)`, the frame mirrored at its edges (the edge
//! pixel repeated). The Gaussians are those whose transform is `exp(−2π²σ²ν²)` up to half a cycle
//! per pixel. Exact evaluation costs a transform of the whole frame; here each Gaussian runs on the
//! level of a pyramid that suits its width (multi-scale filtering after P. J. Burt and E. H. Adelson,
//! "The Laplacian pyramid as a compact image code", IEEE Trans. Commun. 31, 1983, with filters that
//! undo what the pyramid itself does to them).
//!
//! A constant field keeps its level times the sum of all weights:
//!
//! ```
//! use foreglass::frame::Frame;
//! use foreglass::kernels::scatter::{Border, Params, Scratch, cpu};
//! use foreglass::watch::Watch;
//! use foreglass::optics::mixture::{Gaussian, Mixture};
//! let gaussians = vec![Gaussian { weight: 0.3, sigma: 2.0 }, Gaussian { weight: 0.1, sigma: 40.0 }];
//! let mixture = Mixture { direct: 0.5, gaussians, veil: 0.05 };
//! let params = Params { channels: [mixture.clone(), mixture.clone(), mixture], border: Border::Mirror };
//! let mut frame = Frame::from_planes(64, 48, [vec![2.0; 64 * 48], vec![2.0; 64 * 48], vec![2.0; 64 * 48]]);
//! cpu(&mut frame, &params, &mut Scratch::default(), &Watch::default())?;
//! assert!((frame.pixel(10, 47)[1] - 1.9).abs() < 2e-5);
//! # Ok::<(), foreglass::watch::Cancelled>(())
//! ```

// Down and up a pyramid, on all cores.
mod run;
// What its shader is told.
pub mod twin;

use super::pyramid::axis::Outside;
use super::pyramid::plan::Plan;
use super::pyramid::{decimate, thin};
use crate::frame::Frame;
use crate::optics::mixture::Mixture;
use crate::watch::{Cancelled, Watch};
use rayon::prelude::*;
use run::{Channel, Progress, Run, Workers};

/// How far the result may lie from the exact convolution with the same mixture, as parts of scattered light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Tolerance {
    /// Root mean square over the frame, relative to that of the scattered light.
    pub rms: f64,
    /// At any pixel, relative to the scattered light there.
    pub local: f64,
    /// At any pixel besides, relative to the larger of the scattered light there and its mean.
    pub mean: f64,
    /// Of the frame's sum, relative; two and a half times as much where all of a frame's light is one pixel
    /// beside an edge that no power of two divides.
    pub flux: f64,
}

/// Held for Gaussians of any width from 1.2 pixels and light of any contrast.
///
/// For narrower ones (down to a tenth of a pixel, below which they count as direct) it is held on pictures
/// that a lens could have made. The transform of a Gaussian under 1.2 pixels has not died away at half a cycle per pixel, so
/// that its exact kernel rings on without end along the row and the column of a single bright pixel;
/// here it rings for eight pixels only.
pub const TOLERANCE: Tolerance = Tolerance {
    rms: 5e-4,
    local: 5e-3,
    mean: 2.5e-3,
    flux: 1e-5,
};

/// What the world beyond the frame is taken to be.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Border {
    /// The scene goes on as its mirror image, the edge pixel repeated.
    #[default]
    Mirror,
    /// An even field of this level in each channel; zero is a dark surround. Light that leaves the frame is
    /// lost, and the field's own scattered light comes in. A veil is then half of the frame's mean and half
    /// of the field.
    Level([f32; 3]),
}

impl From<Option<[f64; 3]>> for Border {
    /// As a plan tells what lies outside the frame: nothing mirrors it.
    fn from(outside: Option<[f64; 3]>) -> Self {
        outside.map_or(Self::Mirror, |levels| Self::Level(levels.map(|v| v as f32)))
    }
}

/// What is scattered, and how: one mixture a channel, σ in pixels.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Params {
    /// Red, green, blue. Any number of Gaussians, of any width.
    pub channels: [Mixture; 3],
    /// The world beyond the frame.
    pub border: Border,
}

pub use twin::SHADER;

impl Params {
    /// Of mixtures whose sigmas are in radians, for pixels of which `per_radian` make one.
    #[must_use]
    pub fn scaled(mixtures: &[Mixture; 3], per_radian: f64, border: Border) -> Self {
        Self {
            channels: mixtures.each_ref().map(|m| m.scaled(per_radian)),
            border,
        }
    }
}

/// Buffers and filters, kept from one call to the next: a second frame of the same size allocates
/// nothing, and with the same parameters designs nothing.
#[derive(Debug, Default)]
pub struct Scratch {
    prepared: Option<Prepared>,
    channels: [Channel; 3],
    workers: Workers,
    /// Whose pyramid the levels are; None where they were written over.
    holds: Option<Held>,
}

/// The pyramid that is kept for the next call of [`beside`].
#[derive(Debug)]
struct Held {
    /// Which light it is of.
    id: u64,
    size: [usize; 2],
    /// How many levels of each channel are made.
    depths: [usize; 3],
    /// The sum of each channel's light, where any of its levels is made.
    sums: [f64; 3],
}

#[derive(Debug)]
struct Prepared {
    params: Params,
    size: [usize; 2],
    plans: [Plan; 3],
}

impl Scratch {
    /// Bytes held.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let channels = self.channels.iter().map(Channel::len).sum::<usize>();
        (channels + self.workers.len()) * size_of::<f32>()
    }
}

/// Scatters the light of `frame`, in place.
///
/// Within [`TOLERANCE`] of the exact convolution. `scratch` may be used again, for any frame.
///
/// # Errors
/// [`Cancelled`], soon after `watch` was; the frame is then in no particular state.
pub fn cpu(
    frame: &mut Frame,
    params: &Params,
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    watch.check()?;
    let size = [frame.width(), frame.height()];
    scratch.holds = None;
    let done = match (params.border, thin::is_thin(size)) {
        (Border::Mirror, true) => {
            let planes = frame.planes_mut().into_iter().zip(&params.channels);
            planes
                .into_iter()
                .try_for_each(|(plane, mixture)| thin::scatter(plane, size, mixture, watch))
        }
        (Border::Mirror, false) => pyramid(frame, params, [0.0; 3], scratch, watch),
        (Border::Level(levels), true) => padded(frame, params, levels, scratch, watch),
        (Border::Level(levels), false) => pyramid(frame, params, levels, scratch, watch),
    };
    if done.is_ok() {
        watch.set_progress(1.0);
    }
    done
}

/// Scatters `light` into `out`, which has its size, to the bit as [`cpu`] does.
///
/// `id` says which light it is:
/// with the `id` of the last call, the pyramid that was made then serves again, and only what the mixtures
/// change is worked out anew. Mirrored frames that are not thin gain by that; others are copied.
///
/// # Errors
/// [`Cancelled`], soon after `watch` was; `out` is then in no particular state.
///
/// # Panics
/// When `out` has another size.
pub fn beside(
    (id, light): (u64, &Frame),
    out: &mut Frame,
    params: &Params,
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    watch.check()?;
    let size = [light.width(), light.height()];
    assert_eq!(size, [out.width(), out.height()], "frames of one size");
    if params.border != Border::Mirror || thin::is_thin(size) {
        for (out, light) in out.planes_mut().into_iter().zip(light.planes()) {
            out.copy_from_slice(light);
        }
        return cpu(out, params, scratch, watch);
    }
    let known = |held: &Held| held.id == id && held.size == size;
    let mut held = scratch.holds.take().filter(known).unwrap_or(Held {
        id,
        size,
        depths: [0; 3],
        sums: [0.0; 3],
    });
    let plans = Prepared::of(&mut scratch.prepared, params, size);
    let mut run = Run {
        light: Some(light.planes().each_ref().map(Vec::as_slice)),
        planes: out.planes_mut(),
        plans,
        channels: &mut scratch.channels,
        lanes: 0..3,
        workers: &scratch.workers,
        adds: [0.0; 3],
        progress: Progress::new(watch, plans, held.depths),
    };
    run.descend(Some(&mut held))?;
    scratch.holds = Some(held);
    run.ascend()?;
    watch.set_progress(1.0);
    Ok(())
}

/// A thin frame in an even field: a wider frame in the same field has the same light in this one's place.
fn padded(
    frame: &mut Frame,
    params: &Params,
    levels: [f32; 3],
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let (width, height) = (frame.width(), frame.height());
    let [wide, high] = thin::enough([width, height]);
    // The veil is of this frame's mean, not of the wider one's.
    let mut bare = params.clone();
    let mut veils = [0.0; 3];
    for (c, mixture) in bare.channels.iter_mut().enumerate() {
        let plane = &frame.planes()[c];
        let mean = decimate::sum(plane) / plane.len() as f64;
        let both = 0.5 * (mean + f64::from(levels[c]));
        veils[c] = (std::mem::take(&mut mixture.veil) * both) as f32;
    }
    let planes = [0, 1, 2].map(|c: usize| {
        let mut plane = vec![levels[c]; wide * high];
        for (row, wide) in frame.planes()[c].chunks(width).zip(plane.chunks_mut(wide)) {
            wide[..width].copy_from_slice(row);
        }
        plane
    });
    let mut large = Frame::from_planes(wide, high, planes);
    pyramid(&mut large, &bare, levels, scratch, watch)?;
    for ((plane, large), veil) in frame
        .planes_mut()
        .into_iter()
        .zip(large.planes())
        .zip(veils)
    {
        for (row, wide) in plane.chunks_mut(width).zip(large.chunks(wide)).take(height) {
            for (out, light) in row.iter_mut().zip(wide) {
                *out = light + veil;
            }
        }
    }
    Ok(())
}

/// A frame that is not thin. `levels` is the light beyond a frame that is not mirrored.
fn pyramid(
    frame: &mut Frame,
    params: &Params,
    levels: [f32; 3],
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let size = [frame.width(), frame.height()];
    let plans = Prepared::of(&mut scratch.prepared, params, size);
    let planes = frame.planes_mut();
    let mut adds = [0.0; 3];
    for (c, &level) in levels.iter().enumerate() {
        if level != 0.0 {
            // What differs from the field is scattered into the dark, the field into itself.
            planes[c]
                .par_iter_mut()
                .with_min_len(1 << 15)
                .for_each(|light| *light -= level);
            adds[c] = level * whole(&params.channels[c]) as f32;
        }
    }
    // One channel after another in the same buffers, unless that would leave cores without work.
    let lanes = if size[0] * size[1] < ALL_AT_ONCE {
        3
    } else {
        1
    };
    let mut run = Run {
        light: None,
        planes,
        plans,
        channels: &mut scratch.channels,
        lanes: 0..lanes,
        workers: &scratch.workers,
        adds,
        progress: Progress::new(watch, plans, [0; 3]),
    };
    for first in (0..3).step_by(lanes) {
        run.lanes = first..first + lanes;
        run.descend(None)?;
        run.ascend()?;
    }
    Ok(())
}

/// Pixels of a frame from which its channels are worked one after another.
const ALL_AT_ONCE: usize = 1 << 20;

impl Prepared {
    /// The filters of these parameters, designed unless they are those of the last call.
    fn of<'a>(kept: &'a mut Option<Self>, params: &Params, size: [usize; 2]) -> &'a [Plan; 3] {
        let outside = match params.border {
            Border::Mirror => Outside::Mirror,
            Border::Level(_) => Outside::Dark,
        };
        let known = kept
            .take()
            .filter(|p| p.size == size && p.params == *params);
        let plan = |mixture: &Mixture| Plan::new(mixture, size, outside);
        let prepared = known.unwrap_or_else(|| {
            let [r, g, b] = &params.channels;
            let (r, (g, b)) = rayon::join(|| plan(r), || rayon::join(|| plan(g), || plan(b)));
            Self {
                params: params.clone(),
                size,
                plans: [r, g, b],
            }
        });
        &kept.insert(prepared).plans
    }
}

/// What a mixture makes of an even field of 1.
fn whole(mixture: &Mixture) -> f64 {
    mixture.direct + mixture.veil + mixture.gaussians.iter().map(|g| g.weight).sum::<f64>()
}

#[cfg(test)]
mod tests;
