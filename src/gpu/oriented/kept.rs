//! What is kept on a device for the next picture: the tables of [`LENGTHS`] lengths, and what the cosines were
//! last multiplied by where that takes no more than [`KEPT_BYTES`]: pictures of 24 megapixels through a law that
//! is even, half of that through one that is not. Else the factors are made and sent a run of columns at a time.

use super::super::GpuError;
use super::super::picture::bands;
use super::super::work::Work;
use super::plane::Plane;
use crate::kernels::oriented::Params;
use crate::kernels::oriented::twin::{Laid, Transform};
use crate::kernels::shader::ROW;
use crate::optics::response::Response;
use std::collections::BTreeMap;
use std::ops::Range;
use std::sync::{Arc, Mutex, PoisonError};

/// Bytes of factors that are made and sent at a time.
pub(super) const SENT: u64 = 1 << 25;

/// Most that is kept of factors.
const KEPT_BYTES: u64 = 300 << 20;

/// Lengths whose tables are kept; one more, and all are forgotten.
const LENGTHS: usize = 8;

/// What is kept on a device from picture to picture.
#[derive(Debug, Default)]
pub(in super::super) struct Kept {
    lines: Mutex<BTreeMap<usize, Arc<Lines>>>,
    factors: Mutex<Option<Arc<Factors>>>,
}

/// A length's transform with its table on the device.
#[derive(Debug)]
pub(super) struct Lines {
    pub(super) transform: Transform,
    pub(super) table: wgpu::Buffer,
}

/// What all channels' cosines are multiplied by, and what that belongs to.
#[derive(Debug)]
pub(super) struct Factors {
    response: Response,
    per_pixel: f64,
    whole: bool,
    size: [usize; 2],
    pub(super) planes: [Plane; 3],
}

impl Kept {
    /// Lets everything go.
    pub(in super::super) fn clear(&self) {
        let mut lines = self.lines.lock().unwrap_or_else(PoisonError::into_inner);
        let mut factors = self.factors.lock().unwrap_or_else(PoisonError::into_inner);
        lines.clear();
        *factors = None;
    }
}

impl Factors {
    fn serve(&self, params: &Params<'_>, size: [usize; 2]) -> bool {
        self.size == size
            && self.whole == params.whole
            && self.per_pixel.to_bits() == params.per_pixel.to_bits()
            && self.response == *params.response
    }
}

/// A length's transform: kept, or made now.
pub(super) fn lines(work: &Work<'_>, length: usize) -> Result<Arc<Lines>, GpuError> {
    let kept = work.directed();
    let kept = || kept.lines.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(lines) = kept().get(&length) {
        return Ok(Arc::clone(lines));
    }
    let transform = Transform::new(length);
    let transform = transform.ok_or(GpuError::Unsupported(
        "so long a picture through this glass",
    ))?;
    let table = work.table(bytemuck::cast_slice(&transform.table))?;
    let made = Arc::new(Lines { transform, table });
    let mut kept = kept();
    if kept.len() >= LENGTHS {
        kept.clear();
    }
    kept.insert(length, Arc::clone(&made));
    Ok(made)
}

/// Samples of a row of factors.
pub(super) const fn factor_width(laid: &Laid) -> usize {
    if laid.even {
        laid.size[1]
    } else {
        2 * laid.size[1]
    }
}

/// Bytes of it with what fills it up.
pub(super) const fn factor_row(laid: &Laid) -> u64 {
    4 * factor_width(laid).next_multiple_of(ROW) as u64
}

/// What the cosines are multiplied by: the last picture's where it serves, or made now; None where it is too
/// much to be kept.
pub(super) fn factors(
    work: &mut Work<'_>,
    params: &Params<'_>,
    laid: &Laid,
) -> Result<Option<Arc<Factors>>, GpuError> {
    let kept = work.directed();
    let kept = || kept.factors.lock().unwrap_or_else(PoisonError::into_inner);
    if let Some(factors) = kept().clone().filter(|f| f.serve(params, laid.size)) {
        return Ok(Some(factors));
    }
    *kept() = None;
    let bytes = factor_row(laid) * laid.size[0] as u64;
    if 3 * bytes > KEPT_BYTES || bytes > work.limits().buffer {
        return Ok(None);
    }
    let plane = || Plane::new(work, factor_width(laid), laid.size[0]);
    let planes = [plane()?, plane()?, plane()?];
    for (c, plane) in planes.iter().enumerate() {
        for run in bands(laid.size[0], SENT / factor_row(laid)) {
            send(work, (params, laid), c, &run, (plane, run.start))?;
        }
    }
    let made = Arc::new(Factors {
        response: params.response.clone(),
        per_pixel: params.per_pixel,
        whole: params.whole,
        size: laid.size,
        planes,
    });
    *kept() = Some(Arc::clone(&made));
    Ok(Some(made))
}

/// Makes the factors of some columns and writes them into a plane from row `first` on.
pub(super) fn send(
    work: &mut Work<'_>,
    (params, laid): (&Params<'_>, &Laid),
    c: usize,
    columns: &Range<usize>,
    (plane, first): (&Plane, usize),
) -> Result<(), GpuError> {
    let factors = params.factors(c, laid.size, columns.clone(), plane.stride());
    let at = first as u64 * plane.row_bytes();
    work.upload(&plane.buffer, at, bytemuck::cast_slice(&factors))
}
