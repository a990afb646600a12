//! What a file's EXIF says about the camera that the picture was taken with.
//!
//! Source: EXIF 2.32 (CIPA DC-008), tags 33434, 33437, 34855, 37377, 37378, 37382, 37386, 40962, 40963,
//! 41486 to 41488, 41989; TIFF 6.0 for the layout: a header, then directories of twelve-byte entries.
//! Only these few entries are looked for, in the first directory and the one that it points to, and
//! nothing is allocated: a block that lies about its sizes or points to itself is simply silent. (Readers
//! that list every entry of every directory can be made to list the same bytes thousands of times.)

use crate::units::{Extent, FNumber, Metres, Seconds};
use std::ops::RangeInclusive;

/// The camera, as far as the file tells.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Exif {
    /// Focal length.
    pub focal_mm: Option<Extent>,
    /// The focal length that takes in as much from corner to corner on 36 × 24 mm.
    pub focal_35_mm: Option<Extent>,
    /// The sensor's sides, worked out from the resolution in its plane.
    pub sensor_mm: Option<[Extent; 2]>,
    /// The stop.
    pub stop: Option<FNumber>,
    /// Exposure index.
    pub iso: Option<u32>,
    /// How long the shutter was open.
    pub shutter_s: Option<Seconds>,
    /// Distance of focus.
    pub focus_m: Option<Metres>,
    /// Pixels of the picture that all of this was written for, as stored.
    pub written_for: Option<[u32; 2]>,
}

/// The tag that points to the camera's directory.
const CAMERA: u16 = 34_665;

impl Exif {
    /// From an EXIF block, or from a whole TIFF: both start with a TIFF header. What cannot be read is
    /// left out.
    pub(super) fn parse(block: &[u8]) -> Self {
        let block = block.strip_prefix(b"Exif\0\0").unwrap_or(block);
        Block::new(block).and_then(|b| b.exif()).unwrap_or_default()
    }

    /// Whether nothing is told.
    #[must_use]
    pub fn is_empty(&self) -> bool {
        Self {
            written_for: None,
            ..*self
        } == Self::default()
    }
}

/// A TIFF structure in either byte order.
struct Block<'a> {
    bytes: &'a [u8],
    big: bool,
}

impl<'a> Block<'a> {
    fn new(bytes: &'a [u8]) -> Option<Self> {
        let big = match bytes.get(..4)? {
            b"MM\0\x2A" => true,
            b"II\x2A\0" => false,
            _ => return None,
        };
        Some(Self { bytes, big })
    }

    fn half(&self, at: usize) -> Option<u16> {
        let pair = self.bytes.get(at..at.checked_add(2)?)?.try_into().ok()?;
        Some(if self.big {
            u16::from_be_bytes(pair)
        } else {
            u16::from_le_bytes(pair)
        })
    }

    fn word(&self, at: usize) -> Option<u32> {
        let four = self.bytes.get(at..at.checked_add(4)?)?.try_into().ok()?;
        Some(if self.big {
            u32::from_be_bytes(four)
        } else {
            u32::from_le_bytes(four)
        })
    }

    /// A place that is written down in the block.
    fn place(&self, at: usize) -> Option<usize> {
        usize::try_from(self.word(at)?).ok()
    }

    /// Where the entry of a tag begins in the directory at `directory`.
    fn entry(&self, directory: usize, tag: u16) -> Option<usize> {
        let count = usize::from(self.half(directory)?);
        let first = directory.checked_add(2)?;
        (0..count)
            .map_while(|i| {
                let at = first.checked_add(12 * i)?;
                Some((at, self.half(at)?))
            })
            .find(|(_, t)| *t == tag)
            .map(|(at, _)| at)
    }

    /// The first number of a tag.
    fn number(&self, directory: usize, tag: u16) -> Option<f64> {
        let at = self.entry(directory, tag)?;
        let (kind, count, value) = (self.half(at + 2)?, self.word(at + 4)?, at + 8);
        let signed = |at| Some(f64::from(self.word(at)?.cast_signed()));
        let ratio = |over: f64, under: f64| (under != 0.0).then(|| over / under);
        match (kind, count) {
            (_, 0) => None,
            (1, _) => Some(f64::from(*self.bytes.get(value)?)),
            // Two of these fit in the entry; more lie elsewhere.
            (3, 1 | 2) => Some(f64::from(self.half(value)?)),
            (3, _) => Some(f64::from(self.half(self.place(value)?)?)),
            (4, 1) => Some(f64::from(self.word(value)?)),
            (9, 1) => signed(value),
            (5, _) => {
                let far = self.place(value)?;
                let under = self.word(far.checked_add(4)?)?;
                ratio(f64::from(self.word(far)?), f64::from(under))
            }
            (10, _) => {
                let far = self.place(value)?;
                ratio(signed(far)?, signed(far.checked_add(4)?)?)
            }
            _ => None,
        }
    }

    fn exif(&self) -> Option<Exif> {
        let first = self.place(4)?;
        let camera = self.place(self.entry(first, CAMERA)? + 8)?;
        let number = |tag, range: RangeInclusive<f64>| {
            let value = self.number(camera, tag)?;
            range.contains(&value).then_some(value)
        };
        let mm = |tag| number(tag, 0.5..=5000.0).map(Extent::clamped);
        // Stop and time are told plainly, or as powers of two (APEX).
        let stop = number(33_437, 0.4..=256.0)
            .or_else(|| number(37_378, -2.0..=16.0).map(|a| (0.5 * a).exp2()));
        let shutter = number(33_434, 1e-6..=1e5)
            .or_else(|| number(37_377, -16.0..=20.0).map(|t| (-t).exp2()));
        let side = |tag| number(tag, 1.0..=1e6).map(|v| v as u32);
        let written_for = side(40_962).zip(side(40_963)).map(|(w, h)| [w, h]);
        Some(Exif {
            focal_mm: mm(37_386),
            focal_35_mm: mm(41_989),
            sensor_mm: self.sensor(camera, written_for),
            stop: stop.map(FNumber::clamped),
            // 65535 says that the index is told elsewhere.
            iso: number(34_855, 1.0..=65_534.0).map(|v| v as u32),
            shutter_s: shutter.map(Seconds::clamped),
            // 0 is not known, the largest there is infinity.
            focus_m: number(37_382, 1e-3..=1e5).map(Metres::clamped),
            written_for,
        })
    }

    /// Pixels over the resolution in the sensor's plane.
    fn sensor(&self, camera: usize, written_for: Option<[u32; 2]>) -> Option<[Extent; 2]> {
        let unit_mm = match self.number(camera, 41_488) {
            None => 25.4,
            Some(unit) => match unit as u8 {
                2 => 25.4,
                3 => 10.0,
                // Not in the standard, and written all the same.
                4 => 1.0,
                5 => 1e-3,
                _ => return None,
            },
        };
        let side = |tag, pixels: u32| {
            let mm = f64::from(pixels) / self.number(camera, tag)? * unit_mm;
            (1.0..=150.0).contains(&mm).then(|| Extent::clamped(mm))
        };
        let [w, h] = written_for?;
        Some([side(41_486, w)?, side(41_487, h)?])
    }
}
