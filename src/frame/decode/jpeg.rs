//! JPEG, 8 bits, grey or colour, and the gain map behind it.

use super::{further, marks};
use crate::frame::Exif;
use crate::frame::develop::{Raw, Samples, Tag};
use crate::frame::gain_map::Gain;
use crate::frame::guard::guarded;
use crate::frame::limits::Fault;
use crate::frame::orient::Orientation;
use image::codecs::jpeg::JpegDecoder;
use image::{ColorType, ImageDecoder as _};
use std::io::Cursor;

pub(super) fn decode(bytes: &[u8]) -> Result<Raw, Fault> {
    let damaged = |e: image::ImageError| Fault::damaged("JPEG", &e);
    let marks = marks::walk(bytes)?;
    // Without what stands behind the plain picture.
    let plain = &bytes[..marks.end];
    let mut decoder = JpegDecoder::new(Cursor::new(plain)).map_err(damaged)?;
    let (width, height) = (marks.width, marks.height);
    if decoder.dimensions() != (width as u32, height as u32) {
        return Err(Fault::damaged("JPEG", &"it tells two sizes"));
    }
    let channels = match decoder.color_type() {
        ColorType::L8 => 1,
        ColorType::Rgb8 => 3,
        _ => {
            return Err(Fault::refused(
                "is a JPEG of a colour model that is not read: export it as RGB",
            ));
        }
    };
    // A profile or an EXIF block that is itself damaged is no reason to lose the picture.
    let tag = decoder
        .icc_profile()
        .ok()
        .flatten()
        .map_or(Tag::None, Tag::Icc);
    let block = decoder.exif_metadata().ok().flatten();
    let block = block.as_deref();
    let orientation = block.map_or(Orientation::UPRIGHT, Orientation::from_exif);
    let exif = block.map(Exif::parse).unwrap_or_default();
    let mut pixels = vec![0_u8; width * height * channels];
    decoder.read_image(&mut pixels).map_err(damaged)?;
    // Nor is a map that the decoder stumbles over.
    let gain = || {
        guarded(|| further::gain(bytes, &marks))
            .unwrap_or_else(|_| Gain::Unusable("its picture is damaged".to_owned()))
    };
    Ok(Raw {
        width,
        height,
        samples: Samples::U8(pixels),
        channels,
        orientation,
        tag,
        kind: "8-bit JPEG".to_owned(),
        bits: 8,
        exif,
        notes: Vec::new(),
        gain: marks.gain_map.then(gain),
    })
}
