//! JPEG: 8-bit RGB with its profile.

use super::codes::Coder;
use super::{Output, WriteError, gave_up};
use crate::frame::Frame;
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder as _, ImageError};
use std::io::Write;

pub(super) fn encode(
    sink: &mut impl Write,
    frame: &Frame,
    output: &Output,
) -> Result<(), WriteError> {
    let codes = Coder::new(output.space).rgb8(frame);
    let mut encoder = JpegEncoder::new_with_quality(sink, output.quality.clamp(1, 100));

    encoder
        .set_icc_profile(output.space.profile())
        .map_err(|e| gave_up("JPEG", &e))?;
    let (width, height) = (frame.width() as u32, frame.height() as u32);
    encoder
        .write_image(&codes, width, height, ExtendedColorType::Rgb8)
        .map_err(|e| match e {
            ImageError::IoError(e) => WriteError::System(e),
            other => gave_up("JPEG", &other),
        })
}
