//! Scattered light: the pyramid's stages in the processor's order, channel by channel.

use super::GpuError;
use super::picture::{Picture, Plane, bands};
use super::work::Work;
use crate::kernels::scatter::twin::{Channel, Coarser, DenseTables, Joins, LaidLevel, SHADER};
use crate::kernels::scatter::twin::{ScatterStep, Taps};
use crate::kernels::scatter::{Border, Params};
use std::ops::Range;

/// What was designed for a law and a size; kept for the next picture.
#[derive(Debug)]
pub(super) struct Design {
    params: Params,
    size: [usize; 2],
    channels: [Channel; 3],
}

impl Design {
    pub(super) fn new(params: &Params, size: [usize; 2]) -> Result<Self, GpuError> {
        let channels = params.laid(size);
        Ok(Self {
            params: params.clone(),
            size,
            channels: channels.ok_or(GpuError::Unsupported(
                "scatter on so long and narrow a picture",
            ))?,
        })
    }

    pub(super) fn serves(&self, params: &Params, size: [usize; 2]) -> bool {
        self.size == size && self.params == *params
    }
}

/// Scatters the light of a picture, in place.
pub(super) fn scatter(
    picture: &Picture,
    params: &Params,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let size = [picture.width(), picture.height()];
    let design = work.design(params, size)?;
    for (c, (plane, channel)) in picture.planes.iter().zip(&design.channels).enumerate() {
        Run { work, channel }.run(plane, matches!(params.border, Border::Mirror))?;
        work.progress((c + 1) as f32 / 3.0);
    }
    Ok(())
}

/// One channel at work.
struct Run<'a, 'w> {
    work: &'a mut Work<'w>,
    channel: &'a Channel,
}

/// A level's plane, its apron around it.
struct Level<'a> {
    laid: &'a LaidLevel,
    plane: Plane,
}

impl Level<'_> {
    /// A step that writes `rows` of the level's own samples into the bound rows of its own plane.
    fn step(&self, rows: &Range<usize>) -> ScatterStep {
        ScatterStep {
            at: [self.laid.before[0] as u32, 0],
            stride: self.plane.stride() as u32,
            first_row: rows.start as u32,
            ..ScatterStep::of([self.laid.size[0] as u32, rows.len() as u32])
        }
    }

    /// Rows of the plane under `rows` of the level's own.
    fn under(&self, rows: &Range<usize>) -> Range<usize> {
        let above = self.laid.before[1];
        rows.start + above..rows.end + above
    }
}

impl Run<'_, '_> {
    fn run(&mut self, plane: &Plane, mirrored: bool) -> Result<(), GpuError> {
        let laid = &self.channel.laid;
        let mut levels = Vec::with_capacity(laid.levels.len());
        for level in &laid.levels {
            let [width, height] = [0, 1].map(|i| level.before[i] + level.size[i] + level.after[i]);
            levels.push(Level {
                laid: level,
                plane: Plane::new(self.work, width, height)?,
            });
        }
        self.lay(plane, &levels[0])?;
        let (first, size) = (&levels[0], [plane.width, plane.height]);
        let adds = [self.channel.share, self.channel.base];
        let add = total(self.work, &first.plane, first.laid.before, size, adds)?;
        for (l, level) in levels.iter().enumerate() {
            if l > 0 {
                self.seams(level)?;
            }
            self.aprons(level)?;
            if let (Some(coarser), Some(next)) = (level.laid.coarser, levels.get(l + 1)) {
                self.decimate(level, coarser, next)?;
            }
        }
        let mut coarser: Option<Plane> = None;
        let nothing = self.work.table(bytemuck::bytes_of(&0.0_f32))?;
        let whole = mirrored || laid.size == [plane.width, plane.height];
        for (l, level) in levels.iter().enumerate().rev() {
            let [width, height] = level.laid.size;
            let out = if l == 0 && whole {
                plane.clone()
            } else {
                Plane::new(self.work, width, height)?
            };
            if l == 0 {
                self.begin(level, &out, laid.direct, &add)?;
            } else {
                self.begin(level, &out, 0.0, &nothing)?;
            }
            for taps in &level.laid.filters {
                self.filter(level, &out, taps)?;
            }
            for dense in &level.laid.dense {
                self.dense(level, &out, dense)?;
            }
            if let (Some(from), Some(under)) = (&coarser, level.laid.coarser) {
                self.raise(from, &out, under)?;
            }
            coarser = Some(out);
        }
        match coarser {
            Some(wide) if !whole => self.take(&wide, plane),
            _ => Ok(()),
        }
    }

