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

// What its shader is told.
pub mod twin;

use super::pyramid::axis::Outside;
use super::pyramid::plan::Plan;
use super::pyramid::{decimate, finish, thin};
use crate::frame::Frame;
use crate::optics::mixture::Mixture;
use crate::watch::{Cancelled, Watch};
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

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
    workers: Mutex<Vec<Worker>>,
}

#[derive(Debug)]
struct Prepared {
    params: Params,
    size: [usize; 2],
    plans: [Plan; 3],
}

/// One channel's buffers.
#[derive(Debug, Default)]
struct Channel {
    /// Level l + 1 of the pyramid.
    levels: Vec<Vec<f32>>,
    beyond: decimate::Beyond,
    /// Rows around each strip.
    aside: Vec<f32>,
    dense: Vec<f32>,
    dense_room: Vec<f32>,
}

/// One job's buffers.
#[derive(Debug, Default)]
struct Worker {
    decimate: decimate::Buffers,
    finish: finish::Buffers,
}

impl Scratch {
    /// Bytes held.
    #[must_use]
    pub fn bytes(&self) -> usize {
        let channels = self.channels.iter().map(|c| {
            let levels = c.levels.iter().map(Vec::capacity).sum::<usize>();
            levels
                + c.beyond.len()
                + c.aside.capacity()
                + c.dense.capacity()
                + c.dense_room.capacity()
        });
        let workers = self.workers.lock().unwrap_or_else(PoisonError::into_inner);
        let workers = workers.iter().map(|w| w.decimate.len() + w.finish.len());
        (channels.sum::<usize>() + workers.sum::<usize>()) * size_of::<f32>()
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
    let outside = match params.border {
        Border::Mirror => Outside::Mirror,
        Border::Level(_) => Outside::Dark,
    };
    let known = scratch
        .prepared
        .take()
        .filter(|p| p.size == size && p.params == *params);
    let prepared = scratch.prepared.insert(known.unwrap_or_else(|| {
        Prepared {
            params: params.clone(),
            size,
            plans: params
                .channels
                .each_ref()
                .map(|mixture| Plan::new(mixture, size, outside)),
        }
    }));
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
    let deepest = prepared
        .plans
        .iter()
        .map(|plan| plan.levels.len())
        .max()
        .unwrap_or(1)
        - 1;
    let mut run = Run {
        planes,
        plans: &prepared.plans,
        channels: &mut scratch.channels,
        workers: &scratch.workers,
        adds,
        progress: Progress::new(watch, &prepared.plans),
    };
    for level in 0..deepest {
        run.decimate(level)?;
    }
    run.sum_shallow()?;
    for level in (0..=deepest).rev() {
        run.finish(level)?;
    }
    Ok(())
}

/// What a mixture makes of an even field of 1.
fn whole(mixture: &Mixture) -> f64 {
    mixture.direct + mixture.veil + mixture.gaussians.iter().map(|g| g.weight).sum::<f64>()
}

/// One call at work.
struct Run<'a> {
    planes: [&'a mut [f32]; 3],
    plans: &'a [Plan; 3],
    channels: &'a mut [Channel; 3],
    workers: &'a Mutex<Vec<Worker>>,
    /// Light added everywhere, channel by channel.
    adds: [f32; 3],
    progress: Progress<'a>,
}

/// Lends a job its buffers.
fn with_worker<T>(workers: &Mutex<Vec<Worker>>, job: impl FnOnce(&mut Worker) -> T) -> T {
    let take = || workers.lock().unwrap_or_else(PoisonError::into_inner);
    let mut worker = take().pop().unwrap_or_default();
    let done = job(&mut worker);
    take().push(worker);
    done
}

/// Rows of a strip: enough strips to keep all threads busy to the end, each tall beside its apron and
/// none smaller than a task is worth.
fn strip_rows([width, height]: [usize; 2], radius: usize) -> usize {
    const LEAST: usize = 1 << 15;
    let share = height.div_ceil(4 * rayon::current_num_threads());
    let tall = share.max(4 * radius).max(LEAST / width);
    tall.next_multiple_of(4)
}

impl Run<'_> {
    /// Makes level `level` + 1 of every channel that has one.
    fn decimate(&mut self, level: usize) -> Result<(), Cancelled> {
        let mut jobs = Vec::new();
        for (c, channel) in self.channels.iter_mut().enumerate() {
            let plan = &self.plans[c];
            let Some(decimation) = plan.decimations.get(level) else {
                continue;
            };
            let [width, height] = decimation.coarse();
            if channel.levels.len() <= level {
                channel.levels.resize_with(level + 1, Vec::new);
            }
            let (finer, coarser) = channel.levels.split_at_mut(level);
            let from: &[f32] = finer.last().map_or(&*self.planes[c], |plane| plane);
            let out = &mut coarser[0];
            out.resize(width * height, 0.0);
            decimation.prepare(from, &mut channel.beyond);
            let rows = strip_rows([width, height], 0);
            for (strip, out) in out.chunks_mut(rows * width).enumerate() {
                jobs.push((c, from, &channel.beyond, strip * rows, out));
            }
        }
        let (plans, workers, progress) = (self.plans, self.workers, &self.progress);
        let run = |(c, from, beyond, first, out): (usize, &[f32], _, usize, &mut [f32])| {
            let plan = &plans[c];
            let sum = level == 0 && plan.veil != 0.0;
            let area = 4 * out.len();
            let total = with_worker(workers, |worker| {
                let buffers = &mut worker.decimate;
                let watch = progress.watch;
                plan.decimations[level].strip(from, beyond, (first, out), sum, buffers, watch)
            })?;
            progress.add(area);
            Ok((c, total))
        };
        let sums = jobs.into_par_iter().with_max_len(1).map(run);
        for (c, sum) in sums.collect::<Result<Vec<_>, Cancelled>>()? {
            // Added up in the order of strips, so that the result does not depend on timing.
            self.adds[c] += (self.plans[c].veil * sum / self.planes[c].len() as f64) as f32;
        }
        for (channel, plan) in self.channels.iter_mut().zip(self.plans) {
            if let Some(decimation) = plan.decimations.get(level) {
                decimation.mend(&mut channel.levels[level], &mut channel.beyond);
            }
        }
        Ok(())
    }

