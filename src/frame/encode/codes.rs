//! Light to codes.

use super::OutputSpace;
use crate::frame::Frame;
use crate::frame::matrix::{Rows, mul};
use crate::frame::table::EncodeTable;
use rayon::prelude::*;
use std::ops::Range;

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

    /// Codes of 0 to `top`, rounded to the nearest, interleaved `N` to a pixel. `pack` lays out one
    /// pixel's three codes.
    fn all<const N: usize, T: Send + Default + Copy>(
        &self,
        frame: &Frame,
        rows: Range<usize>,
        top: f32,
        pack: impl Fn([f32; 3]) -> [T; N] + Sync,
    ) -> Vec<T> {
        let width = frame.width();
        let part = rows.start * width..rows.end * width;
        let mut out = vec![T::default(); N * part.len()];
        let [r, g, b] = frame.planes().each_ref().map(|plane| &plane[part.clone()]);
        out.par_chunks_exact_mut(N * width)
            .zip(r.par_chunks_exact(width))
            .zip(g.par_chunks_exact(width))
            .zip(b.par_chunks_exact(width))
            .for_each(|(((out, r), g), b)| {
                let light = r.iter().zip(g).zip(b);
                for (out, ((&r, &g), &b)) in out.chunks_exact_mut(N).zip(light) {
                    let lit = mul(&self.rows, [r, g, b]);
                    out.copy_from_slice(&pack(lit.map(|v| self.table.code(v) * top + 0.5)));
                }
            });
        out
    }

    /// 8-bit RGB of some rows.
    pub(super) fn rgb8(&self, frame: &Frame, rows: Range<usize>) -> Vec<u8> {
        self.all(frame, rows, 255.0, |v| v.map(|c| c as u8))
    }

    /// 8-bit RGB and an opaque fourth byte.
    pub(super) fn rgba8(&self, frame: &Frame) -> Vec<u8> {
        self.all(frame, 0..frame.height(), 255.0, |[r, g, b]| {
            [r as u8, g as u8, b as u8, 255]
        })
    }

    /// 16-bit RGB, native order.
    pub(super) fn rgb16(&self, frame: &Frame) -> Vec<u16> {
        self.all(frame, 0..frame.height(), 65_535.0, |v| v.map(|c| c as u16))
    }

    /// 16-bit RGB, big-endian bytes.
    pub(super) fn rgb16_be(&self, frame: &Frame) -> Vec<u8> {
        self.all(frame, 0..frame.height(), 65_535.0, |v| {
            let [r, g, b] = v.map(|c| (c as u16).to_be_bytes());
            [r[0], r[1], g[0], g[1], b[0], b[1]]
        })
    }
}

/// The frame as sRGB for a screen: 8 bits, red, green, blue and an opaque fourth byte, rows from the
/// top. Clipped to 0 to 1 after the matrix, rounded to the nearest code, on all cores.
#[must_use]
pub fn to_srgb8(frame: &Frame) -> Vec<u8> {
    Coder::new(OutputSpace::Srgb).rgba8(frame)
}