    /// Runs of `rows` short enough: each binds `per` rows of `from` for each of its own, and `more`, and reads
    /// `cost` samples for each row.
    fn cut(
        &self,
        rows: usize,
        row_bytes: u64,
        (per, more): (u64, u64),
        cost: usize,
    ) -> impl Iterator<Item = Range<usize>> + use<> {
        let room = (self.work.limits().piece / row_bytes).saturating_sub(more) / per;
        bands(rows, room.min(self.work.most_rows(row_bytes, cost as u64)))
    }

    /// The frame's plane into its first level.
    fn lay(&mut self, plane: &Plane, level: &Level<'_>) -> Result<(), GpuError> {
        let width = plane.width;
        for rows in self.cut(plane.height, level.plane.row_bytes(), (1, 0), width) {
            let step = ScatterStep {
                size: [width as u32, rows.len() as u32],
                from_stride: plane.stride() as u32,
                base: self.channel.level,
                ..level.step(&rows)
            };
            let to = level.plane.rows(&level.under(&rows));
            let bound = [(1, to), (2, plane.rows(&rows))];
            let over = (step.size, (rows.len() * width) as u64);
            self.work.dispatch(&SHADER, "lay", &step, &bound, over)?;
        }
        Ok(())
    }

    /// Makes the coarser level's own samples.
    fn decimate(
        &mut self,
        level: &Level<'_>,
        coarser: Coarser,
        next: &Level<'_>,
    ) -> Result<(), GpuError> {
        let [width, height] = next.laid.size;
        let bytes = level.plane.row_bytes();
        for rows in self.cut(height, bytes, (2, 6), 36 * width) {
            let first = coarser.begin[1] + 2 * rows.start;
            let step = ScatterStep {
                origin: [coarser.begin[0] as u32, 0],
                from_stride: level.plane.stride() as u32,
                ..next.step(&rows)
            };
            let to = next.plane.rows(&next.under(&rows));
            let from = level.plane.rows(&(first..first + 2 * rows.len() + 4));
            let over = (step.size, (36 * rows.len() * width) as u64);
            let bound = [(1, to), (2, from)];
            self.work
                .dispatch(&SHADER, "decimate", &step, &bound, over)?;
        }
        Ok(())
    }

    /// Joins a level with its mirror image across its far edges.
    fn seams(&mut self, level: &Level<'_>) -> Result<(), GpuError> {
        let [width, height] = level.laid.size;
        let [left, above] = level.laid.before;
        if let Some(joins) = &level.laid.seams[0] {
            self.join("seam_across", level, joins, above..above + height, true)?;
        }
        if let Some(joins) = &level.laid.seams[1] {
            self.join("seam_down", level, joins, left..left + width, true)?;
        }
        Ok(())
    }

    /// Makes the apron of a level: beside its own rows first, then whole rows.
    fn aprons(&mut self, level: &Level<'_>) -> Result<(), GpuError> {
        let above = level.laid.before[1];
        for joins in &level.laid.aprons[0] {
            let rows = above..above + level.laid.size[1];
            self.join("apron_across", level, joins, rows, false)?;
        }
        for joins in &level.laid.aprons[1] {
            self.join("apron_down", level, joins, 0..level.plane.width, false)?;
        }
        Ok(())
    }

