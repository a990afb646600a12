//! One function for each pass that touches no neighbours: run by run of rows, in place.

use super::GpuError;
use super::picture::{Picture, bands};
use super::work::Work;
use crate::kernels::shader::{Shader, Uniform};
use crate::kernels::{field, lift, matrix, sky};

/// Uniform colour.
pub(super) fn matrix(
    picture: &Picture,
    params: &matrix::Params,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let stride = picture.stride() as u32;
    let kernel = Kernel::of(&matrix::SHADER);
    kernel.each(picture, picture.height(), work, |size, _| {
        params.uniform(size, stride)
    })
}

/// Light added evenly.
pub(super) fn lift(
    picture: &Picture,
    params: &lift::Params,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let stride = picture.stride() as u32;
    let kernel = Kernel::of(&lift::SHADER);
    kernel.each(picture, picture.height(), work, |size, _| {
        params.uniform(size, stride)
    })
}

/// A polarised sky.
pub(super) fn sky(
    picture: &Picture,
    params: &sky::Params<'_>,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let nodes = params.table(picture.height());
    let rows = sky::Params::rows(&nodes);
    if rows == 0 {
        return Ok(());
    }
    let kernel = Kernel {
        tables: vec![work.table(bytemuck::cast_slice(&nodes))?],
        ..Kernel::of(&sky::SHADER)
    };
    let stride = picture.stride() as u32;
    kernel.each(picture, rows, work, |size, first_row| sky::SkyRows {
        size,
        stride,
        first_row,
    })
}

/// Placed glass and openings.
pub(super) fn field(
    picture: &Picture,
    params: &field::Params<'_>,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let whole = [picture.width(), picture.height()];
    let laid = params.laid(whole[0], whole[1]);
    let kernel = Kernel {
        shader: &field::SHADER,
        entry: laid.entry,
        tables: vec![
            work.table(bytemuck::cast_slice(laid.values))?,
            work.table(bytemuck::cast_slice(&laid.table))?,
        ],
    };
    let stride = picture.stride() as u32;
    kernel.each(picture, whole[1], work, |size, first_row| {
        field::FieldRows {
            size,
            stride,
            first_row,
            whole: whole.map(|n| n as u32),
            roots: laid.roots,
            last: laid.last,
            unused: 0,
        }
    })
}

/// A shader that works on every pixel by itself. All planes are bound at 1, 2 and 3, its tables from 4 on.
struct Kernel {
    shader: &'static Shader,
    entry: &'static str,
    tables: Vec<wgpu::Buffer>,
}

impl Kernel {
    /// One without tables, whose entry has the kernel's own name.
    const fn of(shader: &'static Shader) -> Self {
        Self {
            shader,
            entry: shader.name,
            tables: Vec::new(),
        }
    }

    /// Runs over the first `rows` of a picture; `params` takes a run's size and its first row.
    fn each<U: Uniform>(
        &self,
        picture: &Picture,
        rows: usize,
        work: &mut Work<'_>,
        params: impl Fn([u32; 2], u32) -> U,
    ) -> Result<(), GpuError> {
        let [r, g, b] = &picture.planes;
        let row_cost = 3 * r.stride() as u64;
        for run in bands(rows, work.most_rows(r.row_bytes(), row_cost)) {
            let mut bound = vec![(1, r.rows(&run)), (2, g.rows(&run)), (3, b.rows(&run))];
            let tables = self
                .tables
                .iter()
                .map(wgpu::Buffer::as_entire_buffer_binding);
            bound.extend((4..).zip(tables));
            let size = [r.width as u32, run.len() as u32];
            let cost = run.len() as u64 * row_cost;
            let params = params(size, run.start as u32);
            work.dispatch(self.shader, self.entry, &params, &bound, (size, cost))?;
            work.progress(run.end as f32 / rows as f32);
        }
        Ok(())
    }
}
