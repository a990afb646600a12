//! TIFF: 16-bit RGB, uncompressed, with its profile.

use super::codes::Coder;
use super::{OutputSpace, WriteError, gave_up};
use crate::frame::Frame;
use std::io::{Seek, Write};
use tiff::TiffError;
use tiff::encoder::{TiffEncoder, colortype::RGB16};
use tiff::tags::Tag;

pub(super) fn encode<W: Write + Seek>(
    sink: &mut W,
    frame: &Frame,
    space: OutputSpace,
) -> Result<(), WriteError> {
    let codes = Coder::new(space).rgb16(frame);
    let work = || {
        let mut encoder = TiffEncoder::new(sink)?;
        let size = (frame.width() as u32, frame.height() as u32);
        let mut image = encoder.new_image::<RGB16>(size.0, size.1)?;

        image
            .encoder()
            .write_tag(Tag::IccProfile, space.profile().as_slice())?;
        image.write_data(&codes)
    };
    work().map_err(|e| match e {
        TiffError::IoError(e) => WriteError::System(e),
        other => gave_up("TIFF", &other),
    })
}
