//! A picture's pyramid: every level made from the finer one, all channels at a time. It depends on the picture and
//! on what lies around it alone, so that it is kept from one strength to the next.

use super::GpuError;
use super::picture::{Rows, bands, bands_of};
use super::pool::Pooled;
use super::scatter::Design;
use super::work::{Run, Work};
use crate::kernels::scatter::twin::{DOWN, Form, HALVED, PyramidStep, SHADER, ScatterStep, Veil};
use std::ops::Range;

/// The coarser levels of a picture, and its light added up.
#[derive(Debug, Default)]
pub(super) struct Pyramid {
    /// From the second on.
    pub(super) levels: Vec<Rows>,
    sums: Option<Sums>,
}

/// Rows that a band reads beside its own and those within a filter's reach, at most: what it mirrors.
pub(super) const BEYOND: u64 = 32;

/// Room for what is added everywhere, then partial sums of a picture: so many for each channel.
#[derive(Debug)]
pub(super) struct Sums {
    pub(super) parts: Pooled,
    pub(super) count: u32,
}

impl Sums {
    pub(super) fn new(count: usize, work: &Work<'_>) -> Self {
        Self {
            parts: work.lend(((4 + 3 * count) * size_of::<f32>()) as u64),
            count: count as u32,
        }
    }

    /// What is added everywhere, once [`Sums::add_up`] or a dispatch that does the same is done.
    pub(super) fn added(&self) -> wgpu::BufferBinding<'_> {
        wgpu::BufferBinding {
            buffer: &self.parts,
            offset: 0,
            size: wgpu::BufferSize::new(size_of::<[f32; 4]>() as u64),
        }
    }

    /// A picture's, row by row, and what is added everywhere.
    pub(super) fn added_up(
        veil: &Veil,
        from: &Rows,
        work: &mut Work<'_>,
    ) -> Result<Self, GpuError> {
        let sums = sum(from, veil.level, work)?;
        sums.add_up(veil, work)?;
        Ok(sums)
    }

    /// Works out what is added everywhere.
    pub(super) fn add_up(&self, veil: &Veil, work: &mut Work<'_>) -> Result<(), GpuError> {
        let run = Run {
            shader: &SHADER,
            entry: "sum_all",
            bound: &[(7, self.parts.as_entire_buffer_binding())],
            groups: [1, 1, 3],
            cost: u64::from(3 * self.count),
        };
        work.dispatch(&self.step(veil), run)
    }

    /// A step that adds up.
    pub(super) fn step(&self, veil: &Veil) -> ScatterStep {
        let padded = |[r, g, b]: [f32; 3]| [r, g, b, 0.0];
        ScatterStep {
            sums: self.count,
            share: padded(veil.share),
            known: padded(veil.base),
            ..ScatterStep::of([1, 1])
        }
    }
}

/// A level that is read, and how its samples lie; the frame's own at the first.
#[derive(Debug, Clone, Copy)]
pub(super) struct Own<'a> {
    pub(super) rows: &'a Rows,
    pub(super) form: &'a Form,
    pub(super) is_frame: bool,
    pub(super) dark: bool,
}

impl Own<'_> {
    /// A step that reads it.
    pub(super) fn step(&self, veil: &Veil) -> PyramidStep {
        // A thin frame is smaller than its first level; beyond it there is no light.
        let limit = if self.is_frame {
            self.rows.size()
        } else {
            self.form.stored()
        };
        let mut step = PyramidStep {
            limit: limit.map(|n| n as i32),
            twice: self.form.twice.map(|n| n as i32),
            from_stride: self.rows.stride() as u32,
            is_dark: u32::from(self.dark),
            ..PyramidStep::of([0; 2])
        };
        if self.is_frame {
            step.base[..3].copy_from_slice(&veil.level);
        }
        step
    }

    /// Its rows that are read where rows from `first` on and before `end` are asked for.
    pub(super) fn read(&self, first: isize, end: isize) -> Range<usize> {
        let read = self.form.rows(first, end);
        let last = read.end.min(self.rows.height);
        read.start.min(last - 1)..last
    }
}

