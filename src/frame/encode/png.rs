//! PNG: 16-bit RGB with its profile, and the quick 8-bit one for previews.

use super::codes::Coder;
use super::{OutputSpace, WriteError, gave_up};
use crate::frame::Frame;
use png::{BitDepth, ColorType, Compression, Encoder, EncodingError, Info};
use std::borrow::Cow;
use std::io::Write;

pub(super) fn encode(
    sink: &mut impl Write,
    frame: &Frame,
    space: OutputSpace,
) -> Result<(), WriteError> {
    let codes = Coder::new(space).rgb16_be(frame);
    let size = (frame.width() as u32, frame.height() as u32);
    put(sink, size, BitDepth::Sixteen, &codes, space.profile())
}

/// A PNG of 8-bit sRGB codes, three a pixel, rows from the top, with the sRGB profile: previews and
/// sheets.
///
/// # Errors
/// [`WriteError::Encoder`] when `codes` is not `3 · width · height` long or a side is 0.
pub fn encode_png_rgb8(width: u32, height: u32, codes: &[u8]) -> Result<Vec<u8>, WriteError> {
    let mut out = Vec::new();
    put(
        &mut out,
        (width, height),
        BitDepth::Eight,
        codes,
        OutputSpace::Srgb.profile(),
    )?;
    Ok(out)
}

fn put(
    sink: &mut impl Write,
    (width, height): (u32, u32),
    depth: BitDepth,
    codes: &[u8],
    profile: Vec<u8>,
) -> Result<(), WriteError> {
    let mut info = Info::with_size(width, height);
    info.color_type = ColorType::Rgb;
    info.bit_depth = depth;
    info.icc_profile = Some(Cow::Owned(profile));
    let work = || {
        let mut encoder = Encoder::with_info(sink, info)?;
        encoder.set_compression(Compression::Fast);
        let mut writer = encoder.write_header()?;
        writer.write_image_data(codes)?;
        writer.finish()
    };
    work().map_err(|e| match e {
        EncodingError::IoError(e) => WriteError::System(e),
        other => gave_up("PNG", &other),
    })
}
