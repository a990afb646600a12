//! Light to codes: matrix, clip, curve and rounding in one pass over a strip.

use super::OutputSpace;
use crate::colour::transfer::Curve;
use crate::frame::Frame;
use crate::frame::halves::Halves;
use crate::frame::matrix::{Rows, dot};
use crate::frame::table::{ByteTable, EncodeTable};
use rayon::prelude::*;
use std::ops::Range;
use std::sync::OnceLock;

/// Samples of a channel that are worked on together; a few of such runs stay in the nearest cache.
const RUN: usize = 512;

/// A curve that turns light into codes.
pub(super) trait Curved {
    /// A code before it is laid out.
    type Code: Copy + Default;

    fn of(curve: Curve) -> Self;

    /// Codes of light, which may be overwritten.
    fn run(&self, light: &mut [f32], codes: &mut [Self::Code]);
}

/// Codes of 0 to 1, for 16 bits.
impl Curved for EncodeTable {
    type Code = f32;

    fn of(curve: Curve) -> Self {
        Self::new(curve)
    }

    #[inline(always)]
    fn run(&self, light: &mut [f32], codes: &mut [f32]) {
        self.run(light);
        codes.copy_from_slice(light);
    }
}

impl Curved for ByteTable {
    type Code = u32;

    fn of(curve: Curve) -> Self {
        Self::new(curve)
    }

    #[inline(always)]
    fn run(&self, light: &mut [f32], codes: &mut [u32]) {
        self.run(light, codes);
    }
}

/// From working light to codes of an output space.
pub(super) struct Coder<T> {
    rows: Rows,
    table: T,
}

/// To 16-bit codes.
pub(super) type WordCoder = Coder<EncodeTable>;

/// To 8-bit codes.
pub(super) type ByteCoder = Coder<ByteTable>;

impl<T: Curved> Coder<T> {
    pub(super) fn new(space: OutputSpace) -> Self {
        let (primaries, curve) = space.parts();
        Self {
            rows: primaries.from_working().rows_f32(),
            table: T::of(curve),
        }
    }

    /// Codes of red, green and blue, in the widest registers that there are: the same numbers in any. `pack` lays
    /// out one pixel's three codes.
    fn code<const N: usize, P: Copy>(
        &self,
        light: [&[f32]; 3],
        pack: impl Fn([T::Code; 3]) -> [P; N],
        out: &mut [P],
    ) {
        pulp::Arch::new().dispatch(
            #[inline(always)]
            || self.code_in(light, pack, out),
        );
    }

    #[inline(always)]
    fn code_in<const N: usize, P: Copy>(
        &self,
        [r, g, b]: [&[f32]; 3],
        pack: impl Fn([T::Code; 3]) -> [P; N],
        out: &mut [P],
    ) {
        let light = r.chunks(RUN).zip(g.chunks(RUN)).zip(b.chunks(RUN));
        // Channel by channel in registers that hold several samples, then pixel by pixel.
        let (mut lit, mut codes) = ([0.0_f32; RUN], [[T::Code::default(); RUN]; 3]);
        for (out, ((r, g), b)) in out.chunks_mut(N * RUN).zip(light) {
            let count = r.len();
            for (row, codes) in self.rows.iter().zip(&mut codes) {
                let lit = &mut lit[..count];
                for (v, ((&r, &g), &b)) in lit.iter_mut().zip(r.iter().zip(g).zip(b)) {
                    *v = dot(row, [r, g, b]);
                }
                self.table.run(lit, &mut codes[..count]);
            }
            let [r, g, b] = codes.each_ref().map(|codes| &codes[..count]);
            let codes = r.iter().zip(g).zip(b);
            for (out, ((&r, &g), &b)) in out.chunks_exact_mut(N).zip(codes) {
                out.copy_from_slice(&pack([r, g, b]));
            }
        }
    }

    /// Codes of some rows, interleaved `N` to a pixel, on the core that asks: strips go to all of them.
    fn strip<const N: usize, P: Default + Copy>(
        &self,
        frame: &Frame,
        rows: Range<usize>,
        pack: impl Fn([T::Code; 3]) -> [P; N],
    ) -> Vec<P> {
        let part = rows.start * frame.width()..rows.end * frame.width();
        let light = frame.planes().each_ref().map(|plane| &plane[part.clone()]);
        let mut out = vec![P::default(); N * part.len()];
        self.code(light, pack, &mut out);
        out
    }
}

impl WordCoder {
    /// RGB of some rows, native order.
    pub(super) fn rgb(&self, frame: &Frame, rows: Range<usize>) -> Vec<u16> {
        self.strip(frame, rows, |v| v.map(nearest))
    }

    /// RGB of some rows, big-endian bytes.
    pub(super) fn rgb_be(&self, frame: &Frame, rows: Range<usize>) -> Vec<u8> {
        self.strip(frame, rows, |v| {
            let [r, g, b] = v.map(|v| nearest(v).to_be_bytes());
            [r[0], r[1], g[0], g[1], b[0], b[1]]
        })
    }
}

impl ByteCoder {
    /// RGB of some rows.
    pub(super) fn rgb(&self, frame: &Frame, rows: Range<usize>) -> Vec<u8> {
        self.strip(frame, rows, |v| v.map(|c| c as u8))
    }
}

/// The nearest of 65535 codes to one of 0 to 1: beside 2²³ an f32 has no room for parts, and keeps the whole in its last
/// bits.
#[inline(always)]
fn nearest(v: f32) -> u16 {
    (v * 65_535.0 + 8_388_608.0).to_bits() as u16
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
    static CODER: OnceLock<ByteCoder> = OnceLock::new();
    let coder = CODER.get_or_init(|| ByteCoder::new(OutputSpace::Srgb));
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
                let opaque = |[r, g, b]: [u32; 3]| (r | g << 8 | b << 16 | 255 << 24).to_le_bytes();
                coder.code(light, opaque, out);
            },
        );
    out
}
