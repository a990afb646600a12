//! What a reader refuses, and the bounds it checks before a decoder sees a file.
//!
//! A decoder trusts the sizes in a file's header; these bounds are checked on the header alone, so
//! that a few hundred bytes cannot ask for gigabytes.

/// Largest file read, in bytes: 2 GiB.
pub const MAX_FILE_BYTES: u64 = 2 << 30;
/// Longest side read, in pixels.
pub const MAX_SIDE: u64 = 16_384;
/// Largest area read, in pixels: 100 megapixels.
pub const MAX_PIXELS: u64 = 100_000_000;
/// Longest side of a PNG, JPEG or TIFF of 8 or 16 bits that is scaled to [`MAX_SIDE`] as it is read.
pub const MAX_SIDE_SCALED: u64 = 65_535;
/// Largest area, in pixels, that is scaled to [`MAX_PIXELS`] as it is read: 400 megapixels.
pub const MAX_PIXELS_SCALED: u64 = 400_000_000;
/// Most bytes of decoded samples that a picture may need while it is scaled.
pub const MAX_CODES: u64 = 2_400_000_000;
/// No coding that is read packs a sample's bits more than 4096-fold: LZW's longest word stands for some
/// 4 kB in 12 bits, deflate reaches 1032 (RFC 1951), a JPEG's emptiest block 64 samples in a bit.
const DENSEST: u64 = 4096;
/// Most channels in one layer of an EXR.
pub const MAX_CHANNELS: usize = 64;

/// Why a still cannot be read: one sentence naming the file, the quantity and its limit.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// The file cannot be opened or read.
    #[error("{name} cannot be read: {source}")]
    Io {
        /// The file.
        name: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// A folder, a device, a pipe.
    #[error("{name} is {what}, not a picture file")]
    NotAFile {
        /// The path.
        name: String,
        /// What it is, with its article.
        what: &'static str,
    },
    /// Nothing in it.
    #[error("{name} is empty (0 bytes)")]
    Empty {
        /// The file.
        name: String,
    },
    /// More bytes than are read.
    #[error("{name} is {bytes} bytes long; the limit is {MAX_FILE_BYTES} bytes (2 GiB)")]
    TooManyBytes {
        /// The file.
        name: String,
        /// Its length.
        bytes: u64,
    },
    /// A side too long, or none.
    #[error("{name} is {width} × {height} pixels; a side may have 1 to {limit} pixels")]
    Side {
        /// The file.
        name: String,
        /// Pixels across.
        width: u64,
        /// Pixels down.
        height: u64,
        /// The longest side that its kind of file may have.
        limit: u64,
    },
    /// Too many pixels.
    #[error(
        "{name} is {width} × {height} = {} megapixels; the limit is {} megapixels",
        width * height / 1_000_000,
        limit / 1_000_000
    )]
    Area {
        /// The file.
        name: String,
        /// Pixels across.
        width: u64,
        /// Pixels down.
        height: u64,
        /// The largest area that its kind of file may have, in pixels.
        limit: u64,
    },
    /// A kind of file, or of content, that is not read.
    #[error("{name} {reason}")]
    Refused {
        /// The file.
        name: String,
        /// The rest of the sentence: what it is and what to do instead.
        reason: String,
    },
    /// The decoder gave up.
    #[error("{name} is damaged or cut short: the {kind} decoder says {reason:?}")]
    Damaged {
        /// The file.
        name: String,
        /// "PNG", "JPEG", "TIFF" or "EXR".
        kind: &'static str,
        /// The decoder's own words, on one line.
        reason: String,
    },
}

/// Why a decoder would not, before the file's name is known.
#[derive(Debug)]
pub(super) enum Fault {
    /// Width, height, and the limit that they break.
    Side(u64, u64, u64),
    Area(u64, u64, u64),
    Refused(String),
    Damaged(&'static str, String),
}

impl Fault {
    pub(super) fn refused(reason: impl Into<String>) -> Self {
        Self::Refused(reason.into())
    }

    pub(super) fn damaged(kind: &'static str, error: &impl std::fmt::Display) -> Self {
        Self::Damaged(kind, one_line(&error.to_string()))
    }

