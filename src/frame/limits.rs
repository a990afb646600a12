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
    #[error("{name} is {width} × {height} pixels; a side may have 1 to {MAX_SIDE} pixels")]
    Side {
        /// The file.
        name: String,
        /// Pixels across.
        width: u64,
        /// Pixels down.
        height: u64,
    },
    /// Too many pixels.
    #[error(
        "{name} is {width} × {height} = {} megapixels; the limit is 100 megapixels",
        width * height / 1_000_000
    )]
    Area {
        /// The file.
        name: String,
        /// Pixels across.
        width: u64,
        /// Pixels down.
        height: u64,
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
    Side(u64, u64),
    Area(u64, u64),
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
            Self::Side(width, height) => ReadError::Side {
                name,
                width,
                height,
            },
            Self::Area(width, height) => ReadError::Area {
                name,
                width,
                height,
            },
            Self::Refused(reason) => ReadError::Refused { name, reason },
            Self::Damaged(kind, reason) => ReadError::Damaged { name, kind, reason },
        }
    }
}

/// Refuses a picture of no pixels, of too long a side or of too large an area.
pub(super) fn check_sides(width: u64, height: u64) -> Result<(usize, usize), Fault> {
    let side = 1..=MAX_SIDE;
    if !side.contains(&width) || !side.contains(&height) {
        return Err(Fault::Side(width, height));
    }
    if width * height > MAX_PIXELS {
        return Err(Fault::Area(width, height));
    }
    match (usize::try_from(width), usize::try_from(height)) {
        (Ok(w), Ok(h)) => Ok((w, h)),
        _ => Err(Fault::Side(width, height)),
    }
}

/// Text from outside as one short line: control characters become spaces.
pub(super) fn one_line(text: &str) -> String {
    let flat: String = text
        .chars()
        .map(|c| if c.is_control() { ' ' } else { c })
        .collect();
    let mut line: String = flat.split_whitespace().collect::<Vec<_>>().join(" ");
    if line.chars().count() > 160 {
        line = line.chars().take(159).chain(['…']).collect();
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
    fn a_decoders_words_stay_on_one_line() {
        assert_eq!(
            one_line("a\nb\t\u{1b}[2J c"),
            "a b [2J c",
            "control characters are gone"
        );
    }
}
