//! Writing a sheet to a file, whole or not at all.

use super::page::Page;
use super::paint::{paint, share};
use super::sheet::{MOST_LOOKS, Sheet, lay_out};
use crate::frame::save_atomically;
use crate::meters::Painted;
use crate::watch::{Cancelled, Watch};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Progress once the page is painted, and once it is packed as a PNG; the rest is for the disk.
const PAINTED: f32 = 0.6;
const PACKED: f32 = 0.97;

/// Why a sheet was not written.
#[derive(Debug, thiserror::Error)]
pub enum SheetError {
    /// It was told to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// No look, or more than a page holds.
    #[error("a sheet shows 1 to {MOST_LOOKS} looks, not {count}")]
    Looks {
        /// How many there were.
        count: usize,
    },
    /// The file's extension names no kind of sheet.
    #[error("{}: a sheet is written as .png, not as {extension:?}", path.display())]
    Extension {
        /// Where it was to go.
        path: PathBuf,
        /// The extension, without its dot; empty for none.
        extension: String,
    },
    /// PDF is not there yet.
    #[error("{}: sheets are not written as PDF yet; write a .png", path.display())]
    NoPdf {
        /// Where it was to go.
        path: PathBuf,
    },
    /// The pixels could not be encoded.
    #[error("the sheet could not be encoded as PNG: {0}")]
    Encode(#[from] png::EncodingError),
    /// The file could not be written.
    #[error("{}: {source}", path.display())]
    Save {
        /// Where it was to go.
        path: PathBuf,
        /// What the system said.
        source: std::io::Error,
    },
}

/// Lays out and writes a sheet; the extension of `path` says as what (`png`).
///
/// `dpi` is the fineness in dots an inch, clamped to 20–600 ([`DPI`](super::DPI) is the usual one).
/// The file is replaced whole or not at all. `watch` moves row by row and ends at 1.
///
/// # Errors
/// [`SheetError`]: the extension, the number of looks, or what the system said on writing; soon after `watch` is
/// cancelled, [`SheetError::Cancelled`]. Nothing is left behind then.
pub fn write_sheet(path: &Path, sheet: &Sheet, dpi: f64, watch: &Watch) -> Result<(), SheetError> {
    let extension = path
        .extension()
        .map(|e| e.to_string_lossy().to_ascii_lowercase());
    match extension.as_deref() {
        Some("png") => {}
        Some("pdf") => {
            return Err(SheetError::NoPdf {
                path: path.to_owned(),
            });
        }
        other => {
            let extension = other.unwrap_or_default().to_owned();
            return Err(SheetError::Extension {
                path: path.to_owned(),
                extension,
            });
        }
    }
    write_page(path, &lay_out(sheet)?, dpi, watch)
}

/// Writes a page as PNG.
pub(super) fn write_page(
    path: &Path,
    page: &Page,
    dpi: f64,
    watch: &Watch,
) -> Result<(), SheetError> {
    let painted = paint(page, dpi, &watch.part(0.0, PAINTED))?;
    let bytes = encode(page, &painted, &watch.part(PAINTED, PACKED))?;
    drop(painted);
    let saved = save_atomically(path, |file| {
        file.write_all(&bytes)?;
        // The last moment at which nothing is left behind.
        watch.check().map_err(std::io::Error::other)
    });
    if let Err(source) = saved {
        // Where it was told to stop, that is why.
        watch.check()?;
        let path = path.to_owned();
        return Err(SheetError::Save { path, source });
    }
    watch.set_progress(1.0);
    Ok(())
}

/// The page as a PNG: 8-bit RGB, marked as sRGB and with its size on paper.
fn encode(page: &Page, painted: &Painted, watch: &Watch) -> Result<Vec<u8>, SheetError> {
    let (width, height) = (painted.width, painted.height);
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, width, height);
    encoder.set_color(png::ColorType::Rgb);
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_source_srgb(png::SrgbRenderingIntent::RelativeColorimetric);
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a page is painted at 20 to 600 dots an inch"
    )]
    let per_metre = (f64::from(width) * 1000.0 / page.width_mm).round() as u32;
    encoder.set_pixel_dims(Some(png::PixelDimensions {
        xppu: per_metre,
        yppu: per_metre,
        unit: png::Unit::Meter,
    }));
    let mut writer = encoder.write_header()?;
    // Row by row: the whole of it in one go could not be stopped.
    let mut rows = writer.stream_writer()?;
    let (row, count) = (4 * width as usize, height as usize);
    for (n, rgba) in painted.rgba.chunks_exact(row).enumerate() {
        watch.check()?;
        watch.set_progress(share(n, count));
        let rgb: Vec<u8> = rgba
            .chunks_exact(4)
            .flat_map(|p| [p[0], p[1], p[2]])
            .collect();
        rows.write_all(&rgb).map_err(png::EncodingError::from)?;
    }
    rows.finish()?;
    writer.finish()?;
    Ok(bytes)
}
