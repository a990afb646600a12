//! Writing a frame: EXR as light, PNG, TIFF and JPEG as codes with the profile that explains them.
//!
//! Codes are made by the matrix to the output's primaries, a clip to what the curve holds, and the
//! curve: no tone curve, so a bare sRGB still comes back with its own codes.

mod codes;
mod deflate;
mod exr;
mod jpeg;
mod png;
mod strips;
mod tiff;

pub use codes::to_srgb8;
pub(crate) use codes::to_srgb8_halved;
pub use png::encode_png_rgb8;

use super::atomic::save_atomically;
use super::{Frame, profile};
use crate::colour::primaries::Space;
use crate::colour::transfer::Curve;
use crate::watch::{Cancelled, Watch};
use serde::{Deserialize, Serialize};
use std::fs::File;
use std::io::{BufWriter, Seek, SeekFrom, Write};
use std::path::Path;

/// A kind of file that is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Kind {
    /// EXR: linear light, half or float.
    Exr,
    /// PNG, 16 bits.
    Png,
    /// TIFF, 16 bits.
    Tiff,
    /// JPEG, 8 bits.
    Jpeg,
}

impl Kind {
    /// By the name's ending: exr, png, tif, tiff, jpg or jpeg, in either case.
    ///
    /// # Errors
    /// [`WriteError::Kind`] for any other ending.
    pub fn of(path: &Path) -> Result<Self, WriteError> {
        let ending = path
            .extension()
            .unwrap_or_default()
            .to_string_lossy()
            .to_ascii_lowercase();
        match ending.as_str() {
            "exr" => Ok(Self::Exr),
            "png" => Ok(Self::Png),
            "tif" | "tiff" => Ok(Self::Tiff),
            "jpg" | "jpeg" => Ok(Self::Jpeg),
            _ => Err(WriteError::Kind {
                name: path.display().to_string(),
            }),
        }
    }
}

/// The colours of a picture that is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum OutputSpace {
    /// `acescg`: AP1 primaries, linear.
    #[serde(rename = "acescg")]
    AcesCg,
    /// `srgb`.
    Srgb,
    /// `srgb-linear`: BT.709 primaries, linear.
    SrgbLinear,
    /// `p3`: Display P3.
    P3,
    /// `bt2020-pq`: BT.2020 primaries, PQ.
    #[serde(rename = "bt2020-pq")]
    Bt2020Pq,
}

/// A word that names no output space.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the space {0:?} is not known; known are {list}", list = OutputSpace::words())]
pub struct UnknownSpace(pub String);

impl OutputSpace {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::AcesCg,
        Self::Srgb,
        Self::SrgbLinear,
        Self::P3,
        Self::Bt2020Pq,
    ];

    /// The word for it on the command line.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::AcesCg => "acescg",
            Self::Srgb => "srgb",
            Self::SrgbLinear => "srgb-linear",
            Self::P3 => "p3",
            Self::Bt2020Pq => "bt2020-pq",
        }
    }

    /// What a kind of file holds unless told otherwise: `acescg` in an EXR, sRGB in the others.
    #[must_use]
    pub const fn default_for(kind: Kind) -> Self {
        match kind {
            Kind::Exr => Self::AcesCg,
            Kind::Png | Kind::Tiff | Kind::Jpeg => Self::Srgb,
        }
    }

    /// Primaries and curve.
    #[must_use]
    pub const fn parts(self) -> (Space, Curve) {
        match self {
            Self::AcesCg => (Space::AcesCg, Curve::Linear),
            Self::Srgb => (Space::Srgb, Curve::Srgb),
            Self::SrgbLinear => (Space::Srgb, Curve::Linear),
            Self::P3 => (Space::DisplayP3, Curve::Srgb),
            Self::Bt2020Pq => (Space::Bt2020, Curve::Pq),
        }
    }

    fn words() -> String {
        Self::ALL.map(Self::word).join(", ")
    }

    /// The ICC profile that explains codes of this space.
    fn profile(self) -> Vec<u8> {
        let (space, curve) = self.parts();
        profile::bytes(space, curve)
    }
}

impl std::str::FromStr for OutputSpace {
    type Err = UnknownSpace;
    fn from_str(word: &str) -> Result<Self, UnknownSpace> {
        let known = Self::ALL.into_iter().find(|s| s.word() == word);
        known.ok_or_else(|| UnknownSpace(word.to_owned()))
    }
}

/// How a frame is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Output {
    /// Colours. An EXR always holds linear light, in this space's primaries.
    pub space: OutputSpace,
    /// EXR: half precision instead of float. Light beyond ±65504 is then clipped there.
    pub half: bool,
    /// JPEG: quality, 1 to 100.
    pub quality: u8,
}

