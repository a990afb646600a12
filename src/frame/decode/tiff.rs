//! TIFF and `BigTIFF`: grey or RGB of 8, 16 or 32-bit integers, or of floats.

use crate::frame::Exif;
use crate::frame::decode::sniff;
use crate::frame::develop::{Raw, Samples, Tag as ColourTag};
use crate::frame::limits::{Fault, MAX_CODES, check_scaled, check_sides};
use crate::frame::orient::Orientation;
use std::io::Cursor;
use tiff::ColorType;
use tiff::decoder::{Decoder, DecodingResult, Limits};
use tiff::tags::{SampleFormat, Tag};

/// Photometric interpretations of TIFF 6.0.
const WHITE_IS_ZERO: u32 = 0;
const BLACK_IS_ZERO: u32 = 1;
const PALETTE: u32 = 3;
const DNG_VERSION: Tag = Tag::Unknown(50_706);

pub(super) fn decode(bytes: &[u8]) -> Result<Raw, Fault> {
    let damaged = |e: tiff::TiffError| Fault::damaged("TIFF", &e);
    let mut limits = Limits::default();
    limits.decoding_buffer_size = usize::try_from(MAX_CODES).unwrap_or(usize::MAX);
    limits.intermediate_buffer_size = 1 << 29;
    limits.ifd_value_size = 1 << 25;
    let mut decoder = Decoder::new(Cursor::new(bytes))
        .map_err(damaged)?
        .with_limits(limits);
    let (w, h) = decoder.dimensions().map_err(damaged)?;
    // A raw file is a TIFF whose first picture is a thumbnail.
    let dng = decoder.find_tag(DNG_VERSION).ok().flatten().is_some();
    if dng || holds_sensor_data(&mut decoder) {
        return Err(Fault::refused(sniff::RAW));
    }
    let photometric = decoder.find_tag_unsigned::<u32>(Tag::PhotometricInterpretation);
    let photometric = photometric.ok().flatten();
    if photometric == Some(PALETTE) {
        return Err(Fault::refused(unread(ColorType::Palette(8))));
    }
    let colour = decoder.colortype().map_err(damaged)?;
    let is_grey = matches!(photometric, Some(WHITE_IS_ZERO | BLACK_IS_ZERO));
    let channels = match colour {
        ColorType::Gray(_) => 1,
        ColorType::GrayA(_) => 2,
        // Grey and alpha.
        ColorType::Multiband { num_samples: 2, .. } if is_grey => 2,
        ColorType::RGB(_) => 3,
        ColorType::RGBA(_) => 4,
        other => return Err(Fault::refused(unread(other))),
    };
    if matches!(colour.bit_depth(), 0..8) {
        return Err(Fault::refused(format!(
            "is a TIFF of {} bits a sample; 8, 16 and 32 bits are read",
            colour.bit_depth()
        )));
    }
    let layout = decoder.image_buffer_layout().map_err(damaged)?;
    let (width, height) = match colour.bit_depth() {
        8 | 16 if layout.sample_format == SampleFormat::Uint => {
            let packed = u64::from(colour.bit_depth()) * channels as u64;
            // Planes are woven into pixels, which takes them twice.
            let bits = packed * if layout.planes > 1 { 2 } else { 1 };
            check_scaled(w.into(), h.into(), (bits, packed), bytes.len())?
        }
        _ => check_sides(w.into(), h.into())?,
    };
    let tag = decoder.find_tag(Tag::IccProfile).ok().flatten();
    let icc = tag
        .and_then(|v| v.into_u8_vec().ok())
        .filter(|v| !v.is_empty());
    let orientation = decoder
        .find_tag_unsigned::<u32>(Tag::Orientation)
        .ok()
        .flatten();
    let mut pixels = DecodingResult::U8(Vec::new());
    let layout = decoder.read_image_to_buffer(&mut pixels).map_err(damaged)?;
    if pixels.as_buffer(0).byte_len() < layout.complete_len {
        return Err(Fault::refused(
            "needs more than 2400 MB when decoded: export it smaller, or of fewer bits",
        ));
    }
    let planar = layout.planes > 1;
    let (samples, bits, words) = samples(pixels)?;
    let samples = if planar {
        interleaved(samples, channels)
    } else {
        samples
    };
    if length(&samples) != width * height * channels {
        return Err(Fault::damaged("TIFF", &"it holds too few samples"));
    }
    Ok(Raw {
        width,
        height,
        samples,
        channels,
        orientation: orientation.map_or(Orientation::UPRIGHT, Orientation::from_tag),
        tag: icc.map_or(ColourTag::None, ColourTag::Icc),
        kind: format!("{words} TIFF"),
        bits,
        // In a TIFF the camera's directory hangs from the picture's own.
        exif: Exif::parse(bytes),
        notes: Vec::new(),
        gain: None,
    })
}

