//! Down a pyramid and up again, on all cores.
//!
//! On the way down each level is made from the finer one, on the way up each is filtered and the coarser one merged
//! into it. Where the light is to stay as it is, finished levels are written beside those that
//! were made, so that the way down need not be gone again.

use super::Held;
use crate::kernels::pyramid::plan::Plan;
use crate::kernels::pyramid::{decimate, finish};
use crate::watch::{Cancelled, Watch};
use rayon::prelude::*;
use std::ops::Range;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Mutex, PoisonError};

/// One channel's buffers.
#[derive(Debug, Default)]
pub(super) struct Channel {
    /// Level l + 1 of the pyramid.
    levels: Vec<Vec<f32>>,
    /// The level that is being finished and the one coarser, where the pyramid stays: even ones and odd ones.
    done: [Vec<f32>; 2],
    beyond: decimate::Beyond,
    /// Rows around each strip.
    aside: Vec<f32>,
    dense: Vec<f32>,
    dense_room: Vec<f32>,
}

impl Channel {
    /// Samples held.
    pub(super) fn len(&self) -> usize {
        let Self {
            levels,
            done,
            beyond,
            aside,
            dense,
            dense_room,
        } = self;
        let all = levels.iter().chain(done).chain([aside, dense, dense_room]);
        all.map(Vec::capacity).sum::<usize>() + beyond.len()
    }
}

/// One job's buffers.
#[derive(Debug, Default)]
struct Worker {
    decimate: decimate::Buffers,
    finish: finish::Buffers,
}

/// Buffers for as many jobs as run at once.
#[derive(Debug, Default)]
pub(super) struct Workers(Mutex<Vec<Worker>>);

impl Workers {
    /// Samples held.
    pub(super) fn len(&self) -> usize {
        let workers = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let lengths = workers.iter().map(|w| w.decimate.len() + w.finish.len());
        lengths.sum()
    }

    /// Lends a job its buffers.
    fn lend<T>(&self, job: impl FnOnce(&mut Worker) -> T) -> T {
        let take = || self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let mut worker = take().pop().unwrap_or_default();
        let done = job(&mut worker);
        take().push(worker);
        done
    }
}

