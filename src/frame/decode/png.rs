//! PNG, 1 to 16 bits, grey, palette or colour.

use crate::frame::Exif;
use crate::frame::develop::{Raw, Samples, Tag};
use crate::frame::limits::{Fault, check_sides};
use crate::frame::orient::Orientation;
use png::{BitDepth, ColorType, Decoder, Limits, Transformations};
use std::io::Cursor;

pub(super) fn decode(bytes: &[u8]) -> Result<Raw, Fault> {
    let damaged = |e: png::DecodingError| Fault::damaged("PNG", &e);
    // The limit is on text, profile and the like; the picture's own size is checked below.
    let limits = Limits { bytes: 1 << 30 };
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), limits);
    decoder.set_ignore_text_chunk(true);
    let header = decoder.read_header_info().map_err(damaged)?;
    let (width, height) = check_sides(header.width.into(), header.height.into())?;
    decoder.set_transformations(Transformations::EXPAND);
    let mut reader = decoder.read_info().map_err(damaged)?;
    let size = reader
        .output_buffer_size()
        .ok_or_else(|| Fault::refused("needs more memory than can be addressed"))?;
    let mut pixels = vec![0_u8; size];
    let out = reader.next_frame(&mut pixels).map_err(damaged)?;
    if (out.width as usize, out.height as usize) != (width, height) {
        return Err(Fault::refused(
            "is an animation whose first frame is smaller than its canvas",
        ));
    }
    let animated = reader.info().animation_control.is_some();
    reader.finish().map_err(damaged)?;
    let info = reader.info();
    let channels = match out.color_type {
        ColorType::Grayscale => 1,
        ColorType::GrayscaleAlpha => 2,
        ColorType::Rgb => 3,
        ColorType::Rgba => 4,
        ColorType::Indexed => return Err(Fault::refused("has a palette that is not filled in")),
    };
    let (samples, bits) = match out.bit_depth {
        BitDepth::Sixteen => {
            let pairs = pixels
                .chunks_exact(2)
                .map(|p| u16::from_be_bytes([p[0], p[1]]));
            (Samples::U16(pairs.collect()), 16)
        }
        _ => (Samples::U8(pixels), 8),
    };
    let tag = match (&info.coding_independent_code_points, &info.icc_profile) {
        (Some(c), _) => Tag::Cicp(c.color_primaries, c.transfer_function),
        (None, Some(profile)) => Tag::Icc(profile.to_vec()),
        (None, None) => Tag::None,
    };
    let block = info.exif_metadata.as_deref();
    let orientation = block.map_or(Orientation::UPRIGHT, Orientation::from_exif);
    let exif = block.map(Exif::parse).unwrap_or_default();
    let narrow = info
        .coding_independent_code_points
        .is_some_and(|c| !c.is_video_full_range_image);
    if narrow {
        return Err(Fault::refused(
            "holds narrow-range codes (its cICP tag says so), which are not read: export it in \
             full range",
        ));
    }
    let notes = if animated {
        vec!["first picture of an animation".to_owned()]
    } else {
        Vec::new()
    };
    let kind = format!("{bits}-bit PNG");
    Ok(Raw {
        width,
        height,
        samples,
        channels,
        orientation,
        tag,
        kind,
        bits,
        exif,
        notes,
    })
}
