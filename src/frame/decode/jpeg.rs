//! JPEG, 8 bits, grey or colour.
//!
//! The markers are walked here first, because the decoder allocates from the header, turns CMYK into
//! RGB without a word, and fills what is missing from a file cut short with grey.

use crate::frame::Exif;
use crate::frame::develop::{Raw, Samples, Tag};
use crate::frame::limits::{Fault, check_sides};
use crate::frame::orient::Orientation;
use image::codecs::jpeg::JpegDecoder;
use image::{ColorType, ImageDecoder as _};
use std::io::Cursor;

pub(super) fn decode(bytes: &[u8]) -> Result<Raw, Fault> {
    let damaged = |e: image::ImageError| Fault::damaged("JPEG", &e);
    let marks = walk(bytes)?;
    let mut decoder = JpegDecoder::new(Cursor::new(bytes)).map_err(damaged)?;
    let (w, h) = decoder.dimensions();
    let (width, height) = check_sides(w.into(), h.into())?;
    let channels = match decoder.color_type() {
        ColorType::L8 => 1,
        ColorType::Rgb8 => 3,
        _ => {
            return Err(Fault::refused(
                "is a JPEG of a colour model that is not read",
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
    let mut notes = Vec::new();
    if marks.gain_map {
        notes.push("its gain map not used".to_owned());
    }
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
        notes,
    })
}

struct Marks {
    gain_map: bool,
}

/// Walks the markers from the first to the end of the picture.
fn walk(bytes: &[u8]) -> Result<Marks, Fault> {
    let cut = || Fault::damaged("JPEG", &"the file ends before its picture does");
    let (mut at, mut gain_map, mut seen_frame) = (2, false, false);
    loop {
        // To the next marker; inside a scan FF00 is a stuffed FF and FFD0 to FFD7 are restarts.
        let mark = loop {
            let pair = bytes.get(at..at + 2).ok_or_else(cut)?;
            match pair {
                [0xFF, 0x00 | 0x01 | 0xD0..=0xD7] => at += 2,
                [0xFF, 0xFF] => at += 1,
                [0xFF, mark] => break *mark,
                _ => at += 1,
            }
        };
        if mark == 0xD9 {
            if seen_frame {
                return Ok(Marks { gain_map });
            }
            return Err(Fault::damaged("JPEG", &"it holds no picture"));
        }
        let length = bytes.get(at + 2..at + 4).ok_or_else(cut)?;
        let length = usize::from(u16::from_be_bytes([length[0], length[1]]));
        let body = bytes
            .get(at + 4..(at + 2 + length).max(at + 4))
            .ok_or_else(cut)?;
        match mark {
            0xC0..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF if !seen_frame => {
                frame_header(mark, body)?;
                seen_frame = true;
            }
            0xE1 | 0xE2 => {
                let names: [&[u8]; 2] = [b"urn:iso:std:iso:ts:21496", b"hdrgm:Version"];
                gain_map |= names.iter().any(|n| body.windows(n.len()).any(|w| w == *n));
            }
            _ => {}
        }
        at += 2 + length.max(2);
    }
}

fn frame_header(mark: u8, body: &[u8]) -> Result<(), Fault> {
    let &[precision, h1, h0, w1, w0, components, ..] = body else {
        return Err(Fault::damaged("JPEG", &"its frame header is too short"));
    };
    if precision != 8 {
        return Err(Fault::refused(format!(
            "is a JPEG of {precision} bits; 8 bits are read: export it as a 16-bit TIFF"
        )));
    }
    if !matches!(mark, 0xC0..=0xC2) {
        return Err(Fault::refused(
            "is a lossless or arithmetic-coded JPEG; baseline and progressive ones are read",
        ));
    }
    if components == 4 {
        return Err(Fault::refused(
            "is a CMYK JPEG, which holds ink and not light: export it as RGB",
        ));
    }
    let side = |high, low| u64::from(u16::from_be_bytes([high, low]));
    check_sides(side(w1, w0), side(h1, h0)).map(|_| ())
}
