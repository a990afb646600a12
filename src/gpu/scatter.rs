//! Scattered light: a pyramid is made once, then every level is filtered and the coarser ones merged into it, all
//! channels at a time.

use super::GpuError;
use super::picture::{Rows, bands_of};
use super::pyramid::{BEYOND, Own, Pyramid, Sums};
use super::work::{Run, Work, groups};
use crate::kernels::scatter::Params;
use crate::kernels::scatter::twin::{Laid, LaidLevel, SHADER, STRIP, ScatterStep, TILE, Veil};
use std::ops::Range;

/// What was designed for a law and a size, its tables on the device; kept for the next picture.
#[derive(Debug)]
pub(super) struct Design {
    params: Params,
    size: [usize; 2],
    pub(super) laid: Laid,
    pub(super) veil: Veil,
    filters: wgpu::Buffer,
    /// Each level's dense matrices, where it has some.
    dense: Vec<Option<wgpu::Buffer>>,
    /// What each level's joined samples are made of, where it has some.
    pub(super) joins: Vec<Option<wgpu::Buffer>>,
}

impl Design {
    pub(super) fn new(
        params: &Params,
        size: [usize; 2],
        work: &Work<'_>,
    ) -> Result<Self, GpuError> {
        let channels = params.laid(size);
        let channels = channels.ok_or(GpuError::Unsupported(
            "so long and narrow a picture through this glass",
        ))?;
        let laid = channels.laid;
        let filters = laid.filters.as_flattened();
        let none = [0.0; 4];
        let filters = if filters.is_empty() { &none } else { filters };
        let some = |bytes: &[u8]| (!bytes.is_empty()).then(|| work.table(bytes)).transpose();
        let dense = laid.levels.iter();
        let dense = dense.map(|level| some(bytemuck::cast_slice(&level.dense)));
        let joins = laid.levels.iter();
        let joins = joins.map(|level| some(bytemuck::cast_slice(&level.form.table)));
        Ok(Self {
            params: params.clone(),
            size,
            filters: work.table(bytemuck::cast_slice(filters))?,
            dense: dense.collect::<Result<_, _>>()?,
            joins: joins.collect::<Result<_, _>>()?,
            veil: channels.veil,
            laid,
        })
    }

    pub(super) fn serves(&self, params: &Params, size: [usize; 2]) -> bool {
        self.size == size && self.params == *params
    }
}

