//! Scattered light: a pyramid is made once, then every level is filtered and the coarser ones merged into it, all
//! channels at a time.

use super::GpuError;
use super::picture::{Rows, bands, bands_of};
use super::pyramid::{BEYOND, Pyramid, reading};
use super::work::{Run, Work, groups};
use crate::kernels::scatter::Params;
use crate::kernels::scatter::twin::{Laid, LaidLevel, SHADER, ScatterStep, TILE, Veil};
use std::ops::Range;

/// What was designed for a law and a size, its tables on the device; kept for the next picture.
#[derive(Debug)]
pub(super) struct Design {
    params: Params,
    size: [usize; 2],
    pub(super) laid: Laid,
    pub(super) veil: Veil,
    filters: wgpu::Buffer,
    dense: Vec<Option<Dense>>,
}

/// One level's dense matrices.
#[derive(Debug)]
struct Dense {
    across: wgpu::Buffer,
    down: wgpu::Buffer,
    /// Samples from one row of a matrix across to the next.
    stride: u32,
    /// For each channel where its matrices begin in either, and how many there are.
    heads: [([u32; 2], u32); 3],
}

impl Design {
    pub(super) fn new(
        params: &Params,
        size: [usize; 2],
        work: &Work<'_>,
    ) -> Result<Self, GpuError> {
        let channels = params.laid(size);
        let channels = channels.ok_or(GpuError::Unsupported(
            "scatter on so long and narrow a picture",
        ))?;
        let laid = channels.laid;
        let filters = laid.filters.as_flattened();
        let none = [0.0; 4];
        let filters = if filters.is_empty() { &none } else { filters };
        let dense = laid.levels.iter().map(|level| Dense::new(level, work));
        Ok(Self {
            params: params.clone(),
            size,
            filters: work.table(bytemuck::cast_slice(filters))?,
            dense: dense.collect::<Result<_, _>>()?,
            veil: channels.veil,
            laid,
        })
    }

    pub(super) fn serves(&self, params: &Params, size: [usize; 2]) -> bool {
        self.size == size && self.params == *params
    }
}

impl Dense {
    fn new(level: &LaidLevel, work: &Work<'_>) -> Result<Option<Self>, GpuError> {
        let (mut across, mut down) = (Vec::new(), Vec::new());
        let heads = level.dense.each_ref().map(|own| {
            let first = [across.len() as u32, down.len() as u32];
            for tables in own {
                across.extend_from_slice(&tables.across);
                down.extend_from_slice(&tables.down);
            }
            (first, own.len() as u32)
        });
        if across.is_empty() {
            return Ok(None);
        }
        let one = level.dense.iter().flatten().next();
        Ok(Some(Self {
            stride: one.map_or(0, |t| t.across.len() / level.form.size[0]) as u32,
            across: work.table(bytemuck::cast_slice(&across))?,
            down: work.table(bytemuck::cast_slice(&down))?,
            heads,
        }))
    }
}

/// A picture's scattered light. `pyramid` is of that picture, or empty, and is added to.
pub(super) fn scatter(
    from: &Rows,
    params: &Params,
    pyramid: &mut Pyramid,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    let design = work.design(params, from.size())?;
    pyramid.reach(&design, from, work)?;
    work.progress(0.5);
    let add = pyramid.total(&design.veil, from, work)?;
    let mut coarser: Option<Rows> = None;
    for l in (0..design.laid.levels.len()).rev() {
        let own = if l == 0 { from } else { &pyramid.levels[l - 1] };
        let stage = Stage {
            design: &design,
            l,
            own,
            coarser: coarser.as_ref(),
            add: &add,
        };
        coarser = Some(stage.run(work)?);
    }
    work.progress(1.0);
    Ok(coarser.unwrap_or_else(|| from.clone()))
}

