//! One function for each pass that touches no neighbours: run by run of rows, from one picture to another. The last one
//! before a scatter makes the first coarser level with the picture.

use super::GpuError;
use super::picture::{Rows, bands, bands_of};
use super::pyramid::{BEYOND, Pyramid, Sums};
use super::work::{Run, Work, groups};
use crate::kernels::scatter::twin::Laid;
use crate::kernels::shader::{Shader, Uniform};
use crate::kernels::{field, lift, matrix, sky};

/// Uniform colour.
pub(super) fn matrix(
    from: &Rows,
    params: &matrix::Params,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    let stride = from.stride() as u32;
    let kernel = Kernel::of(&matrix::SHADER);
    kernel.each(from, work, |size, _| params.uniform(size, stride))
}

/// Light added evenly.
pub(super) fn lift(
    from: &Rows,
    params: &lift::Params,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    let stride = from.stride() as u32;
    let kernel = Kernel::of(&lift::SHADER);
    kernel.each(from, work, |size, _| params.uniform(size, stride))
}

/// A polarised sky.
pub(super) fn sky(
    from: &Rows,
    params: &sky::Params<'_>,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    let nodes = params.table(from.height);
    let rows = sky::Params::rows(&nodes);
    if rows == 0 {
        return Ok(from.clone());
    }
    let kernel = Kernel {
        tables: &[work.table(bytemuck::cast_slice(&nodes))?],
        ..Kernel::of(&sky::SHADER)
    };
    let stride = from.stride() as u32;
    kernel.each(from, work, |size, first_row| sky::SkyRows {
        size,
        stride,
        first_row,
        rows: rows as u32,
        unused: 0,
    })
}

