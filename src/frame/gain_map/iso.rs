//! The binary form of a gain map's metadata.
//!
//! Source: ISO 21496-1, annex C (from memory). Big-endian: lowest version that may read it and the writer's,
//! 16 bits each; a byte of flags (128 three channels, 64 the plain picture's primaries; of earlier drafts: 8
//! one denominator for all); headroom of the plain and of the alternate picture; then for each channel the
//! least and largest gain, gamma, the plain and the alternate offset. Each is a fraction of 32-bit numbers,
//! signed above where it may be negative.

use super::{About, Channel};

const THREE: u8 = 0x80;
const BASE_PRIMARIES: u8 = 0x40;
const ONE_DENOMINATOR: u8 = 0x08;

pub(super) fn parse(bytes: &[u8]) -> Result<About, String> {
    let cut = || "its metadata is cut short".to_owned();
    let mut fields = Fields {
        bytes,
        common: None,
    };
    let lowest = u16::from_be_bytes(fields.take().ok_or_else(cut)?);
    if lowest != 0 {
        return Err(format!("its metadata is of version {lowest}; 0 is read"));
    }
    let _writer: [u8; 2] = fields.take().ok_or_else(cut)?;
    let [flags] = fields.take().ok_or_else(cut)?;
    if flags & ONE_DENOMINATOR != 0 {
        fields.common = Some(u32::from_be_bytes(fields.take().ok_or_else(cut)?));
    }
    fields.about(flags).ok_or_else(cut)
}

struct Fields<'a> {
    bytes: &'a [u8],
    /// The one denominator, where there is one.
    common: Option<u32>,
}

impl Fields<'_> {
    fn about(&mut self, flags: u8) -> Option<About> {
        let base_headroom = self.fraction(false)?;
        let alternate_headroom = self.fraction(false)?;
        let first = self.channel()?;
        let channels = if flags & THREE == 0 {
            [first; 3]
        } else {
            [first, self.channel()?, self.channel()?]
        };
        Some(About {
            channels,
            base_headroom,
            alternate_headroom,
            base_primaries: flags & BASE_PRIMARIES != 0,
        })
    }

    fn channel(&mut self) -> Option<Channel> {
        Some(Channel {
            min: self.fraction(true)?,
            max: self.fraction(true)?,
            gamma: self.fraction(false)?,
            offset_base: self.fraction(true)?,
            offset_alternate: self.fraction(true)?,
        })
    }

    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (field, rest) = self.bytes.split_first_chunk()?;
        self.bytes = rest;
        Some(*field)
    }

    /// Over a denominator of 0 it is no number, which the bounds refuse.
    fn fraction(&mut self, signed: bool) -> Option<f64> {
        let over: [u8; 4] = self.take()?;
        let over = if signed {
            f64::from(i32::from_be_bytes(over))
        } else {
            f64::from(u32::from_be_bytes(over))
        };
        let under = match self.common {
            Some(common) => common,
            None => u32::from_be_bytes(self.take()?),
        };
        Some(if under == 0 {
            f64::NAN
        } else {
            over / f64::from(under)
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn words(words: &[i32]) -> Vec<u8> {
        words.iter().flat_map(|w| w.to_be_bytes()).collect()
    }

    #[test]
    fn fields_come_in_the_standards_order() {
        let mut bytes = vec![0, 0, 0, 0, BASE_PRIMARIES];
        bytes.extend(words(&[0, 1, 13, 5, -1, 4, 5, 2, 3, 2, 1, 64, -1, 64]));
        let about = parse(&bytes).unwrap();
        let want = Channel {
            min: -0.25,
            max: 2.5,
            gamma: 1.5,
            offset_base: 1.0 / 64.0,
            offset_alternate: -1.0 / 64.0,
        };
        assert_eq!(about.channels, [want; 3], "one channel for three");
        assert_eq!(
            (about.base_headroom, about.alternate_headroom),
            (0.0, 2.6),
            "headroom"
        );
        assert!(about.base_primaries && !about.darkens(), "flags");
        // The same over one denominator.
        let mut common = vec![0, 0, 0, 0, ONE_DENOMINATOR];
        common.extend(words(&[320, 0, 832, -80, 800, 480, 5, -5]));
        let shared = parse(&common).unwrap();
        assert_eq!(shared.channels, about.channels, "one denominator");
        assert!(!shared.base_primaries, "the alternate's primaries");
        for short in 0..bytes.len() {
            let said = parse(&bytes[..short]).unwrap_err();
            assert!(said.contains("cut short"), "{short} bytes: {said}");
        }
        bytes[1] = 1;
        assert!(
            parse(&bytes).unwrap_err().contains("version 1"),
            "a later version"
        );
    }

    #[test]
    fn what_cannot_be_is_refused() {
        let with = |at: usize, value: i32| {
            let mut fields = [0, 1, 13, 5, 0, 1, 5, 2, 1, 1, 1, 64, 1, 64];
            fields[at] = value;
            let bytes = [vec![0, 0, 0, 0, 0], words(&fields)].concat();
            About::from_iso(&bytes)
        };
        assert!(with(0, 0).is_ok(), "as it is");
        for (at, value, word) in [
            (2, 4000, "headroom of 800 stops"),
            (3, 0, "headroom"),
            (4, 3, "gain of 3 to 2.5 stops"),
            (6, 400, "gain of 0 to 200 stops"),
            (8, 0, "gamma of 0 "),
            (10, 640, "offset of 10 "),
            (13, 0, "offset of NaN"),
        ] {
            let said = with(at, value).unwrap_err();
            assert!(said.contains(word), "{said} for {word}");
        }
    }
}
