//! Black lift: how much light glass puts into the darkest part of a frame.
//!
//! The frame is averaged into square cells, 128 across its width, so that noise and size do not
//! matter. Of the bare frame the darkest hundredth of the cells is taken, at least one; their mean
//! luminance bare and through glass, the loss of an even field divided out of the latter, are the
//! levels of the blacks, and their difference is the lift, in stops. 0 is blacks that keep their place
//! under key once exposure is made good. Light under ten stops below key counts as that much: what no
//! display shows is not lifted from nothing. A grad over the dark part holds it down, and the figure
//! says so.
//!
//! The definition is our own, after how a spot meter is used on the darkest part of a set (common
//! practice, no source).
//!
//! ```
//! use foreglass::frame::Frame;
//! use foreglass::meters::{Region, blacks};
//! // A dark corner at 1/64 of key; glass that halves all light and veils it by 1/128 of key.
//! let key = 0.18_f32;
//! let bare: Vec<f32> = (0..256).map(|i| if i < 16 { key / 64.0 } else { key }).collect();
//! let glass: Vec<f32> = bare.iter().map(|v| 0.5 * v + key / 128.0).collect();
//! let frame = |p: Vec<f32>| Frame::from_planes(16, 16, [p.clone(), p.clone(), p]);
//! let blacks = blacks::read(&frame(bare), &frame(glass), 0.5, Region::WHOLE);
//! assert!((blacks.lift().get() - 1.0).abs() < 1e-5);
//! assert!((blacks.bare.get() + 6.0).abs() < 1e-5);
//! ```

use super::{BLACK, Region, reduced};
use crate::frame::Frame;
use crate::units::Stops;

/// Cells across a frame's width.
const CELLS: usize = 128;
/// The part of the cells that counts as the darkest.
const DARKEST: f64 = 0.01;

/// Levels of the darkest part of a frame, log₂(Y/0.18).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Blacks {
    /// Bare.
    pub bare: Stops,
    /// Through glass, the loss of an even field divided out.
    pub glass: Stops,
}

impl Blacks {
    /// How far the glass lifts them.
    #[must_use]
    pub fn lift(&self) -> Stops {
        self.glass - self.bare
    }
}

/// The levels of the darkest part of a region, bare and through glass that makes `gain` of an even
/// field.
///
/// # Panics
/// When the two frames differ in size.
#[must_use]
pub fn read(bare: &Frame, glass: &Frame, gain: f64, region: Region) -> Blacks {
    let (width, height, bare) = reduced(bare, CELLS, 1.0);
    let (_, _, glass) = reduced(glass, CELLS, gain);
    assert_eq!(bare.len(), glass.len(), "two pictures of one frame");
    let [columns, rows] = region.cells(width, height);
    let mut cells: Vec<(f32, f32)> = rows
        .flat_map(|y| columns.clone().map(move |x| y * width + x))
        .map(|i| (bare[i], glass[i]))
        .collect();
    cells.sort_by(|a, b| a.0.total_cmp(&b.0));
    let count = ((cells.len() as f64 * DARKEST).round() as usize).max(1);
    let sum = cells[..count].iter().fold((0.0, 0.0), |sum, cell| {
        (sum.0 + f64::from(cell.0), sum.1 + f64::from(cell.1))
    });
    let key = f64::from(Frame::KEY);
    let level = |light: f64| Stops::clamped(((light / count as f64).max(BLACK) / key).log2());
    Blacks {
        bare: level(sum.0),
        glass: level(sum.1),
    }
}
