//! EXR: three channels of linear light, with chromaticities.
//!
//! Blocks of rows are made light and packed on all cores: the library's own way asks for one pixel at a time, on
//! the thread that writes.

use super::strips::{Strips, in_order};
use super::{Output, WriteError, gave_up};
use crate::frame::Frame;
use crate::frame::matrix::{Rows, mul};
use crate::watch::Watch;
use exr::block::chunk::Chunk;
use exr::block::writer::ChunksWriter as _;
use exr::block::{BlockIndex, UncompressedBlock};
use exr::compression::Compression;
use exr::error::Error;
use exr::math::Vec2;
use exr::meta::attribute::{ChannelDescription, Chromaticities, LineOrder, SampleType};
use exr::meta::header::{Header, ImageAttributes, LayerAttributes};
use exr::meta::{BlockDescription, Headers};
use exr::prelude::f16;
use std::io::{Seek, Write};
use std::ops::Range;

const FLOATS: Compression = Compression::Uncompressed;
const HALVES: Compression = Compression::PIZ;

/// Bytes of a strip, about; at least one block.
const STRIP: usize = 1 << 20;

/// Largest half-precision number.
const HALF: f32 = 65_504.0;

pub(super) fn encode<W: Write + Seek + Send>(
    sink: &mut W,
    frame: &Frame,
    output: &Output,
    watch: &Watch,
) -> Result<(), WriteError> {
    let (space, _) = output.space.parts();
    let matrix = space.from_working().rows_f32();
    let headers: Headers = [header(frame, output)].into_iter().collect();
    let kind = headers[0].compression;
    let lines = kind.scan_lines_per_block();
    let bytes = headers[0].channels.bytes_per_pixel * frame.width();
    let strips = Strips {
        height: frame.height(),
        rows: lines * (STRIP / (bytes * lines)).max(1),
    };
    let block = |rows: Range<usize>| {
        let index = BlockIndex {
            layer: 0,
            pixel_position: Vec2(0, rows.start),
            pixel_size: Vec2(frame.width(), rows.len()),
            level: Vec2(0, 0),
        };
        let data = if output.half {
            let half = |v: f32| f16::from_f32(v.clamp(-HALF, HALF)).to_ne_bytes();
            light(frame, rows, &matrix, half)
        } else {
            light(frame, rows, &matrix, f32::to_ne_bytes)
        };
        let block = UncompressedBlock { index, data };
        block.compress_to_chunk(&headers).map_err(failed)
    };
    let strip = |n: usize| -> Result<Vec<Chunk>, WriteError> {
        let rows = strips.rows_of(n);
        let blocks = rows.clone().step_by(lines);
        blocks
            .map(|y| block(y..(y + lines).min(rows.end)))
            .collect()
    };
    // The library knows errors of its own only: ours is kept beside it.
    let mut fault = None;
    let result = exr::block::write(sink, headers.clone(), true, |_, writer| {
        let put = |n: usize, chunks: Vec<Chunk>| {
            let first = strips.rows_of(n).start / lines;
            let mut numbered = (first..).zip(chunks);
            numbered.try_for_each(|(n, chunk)| writer.write_chunk(n, chunk).map_err(failed))
        };
        in_order(strips, watch, strip, put).map_err(|e| {
            fault = Some(e);
            Error::Aborted
        })
    });
    match fault {
        Some(fault) => Err(fault),
        None => result.map_err(failed),
    }
}

fn header(frame: &Frame, output: &Output) -> Header {
    let size = Vec2(frame.width(), frame.height());
    let (sample, kind) = if output.half {
        (SampleType::F16, HALVES)
    } else {
        (SampleType::F32, FLOATS)
    };
    // In the order of their names, as the format asks for.
    let channels = ["B", "G", "R"].map(|name| ChannelDescription::named(name, sample));
    let (space, _) = output.space.parts();
    let [red, green, blue, white] = space
        .chromaticities()
        .map(|[x, y]| Vec2(x as f32, y as f32));
    let mut shared = ImageAttributes::with_size(size);
    shared.chromaticities = Some(Chromaticities {
        red,
        green,
        blue,
        white,
    });
    Header::new("".into(), size, channels.into_iter().collect())
        .with_encoding(kind, BlockDescription::ScanLines, LineOrder::Increasing)
        .with_attributes(LayerAttributes::default())
        .with_shared_attributes(shared)
}

/// Rows in other primaries: of each first blue, then green, then red, `N` bytes a sample.
fn light<const N: usize>(
    frame: &Frame,
    rows: Range<usize>,
    matrix: &Rows,
    sample: impl Fn(f32) -> [u8; N],
) -> Vec<u8> {
    let width = frame.width();
    let mut out = vec![0_u8; 3 * N * width * rows.len()];
    for (out, y) in out.chunks_exact_mut(3 * N * width).zip(rows) {
        let part = y * width..(y + 1) * width;
        let [r, g, b] = frame.planes().each_ref().map(|p| &p[part.clone()]);
        let (blue, rest) = out.split_at_mut(N * width);
        let (green, red) = rest.split_at_mut(N * width);
        let out = red
            .chunks_exact_mut(N)
            .zip(green.chunks_exact_mut(N))
            .zip(blue.chunks_exact_mut(N));
        let light = r.iter().zip(g).zip(b);
        for (((red, green), blue), ((&r, &g), &b)) in out.zip(light) {
            let [r, g, b] = mul(matrix, [r, g, b]).map(&sample);
            red.copy_from_slice(&r);
            green.copy_from_slice(&g);
            blue.copy_from_slice(&b);
        }
    }
    out
}

fn failed(e: Error) -> WriteError {
    match e {
        Error::Io(e) => WriteError::System(e),
        other => gave_up("EXR", &other),
    }
}