/// What a field's shader reads, on the device.
#[derive(Debug, Clone)]
pub(super) struct FieldTable {
    entries: [&'static str; 2],
    roots: [u32; 2],
    last: u32,
    tables: [wgpu::Buffer; 2],
}

impl FieldTable {
    /// For a picture of a size.
    pub(super) fn new(
        params: &field::Params<'_>,
        [width, height]: [usize; 2],
        work: &Work<'_>,
    ) -> Result<Self, GpuError> {
        let laid = params.laid(width, height);
        Ok(Self {
            entries: laid.entries,
            roots: laid.roots,
            last: laid.last,
            tables: [
                work.table(bytemuck::cast_slice(laid.values))?,
                work.table(bytemuck::cast_slice(&laid.table))?,
            ],
        })
    }
}

/// Placed glass and openings, after a uniform colour.
pub(super) fn field(
    from: &Rows,
    before: &matrix::Params,
    laid: &FieldTable,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    let kernel = Kernel {
        shader: &field::SHADER,
        entry: laid.entries[0],
        tables: &laid.tables,
    };
    let (stride, whole) = (from.stride() as u32, from.size().map(|n| n as u32));
    kernel.each(from, work, |size, first_row| field::FieldRows {
        size,
        stride,
        first_row,
        roots: laid.roots,
        last: laid.last,
        ..field::FieldRows::of(whole, before)
    })
}

/// The same, or a uniform colour alone, and of what it makes the first coarser level of a mirrored pyramid.
pub(super) fn halved(
    from: &Rows,
    before: &matrix::Params,
    table: Option<&FieldTable>,
    laid: &Laid,
    work: &mut Work<'_>,
) -> Result<(Rows, Pyramid), GpuError> {
    let (fine, form) = (&laid.levels[0].form, &laid.levels[1].form);
    let to = Rows::new(work, from.size())?;
    let coarser = Rows::new(work, form.stored())?;
    let [width, height] = form.size;
    let [across, down] = [0, 1].map(|i| form.size[i].div_ceil(field::MADE[i]));
    let sums = Sums::new(across * down, work);
    // Two rows of the picture, and some that are read again.
    let row_cost = 9 * from.stride() as u64;
    let bound = work.most_rows(from.row_bytes(), 0).saturating_sub(BEYOND) / 2;
    let most = bound.min(work.most_rows(coarser.row_bytes(), row_cost));
    for rows in bands_of(height, most, field::MADE[1]) {
        let [first, end] = [rows.start, rows.end].map(|y| 2 * y as isize);
        let read = fine.rows(first - 2, end + 2);
        // Of rows past the picture's last one there is none to be written.
        let own = (2 * rows.start).min(from.height - 1)..(2 * rows.end).min(from.height);
        let step = field::FieldRows {
            stride: from.stride() as u32,
            roots: table.map_or([0; 2], |table| table.roots),
            last: table.map_or(0, |table| table.last),
            coarse_stride: coarser.stride() as u32,
            coarse_row: rows.start as u32,
            count: sums.count,
            coarse_size: [width as u32, rows.len() as u32],
            sums: (rows.start / field::MADE[1] * across) as u32,
            from_row: read.start as u32,
            to_row: own.start as u32,
            ..field::FieldRows::of(from.size().map(|n| n as u32), before)
        };
        let mut bound = vec![
            (1, to.rows(&own)),
            (2, from.rows(&read)),
            (5, coarser.rows(&rows)),
            (6, sums.parts.as_entire_buffer_binding()),
        ];
        // Where there is no field something must stand there all the same, and nothing of it is read.
        let none = wgpu::BufferBinding {
            buffer: &from.buffer,
            offset: 0,
            size: wgpu::BufferSize::new(from.row_bytes()),
        };
        match table {
            Some(table) => {
                let tables = table.tables.iter();
                bound.extend((3..).zip(tables.map(wgpu::Buffer::as_entire_buffer_binding)));
            }
            None => bound.extend([(3, none.clone()), (4, none)]),
        }
        let run = Run {
            shader: &field::SHADER,
            entry: table.map_or("no_field_halved", |table| table.entries[1]),
            bound: &bound,
            groups: [across as u32, rows.len().div_ceil(field::MADE[1]) as u32, 1],
            cost: rows.len() as u64 * row_cost,
        };
        work.dispatch(&step, run)?;
        work.progress(rows.end as f32 / height as f32);
    }
    Ok((to, Pyramid::begun(coarser, sums)))
}

/// A shader that works on every pixel by itself. What it writes is bound at 1, what it reads at 2, its tables
/// from 3 on.
struct Kernel<'a> {
    shader: &'static Shader,
    entry: &'static str,
    tables: &'a [wgpu::Buffer],
}

impl Kernel<'_> {
    /// One without tables, whose entry has the kernel's own name.
    const fn of(shader: &'static Shader) -> Self {
        Self {
            shader,
            entry: shader.name,
            tables: &[],
        }
    }

    /// Runs over all rows of a picture; `params` takes a run's size and its first row.
    fn each<U: Uniform>(
        &self,
        from: &Rows,
        work: &mut Work<'_>,
        params: impl Fn([u32; 2], u32) -> U,
    ) -> Result<Rows, GpuError> {
        let to = Rows::new(work, from.size())?;
        let row_cost = 3 * from.stride() as u64;
        for rows in bands(from.height, work.most_rows(from.row_bytes(), row_cost)) {
            let mut bound = vec![(1, to.rows(&rows)), (2, from.rows(&rows))];
            let tables = self
                .tables
                .iter()
                .map(wgpu::Buffer::as_entire_buffer_binding);
            bound.extend((3..).zip(tables));
            let size = [from.width as u32, rows.len() as u32];
            let run = Run {
                shader: self.shader,
                entry: self.entry,
                bound: &bound,
                groups: groups(size, 1),
                cost: rows.len() as u64 * row_cost,
            };
            work.dispatch(&params(size, rows.start as u32), run)?;
            work.progress(rows.end as f32 / from.height as f32);
        }
        Ok(to)
    }
}
