//! Light to codes: matrix, clip, curve and rounding in one pass over a strip.

use super::OutputSpace;
use crate::frame::Frame;
use crate::frame::halves::Halves;
use crate::frame::matrix::{Rows, dot};
use crate::frame::table::EncodeTable;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::OnceLock;

/// Samples of a channel that are worked on together; a few of such runs stay in the nearest cache.
const RUN: usize = 512;

/// From working light to codes of an output space.
pub(super) struct Coder {
    rows: Rows,
    table: EncodeTable,
}

impl Coder {
    pub(super) fn new(space: OutputSpace) -> Self {
        let (primaries, curve) = space.parts();
        Self {
            rows: primaries.from_working().rows_f32(),
            table: EncodeTable::new(curve),
        }
    }

    /// Codes of 0 to `top` of some rows, rounded to the nearest, interleaved `N` to a pixel, on the core that
    /// asks: strips go to all of them. `pack` lays out one pixel's three codes.
    fn strip<const N: usize, T: Default + Copy>(
        &self,
        frame: &Frame,
        rows: Range<usize>,
        top: f32,
        pack: impl Fn([u16; 3]) -> [T; N],
    ) -> Vec<T> {
        let mut out = vec![T::default(); N * frame.width() * rows.len()];
        self.fill(frame, rows, top, pack, &mut out);
        out
    }

    fn fill<const N: usize, T: Copy>(
        &self,
        frame: &Frame,
        rows: Range<usize>,
        top: f32,
        pack: impl Fn([u16; 3]) -> [T; N],
        out: &mut [T],
    ) {
        let part = rows.start * frame.width()..rows.end * frame.width();
        let light = frame.planes().each_ref().map(|plane| &plane[part.clone()]);
        self.code(light, top, pack, out);
    }

    /// Codes of red, green and blue, in the widest registers that there are: the same numbers in any.
    fn code<const N: usize, T: Copy>(
        &self,
        light: [&[f32]; 3],
        top: f32,
        pack: impl Fn([u16; 3]) -> [T; N],
        out: &mut [T],
    ) {
        pulp::Arch::new().dispatch(
            #[inline(always)]
            || self.code_in(light, top, pack, out),
        );
    }

    #[inline(always)]
    fn code_in<const N: usize, T: Copy>(
        &self,
        [r, g, b]: [&[f32]; 3],
        top: f32,
        pack: impl Fn([u16; 3]) -> [T; N],
        out: &mut [T],
    ) {
        let light = r.chunks(RUN).zip(g.chunks(RUN)).zip(b.chunks(RUN));
        // Channel by channel in registers that hold several samples, then pixel by pixel.
        let mut lit = [[0.0_f32; RUN]; 3];
        for (out, ((r, g), b)) in out.chunks_mut(N * RUN).zip(light) {
            let count = r.len();
            for (row, lit) in self.rows.iter().zip(&mut lit) {
                let lit = &mut lit[..count];
                for (v, ((&r, &g), &b)) in lit.iter_mut().zip(r.iter().zip(g).zip(b)) {
                    *v = dot(row, [r, g, b]);
                }
                self.table.run(lit);
            }
            let [r, g, b] = lit.each_ref().map(|lit| &lit[..count]);
            let codes = r.iter().zip(g).zip(b);
            for (out, ((&r, &g), &b)) in out.chunks_exact_mut(N).zip(codes) {
                out.copy_from_slice(&pack([r, g, b].map(|v| nearest(v * top))));
            }
        }
    }

    /// 8-bit RGB of some rows.
    pub(super) fn rgb8(&self, frame: &Frame, rows: Range<usize>) -> Vec<u8> {
        self.strip(frame, rows, 255.0, |v| v.map(|c| c as u8))
    }

    /// 16-bit RGB of some rows, native order.
    pub(super) fn rgb16(&self, frame: &Frame, rows: Range<usize>) -> Vec<u16> {
        self.strip(frame, rows, 65_535.0, |v| v)
    }

    /// 16-bit RGB of some rows, big-endian bytes.
    pub(super) fn rgb16_be(&self, frame: &Frame, rows: Range<usize>) -> Vec<u8> {
        self.strip(frame, rows, 65_535.0, |v| {
            let [r, g, b] = v.map(u16::to_be_bytes);
            [r[0], r[1], g[0], g[1], b[0], b[1]]
        })
    }
}

/// The nearest whole number to one of 0 to 65535: beside 2²³ an f32 has no room for parts, and keeps the whole in
/// its last bits.
#[inline(always)]
fn nearest(v: f32) -> u16 {
    (v + 8_388_608.0).to_bits() as u16
}

/// The frame as sRGB for a screen: 8 bits, red, green, blue and an opaque fourth byte, rows from the
/// top. Clipped to 0 to 1 after the matrix, rounded to the nearest code, on all cores.
#[must_use]
pub fn to_srgb8(frame: &Frame) -> Vec<u8> {
    to_srgb8_halved(frame, 0, Vec::new())
}

/// Rows that are halved and coded together.
const STRIP: usize = 16;

/// The same of the frame halved so many times, as [`crate::frame::to_width`] halves it, in the memory of `room`.
#[must_use]
pub(crate) fn to_srgb8_halved(frame: &Frame, times: usize, room: Vec<u8>) -> Vec<u8> {
    static CODER: OnceLock<Coder> = OnceLock::new();
    let coder = CODER.get_or_init(|| Coder::new(OutputSpace::Srgb));
    let halves = Halves::new(frame, times);
    let [width, height] = halves.size();
    let mut out = room;
    out.resize(4 * width * height, 0);
    out.par_chunks_mut(4 * width * STRIP)
        .enumerate()
        .for_each_init(
            || halves.room(),
            |room, (strip, out)| {
                let rows = strip * STRIP..height.min((strip + 1) * STRIP);
                let light = halves.rows(rows, room);
                let opaque = |[r, g, b]: [u16; 3]| [r as u8, g as u8, b as u8, 255];
                coder.code(light, 255.0, opaque, out);
            },
        );
    out
}
