//! A picture's pyramid: every level made from the finer one, all channels at a time. It depends on the picture and
//! on what lies around it alone, so that it is kept from one strength to the next.

use super::GpuError;
use super::picture::{Rows, bands, bands_of};
use super::pool::Pooled;
use super::scatter::Design;
use super::work::{Run, Work};
use crate::kernels::scatter::twin::{
    Form, HALVED, Joins, LINES, SHADER, SPAN_MOST, ScatterStep, Veil,
};
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

/// Partial sums of a picture: so many for each channel.
#[derive(Debug)]
struct Sums {
    parts: Pooled,
    count: u32,
}

impl Sums {
    fn new(count: usize, work: &Work<'_>) -> Self {
        Self {
            parts: work.lend((3 * count * size_of::<f32>()) as u64),
            count: count as u32,
        }
    }
}

/// A step that reads a level, which is the frame's own where `l` is 0.
pub(super) fn reading(
    own: &Rows,
    form: &Form,
    veil: &Veil,
    (l, dark): (usize, bool),
) -> ScatterStep {
    // A thin frame is smaller than its first level; beyond it there is no light.
    let limit = if l == 0 { own.size() } else { form.stored() };
    let mut step = ScatterStep {
        limit: limit.map(|n| n as i32),
        twice: form.twice.map(|n| n as i32),
        from_stride: own.stride() as u32,
        is_dark: u32::from(dark),
        ..ScatterStep::of([0; 2])
    };
    if l == 0 {
        step.base[..3].copy_from_slice(&veil.level);
    }
    step
}

impl Pyramid {
    /// Makes the levels that `design` has and this has not. `from` is the picture.
    pub(super) fn reach(
        &mut self,
        design: &Design,
        from: &Rows,
        work: &mut Work<'_>,
    ) -> Result<(), GpuError> {
        let laid = &design.laid;
        for l in self.levels.len() + 1..laid.levels.len() {
            let (fine, coarse) = (&laid.levels[l - 1].form, &laid.levels[l].form);
            let out = Rows::new(work, coarse.stored())?;
            let own = if l == 1 { from } else { &self.levels[l - 2] };
            let sums = (l == 1 && self.sums.is_none()).then(|| {
                let [x, y] = [0, 1].map(|i| coarse.size[i].div_ceil(HALVED[i]));
                Sums::new(x * y, work)
            });
            let step = reading(own, fine, &design.veil, (l - 1, laid.dark));
            halve((own, fine), (&out, coarse), (step, sums.as_ref()), work)?;
            self.sums = sums.or(self.sums.take());
            join(&out, coarse, work)?;
            self.levels.push(out);
        }
        Ok(())
    }

    /// A buffer with the light that is added everywhere, channel by channel.
    pub(super) fn total(
        &mut self,
        veil: &Veil,
        from: &Rows,
        work: &mut Work<'_>,
    ) -> Result<Pooled, GpuError> {
        if self.sums.is_none() {
            self.sums = Some(sum(from, veil.level, work)?);
        }
        let all = work.lend(size_of::<[f32; 4]>() as u64);
        let Some(sums) = &self.sums else {
            return Ok(all);
        };
        let mut step = ScatterStep {
            count: sums.count,
            ..ScatterStep::of([1, 1])
        };
        step.factor[..3].copy_from_slice(&veil.share);
        step.base[..3].copy_from_slice(&veil.base);
        let run = Run {
            shader: &SHADER,
            entry: "sum_all",
            bound: &[
                (1, all.as_entire_buffer_binding()),
                (2, sums.parts.as_entire_buffer_binding()),
            ],
            groups: [1, 1, 3],
            cost: u64::from(3 * sums.count),
        };
        work.dispatch(&step, run)?;
        Ok(all)
    }
}

/// A picture's light over a level, row by row.
fn sum(from: &Rows, level: [f32; 3], work: &mut Work<'_>) -> Result<Sums, GpuError> {
    let sums = Sums::new(from.height, work);
    let row_cost = 3 * from.width as u64;
    for rows in bands(from.height, work.most_rows(from.row_bytes(), row_cost)) {
        let mut step = ScatterStep {
            limit: [from.width as i32, 0],
            from_stride: from.stride() as u32,
            first_row: rows.start as u32,
            from_row: rows.start as u32,
            count: sums.count,
            ..ScatterStep::of([1, rows.len() as u32])
        };
        step.base[..3].copy_from_slice(&level);
        let run = Run {
            shader: &SHADER,
            entry: "sum_rows",
            bound: &[
                (7, sums.parts.as_entire_buffer_binding()),
                (2, from.rows(&rows)),
            ],
            groups: [1, rows.len() as u32, 3],
            cost: rows.len() as u64 * row_cost,
        };
        work.dispatch(&step, run)?;
    }
    Ok(sums)
}