    /// Samples that are made of others, on `lines` of the plane: rows where they lie across, columns where
    /// they lie down. By line, or by line and target.
    fn join(
        &mut self,
        entry: &'static str,
        level: &Level<'_>,
        joins: &Joins,
        lines: Range<usize>,
        by_line: bool,
    ) -> Result<(), GpuError> {
        let plane = &level.plane;
        let table = self.work.table(bytemuck::cast_slice(&joins.table))?;
        let across = entry.ends_with("across");
        let taps = joins.table.len() / 2;
        let cut: Vec<Range<usize>> = if across {
            let lines = lines.clone();
            let runs = self.cut(lines.len(), plane.row_bytes(), (1, 0), taps);
            runs.map(|r| r.start + lines.start..r.end + lines.start)
                .collect()
        } else {
            vec![lines]
        };
        for few in cut {
            let (rows, first, count) = (few.len() as u32, few.start as u32, joins.count as u32);
            let (bound, at, size) = if across {
                (few.clone(), [joins.span.start as u32, 0], [count, rows])
            } else {
                (joins.span.clone(), [first, 0], [rows, count])
            };
            let step = ScatterStep {
                at,
                stride: plane.stride() as u32,
                count,
                ..ScatterStep::of(size)
            };
            let bound = [
                (1, plane.rows(&bound)),
                (4, table.as_entire_buffer_binding()),
            ];
            let cost = (few.len() * taps) as u64;
            if by_line {
                let groups = [rows.div_ceil(crate::kernels::shader::GROUP_SIZE), 1];
                let work = &mut self.work;
                work.dispatch_groups(&SHADER, entry, &step, &bound, (groups, cost))?;
            } else {
                self.work
                    .dispatch(&SHADER, entry, &step, &bound, (size, cost))?;
            }
        }
        Ok(())
    }

    /// What stays of the light that is there, and what is added everywhere.
    fn begin(
        &mut self,
        level: &Level<'_>,
        out: &Plane,
        direct: f32,
        add: &wgpu::Buffer,
    ) -> Result<(), GpuError> {
        for rows in self.cut(out.height, level.plane.row_bytes(), (1, 0), out.width) {
            let step = ScatterStep {
                origin: [level.laid.before[0] as u32, 0],
                from_stride: level.plane.stride() as u32,
                factor: direct,
                ..into(out, &rows)
            };
            let bound = [
                (1, out.rows(&rows)),
                (2, level.plane.rows(&level.under(&rows))),
                (3, add.as_entire_buffer_binding()),
            ];
            let over = (step.size, (rows.len() * out.width) as u64);
            self.work.dispatch(&SHADER, "begin", &step, &bound, over)?;
        }
        Ok(())
    }

    /// Adds a level filtered across and down.
    fn filter(&mut self, level: &Level<'_>, out: &Plane, taps: &Taps) -> Result<(), GpuError> {
        let radius = taps.across.len() - 1;
        let cost = out.width * (2 * radius + 1);
        let across = Plane::new(self.work, out.width, out.height + 2 * radius)?;
        for rows in self.cut(across.height, level.plane.row_bytes(), (1, 0), cost) {
            let above = level.laid.before[1] - radius;
            let step = ScatterStep {
                origin: [level.laid.before[0] as u32, 0],
                from_stride: level.plane.stride() as u32,
                ..into(&across, &rows).with_taps(&taps.across)
            };
            let from = level.plane.rows(&(rows.start + above..rows.end + above));
            let bound = [(1, across.rows(&rows)), (2, from)];
            let over = (step.size, (rows.len() * cost) as u64);
            self.work.dispatch(&SHADER, "across", &step, &bound, over)?;
        }
        for rows in self.cut(out.height, across.row_bytes(), (1, 2 * radius as u64), cost) {
            let step = ScatterStep {
                from_stride: across.stride() as u32,
                ..into(out, &rows).with_taps(&taps.down)
            };
            let from = across.rows(&(rows.start..rows.end + 2 * radius));
            let over = (step.size, (rows.len() * cost) as u64);
            let bound = [(1, out.rows(&rows)), (2, from)];
            self.work.dispatch(&SHADER, "down", &step, &bound, over)?;
        }
        Ok(())
    }

    /// Adds a level times a dense matrix across and one down: levels a few dozen samples high.
    fn dense(
        &mut self,
        level: &Level<'_>,
        out: &Plane,
        dense: &DenseTables,
    ) -> Result<(), GpuError> {
        let (width, height) = (out.width, out.height);
        let across = Plane::new(self.work, width, height)?;
        let values = self.work.table(bytemuck::cast_slice(&dense.across))?;
        for rows in self.cut(height, level.plane.row_bytes(), (1, 0), width * width) {
            let step = ScatterStep {
                origin: [level.laid.before[0] as u32, 0],
                limit: [(dense.across.len() / width) as u32, 0],
                from_stride: level.plane.stride() as u32,
                count: width as u32,
                ..into(&across, &rows)
            };
            let bound = [
                (1, across.rows(&rows)),
                (2, level.plane.rows(&level.under(&rows))),
                (3, values.as_entire_buffer_binding()),
            ];
            let over = (step.size, (rows.len() * width * width) as u64);
            self.work
                .dispatch(&SHADER, "dense_across", &step, &bound, over)?;
        }
        let values = self.work.table(bytemuck::cast_slice(&dense.down))?;
        for rows in self.cut(height, out.row_bytes(), (1, 0), width * height) {
            let step = ScatterStep {
                from_stride: across.stride() as u32,
                count: height as u32,
                ..into(out, &rows)
            };
            let bound = [
                (1, out.rows(&rows)),
                (2, across.rows(&(0..height))),
                (3, values.as_entire_buffer_binding()),
            ];
            let over = (step.size, (rows.len() * width * height) as u64);
            self.work
                .dispatch(&SHADER, "dense_down", &step, &bound, over)?;
        }
        Ok(())
    }