impl Pyramid {
    /// One whose first coarser level was made with the picture.
    pub(super) fn begun(first: Rows, sums: Sums) -> Self {
        Self {
            levels: vec![first],
            sums: Some(sums),
        }
    }

    /// Makes the levels that `design` has and this has not. `from` is the picture.
    pub(super) fn reach(
        &mut self,
        design: &Design,
        from: &Rows,
        work: &mut Work<'_>,
    ) -> Result<(), GpuError> {
        let levels = &design.laid.levels;
        while self.levels.len() + 1 < levels.len() {
            let l = self.levels.len() + 1;
            let own = Own {
                rows: if l == 1 { from } else { &self.levels[l - 2] },
                form: &levels[l - 1].form,
                is_frame: l == 1,
                dark: design.laid.dark,
            };
            let form = &levels[l].form;
            let out = Rows::new(work, form.stored())?;
            if let Some(joins) = &design.joins[l] {
                joined(&own, (&out, form), joins, design, work)?;
            } else {
                let sums = (l == 1 && self.sums.is_none()).then(|| {
                    let [x, y] = [0, 1].map(|i| form.size[i].div_ceil(HALVED[i]));
                    Sums::new(x * y, work)
                });
                halve(&own, (&out, form), sums.as_ref(), design, work)?;
                self.sums = sums.or(self.sums.take());
            }
            self.levels.push(out);
        }
        Ok(())
    }

    /// The levels, and the picture's light added up in parts: as the first level was made, or now.
    pub(super) fn parts(
        &mut self,
        veil: &Veil,
        from: &Rows,
        work: &mut Work<'_>,
    ) -> Result<(&[Rows], &Sums), GpuError> {
        let sums = match self.sums.take() {
            Some(sums) => sums,
            None => sum(from, veil.level, work)?,
        };
        Ok((&self.levels, self.sums.insert(sums)))
    }
}

/// A picture's light over a level, added up row by row.
fn sum(from: &Rows, level: [f32; 3], work: &mut Work<'_>) -> Result<Sums, GpuError> {
    let sums = Sums::new(from.height, work);
    let row_cost = 3 * from.width as u64;
    for rows in bands(from.height, work.most_rows(from.row_bytes(), row_cost)) {
        let mut step = PyramidStep {
            limit: [from.width as i32, 0],
            from_stride: from.stride() as u32,
            first_row: rows.start as u32,
            from_row: rows.start as u32,
            count: sums.count,
            ..PyramidStep::of([1, rows.len() as u32])
        };
        step.base[..3].copy_from_slice(&level);
        let run = Run {
            shader: &DOWN,
            entry: "sum_rows",
            bound: &[
                (2, from.rows(&rows)),
                (7, sums.parts.as_entire_buffer_binding()),
            ],
            groups: [1, rows.len() as u32, 3],
            cost: rows.len() as u64 * row_cost,
        };
        work.dispatch(&step, run)?;
    }
    Ok(sums)
}

