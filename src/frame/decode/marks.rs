//! The markers of a JPEG, walked from the first to the end of its picture.
//!
//! Source: ITU-T T.81, annex B. Walked before the decoder sees the file, because that allocates from the
//! header, turns CMYK into RGB without a word, and fills what is missing from a file cut short with grey.

use crate::frame::limits::{Fault, check_scaled};
use std::ops::Range;

/// How the name of an XMP segment ends; what stands before is its vendor's (ISO 16684-3, from memory).
const XMP: &[u8] = b"/xap/1.0/\0";
const ISO: &[u8] = b"urn:iso:std:iso:ts:21496:-1\0";
const PICTURES: &[u8] = b"MPF\0";

/// What was met on the way. Places count from the first byte.
#[derive(Default)]
pub(super) struct Marks {
    pub(super) width: usize,
    pub(super) height: usize,
    /// The byte after the end of the picture.
    pub(super) end: usize,
    /// Metadata of a gain map (ISO 21496-1), after its name.
    pub(super) iso: Option<Range<usize>>,
    /// An XMP packet.
    pub(super) xmp: Option<Range<usize>>,
    /// The list of the file's pictures (CIPA DC-007), from its TIFF header.
    pub(super) pictures: Option<Range<usize>>,
    /// Whether anything speaks of a gain map.
    pub(super) gain_map: bool,
}

impl Marks {
    fn segment(&mut self, mark: u8, body: &[u8], at: usize) {
        let rest = |name: &[u8]| {
            body.starts_with(name)
                .then(|| at + name.len()..at + body.len())
        };
        let names: [&[u8]; 3] = [
            b"urn:iso:std:iso:ts:21496",
            b"/hdr-gain-map/1.0/",
            b"Semantic=\"GainMap\"",
        ];
        self.gain_map |= names.iter().any(|n| body.windows(n.len()).any(|w| w == *n));
        if mark == 0xE1 {
            let name = body.get(..body.len().min(64)).unwrap_or_default();
            let name = name.windows(XMP.len()).position(|w| w == XMP);
            let packet = || name.map(|n| at + n + XMP.len()..at + body.len());
            self.xmp = self.xmp.take().or_else(packet);
        } else {
            self.iso = self.iso.take().or_else(|| rest(ISO));
            self.pictures = self.pictures.take().or_else(|| rest(PICTURES));
        }
    }
}

/// Walks the markers from the first to the end of the picture.
pub(super) fn walk(bytes: &[u8]) -> Result<Marks, Fault> {
    let cut = || Fault::damaged("JPEG", &"the file ends before its picture does");
    let (mut at, mut marks) = (2, Marks::default());
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
            marks.end = at + 2;
            return if marks.width > 0 {
                Ok(marks)
            } else {
                Err(Fault::damaged("JPEG", &"it holds no picture"))
            };
        }
        let length = bytes.get(at + 2..at + 4).ok_or_else(cut)?;
        let length = usize::from(u16::from_be_bytes([length[0], length[1]]));
        let body = bytes
            .get(at + 4..(at + 2 + length).max(at + 4))
            .ok_or_else(cut)?;
        match mark {
            0xC0..=0xC3 | 0xC5..=0xC7 | 0xC9..=0xCB | 0xCD..=0xCF if marks.width == 0 => {
                (marks.width, marks.height) = frame_header(mark, body, bytes.len())?;
            }
            0xE1 | 0xE2 => marks.segment(mark, body, at + 4),
            _ => {}
        }
        at += 2 + length.max(2);
    }
}

fn frame_header(mark: u8, body: &[u8], file: usize) -> Result<(usize, usize), Fault> {
    let &[precision, h1, h0, w1, w0, components, ref sampling @ ..] = body else {
        return Err(Fault::damaged("JPEG", &"its frame header is too short"));
    };
    if precision != 8 {
        return Err(Fault::refused(format!(
            "is a JPEG of {precision} bits; 8 bits are read: export it as a 16-bit TIFF"
        )));
    }
    if !matches!(mark, 0xC0..=0xC2) {
        return Err(Fault::refused(
            "is a lossless or arithmetic-coded JPEG; baseline and progressive ones are read: export \
             it again as a plain JPEG, or as a PNG",
        ));
    }
    if components == 4 {
        return Err(Fault::refused(
            "is a CMYK JPEG, which holds ink and not light: export it as RGB",
        ));
    }
    let side = |high, low| u64::from(u16::from_be_bytes([high, low]));
    let codes = if components == 1 { 8 } else { 24 };
    // A progressive picture's coefficients, 16 bits each, are all held until its last scan.
    let held = if mark == 0xC2 {
        codes + 2 * coefficients(sampling)
    } else {
        codes
    };
    check_scaled(side(w1, w0), side(h1, h0), (held, 8), file)
}

/// Bits that a pixel's samples take at 8 bits each, chroma counted as it is subsampled.
fn coefficients(components: &[u8]) -> u64 {
    let factors = components
        .chunks_exact(3)
        .map(|c| (u64::from(c[1] >> 4), u64::from(c[1] & 15)));
    let (h, v) = factors
        .clone()
        .fold((1, 1), |(h, v), c| (c.0.max(h), c.1.max(v)));
    (8 * factors.map(|(h, v)| h * v).sum::<u64>()).div_ceil(h * v)
}
