//! One function for each pass that touches no neighbours: run by run of rows, from one picture to another.

use super::GpuError;
use super::picture::{Rows, bands};
use super::work::{Run, Work, groups};
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
    entry: &'static str,
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
            entry: laid.entry,
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
        entry: laid.entry,
        tables: &laid.tables,
    };
    let (stride, whole) = (from.stride() as u32, from.size().map(|n| n as u32));
    kernel.each(from, work, |size, first_row| field::FieldRows {
        size,
        stride,
        first_row,
        whole,
        roots: laid.roots,
        last: laid.last,
        padding: 0,
        unused: [0; 2],
        before: before.padded(),
    })
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
