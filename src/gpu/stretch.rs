//! The halos of a wide lens: laid out in direction cosines, scattered there, read back.

use super::GpuError;
use super::oriented::oriented;
use super::picture::{Rows, bands};
use super::pyramid::{Pyramid, Sums};
use super::scatter::scatter;
use super::work::{Run, Work, groups};
use crate::kernels::stretch::Params;
use crate::kernels::stretch::twin::{Laid, SHADER, Scattered};

/// Pixels that a cell gathers from, about.
const GATHERED: u64 = 64;
/// Cells that a pixel reads.
const READ: u64 = 16;

/// A picture's scattered light.
pub(super) fn stretch(
    from: &Rows,
    params: &Params<'_>,
    work: &mut Work<'_>,
) -> Result<Rows, GpuError> {
    let laid = params.laid(from.size());
    // Rows bow: a shader is given a picture whole.
    let (needs, limit) = (from.bytes(), work.limits().binding);
    if needs > limit {
        let [width, height] = from.size();
        return Err(GpuError::TooLarge {
            width,
            height,
            needs,
            limit,
        });
    }
    let small = if laid.block == 1 {
        from.clone()
    } else {
        let small = Rows::new(work, laid.small)?;
        let pixels = (laid.block * laid.block) as u64;
        run("blocks", (&small, from), &laid, pixels, None, work)?;
        small
    };
    let cells = Rows::new(work, laid.count)?;
    run("lay_out", (&cells, &small), &laid, GATHERED, None, work)?;
    let cells = match &laid.scattered {
        Scattered::Round(params) => {
            let design = work.design(params, cells.size())?;
            scatter(&cells, &design, &mut Pyramid::default(), work)?
        }
        Scattered::Oriented(params) => oriented(&cells, params, work)?,
    };
    let small = Rows::new(work, laid.small)?;
    run("read_back", (&small, &cells), &laid, READ, None, work)?;
    let add = Sums::added_up(&laid.veil, from, work)?;
    let out = Rows::new(work, from.size())?;
    let merged = Some((&add, from));
    run("merge", (&out, &small), &laid, READ, merged, work)?;
    Ok(out)
}

/// Runs an entry point over all rows of `to`; each sample reads `cost` of `from`. What is merged is added to
/// a frame.
fn run(
    entry: &'static str,
    (to, from): (&Rows, &Rows),
    laid: &Laid<'_>,
    cost: u64,
    merged: Option<(&Sums, &Rows)>,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let step = laid.step(from.size(), from.stride());
    let row_cost = 3 * cost * to.width as u64;
    for rows in bands(to.height, work.most_rows(to.row_bytes(), row_cost)) {
        let mut step = step;
        step.size = [to.width as u32, rows.len() as u32];
        step.first_row = rows.start as u32;
        step.stride = to.stride() as u32;
        let mut bound = vec![(1, to.rows(&rows)), (2, from.all())];
        if let Some((add, frame)) = merged {
            bound.push((3, add.added()));
            bound.push((4, frame.rows(&rows)));
        }
        let run = Run {
            shader: &SHADER,
            entry,
            bound: &bound,
            groups: groups(step.size, 3),
            cost: rows.len() as u64 * row_cost,
        };
        work.dispatch(&step, run)?;
    }
    Ok(())
}