/// Makes a level's own samples, and the frame's sums where there is room for them.
fn halve(
    (own, fine): (&Rows, &Form),
    (out, coarse): (&Rows, &Form),
    (base, sums): (ScatterStep, Option<&Sums>),
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let [width, height] = coarse.size;
    let across = width.div_ceil(HALVED[0]) as u32;
    let row_cost = (3 * 13 * width) as u64;
    let bound = work.most_rows(own.row_bytes(), 0).saturating_sub(BEYOND) / 2;
    let most = bound.min(work.most_rows(out.row_bytes(), row_cost));
    for rows in bands_of(height, most, HALVED[1]) {
        let read = read(&rows, (own, fine), coarse);
        let down = rows.len().div_ceil(HALVED[1]) as u32;
        let step = ScatterStep {
            size: [width as u32, rows.len() as u32],
            begin: coarse.begin.map(|n| n as i32),
            stride: out.stride() as u32,
            first_row: rows.start as u32,
            to_row: rows.start as u32,
            from_row: read.start as u32,
            count: sums.map_or(0, |sums| sums.count),
            sums: (rows.start / HALVED[1]) as u32 * across,
            ..base
        };
        let mut bound = vec![(1, out.rows(&rows)), (2, own.rows(&read))];
        bound.extend(sums.map(|sums| (7, sums.parts.as_entire_buffer_binding())));
        let run = Run {
            shader: &SHADER,
            entry: if sums.is_some() {
                "decimate_frame"
            } else {
                "decimate"
            },
            bound: &bound,
            groups: [across, down, 3],
            cost: rows.len() as u64 * row_cost,
        };
        work.dispatch(&step, run)?;
    }
    Ok(())
}

/// Finer rows that `rows` of a level are made of.
fn read(rows: &Range<usize>, (own, fine): (&Rows, &Form), coarse: &Form) -> Range<usize> {
    let begin = coarse.begin[1];
    let first = begin + 2 * rows.start as isize;
    let read = fine.rows(first, begin + 2 * rows.end as isize + 4);
    let last = read.end.min(own.height);
    read.start.min(last - 1)..last
}

/// Joins a level with its mirror image across far edges that lie between samples: rows first, then columns.
fn join(out: &Rows, form: &Form, work: &mut Work<'_>) -> Result<(), GpuError> {
    if let Some(joins) = &form.joins[0] {
        let table = work.table(bytemuck::cast_slice(&joins.table))?;
        let row_cost = (3 * (joins.table.len() + joins.span.len())) as u64;
        let own = form.size[1];
        for rows in bands_of(own, work.most_rows(out.row_bytes(), row_cost), LINES) {
            let step = ScatterStep {
                size: [0, rows.len() as u32],
                limit: [joins.span.len() as i32, 0],
                begin: [joins.span.start as i32, 0],
                first_row: rows.start as u32,
                to_row: rows.start as u32,
                ..joining(out, joins)
            };
            let groups = [rows.len().div_ceil(LINES) as u32, 1, 3];
            let cost = rows.len() as u64 * row_cost;
            let to = out.rows(&rows);
            dispatch(("join_across", &table), &step, (to, groups, cost), work)?;
        }
    }
    if let Some(joins) = &form.joins[1] {
        let table = work.table(bytemuck::cast_slice(&joins.table))?;
        let width = form.stored()[0];
        let step = ScatterStep {
            size: [width as u32, 0],
            limit: [0, joins.span.len() as i32],
            first_row: joins.span.start as u32,
            to_row: joins.span.start as u32,
            ..joining(out, joins)
        };
        let groups = [width.div_ceil(LINES) as u32, 1, 3];
        let cost = (3 * width * (joins.table.len() + joins.span.len())) as u64;
        let to = out.rows(&joins.span);
        dispatch(("join_down", &table), &step, (to, groups, cost), work)?;
    }
    Ok(())
}

fn joining(out: &Rows, joins: &Joins) -> ScatterStep {
    debug_assert!(joins.span.len() <= SPAN_MOST, "designed so");
    ScatterStep {
        stride: out.stride() as u32,
        count: joins.count as u32,
        ..ScatterStep::of([0; 2])
    }
}

fn dispatch(
    (entry, table): (&'static str, &wgpu::Buffer),
    step: &ScatterStep,
    (to, groups, cost): (wgpu::BufferBinding<'_>, [u32; 3], u64),
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    // What is written is read first.
    work.count(to.size.map_or(0, wgpu::BufferSize::get));
    let run = Run {
        shader: &SHADER,
        entry,
        bound: &[(1, to), (4, table.as_entire_buffer_binding())],
        groups,
        cost,
    };
    work.dispatch(step, run)
}