impl Output {
    /// The usual settings for a kind of file: its default space, float, quality 92.
    #[must_use]
    pub const fn for_kind(kind: Kind) -> Self {
        Self {
            space: OutputSpace::default_for(kind),
            half: false,
            quality: 92,
        }
    }
}

/// Why a frame cannot be written: one sentence.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum WriteError {
    /// The name's ending is none that is written.
    #[error("{name} does not end in exr, png, tif, tiff, jpg or jpeg")]
    Kind {
        /// The path.
        name: String,
    },
    /// The file cannot be made.
    #[error("{name} cannot be written: {source}")]
    Io {
        /// The path.
        name: String,
        /// What the system said.
        source: std::io::Error,
    },
    /// The system refused, and the file's name is not known here.
    #[error("the picture cannot be written: {0}")]
    System(#[from] std::io::Error),
    /// It was told to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// An encoder gave up.
    #[error("the {kind} encoder gave up: {reason}")]
    Encoder {
        /// "PNG", "JPEG", "TIFF" or "EXR".
        kind: &'static str,
        /// Its own words.
        reason: String,
    },
}

/// Writes the frame to `path`, whole or not at all; the name's ending chooses the kind.
///
/// The picture is coded in strips on all cores, about a mebibyte of codes each (of an EXR whole blocks); besides the
/// frame, twelve strips a core are held, as codes or packed, whatever the picture's size. The same frame gives
/// the same bytes on any number of cores. `watch` moves strip by strip and ends at 1.
///
/// # Errors
/// [`WriteError`]: an unknown ending, a place that cannot be written to, an encoder that gave up; soon after
/// `watch` is cancelled, [`WriteError::Cancelled`]. Nothing is left behind then.
pub fn write(path: &Path, frame: &Frame, output: &Output, watch: &Watch) -> Result<(), WriteError> {
    let kind = Kind::of(path)?;
    let result = save_atomically(path, |file: &mut File| {
        let mut buffered = BufWriter::with_capacity(1 << 20, file);
        encode(&mut buffered, kind, frame, output, watch)?;
        buffered.flush().map_err(WriteError::System)?;
        Ok(watch.check()?)
    });
    result.map_err(|e| match e {
        WriteError::System(source) => WriteError::Io {
            name: path.display().to_string(),
            source,
        },
        other => other,
    })?;
    watch.set_progress(1.0);
    Ok(())
}

/// Writes the frame as a file of `kind` into `sink`; see [`write()`].
///
/// # Errors
/// [`WriteError`]: the sink failed, an encoder gave up, or it was told to stop.
pub fn write_bytes<W: Write + Seek + Send>(
    sink: &mut W,
    kind: Kind,
    frame: &Frame,
    output: &Output,
    watch: &Watch,
) -> Result<(), WriteError> {
    encode(sink, kind, frame, output, watch)?;
    watch.set_progress(1.0);
    Ok(())
}

fn encode<W: Write + Seek + Send>(
    sink: &mut W,
    kind: Kind,
    frame: &Frame,
    output: &Output,
    watch: &Watch,
) -> Result<(), WriteError> {
    let mut sink = Heeding { sink, watch };
    let result = match kind {
        Kind::Exr => exr::encode(&mut sink, frame, output, watch),
        Kind::Png => png::encode(&mut sink, frame, output.space, watch),
        Kind::Tiff => tiff::encode(&mut sink, frame, output.space, watch),
        Kind::Jpeg => jpeg::encode(&mut sink, frame, output, watch),
    };
    // An encoder that was stopped by its sink tells of that in its own words.
    watch.check()?;
    result
}

/// A sink that fails once its work is cancelled: encoders know no other way to be stopped.
struct Heeding<'a, W> {
    sink: &'a mut W,
    watch: &'a Watch,
}

impl<W: Write> Write for Heeding<'_, W> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        self.watch.check().map_err(std::io::Error::other)?;
        self.sink.write(bytes)
    }

    fn flush(&mut self) -> std::io::Result<()> {
        self.sink.flush()
    }
}

impl<W: Seek> Seek for Heeding<'_, W> {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.sink.seek(to)
    }
}

/// An encoder's refusal; a failure of the sink inside it stays a failure of the system.
fn gave_up(kind: &'static str, reason: &impl std::fmt::Display) -> WriteError {
    WriteError::Encoder {
        kind,
        reason: super::limits::one_line(&reason.to_string()),
    }
}
