//! Finding a JPEG's gain map: a picture of its own, behind the plain one in the same file.
//!
//! It is looked for where the list of pictures puts it (CIPA DC-007, 5.2.3: after a TIFF header, entries of
//! 16 bytes under tag 45058, the second and third word of each a length and a place counted from that
//! header), where the XMP list of pictures puts it, and right behind the plain picture, because programs
//! that change a file often leave its lists as they were. What carries a gain map's metadata is one.

use super::marks::{Marks, walk};
use crate::frame::gain_map::{About, Gain, GainMap, listed};
use crate::frame::icc::{self, Profile};
use image::codecs::jpeg::JpegDecoder;
use image::{ColorType, ImageDecoder as _};
use std::io::Cursor;

/// The tag of the list's entries.
const ENTRIES: u16 = 45_058;
/// Most entries of a list that are looked at: a plain picture, its map, depth, a few previews.
const MOST: usize = 16;

/// The gain map of a file that speaks of one.
pub(super) fn gain(bytes: &[u8], marks: &Marks) -> Gain {
    let mut reason = "it is not in the file".to_owned();
    for place in places(bytes, marks) {
        let Some(file) = bytes.get(place..).filter(|f| f.starts_with(&[0xFF, 0xD8])) else {
            continue;
        };
        match map(file, (marks.width, marks.height)) {
            Ok(Some(gain)) => return gain,
            Ok(None) => {}
            Err(words) => reason = words,
        }
    }
    Gain::Unusable(reason)
}

/// Where pictures may begin, the likeliest first.
fn places(bytes: &[u8], marks: &Marks) -> Vec<usize> {
    let mut places = marks
        .pictures
        .clone()
        .and_then(|range| entries(bytes.get(range.clone())?, range.start))
        .unwrap_or_default();
    let packet = marks.xmp.clone().and_then(|range| bytes.get(range));
    let listed = packet
        .and_then(|p| std::str::from_utf8(p).ok())
        .and_then(listed);
    places.extend(listed.and_then(|(start, _)| marks.end.checked_add(start)));
    places.push(marks.end);
    let mut seen = Vec::new();
    places.retain(|p| {
        let new = *p >= marks.end && !seen.contains(p);
        seen.push(*p);
        new
    });
    places
}

/// The places that the list of pictures names, but for the first picture's.
fn entries(block: &[u8], header: usize) -> Option<Vec<usize>> {
    let big = match block.get(..4)? {
        b"MM\0\x2A" => true,
        b"II\x2A\0" => false,
        _ => return None,
    };
    let half = |at: usize| {
        let pair: [u8; 2] = block.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if big {
            u16::from_be_bytes(pair)
        } else {
            u16::from_le_bytes(pair)
        })
    };
    let word = |at: usize| {
        let four: [u8; 4] = block.get(at..at.checked_add(4)?)?.try_into().ok()?;
        let word = if big {
            u32::from_be_bytes(four)
        } else {
            u32::from_le_bytes(four)
        };
        usize::try_from(word).ok()
    };
    let directory = word(4)?;
    let count = usize::from(half(directory)?).min(64);
    let tags = (0..count).filter_map(|i| directory.checked_add(2 + 12 * i));
    let list = tags.into_iter().find(|at| half(*at) == Some(ENTRIES))?;
    let (length, first) = (word(list + 4)?, word(list + 8)?);
    let entries = (0..(length / 16).min(MOST)).map_while(|i| word(first.checked_add(16 * i + 8)?));
    // The first picture's place is 0, by definition.
    Some(
        entries
            .skip(1)
            .filter_map(|at| header.checked_add(at))
            .collect(),
    )
}

/// The gain map that a picture is; None where it carries no such metadata.
fn map(file: &[u8], base: (usize, usize)) -> Result<Option<Gain>, String> {
    let damaged = || "its picture is cut short or damaged".to_owned();
    let Ok(marks) = walk(file) else {
        return Err(damaged());
    };
    let (iso, xmp) = (marks.iso.clone(), marks.xmp.clone());
    let iso = iso.and_then(|r| file.get(r)).map(About::from_iso);
    let packet = || std::str::from_utf8(file.get(xmp?)?).ok();
    let about = match iso {
        Some(Ok(about)) => about,
        // The older form may still be whole.
        other => match (packet().and_then(About::from_xmp), other) {
            (Some(about), _) => about?,
            (None, Some(Err(words))) => return Err(words),
            (None, _) => return Ok(None),
        },
    };
    if about.darkens() {
        return Ok(Some(Gain::Darker));
    }
    let (width, height) = (marks.width, marks.height);
    if width > base.0 || height > base.1 {
        return Err(format!(
            "its {width} × {height} pixels are more than the picture's"
        ));
    }
    let file = &file[..marks.end];
    let mut decoder = JpegDecoder::new(Cursor::new(file))
        .ok()
        .ok_or_else(damaged)?;
    let channels = match decoder.color_type() {
        ColorType::L8 => 1,
        ColorType::Rgb8 => 3,
        _ => return Err("its picture is neither grey nor RGB".to_owned()),
    };
    if decoder.dimensions() != (width as u32, height as u32) {
        return Err(damaged());
    }
    let profile = decoder.icc_profile().ok().flatten();
    let alternate = profile.filter(|_| !about.base_primaries);
    let alternate = alternate.and_then(|p| match icc::parse(&p, false) {
        Ok(Profile::Shaper(_, matrix)) => Some(matrix),
        _ => None,
    });
    let mut codes = vec![0_u8; width * height * channels];
    decoder.read_image(&mut codes).ok().ok_or_else(damaged)?;
    Ok(Some(Gain::Map(Box::new(GainMap {
        width,
        height,
        codes,
        about,
        alternate,
    }))))
}