    /// Sums the channels that no decimation has summed.
    fn sum_shallow(&mut self) -> Result<(), Cancelled> {
        for (c, plan) in self.plans.iter().enumerate() {
            self.progress.watch.check()?;
            if plan.decimations.is_empty() && plan.veil != 0.0 {
                let plane = &*self.planes[c];
                self.adds[c] += (plan.veil * decimate::mean(plane)) as f32;
            }
        }
        Ok(())
    }

    /// Filters level `level` of every channel that has it and merges the coarser one into it.
    fn finish(&mut self, level: usize) -> Result<(), Cancelled> {
        let mut jobs = Vec::new();
        for (c, (channel, plane)) in self.channels.iter_mut().zip(&mut self.planes).enumerate() {
            let plan = &self.plans[c];
            let Some(stage) = plan.levels.get(level) else {
                continue;
            };
            let [width, height] = stage.size();
            let (finer, coarser) = channel.levels.split_at_mut(level);
            let plane: &mut [f32] = finer.last_mut().map_or(&mut **plane, |plane| plane);
            if level + 1 == plan.levels.len() {
                channel.dense.clear();
                if !plan.dense.is_empty() {
                    channel.dense.resize(plane.len(), 0.0);
                }
                for dense in &plan.dense {
                    self.progress.watch.check()?;
                    dense.add(plane, &mut channel.dense, &mut channel.dense_room);
                }
            }
            let coarser: &[f32] = coarser.first().map_or(&[], |plane| plane);
            let rows = strip_rows([width, height], stage.radius());
            let aside = stage.radius() * width;
            channel.aside.resize(2 * aside * height.div_ceil(rows), 0.0);
            let mut around = channel.aside.as_mut_slice();
            for first in (0..height).step_by(rows) {
                let (above, rest) = around.split_at_mut(aside);
                let (beneath, rest) = rest.split_at_mut(aside);
                around = rest;
                stage.set_aside(plane, (first, rows.min(height - first)), above, beneath);
            }
            let (direct, add) = if level == 0 {
                (plan.direct, self.adds[c])
            } else {
                (0.0, 0.0)
            };
            for (strip, rows_of) in plane.chunks_mut(rows * width).enumerate() {
                let around = &channel.aside[2 * strip * aside..2 * (strip + 1) * aside];
                let (above, beneath) = around.split_at(aside);
                let around = finish::Around {
                    above,
                    beneath,
                    coarser,
                    direct,
                    add,
                };
                let dense = if level + 1 == plan.levels.len() {
                    &*channel.dense
                } else {
                    &[]
                };
                let dense = dense.get(strip * rows * width..).unwrap_or(&[]);
                jobs.push((stage, strip * rows, rows_of, around, dense));
            }
        }
        let (workers, progress) = (self.workers, &self.progress);
        jobs.into_par_iter()
            .with_max_len(1)
            .try_for_each(|(stage, first, rows, around, dense)| {
                with_worker(workers, |worker| {
                    stage.strip(first, rows, around, &mut worker.finish, progress.watch)
                })?;
                for (out, light) in rows.iter_mut().zip(dense) {
                    *out += light;
                }
                progress.add(8 * rows.len());
                Ok(())
            })
    }
}

/// Progress by area, weighted by what a stage costs.
struct Progress<'a> {
    watch: &'a Watch,
    done: AtomicUsize,
    total: usize,
}

impl<'a> Progress<'a> {
    fn new(watch: &'a Watch, plans: &[Plan; 3]) -> Self {
        let area = |[width, height]: [usize; 2]| width * height;
        let total = plans.iter().map(|plan| {
            let decimations = plan.decimations.iter().map(|d| 4 * area(d.coarse()));
            let levels = plan.levels.iter().map(|l| 8 * area(l.size()));
            decimations.sum::<usize>() + levels.sum::<usize>()
        });
        Self {
            watch,
            done: AtomicUsize::new(0),
            total: total.sum(),
        }
    }

    fn add(&self, area: usize) {
        let done = self.done.fetch_add(area, Ordering::Relaxed) + area;
        self.watch.set_progress(done as f32 / self.total as f32);
    }
}

#[cfg(test)]
mod tests;
