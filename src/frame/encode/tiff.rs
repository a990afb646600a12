//! TIFF: 16-bit RGB, uncompressed, with its profile.

use super::codes::WordCoder;
use super::strips::{Strips, in_order};
use super::{OutputSpace, WriteError, gave_up};
use crate::frame::Frame;
use crate::watch::Watch;
use std::io::{Seek, Write};
use tiff::TiffError;
use tiff::encoder::{TiffEncoder, colortype::RGB16};
use tiff::tags::Tag;

/// Bytes of a strip, about: what the format's readers are used to is small, what a core makes at a time not.
const STRIP: usize = 1 << 20;

pub(super) fn encode<W: Write + Seek + Send>(
    sink: &mut W,
    frame: &Frame,
    space: OutputSpace,
    watch: &Watch,
) -> Result<(), WriteError> {
    let coder = WordCoder::new(space);
    let strips = Strips {
        height: frame.height(),
        rows: (STRIP / (6 * frame.width())).clamp(1, frame.height()),
    };
    let mut encoder = TiffEncoder::new(sink).map_err(failed)?;
    let size = (frame.width() as u32, frame.height() as u32);
    let mut image = encoder.new_image::<RGB16>(size.0, size.1).map_err(failed)?;
    image.rows_per_strip(strips.rows as u32).map_err(failed)?;
    image
        .encoder()
        .write_tag(Tag::IccProfile, space.profile().as_slice())
        .map_err(failed)?;
    in_order(
        strips,
        watch,
        |n| Ok(coder.rgb(frame, strips.rows_of(n))),
        |_, codes| image.write_strip(&codes).map_err(failed),
    )?;
    image.finish().map_err(failed)
}

fn failed(e: TiffError) -> WriteError {
    match e {
        TiffError::IoError(e) => WriteError::System(e),
        other => gave_up("TIFF", &other),
    }
}
