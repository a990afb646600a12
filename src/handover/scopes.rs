//! Pictures of what meters read, drawn as pages: dark ink on paper, so that they print and stand beside a
//! sheet.
//!
//! A waveform shows luminance over red, green and blue; the darker the ink, the more of a column has that
//! level. Painted pictures ([`crate::meters::false_stops`], [`crate::meters::difference`]) keep their own
//! pixels and stand over what their colours say. [`write_scope`] makes a file of a page.

// Lines, labels and ink by density.
mod draw;
// A painted picture over its legend.
mod legend;
// Levels against a scale of stops.
mod levels;
// The u′v′ diagram.
mod diagram;

pub use diagram::chromaticity_page;
pub use legend::{Scene, painted_page};
pub use levels::{histogram_page, waveform_page};

use super::page::Page;
use super::write::{SheetError, write_page};
use crate::watch::Watch;
use std::path::Path;

/// Fineness of a scope: ten pixels to the millimetre, so that painted pixels stay whole.
pub const SCOPE_DPI: f64 = 254.0;
/// Longest side of a painted picture, in pixels; a larger one is reduced, in linear light, before it is
/// painted.
pub const MOST_PAINTED: usize = 1600;

/// Writes a scope as PNG; the file is replaced whole or not at all.
///
/// # Errors
/// [`SheetError`]: the pixels could not be encoded, or what the system said on writing.
pub fn write_scope(path: &Path, page: &Page) -> Result<(), SheetError> {
    write_page(path, page, SCOPE_DPI, &Watch::default())
}
