//! One function for each pass that touches no neighbours: run by run of rows, in place.

use super::GpuError;
use super::picture::{Picture, bands};
use super::work::Work;
use crate::kernels::shader::{Shader, Uniform};
use crate::kernels::{lift, matrix};
use std::ops::Range;

/// Uniform colour.
pub(super) fn matrix(
    picture: &Picture,
    params: &matrix::Params,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let stride = picture.stride() as u32;
    each(picture, &matrix::SHADER, &[], work, |rows| {
        params.uniform(size(picture, rows), stride)
    })
}

/// Light added evenly.
pub(super) fn lift(
    picture: &Picture,
    params: &lift::Params,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let stride = picture.stride() as u32;
    each(picture, &lift::SHADER, &[], work, |rows| {
        params.uniform(size(picture, rows), stride)
    })
}

fn size(picture: &Picture, rows: &Range<usize>) -> [u32; 2] {
    [picture.width() as u32, rows.len() as u32]
}

/// Runs a shader of the kernel's own name over all planes at once: they are bound at 1, 2 and 3, `tables`
/// from 4 on.
fn each<U: Uniform>(
    picture: &Picture,
    shader: &'static Shader,
    tables: &[&wgpu::Buffer],
    work: &mut Work<'_>,
    params: impl Fn(&Range<usize>) -> U,
) -> Result<(), GpuError> {
    let [r, g, b] = &picture.planes;
    let most = work.most_rows(r.row_bytes(), 3 * r.stride() as u64);
    for rows in bands(r.height, most) {
        let mut bound = vec![(1, r.rows(&rows)), (2, g.rows(&rows)), (3, b.rows(&rows))];
        bound.extend((4..).zip(tables.iter().map(|t| t.as_entire_buffer_binding())));
        let samples = 3 * (rows.len() * r.stride()) as u64;
        let over = (size(picture, &rows), samples);
        work.dispatch(shader, shader.name, &params(&rows), &bound, over)?;
        work.progress(rows.end as f32 / r.height as f32);
    }
    Ok(())
}
