//! JPEG: 8-bit RGB, colour at full size, with its profile.
//!
//! The picture is coded in strips on all cores. A strip is a file of its own; since every strip has the same
//! tables and as many blocks as the restart interval says, their scans laid one behind the other with
//! restart markers between are the scan of the whole (ITU-T T.81, B.2.1 and F.1.2.3).

use super::codes::ByteCoder;
use super::strips::{Strips, in_order};
use super::{Output, WriteError, gave_up};
use crate::frame::Frame;
use crate::watch::Watch;
use jpeg_encoder::{ColorType, Encoder, EncodingError, SamplingFactor};
use std::io::Write;

/// Side of a block.
const BLOCK: usize = 8;
/// Rows of a strip, unless that is more blocks than a restart interval can say.
const STRIP: usize = 64;

pub(super) fn encode(
    sink: &mut (impl Write + Send),
    frame: &Frame,
    output: &Output,
    watch: &Watch,
) -> Result<(), WriteError> {
    let (width, height) = (frame.width(), frame.height());
    let across = width.div_ceil(BLOCK);
    let interval = across * (usize::from(u16::MAX) / across).clamp(1, STRIP / BLOCK);
    let rows = interval / across * BLOCK;
    let (Ok(side), Ok(_), Ok(interval)) = (
        u16::try_from(width),
        u16::try_from(height),
        u16::try_from(interval),
    ) else {
        return Err(gave_up("JPEG", &"a side may have 65535 pixels at most"));
    };
    let coder = ByteCoder::new(output.space);
    let strips = Strips { height, rows };
    let strip = |n: usize| -> Result<Vec<u8>, WriteError> {
        let part = strips.rows_of(n);
        let codes = coder.rgb(frame, part.clone());
        let mut file = Vec::new();
        let mut encoder = Encoder::new(&mut file, output.quality.clamp(1, 100));
        encoder.set_sampling_factor(SamplingFactor::R_4_4_4);
        if height > rows {
            encoder.set_restart_interval(interval);
        }
        if n == 0 {
            encoder
                .add_icc_profile(&output.space.profile())
                .map_err(failed)?;
        }
        encoder
            .encode(&codes, side, part.len() as u16, ColorType::Rgb)
            .map_err(failed)?;
        Ok(file)
    };
    let mut put = |bytes: &[u8]| sink.write_all(bytes).map_err(WriteError::System);
    in_order(strips, watch, strip, |n, mut file| {
        let broken = || gave_up("JPEG", &"a strip came out without a scan");
        let parts = Parts::of(&file).ok_or_else(broken)?;
        if n == 0 {
            let whole = (height as u16).to_be_bytes();
            file[parts.height..parts.height + 2].copy_from_slice(&whole);
            put(&file[..parts.scan])?;
        } else {
            put(&[0xFF, 0xD0 + ((n - 1) % 8) as u8])?;
        }
        // All but the end-of-image marker.
        put(file.get(parts.scan..file.len() - 2).ok_or_else(broken)?)
    })?;
    sink.write_all(&[0xFF, 0xD9]).map_err(WriteError::System)
}

/// Where things lie in a file.
struct Parts {
    /// The frame header's number of lines.
    height: usize,
    /// The first byte of the scan's data.
    scan: usize,
}

impl Parts {
    fn of(file: &[u8]) -> Option<Self> {
        let mut at = 2;
        let mut height = None;
        loop {
            let [0xFF, marker, high, low] = *file.get(at..at + 4)? else {
                return None;
            };
            let length = usize::from(u16::from_be_bytes([high, low]));
            match marker {
                0xC0 | 0xC1 => height = Some(at + 5),
                0xDA => {
                    return Some(Self {
                        height: height?,
                        scan: at + 2 + length,
                    });
                }
                _ => {}
            }
            at += 2 + length;
        }
    }
}

fn failed(e: EncodingError) -> WriteError {
    match e {
        EncodingError::IoError(e) => WriteError::System(e),
        other => gave_up("JPEG", &other),
    }
}
