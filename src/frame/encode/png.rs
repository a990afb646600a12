//! PNG: 16-bit RGB with its profile, and the 8-bit one for previews.
//!
//! Rows are filtered and packed in strips on all cores. A row's filter looks at the row above, across strips too;
//! deflate does not look back, which costs sixty bytes a strip.

use super::codes::WordCoder;
use super::deflate::{HEAD, Part, Sum};
use super::strips::{Strips, in_order};
use super::{OutputSpace, WriteError, gave_up};
use crate::frame::Frame;
use crate::watch::Watch;
use png::{BitDepth, ColorType, Encoder, EncodingError, Info, chunk};
use std::borrow::Cow;
use std::io::Write;
use std::ops::Range;

/// Bytes of a strip, about.
const STRIP: usize = 1 << 20;
/// Most rows of a strip.
const ROWS: usize = 64;

pub(super) fn encode(
    sink: &mut (impl Write + Send),
    frame: &Frame,
    space: OutputSpace,
    watch: &Watch,
) -> Result<(), WriteError> {
    let coder = WordCoder::new(space);
    let mut info = Info::with_size(frame.width() as u32, frame.height() as u32);
    info.bit_depth = BitDepth::Sixteen;
    info.icc_profile = Some(Cow::Owned(space.profile()));
    put(sink, info, watch, |rows| {
        Cow::Owned(coder.rgb_be(frame, rows))
    })
}

/// A PNG of 8-bit sRGB codes, three a pixel, rows from the top, with the sRGB profile: previews and
/// sheets.
///
/// # Errors
/// [`WriteError::Encoder`] when `codes` is not `3 · width · height` long or a side is 0.
pub fn encode_png_rgb8(width: u32, height: u32, codes: &[u8]) -> Result<Vec<u8>, WriteError> {
    let row = 3 * width as usize;
    if codes.is_empty() || Some(codes.len()) != row.checked_mul(height as usize) {
        let reason = format!("{} codes are not {width} × {height} pixels", codes.len());
        return Err(gave_up("PNG", &reason));
    }
    let mut info = Info::with_size(width, height);
    info.bit_depth = BitDepth::Eight;
    info.icc_profile = Some(Cow::Owned(OutputSpace::Srgb.profile()));
    let mut out = Vec::new();
    put(&mut out, info, &Watch::default(), |rows| {
        Cow::Borrowed(&codes[rows.start * row..rows.end * row])
    })?;
    Ok(out)
}

/// Writes RGB; `rows` gives the bytes of some.
fn put<'a>(
    sink: &mut (impl Write + Send),
    mut info: Info<'_>,
    watch: &Watch,
    rows: impl Fn(Range<usize>) -> Cow<'a, [u8]> + Sync,
) -> Result<(), WriteError> {
    info.color_type = ColorType::Rgb;
    let (pixel, width) = (info.bytes_per_pixel(), info.width as usize);
    let strips = Strips {
        height: info.height as usize,
        rows: (STRIP / (pixel * width)).clamp(1, ROWS),
    };
    let mut writer = Encoder::with_info(sink, info)
        .and_then(Encoder::write_header)
        .map_err(failed)?;
    let count = strips.count();
    let strip = |n: usize| {
        let part = strips.rows_of(n);
        // With the row above, if there is one.
        let above = part.start.min(1);
        let bytes = rows(part.start - above..part.end);
        let filtered = filtered(&bytes, pixel * width, pixel, above);
        Part::of(&filtered, n + 1 == count).map_err(WriteError::System)
    };
    let mut sum = Sum::new();
    in_order(strips, watch, strip, |n, mut part: Part| {
        sum.add(&part);
        if n == 0 {
            part.bytes.splice(..0, HEAD);
        }
        if n + 1 == count {
            part.bytes.extend(sum.tail());
        }
        writer.write_chunk(chunk::IDAT, &part.bytes).map_err(failed)
    })?;
    writer.finish().map_err(failed)
}

