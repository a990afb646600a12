//! The halos of a wide lens: laid out in direction cosines, scattered there, read back.

use super::GpuError;
use super::oriented::oriented;
use super::picture::{Picture, Plane, bands};
use super::scatter::{scatter, total};
use super::work::Work;

use crate::kernels::stretch::Params;
use crate::kernels::stretch::twin::{Laid, SHADER, Scattered};

/// Pixels that a cell gathers from, about.
const GATHERED: u64 = 64;
/// Cells that a pixel reads.
const READ: u64 = 16;

/// Scatters the light of a picture, in place.
pub(super) fn stretch(
    picture: &Picture,
    params: &Params<'_>,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let size = [picture.width(), picture.height()];
    let laid = params.laid(size);
    // Rows bow: a shader is given a plane whole.
    let (needs, limit) = (picture.planes[0].bytes(), work.limits().binding);
    if needs > limit {
        let [width, height] = size;
        return Err(GpuError::TooLarge {
            width,
            height,
            needs,
            limit,
        });
    }
    let cells = Picture::new(work, laid.count[0], laid.count[1])?;
    for (c, plane) in picture.planes.iter().enumerate() {
        let small = if laid.block == 1 {
            plane.clone()
        } else {
            let small = Plane::new(work, laid.small[0], laid.small[1])?;
            let pixels = (laid.block * laid.block) as u64;
            run("blocks", (&small, plane), (&laid, c), pixels, None, work)?;
            small
        };
        let cells = &cells.planes[c];
        run("lay_out", (cells, &small), (&laid, c), GATHERED, None, work)?;
    }
    match &laid.scattered {
        Scattered::Round(params) => scatter(&cells, params, work)?,
        Scattered::Oriented(params) => oriented(&cells, params, work)?,
    }
    for (c, plane) in picture.planes.iter().enumerate() {
        let small = Plane::new(work, laid.small[0], laid.small[1])?;
        let cells = &cells.planes[c];
        run("read_back", (&small, cells), (&laid, c), READ, None, work)?;
        let add = total(work, plane, [0, 0], size, laid.veil[c])?;
        run("merge", (plane, &small), (&laid, c), READ, Some(&add), work)?;
    }
    Ok(())
}

/// Runs an entry point over all rows of `to`; each sample reads `cost` of `from`.
fn run(
    entry: &'static str,
    (to, from): (&Plane, &Plane),
    (laid, channel): (&Laid<'_>, usize),
    cost: u64,
    add: Option<&wgpu::Buffer>,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let step = laid.step(channel, [from.width, from.height], from.stride());
    let row_cost = cost * to.width as u64;
    for rows in bands(to.height, work.most_rows(to.row_bytes(), row_cost)) {
        let mut step = step;
        step.size = [to.width as u32, rows.len() as u32];
        step.first_row = rows.start as u32;
        step.stride = to.stride() as u32;
        let mut bound = vec![(1, to.rows(&rows)), (2, from.rows(&(0..from.height)))];
        bound.extend(add.map(|add| (3, add.as_entire_buffer_binding())));
        let over = (step.size, rows.len() as u64 * row_cost);
        work.dispatch(&SHADER, entry, &step, &bound, over)?;
    }
    Ok(())
}