fn unread(colour: ColorType) -> String {
    let what = match colour {
        ColorType::CMYK(_) | ColorType::CMYKA(_) => "a CMYK TIFF, which holds ink and not light",
        ColorType::Palette(_) => "a TIFF with a palette, which is not read",
        ColorType::YCbCr(_) => "a YCbCr TIFF, which is not read",
        ColorType::Lab(_) => "a Lab TIFF, which is not read",
        _ => "a TIFF of several bands, which is not read",
    };
    format!("is {what}: export it as RGB of 8 or 16 bits, or as an EXR")
}

/// Whether a picture inside holds a colour-filter mosaic (photometric 32803) or linear sensor data
/// (34892), TIFF/EP and DNG.
fn holds_sensor_data(decoder: &mut Decoder<Cursor<&[u8]>>) -> bool {
    let Ok(Some(children)) = decoder.find_tag_unsigned_vec::<u64>(Tag::SubIfd) else {
        return false;
    };
    children.into_iter().take(8).any(|at| {
        let Ok(directory) = decoder.read_directory(tiff::tags::IfdPointer(at)) else {
            return false;
        };
        let mut tags = decoder.read_directory_tags(&directory);
        let photometric = tags.find_tag_unsigned::<u32>(Tag::PhotometricInterpretation);
        matches!(photometric, Ok(Some(32_803 | 34_892)))
    })
}

fn samples(pixels: DecodingResult) -> Result<(Samples, u8, &'static str), Fault> {
    Ok(match pixels {
        DecodingResult::U8(v) => (Samples::U8(v), 8, "8-bit"),
        DecodingResult::U16(v) => (Samples::U16(v), 16, "16-bit"),
        // Rounded to 16 bits: more than any curve below needs, and one table serves.
        DecodingResult::U32(v) => {
            let high = v.into_iter().map(|s| (s >> 16) as u16).collect();
            (Samples::U16(high), 32, "32-bit")
        }
        DecodingResult::F16(v) => (
            Samples::F32(v.into_iter().map(f32::from).collect()),
            16,
            "half-float",
        ),
        DecodingResult::F32(v) => (Samples::F32(v), 32, "float"),
        DecodingResult::F64(v) => (
            Samples::F32(v.into_iter().map(|s| s as f32).collect()),
            64,
            "double",
        ),
        _ => {
            return Err(Fault::refused(
                "is a TIFF of signed or 64-bit integers; export 16 bits",
            ));
        }
    })
}

const fn length(samples: &Samples) -> usize {
    match samples {
        Samples::U8(v) => v.len(),
        Samples::U16(v) => v.len(),
        Samples::F32(v) => v.len(),
        Samples::Planes(_) => 0,
    }
}

fn interleaved(samples: Samples, channels: usize) -> Samples {
    match samples {
        Samples::U8(v) => Samples::U8(woven(&v, channels)),
        Samples::U16(v) => Samples::U16(woven(&v, channels)),
        Samples::F32(v) => Samples::F32(woven(&v, channels)),
        planes @ Samples::Planes(_) => planes,
    }
}

fn woven<T: Copy>(planes: &[T], channels: usize) -> Vec<T> {
    let count = planes.len() / channels;
    (0..count * channels)
        .map(|i| planes[(i % channels) * count + i / channels])
        .collect()
}