/// Rows as differences, each after the number of its filter (PNG, 9.2): of the four that look at neighbours, the
/// one of least absolute differences. `above` rows at the start are only looked at.
fn filtered(bytes: &[u8], row: usize, pixel: usize, above: usize) -> Vec<u8> {
    let nothing = vec![0_u8; row];
    let mut tried = [(); 4].map(|()| vec![0_u8; row]);
    let mut out = Vec::with_capacity((bytes.len() / row - above) * (row + 1));
    let mut over = if above == 1 { &bytes[..row] } else { &nothing };
    for own in bytes[above * row..].chunks_exact(row) {
        let before = Neighbours { own, over, pixel };
        let [sub, up, mean, paeth] = &mut tried;
        before.sub(sub);
        before.up(up);
        before.mean(mean);
        before.paeth(paeth);
        let best = (0..4).min_by_key(|n| size(&tried[*n])).unwrap_or(1);
        out.push(best as u8 + 1);
        out.extend_from_slice(&tried[best]);
        over = own;
    }
    out
}

/// The sum of absolute differences, a byte being one of either sign.
fn size(row: &[u8]) -> u64 {
    // Runs whose sums fit 16 bits go through wide registers.
    let run = |run: &[u8]| -> u16 {
        run.iter()
            .map(|v| u16::from(v.cast_signed().unsigned_abs()))
            .sum()
    };
    row.chunks(256).map(|r| u64::from(run(r))).sum()
}

/// A row and what its filters look at; what is left of the first pixel is nothing.
struct Neighbours<'a> {
    own: &'a [u8],
    over: &'a [u8],
    pixel: usize,
}

impl Neighbours<'_> {
    fn sub(&self, out: &mut [u8]) {
        let (head, rest) = out.split_at_mut(self.pixel);
        head.copy_from_slice(&self.own[..self.pixel]);
        for ((out, v), left) in rest.iter_mut().zip(&self.own[self.pixel..]).zip(self.own) {
            *out = v.wrapping_sub(*left);
        }
    }

    fn up(&self, out: &mut [u8]) {
        for ((out, v), over) in out.iter_mut().zip(self.own).zip(self.over) {
            *out = v.wrapping_sub(*over);
        }
    }

    fn mean(&self, out: &mut [u8]) {
        let (head, rest) = out.split_at_mut(self.pixel);
        for ((out, v), over) in head.iter_mut().zip(self.own).zip(self.over) {
            *out = v.wrapping_sub(over / 2);
        }
        let own = self.own[self.pixel..].iter().zip(&self.over[self.pixel..]);
        for ((out, (v, over)), left) in rest.iter_mut().zip(own).zip(self.own) {
            // Half the sum, rounded down, without a ninth bit.
            *out = v.wrapping_sub((left & over) + ((left ^ over) >> 1));
        }
    }

    fn paeth(&self, out: &mut [u8]) {
        let (head, rest) = out.split_at_mut(self.pixel);
        for ((out, v), over) in head.iter_mut().zip(self.own).zip(self.over) {
            *out = v.wrapping_sub(*over);
        }
        let own = self.own[self.pixel..].iter().zip(&self.over[self.pixel..]);
        let left = self.own.iter().zip(self.over);
        for ((out, (v, over)), (left, corner)) in rest.iter_mut().zip(own).zip(left) {
            let [a, b, c] = [*left, *over, *corner].map(i16::from);
            // How far left, above and corner are from left + above − corner.
            let (pa, pb, pc) = ((b - c).abs(), (a - c).abs(), (a + b - c - c).abs());
            let by_two = if pb < pa { *over } else { *left };
            let guess = if pc < pa.min(pb) { *corner } else { by_two };
            *out = v.wrapping_sub(guess);
        }
    }
}

fn failed(e: EncodingError) -> WriteError {
    match e {
        EncodingError::IoError(e) => WriteError::System(e),
        other => gave_up("PNG", &other),
    }
}