    /// Merges a finished coarser level.
    fn raise(&mut self, from: &Plane, out: &Plane, under: Coarser) -> Result<(), GpuError> {
        for rows in self.cut(out.height, out.row_bytes(), (1, 0), 9 * out.width) {
            let row = |y: usize| y / 2 + under.shift[1];
            let first = row(rows.start).saturating_sub(1).min(from.height - 1);
            let last = (row(rows.end - 1) + 1).min(from.height - 1);
            let step = ScatterStep {
                at: [0, first as u32],
                origin: under.shift.map(|n| n as u32),
                limit: [from.width as u32, from.height as u32],
                from_stride: from.stride() as u32,
                ..into(out, &rows)
            };
            let bound = [(1, out.rows(&rows)), (2, from.rows(&(first..last + 1)))];
            let over = (step.size, (9 * rows.len() * out.width) as u64);
            self.work.dispatch(&SHADER, "raise", &step, &bound, over)?;
        }
        Ok(())
    }

    /// The frame's part of a wider one.
    fn take(&mut self, wide: &Plane, plane: &Plane) -> Result<(), GpuError> {
        for rows in self.cut(plane.height, wide.row_bytes(), (1, 0), plane.width) {
            let step = ScatterStep {
                from_stride: wide.stride() as u32,
                ..into(plane, &rows)
            };
            let bound = [(1, plane.rows(&rows)), (2, wide.rows(&rows))];
            let over = (step.size, (rows.len() * plane.width) as u64);
            self.work.dispatch(&SHADER, "lay", &step, &bound, over)?;
        }
        Ok(())
    }
}

/// A step that writes whole rows of a plane without an apron.
fn into(out: &Plane, rows: &Range<usize>) -> ScatterStep {
    ScatterStep {
        stride: out.stride() as u32,
        first_row: rows.start as u32,
        ..ScatterStep::of([out.width as u32, rows.len() as u32])
    }
}

/// A buffer with the light that is added everywhere: `factor` times the sum of the samples of `plane` from
/// `first` on, as many as `size` says, and `base`.
pub(super) fn total(
    work: &mut Work<'_>,
    plane: &Plane,
    first: [usize; 2],
    [width, height]: [usize; 2],
    [factor, base]: [f32; 2],
) -> Result<wgpu::Buffer, GpuError> {
    let sums = Plane::new(work, height, 1)?;
    for rows in bands(height, work.most_rows(plane.row_bytes(), width as u64)) {
        let step = ScatterStep {
            at: [rows.start as u32, 0],
            origin: [first[0] as u32, 0],
            limit: [width as u32, 0],
            from_stride: plane.stride() as u32,
            ..ScatterStep::of([1, rows.len() as u32])
        };
        let from = plane.rows(&(rows.start + first[1]..rows.end + first[1]));
        let bound = [(1, sums.rows(&(0..1))), (2, from)];
        let over = ([1, rows.len() as u32], (rows.len() * width) as u64);
        work.dispatch_groups(&SHADER, "sum_rows", &step, &bound, over)?;
    }
    let all = Plane::new(work, 1, 1)?;
    let step = ScatterStep {
        count: height as u32,
        factor,
        base,
        ..ScatterStep::of([1, 1])
    };
    let bound = [(1, all.rows(&(0..1))), (2, sums.rows(&(0..1)))];
    work.dispatch_groups(&SHADER, "sum_all", &step, &bound, ([1, 1], height as u64))?;
    Ok(all.buffer)
}