/// One level to be filtered.
struct Stage<'a> {
    design: &'a Design,
    l: usize,
    own: &'a Rows,
    coarser: Option<&'a Rows>,
    /// What is added everywhere.
    add: &'a wgpu::Buffer,
}

impl Stage<'_> {
    fn level(&self) -> &LaidLevel {
        &self.design.laid.levels[self.l]
    }

    /// Samples that are made: of the frame its own alone.
    fn size(&self) -> [usize; 2] {
        if self.l == 0 {
            self.own.size()
        } else {
            self.level().form.size
        }
    }

    fn run(&self, work: &mut Work<'_>) -> Result<Rows, GpuError> {
        let out = Rows::new(work, self.size())?;
        self.finish(&out, work)?;
        if let Some(dense) = &self.design.dense[self.l] {
            self.dense(dense, &out, work)?;
        }
        Ok(out)
    }

    /// A step that reads the level and knows of the coarser one.
    fn step(&self) -> ScatterStep {
        let (laid, level) = (&self.design.laid, self.level());
        let next = laid.levels.get(self.l + 1);
        let live =
            |level: Option<&LaidLevel>, c: usize| u32::from(level.is_some_and(|l| l.live[c]));
        let heads = [0, 1, 2].map(|c: usize| {
            let [first, count] = level.filters[c];
            [first, count, live(Some(level), c), live(next, c)]
        });
        let mut step = ScatterStep {
            begin: next.map_or([0; 2], |next| next.form.shift.map(|n| n as i32)),
            coarse_size: self.coarser.map_or([0; 2], |c| c.size().map(|n| n as i32)),
            coarse_stride: self.coarser.map_or(0, |c| c.stride() as u32),
            heads,
            ..reading(
                self.own,
                &level.form,
                &self.design.veil,
                (self.l, laid.dark),
            )
        };
        if self.l == 0 {
            step.factor[..3].copy_from_slice(&laid.direct);
        }
        step
    }

    /// The level's filters, the coarser one merged, and of the frame what stays of its light.
    fn finish(&self, out: &Rows, work: &mut Work<'_>) -> Result<(), GpuError> {
        let (level, is_frame) = (self.level(), self.l == 0);
        let filtered = level.filters.iter().any(|own| own[1] > 0);
        let entry = match (filtered, is_frame) {
            (false, false) => "finish",
            (false, true) => "finish_frame",
            (true, false) => "filter_level",
            (true, true) => "filter_frame",
        };
        let (unit, taps) = if filtered {
            let count = level.filters.iter().map(|own| own[1] as usize).max();
            (TILE, 2 * level.radius * count.unwrap_or(0))
        } else {
            (2, 0)
        };
        let base = self.step();
        let row_cost = 3 * (out.width * (8 + 2 * taps)) as u64;
        let row_bytes = self.own.row_bytes().max(out.row_bytes());
        let beside = if filtered {
            2 * level.radius as u64 + BEYOND
        } else {
            0
        };
        let bound = work.most_rows(row_bytes, 0).saturating_sub(beside);
        let most = bound.min(work.most_rows(row_bytes, row_cost));
        for rows in bands_of(out.height, most, unit) {
            let read = self.read(&rows, if filtered { level.radius } else { 0 });
            let under = self.under(&rows);
            let step = ScatterStep {
                size: [out.width as u32, rows.len() as u32],
                stride: out.stride() as u32,
                first_row: rows.start as u32,
                to_row: rows.start as u32,
                from_row: read.start as u32,
                coarse_row: under.start as u32,
                ..base
            };
            let own = self.own.rows(&read);
            let coarser = match self.coarser {
                Some(coarser) => coarser.rows(&under),
                None => own.clone(),
            };
            let mut bound = vec![(1, out.rows(&rows)), (5, coarser)];
            if filtered || is_frame {
                bound.push((2, own));
            }
            if filtered {
                let filters = self.design.filters.as_entire_buffer_binding();
                bound.push((6, filters));
            }
            if is_frame {
                bound.push((3, self.add.as_entire_buffer_binding()));
            }
            let groups = if filtered {
                let [x, y] = step.size.map(|n| n.div_ceil(TILE as u32));
                [x, y, 3]
            } else {
                groups([step.size[0], step.size[1].div_ceil(2)], 3)
            };
            let run = Run {
                shader: &SHADER,
                entry,
                bound: &bound,
                groups,
                cost: rows.len() as u64 * row_cost,
            };
            work.dispatch(&step, run)?;
        }
        Ok(())
    }

    /// Rows of the level that are read for `rows` of what is made.
    fn read(&self, rows: &Range<usize>, radius: usize) -> Range<usize> {
        let (first, end) = (rows.start as isize, rows.end as isize);
        let radius = radius as isize;
        let read = self.level().form.rows(first - radius, end + radius);
        let last = read.end.min(self.own.height);
        read.start.min(last - 1)..last
    }

    /// Rows of the coarser level that are merged into `rows`.
    fn under(&self, rows: &Range<usize>) -> Range<usize> {
        let (Some(coarser), Some(next)) = (self.coarser, self.design.laid.levels.get(self.l + 1))
        else {
            return 0..1;
        };
        let row = |y: usize| y / 2 + next.form.shift[1];
        let first = row(rows.start).saturating_sub(1).min(coarser.height - 1);
        let last = (row(rows.end - 1) + 1).min(coarser.height - 1);
        first..last + 1
    }

    /// Adds the level times dense matrices across and ones down: levels a few dozen samples high.
    fn dense(&self, dense: &Dense, out: &Rows, work: &mut Work<'_>) -> Result<(), GpuError> {
        let [width, height] = self.level().form.size;
        let most = dense.heads.iter().map(|own| own.1).max().unwrap_or(0);
        let across = Rows::new(work, [width, height * most as usize])?;
        let heads = |i: usize| dense.heads.map(|(first, count)| [first[i], count, 1, 0]);
        let base = self.step();
        let row_cost = (3 * width * width) as u64 * u64::from(most);
        for rows in bands(height, work.most_rows(self.own.row_bytes(), row_cost)) {
            let read = self.read(&rows, 0);
            let step = ScatterStep {
                size: [width as u32, rows.len() as u32],
                coarse_size: [0, height as i32],
                coarse_stride: dense.stride,
                stride: across.stride() as u32,
                first_row: rows.start as u32,
                from_row: read.start as u32,
                count: width as u32,
                heads: heads(0),
                ..base
            };
            let bound = [
                (1, across.all()),
                (2, self.own.rows(&read)),
                (3, dense.across.as_entire_buffer_binding()),
            ];
            let run = Run {
                shader: &SHADER,
                entry: "dense_across",
                bound: &bound,
                groups: groups([step.size[0], step.size[1] * most], 3),
                cost: rows.len() as u64 * row_cost,
            };
            work.dispatch(&step, run)?;
        }
        let row_cost = (3 * width * height) as u64 * u64::from(most);
        for rows in bands(out.height, work.most_rows(out.row_bytes(), row_cost)) {
            let step = ScatterStep {
                size: [out.width as u32, rows.len() as u32],
                stride: out.stride() as u32,
                from_stride: across.stride() as u32,
                first_row: rows.start as u32,
                to_row: rows.start as u32,
                count: height as u32,
                heads: heads(1),
                ..base
            };
            let bound = [
                (1, out.rows(&rows)),
                (2, across.all()),
                (3, dense.down.as_entire_buffer_binding()),
            ];
            // What is written is read too.
            work.count(rows.len() as u64 * out.row_bytes());
            let run = Run {
                shader: &SHADER,
                entry: "dense_down",
                bound: &bound,
                groups: groups(step.size, 3),
                cost: rows.len() as u64 * row_cost,
            };
            work.dispatch(&step, run)?;
        }
        Ok(())
    }
}