    pub(super) fn of(self, name: &str) -> ReadError {
        let name = name.to_owned();
        match self {
            Self::Side(width, height, limit) => ReadError::Side {
                name,
                width,
                height,
                limit,
            },
            Self::Area(width, height, limit) => ReadError::Area {
                name,
                width,
                height,
                limit,
            },
            Self::Refused(reason) => ReadError::Refused { name, reason },
            Self::Damaged(kind, reason) => ReadError::Damaged { name, kind, reason },
        }
    }
}

/// Refuses a picture of no pixels, of too long a side or of too large an area.
pub(super) fn check_sides(width: u64, height: u64) -> Result<(usize, usize), Fault> {
    check(width, height, MAX_SIDE, MAX_PIXELS)
}

/// The same for a picture of integers that may be larger, since it is scaled as it is read.
///
/// `bits` are those of a decoded pixel, `packed` the ones that the file codes, `file` the file's bytes: a
/// short file that promises a vast picture is refused before memory is asked for.
pub(super) fn check_scaled(
    width: u64,
    height: u64,
    (bits, packed): (u64, u64),
    file: usize,
) -> Result<(usize, usize), Fault> {
    let sides = check(width, height, MAX_SIDE_SCALED, MAX_PIXELS_SCALED)?;
    if check_sides(width, height).is_ok() {
        return Ok(sides);
    }
    let area = width * height;
    if area * bits / 8 > MAX_CODES {
        return Err(Fault::refused(format!(
            "is {width} × {height} pixels, {} MB when decoded; the limit is {} MB: export it smaller",
            area * bits / 8_000_000,
            MAX_CODES / 1_000_000
        )));
    }
    if area * packed / 8 / DENSEST > file as u64 {
        return Err(Fault::refused(format!(
            "is {file} bytes long, which cannot hold the {width} × {height} pixels that it promises"
        )));
    }
    Ok(sides)
}

fn check(width: u64, height: u64, longest: u64, largest: u64) -> Result<(usize, usize), Fault> {
    let side = 1..=longest;
    if !side.contains(&width) || !side.contains(&height) {
        return Err(Fault::Side(width, height, longest));
    }
    if width * height > largest {
        return Err(Fault::Area(width, height, largest));
    }
    match (usize::try_from(width), usize::try_from(height)) {
        (Ok(w), Ok(h)) => Ok((w, h)),
        _ => Err(Fault::Side(width, height, longest)),
    }
}

/// Text from outside as one short line: control characters become spaces.
pub(super) fn one_line(text: &str) -> String {
    in_one_line(text, 160)
}

/// A library's words in one line of `most` signs.
pub(crate) fn in_one_line(text: &str, most: usize) -> String {
    let flat: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let mut line: String = flat.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() > most {
        line = line.chars().take(most - 1).chain(['…']).collect();
    }
    line
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sides_and_area_are_bounded() {
        assert!(
            check_sides(16_384, 6_103).is_ok(),
            "just under 100 megapixels"
        );
        assert!(check_sides(1, 1).is_ok(), "one pixel is a picture");
        let long = check_sides(16_385, 1)
            .unwrap_err()
            .of("quay.png")
            .to_string();
        assert!(
            long.contains("quay.png is 16385 × 1") && long.contains("16384"),
            "{long}"
        );
        let area = check_sides(16_384, 6_104)
            .unwrap_err()
            .of("quay.png")
            .to_string();
        assert!(area.contains("100 megapixels"), "{area}");
        assert!(check_sides(0, 9).is_err(), "no pixels, no picture");
        assert!(check_sides(u64::MAX, u64::MAX).is_err(), "no overflow");
    }

    #[test]
    fn larger_pictures_are_bounded_by_what_they_need_and_by_what_a_file_can_hold() {
        let rgb8 = (24, 24);
        let check = |w, h, bits, file| check_scaled(w, h, bits, file).map_err(|f| f.of("quay"));
        assert!(
            check(20_000, 20_000, rgb8, 300_000).is_ok(),
            "400 megapixels"
        );
        assert!(check(65_535, 6_000, (48, 48), 1 << 20).is_ok(), "16 bits");
        let said = |w, h, bits, file| check(w, h, bits, file).unwrap_err().to_string();
        let area = said(20_001, 20_000, rgb8, 300_000);
        assert!(area.ends_with("the limit is 400 megapixels"), "{area}");
        let long = said(65_536, 1, rgb8, 300_000);
        assert!(long.ends_with("1 to 65535 pixels"), "{long}");
        // 400 megapixels of four 16-bit samples are 3.2 GB.
        let bytes = said(20_000, 20_000, (64, 64), 1 << 20);
        assert!(bytes.contains("3200 MB when decoded"), "{bytes}");
        // 1.2 GB over 4096 is 293 kB.
        let short = said(20_000, 20_000, rgb8, 290_000);
        assert!(short.contains("290000 bytes long"), "{short}");
        assert!(
            check(16_384, 6_000, rgb8, 90).is_ok(),
            "the decoder's to judge"
        );
    }

    #[test]
    fn a_decoders_words_stay_on_one_line() {
        assert_eq!(
            one_line("a\nb\t\u{1b}[2J c"),
            "a b [2J c",
            "control characters are gone"
        );
    }
}
