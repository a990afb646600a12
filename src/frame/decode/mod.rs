//! Reading a still: what kind it is, its bounds, its decoder, and then its light.

mod exr;
mod further;
mod jpeg;
mod marks;
mod png;
mod sniff;
mod tiff;

use super::Encoding;
use super::Frame;
use super::develop::develop;
use super::exif::Exif;
use super::guard::guarded;
use super::limits::{Fault, MAX_FILE_BYTES, ReadError, one_line};
use super::native::Native;
use super::read_as::ReadAs;
use sniff::Content;
use std::fs::File;
use std::io::Read as _;
use std::path::Path;

/// A still that was read.
#[derive(Debug, Clone)]
pub struct Still {
    /// Its light by plain decoding; [`restore()`](super::restore::restore) brings it nearer to the scene's.
    pub frame: Frame,
    /// The encoding that was used. [`Encoding::Auto`] stays where the file's own colour data was
    /// followed and no other word says the same: an ICC profile, an EXR's chromaticities.
    pub encoding: Encoding,
    /// One plain sentence on how it was read, without a full stop, e.g. "16-bit PNG, embedded ICC
    /// profile converted".
    pub how: String,
    /// What the file says about the camera; nothing where it is silent.
    pub exif: Exif,
    /// The way back to the file's own channels, and what was cut off there.
    pub native: Native,
}

/// Reads a still from a file: PNG, JPEG, TIFF or EXR, told by its content and not by its name.
///
/// `how` is an [`Encoding`], normally [`Encoding::Auto`], or that and an input LUT ([`ReadAs`]). Alpha is dropped, orientation applied, values below 0
/// and above 1 kept; in files of floats NaN becomes 0 and ±∞ ±65504 (said in [`Still::how`]).
///
/// # Errors
/// [`ReadError`], one sentence: not a file, too large, a kind that is not read, damaged.
pub fn read(path: &Path, how: impl Into<ReadAs>) -> Result<Still, ReadError> {
    let name = path
        .file_name()
        .unwrap_or(path.as_os_str())
        .to_string_lossy()
        .into_owned();
    let io = |source| ReadError::Io {
        name: name.clone(),
        source,
    };
    // Asked before opening: opening a pipe would wait for its other end.
    let about = std::fs::metadata(path).map_err(io)?;
    if about.is_dir() {
        return Err(ReadError::NotAFile {
            name,
            what: "a folder",
        });
    }
    if !about.is_file() {
        return Err(ReadError::NotAFile {
            name,
            what: "a device or a pipe",
        });
    }
    if about.len() > MAX_FILE_BYTES {
        return Err(ReadError::TooManyBytes {
            name,
            bytes: about.len(),
        });
    }
    let mut bytes = Vec::with_capacity(usize::try_from(about.len()).unwrap_or(0));
    let file = File::open(path).map_err(io)?;
    file.take(MAX_FILE_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(io)?;
    read_bytes(&name, &bytes, how)
}

/// Reads a still from a file's bytes; `name` is what errors call it. See [`read`].
///
/// # Errors
/// As [`read`].
pub fn read_bytes(name: &str, bytes: &[u8], how: impl Into<ReadAs>) -> Result<Still, ReadError> {
    let how = how.into();
    if bytes.is_empty() {
        return Err(ReadError::Empty {
            name: one_line(name),
        });
    }
    if bytes.len() as u64 > MAX_FILE_BYTES {
        return Err(ReadError::TooManyBytes {
            name: one_line(name),
            bytes: bytes.len() as u64,
        });
    }
    let content = sniff::content(bytes);
    let kind = content.kind();
    let work = || {
        let raw = match content {
            Content::Png => png::decode(bytes),
            Content::Jpeg => jpeg::decode(bytes),
            Content::Tiff => tiff::decode(bytes),
            Content::Exr => exr::decode(bytes),
            Content::Other(what) => Err(Fault::refused(what)),
        }?;
        develop(raw, &how)
    };
    let result = guarded(work).unwrap_or_else(|panic| Err(Fault::damaged(kind, &panic)));
    result.map_err(|fault| fault.of(&one_line(name)))
}
