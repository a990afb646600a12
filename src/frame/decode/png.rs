//! PNG, 1 to 16 bits, grey, palette or colour.

use crate::frame::Exif;
use crate::frame::develop::{Raw, Samples, Tag};
use crate::frame::limits::{Fault, check_scaled};
use crate::frame::orient::Orientation;
use png::{BitDepth, ColorType, Decoder, Limits, Transformations};
use std::io::Cursor;

type Reader<'a> = png::Reader<Cursor<&'a [u8]>>;

pub(super) fn decode(bytes: &[u8]) -> Result<Raw, Fault> {
    let damaged = |e: png::DecodingError| Fault::damaged("PNG", &e);
    // The limit is on text, profile and the like; the picture's own size is checked below.
    let limits = Limits { bytes: 1 << 30 };
    let mut decoder = Decoder::new_with_limits(Cursor::new(bytes), limits);
    decoder.set_ignore_text_chunk(true);
    let header = decoder.read_header_info().map_err(damaged)?;
    let packed = header.bits_per_pixel() as u64;
    let deep = header.bit_depth == BitDepth::Sixteen;
    let bits = if deep { packed } else { 32 };
    // An interlaced picture of 16 bits is held twice while its bytes are put in order.
    let bits = if deep && header.interlaced {
        2 * bits
    } else {
        bits
    };
    let (w, h) = (header.width.into(), header.height.into());
    let (width, height) = check_scaled(w, h, (bits, packed), bytes.len())?;
    decoder.set_transformations(Transformations::EXPAND);
    let mut reader = decoder.read_info().map_err(damaged)?;
    if let Some(first) = reader.info().frame_control
        && (first.width as usize, first.height as usize) != (width, height)
    {
        return Err(Fault::refused(
            "is an animation whose first frame is smaller than its canvas: export one frame",
        ));
    }
    let animated = reader.info().animation_control.is_some();
    let (colour, depth) = reader.output_color_type();
    let channels = match colour {
        ColorType::Grayscale => 1,
        ColorType::GrayscaleAlpha => 2,
        ColorType::Rgb => 3,
        ColorType::Rgba => 4,
        ColorType::Indexed => return Err(Fault::refused("has a palette that is not filled in")),
    };
    let (samples, bits) = match depth {
        BitDepth::Sixteen => (Samples::U16(sixteen(&mut reader)?), 16),
        _ => {
            let mut codes = vec![0_u8; size(&reader)?];
            reader.next_frame(&mut codes).map_err(damaged)?;
            (Samples::U8(codes), 8)
        }
    };
    reader.finish().map_err(damaged)?;
    let info = reader.info();
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
        gain: None,
    })
}

fn size(reader: &Reader<'_>) -> Result<usize, Fault> {
    reader
        .output_buffer_size()
        .ok_or_else(|| Fault::refused("needs more memory than can be addressed"))
}

/// Samples of 16 bits, row by row, so that they are held once.
fn sixteen(reader: &mut Reader<'_>) -> Result<Vec<u16>, Fault> {
    let damaged = |e: png::DecodingError| Fault::damaged("PNG", &e);
    let pairs = |bytes: &[u8], out: &mut Vec<u16>| {
        let pairs = bytes.chunks_exact(2);
        out.extend(pairs.map(|p| u16::from_be_bytes([p[0], p[1]])));
    };
    let size = size(reader)?;
    let mut codes = Vec::with_capacity(size / 2);
    if reader.info().interlaced {
        let mut bytes = vec![0_u8; size];
        reader.next_frame(&mut bytes).map_err(damaged)?;
        pairs(&bytes, &mut codes);
        return Ok(codes);
    }
    for _ in 0..reader.info().height {
        match reader.next_row().map_err(damaged)? {
            Some(row) => pairs(row.data(), &mut codes),
            None => return Err(Fault::damaged("PNG", &"it holds too few rows")),
        }
    }
    Ok(codes)
}