/// Makes a level, and the frame's sums where there is room for them.
fn halve(
    own: &Own<'_>,
    (out, form): (&Rows, &Form),
    sums: Option<&Sums>,
    design: &Design,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let [width, height] = form.size;
    let across = width.div_ceil(HALVED[0]) as u32;
    let row_cost = (3 * 13 * width) as u64;
    let bound = work.most_rows(own.rows.row_bytes(), 0);
    let bound = bound.saturating_sub(BEYOND) / 2;
    let most = bound.min(work.most_rows(out.row_bytes(), row_cost));
    for rows in bands_of(height, most, HALVED[1]) {
        let read = under(&rows, own, form);
        let step = PyramidStep {
            size: [width as u32, rows.len() as u32],
            begin: form.begin.map(|n| n as i32),
            stride: out.stride() as u32,
            first_row: rows.start as u32,
            to_row: rows.start as u32,
            from_row: read.start as u32,
            count: sums.map_or(0, |sums| sums.count),
            sums: (rows.start / HALVED[1]) as u32 * across,
            ..own.step(&design.veil)
        };
        let mut bound = vec![(1, out.rows(&rows)), (2, own.rows.rows(&read))];
        bound.extend(sums.map(|sums| (7, sums.parts.as_entire_buffer_binding())));
        let run = Run {
            shader: &DOWN,
            entry: if sums.is_some() {
                "decimate_frame"
            } else {
                "decimate"
            },
            bound: &bound,
            groups: [across, rows.len().div_ceil(HALVED[1]) as u32, 3],
            cost: rows.len() as u64 * row_cost,
        };
        work.dispatch(&step, run)?;
    }
    Ok(())
}

/// Makes a level whose far edges fall between samples, joined with its mirror image; `joins` is its form's table.
fn joined(
    own: &Own<'_>,
    (out, form): (&Rows, &Form),
    joins: &wgpu::Buffer,
    design: &Design,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let [width, height] = form.stored();
    let span = |i: usize| form.joins[i].as_ref().map_or(0..0, |j| j.span.clone());
    let first = [0, 1].map(|i: usize| form.joins[i].as_ref().map(|j| j.first));
    let row_cost = (3 * 13 * width) as u64;
    let bound = work.most_rows(own.rows.row_bytes(), 0);
    let beside = BEYOND + span(1).len() as u64;
    let (least, limit) = (
        (beside + 2 * HALVED[1] as u64) * own.rows.row_bytes(),
        work.limits().binding,
    );
    // Rows at a far edge are made of many, which are read together.
    if least > limit {
        return Err(GpuError::TooMuch {
            needs: least,
            limit,
        });
    }
    let bound = bound.saturating_sub(beside) / 2;
    let most = bound.min(work.most_rows(out.row_bytes(), row_cost));
    for rows in bands_of(height, most, HALVED[1]) {
        let mut read = under(&rows, own, form);
        let mut cost = rows.len() as u64 * row_cost;
        if first[1].is_some_and(|first| rows.end > first) {
            let span = own.read(span(1).start, span(1).end);
            cost += (3 * width * form.table.len() / 2) as u64;
            read = read.start.min(span.start)..read.end.max(span.end);
        }
        let step = PyramidStep {
            size: [width as u32, rows.len() as u32],
            begin: form.begin.map(|n| n as i32),
            joined: first.map(|first| first.map_or(u32::MAX, |n| n as u32)),
            span: [span(0).start as i32, span(0).end as i32],
            tables: [0, 1].map(|i| form.joins[i].as_ref().map_or(0, |j| j.at as u32)),
            stride: out.stride() as u32,
            first_row: rows.start as u32,
            to_row: rows.start as u32,
            from_row: read.start as u32,
            ..own.step(&design.veil)
        };
        let run = Run {
            shader: &DOWN,
            entry: "decimate_joined",
            bound: &[
                (1, out.rows(&rows)),
                (2, own.rows.rows(&read)),
                (4, joins.as_entire_buffer_binding()),
            ],
            groups: groups([width, rows.len()], HALVED),
            cost,
        };
        work.dispatch(&step, run)?;
    }
    Ok(())
}

/// Workgroups that make so many samples each, of all channels.
fn groups(size: [usize; 2], each: [usize; 2]) -> [u32; 3] {
    let [x, y] = [0, 1].map(|i: usize| size[i].div_ceil(each[i]) as u32);
    [x, y, 3]
}

/// Finer rows that `rows` of a level are made of.
fn under(rows: &Range<usize>, own: &Own<'_>, form: &Form) -> Range<usize> {
    let [first, end] = [rows.start, rows.end].map(|y| form.begin[1] + 2 * y as isize);
    own.read(first, end + 4)
}