/// One call at work.
pub(super) struct Run<'a> {
    /// The light, where it stays.
    pub(super) light: Option<[&'a [f32]; 3]>,
    /// The picture; the light too, where that goes.
    pub(super) planes: [&'a mut [f32]; 3],
    pub(super) plans: &'a [Plan; 3],
    pub(super) channels: &'a mut [Channel; 3],
    /// The channels that are worked on, with the first buffers.
    pub(super) lanes: Range<usize>,
    pub(super) workers: &'a Workers,
    /// Light added everywhere, channel by channel.
    pub(super) adds: [f32; 3],
    pub(super) progress: Progress<'a>,
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
    /// Makes all levels that `held` does not hold already.
    pub(super) fn descend(&mut self, mut held: Option<&mut Held>) -> Result<(), Cancelled> {
        let depths = held.as_ref().map_or([0; 3], |held| held.depths);
        let needed = self.plans.each_ref().map(|plan| plan.decimations.len());
        let mut sums = held.as_ref().map_or([0.0; 3], |held| held.sums);
        let deepest = needed[self.lanes.clone()].iter().max();
        for level in 0..deepest.copied().unwrap_or(0) {
            self.decimate(level, depths, (held.is_some(), &mut sums))?;
        }
        for c in self.lanes.clone() {
            let plan = &self.plans[c];
            self.progress.watch.check()?;
            if plan.veil != 0.0 {
                let light = match &self.light {
                    Some(light) => light[c],
                    None => &*self.planes[c],
                };
                // Summed as it is without anything held: the same to the bit.
                let mean = if needed[c] == 0 {
                    decimate::mean(light)
                } else {
                    sums[c] / light.len() as f64
                };
                self.adds[c] += (plan.veil * mean) as f32;
            }
        }
        if let Some(held) = &mut held {
            held.depths = [0, 1, 2].map(|c: usize| depths[c].max(needed[c]));
            held.sums = sums;
        }
        Ok(())
    }

    /// Makes level `level` + 1 of every channel that has one and does not hold it, of its first `depths` levels; sums
    /// the channels that have a veil, or `all`.
    fn decimate(
        &mut self,
        level: usize,
        depths: [usize; 3],
        (all, sums): (bool, &mut [f64; 3]),
    ) -> Result<(), Cancelled> {
        let plans = self.plans;
        let missing = |c: usize| {
            let decimation = plans[c].decimations.get(level);
            decimation.filter(|_| level >= depths[c])
        };
        let mut jobs = Vec::new();
        for (channel, c) in self.channels.iter_mut().zip(self.lanes.clone()) {
            let Some(decimation) = missing(c) else {
                continue;
            };
            let [width, height] = decimation.coarse();
            if channel.levels.len() <= level {
                channel.levels.resize_with(level + 1, Vec::new);
            }
            let (finer, coarser) = channel.levels.split_at_mut(level);
            let from: &[f32] = match (finer.last(), &self.light) {
                (Some(plane), _) => plane,
                (None, Some(light)) => light[c],
                (None, None) => &*self.planes[c],
            };
            let out = &mut coarser[0];
            out.resize(width * height, 0.0);
            decimation.prepare(from, &mut channel.beyond);
            let rows = strip_rows([width, height], 0);
            for (strip, out) in out.chunks_mut(rows * width).enumerate() {
                jobs.push((c, decimation, from, &channel.beyond, strip * rows, out));
            }
        }
        let (workers, progress) = (self.workers, &self.progress);
        let run = |job: (usize, &decimate::Decimation, &[f32], _, usize, &mut [f32])| {
            let (c, decimation, from, beyond, first, out) = job;
            let sum = level == 0 && (all || plans[c].veil != 0.0);
            let area = 4 * out.len();
            let total = workers.lend(|worker| {
                let buffers = &mut worker.decimate;
                decimation.strip(from, beyond, (first, out), sum, buffers, progress.watch)
            })?;
            progress.add(area);
            Ok((c, total))
        };
        let strips = jobs.into_par_iter().with_max_len(1).map(run);
        for (c, sum) in strips.collect::<Result<Vec<_>, Cancelled>>()? {
            // Added up in the order of strips, so that the result does not depend on timing.
            sums[c] += sum;
        }
        for (channel, c) in self.channels.iter_mut().zip(self.lanes.clone()) {
            if let Some(decimation) = missing(c) {
                decimation.mend(&mut channel.levels[level], &mut channel.beyond);
            }
        }
        Ok(())
    }

    /// Finishes all levels, coarsest first.
    pub(super) fn ascend(&mut self) -> Result<(), Cancelled> {
        let plans = self.plans[self.lanes.clone()].iter();
        let deepest = plans.map(|plan| plan.levels.len()).max();
        let mut levels = (0..deepest.unwrap_or(0)).rev();
        levels.try_for_each(|level| self.finish(level))
    }

    /// Filters level `level` of every channel that has it and merges the coarser one into it.
    fn finish(&mut self, level: usize) -> Result<(), Cancelled> {
        let mut jobs = Vec::new();
        let planes = self.planes[self.lanes.clone()].iter_mut();
        let lanes = self.channels.iter_mut().zip(planes).zip(self.lanes.clone());
        for ((channel, plane), c) in lanes {
            let plan = &self.plans[c];
            let Some(stage) = plan.levels.get(level) else {
                continue;
            };
            let (is_last, width) = (level + 1 == plan.levels.len(), stage.size()[0]);
            let (finer, coarser) = channel.levels.split_at_mut(level);
            let [even, odd] = &mut channel.done;
            let (to, below) = if level.is_multiple_of(2) {
                (even, odd)
            } else {
                (odd, even)
            };
            // Where the light lies, where it goes to, and what has been finished before.
            let (own, out, coarser): (_, &mut [f32], &[f32]) = match (finer.last_mut(), &self.light)
            {
                (Some(plane), Some(_)) => {
                    to.resize(plane.len(), 0.0);
                    (Some(&**plane), to, below)
                }
                (None, Some(light)) => (Some(light[c]), plane, below),
                (Some(plane), None) => (None, plane, coarser.first().map_or(&[], Vec::as_slice)),
                (None, None) => (None, plane, coarser.first().map_or(&[], Vec::as_slice)),
            };
            let coarser = if is_last { &[] } else { coarser };
            let light = own.unwrap_or(out);
            if is_last {
                channel.dense.clear();
                if !plan.dense.is_empty() {
                    channel.dense.resize(light.len(), 0.0);
                }
                for dense in &plan.dense {
                    self.progress.watch.check()?;
                    dense.add(light, &mut channel.dense, &mut channel.dense_room);
                }
            }
            let rows = strip_rows(stage.size(), stage.radius());
            let aside = stage.set_all_aside(light, rows, &mut channel.aside);
            let (direct, add) = if level == 0 {
                (plan.direct, self.adds[c])
            } else {
                (0.0, 0.0)
            };
            for (strip, out) in out.chunks_mut(rows * width).enumerate() {
                let around = &channel.aside[2 * strip * aside..2 * (strip + 1) * aside];
                let (above, beneath) = around.split_at(aside);
                let first = strip * rows * width;
                let around = finish::Around {
                    above,
                    beneath,
                    own: own.map(|light| &light[first..first + out.len()]),
                    coarser,
                    direct,
                    add,
                };
                let dense = if is_last { &*channel.dense } else { &[] };
                jobs.push((
                    stage,
                    strip * rows,
                    out,
                    around,
                    dense.get(first..).unwrap_or(&[]),
                ));
            }
        }
        let (workers, progress) = (self.workers, &self.progress);
        jobs.into_par_iter()
            .with_max_len(1)
            .try_for_each(|(stage, first, rows, around, dense)| {
                workers.lend(|worker| {
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
pub(super) struct Progress<'a> {
    watch: &'a Watch,
    done: AtomicUsize,
    total: usize,
}

impl<'a> Progress<'a> {
    /// Of these plans, of which the first `depths` levels are made already.
    pub(super) fn new(watch: &'a Watch, plans: &[Plan; 3], depths: [usize; 3]) -> Self {
        let area = |[width, height]: [usize; 2]| width * height;
        let total = plans.iter().zip(depths).map(|(plan, depth)| {
            let missing = plan.decimations.iter().skip(depth);
            let decimations = missing.map(|d| 4 * area(d.coarse()));
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