/// A picture's scattered light, as designed for its size. `pyramid` is of that picture, or empty, and is added to.
pub(super) fn scatter(
    from: &Rows,
    design: &Design,
    pyramid: &mut Pyramid,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    pyramid.reach(design, from, work)?;
    work.progress(0.5);
    let (levels, sums) = pyramid.parts(&design.veil, from, work)?;
    let mut coarser: Option<Rows> = None;
    for l in (0..design.laid.levels.len()).rev() {
        let rows = if l == 0 { from } else { &levels[l - 1] };
        let stage = Stage {
            design,
            l,
            own: Own {
                rows,
                form: &design.laid.levels[l].form,
                is_frame: l == 0,
                dark: design.laid.dark,
            },
            coarser: coarser.as_ref(),
            sums,
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
    own: Own<'a>,
    coarser: Option<&'a Rows>,
    sums: &'a Sums,
}

impl Stage<'_> {
    fn level(&self) -> &LaidLevel {
        &self.design.laid.levels[self.l]
    }

    /// Samples that are made: of the frame its own alone.
    fn size(&self) -> [usize; 2] {
        if self.own.is_frame {
            self.own.rows.size()
        } else {
            self.level().form.size
        }
    }

    fn run(&self, work: &mut Work<'_>) -> Result<Rows, GpuError> {
        let out = Rows::new(work, self.size())?;
        // Elsewhere the coarsest level's dispatch does so beside its own work.
        if self.own.is_frame && self.coarser.is_none() {
            self.sums.add_up(&self.design.veil, work)?;
        }
        match &self.design.dense[self.l] {
            Some(tables) => self.dense(tables, &out, work)?,
            None => self.finish(&out, work)?,
        }
        Ok(out)
    }

    /// A step that reads the level and knows of the coarser one.
    fn step(&self) -> ScatterStep {
        let (laid, level) = (&self.design.laid, self.level());
        let (veil, next) = (&self.design.veil, laid.levels.get(self.l + 1));
        let live =
            |level: Option<&LaidLevel>, c: usize| u32::from(level.is_some_and(|l| l.live[c]));
        let own = if level.dense.is_empty() {
            &level.filters
        } else {
            &level.fours
        };
        let heads = [0, 1, 2].map(|c: usize| {
            let [first, count] = own[c];
            [first, count, live(Some(level), c), live(next, c)]
        });
        let reads = self.own.step(veil);
        let mut factor = [0.0; 4];
        if self.own.is_frame {
            factor[..3].copy_from_slice(&laid.direct);
        }
        ScatterStep {
            limit: reads.limit,
            twice: reads.twice,
            from_stride: reads.from_stride,
            is_dark: reads.is_dark,
            base: reads.base,
            begin: next.map_or([0; 2], |next| next.form.shift.map(|n| n as i32)),
            coarse_size: self.coarser.map_or([0; 2], |c| c.size().map(|n| n as i32)),
            coarse_stride: self.coarser.map_or(0, |c| c.stride() as u32),
            dense: level.form.size.map(|n| n as u32),
            factor,
            heads,
            ..self.sums.step(veil)
        }
    }

    /// The level's filters, the coarser one merged, and of the frame what stays of its light.
    fn finish(&self, out: &Rows, work: &mut Work<'_>) -> Result<(), GpuError> {
        let (level, is_frame) = (self.level(), self.own.is_frame);
        let filtered = level.filters.iter().any(|own| own[1] > 0);
        let is_coarsest = filtered && !is_frame && self.coarser.is_none();
        let entry = match (filtered, is_frame) {
            (false, false) => "finish",
            (false, true) => "finish_frame",
            (true, false) if is_coarsest => "filter_coarsest",
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
        let row_bytes = self.own.rows.row_bytes().max(out.row_bytes());
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
            let own = self.own.rows.rows(&read);
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
            if is_coarsest {
                bound.push((7, self.sums.parts.as_entire_buffer_binding()));
            } else if is_frame {
                bound.push((7, self.sums.added()));
            }
            let groups = if filtered {
                let [x, y] = step.size.map(|n| n.div_ceil(TILE as u32));
                [x, y, if is_coarsest { 6 } else { 3 }]
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
        let radius = radius as isize;
        let (first, end) = (rows.start as isize, rows.end as isize);
        self.own.read(first - radius, end + radius)
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

    /// The level times dense matrices across and ones down, all of it at once: levels and frames a few dozen samples
    /// high or wide.
    fn dense(
        &self,
        tables: &wgpu::Buffer,
        out: &Rows,
        work: &mut Work<'_>,
    ) -> Result<(), GpuError> {
        let [width, height] = self.level().form.size;
        let fours: u32 = self.level().fours.iter().map(|own| own[1]).sum();
        let step = ScatterStep {
            size: out.size().map(|n| n as u32),
            stride: out.stride() as u32,
            ..self.step()
        };
        let (entry, deep, sums) = if self.own.is_frame {
            ("dense_frame", 3, self.sums.added())
        } else {
            ("dense", 6, self.sums.parts.as_entire_buffer_binding())
        };
        let run = Run {
            shader: &SHADER,
            entry,
            bound: &[
                (1, out.all()),
                (2, self.own.rows.all()),
                (6, tables.as_entire_buffer_binding()),
                (7, sums),
            ],
            groups: [out.width.div_ceil(STRIP) as u32, 1, deep],
            cost: (width * height * (width + height)) as u64 * u64::from(5 * fours),
        };
        work.dispatch(&step, run)
    }
}
