//! What a file is, by its first bytes. The name's ending is not asked.

/// A kind of content.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Content {
    Png,
    Jpeg,
    Tiff,
    Exr,
    /// Not read; the rest of the sentence after the file's name.
    Other(&'static str),
}

impl Content {
    pub(super) const fn kind(self) -> &'static str {
        match self {
            Self::Png => "PNG",
            Self::Jpeg => "JPEG",
            Self::Tiff => "TIFF",
            Self::Exr => "EXR",
            Self::Other(_) => "picture",
        }
    }
}

pub(super) const RAW: &str = "is a camera's raw file, which is not read: develop it in a raw \
                              converter and export a 16-bit TIFF or an EXR";
const HEIC: &str = "is a HEIC or AVIF picture, which is not read: export it as a JPEG, or as a \
                    16-bit TIFF where more than 8 bits matter";
const VIDEO: &str = "is a film file, not a still: export one frame as a PNG, TIFF or EXR";
const OTHER: &str =
    "is a picture of a kind that is not read: export it as a PNG, JPEG, TIFF or EXR";
const DPX: &str = "is a DPX frame or one of the format before it, which is not read: convert it to EXR or a 16-bit TIFF";
const NOTHING: &str = "is not a picture that can be read: PNG, JPEG, TIFF and EXR are";

/// Kinds that are not read, by a mark at an offset.
const MARKS: &[(usize, &[u8], &str)] = &[
    (0, b"\x46\x55\x4A\x49\x46\x49\x4C\x4D\x43\x43\x44", RAW),
    (0, b"IIU\0", RAW),
    (0, b"IIRO", RAW),
    (0, b"IIRS", RAW),
    (0, b"MMOR", RAW),
    (0, b"FOVb", RAW),
    (0, b"\0MRM", RAW),
    (8, b"CR\x02", RAW),
    (4, b"ftypcrx ", RAW),
    (4, b"ftyphei", HEIC),
    (4, b"ftyphev", HEIC),
    (4, b"ftypmif1", HEIC),
    (4, b"ftypmsf1", HEIC),
    (4, b"ftypavi", HEIC),
    (4, b"ftyp", VIDEO),
    (0, b"\x1A\x45\xDF\xA3", VIDEO),
    (0, b"\x06\x0E\x2B\x34", VIDEO),
    (8, b"AVI ", VIDEO),
    (8, b"WEBP", OTHER),
    (0, b"GIF8", OTHER),
    (0, b"8BPS", OTHER),
    (0, b"BM", OTHER),
    (0, b"%PDF", OTHER),
    (0, b"#?RADIANCE", OTHER),
    (0, b"#?RGBE", OTHER),
    (0, b"\0\0\0\x0CJXL ", OTHER),
    (0, b"\xFF\x0A", OTHER),
    (0, b"\0\0\0\x0CjP  ", OTHER),
    (0, b"SDPX", DPX),
    (0, b"XPDS", DPX),
    (0, b"\x80\x2A\x5F\xD7", DPX),
];

/// Tells the content.
pub(super) fn content(bytes: &[u8]) -> Content {
    let other = MARKS
        .iter()
        .find(|(at, mark, _)| bytes.get(*at..).is_some_and(|rest| rest.starts_with(mark)));
    if let Some((_, _, sentence)) = other {
        return Content::Other(sentence);
    }
    match bytes {
        [0x89, b'P', b'N', b'G', 0x0D, 0x0A, 0x1A, 0x0A, ..] => Content::Png,
        [0xFF, 0xD8, 0xFF, ..] => Content::Jpeg,
        [b'I', b'I', 42 | 43, 0, ..] | [b'M', b'M', 0, 42 | 43, ..] => Content::Tiff,
        [0x76, 0x2F, 0x31, 0x01, ..] => Content::Exr,
        _ => Content::Other(NOTHING),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn content_is_told_by_its_first_bytes() {
        assert_eq!(content(b"\x89PNG\r\n\x1a\n"), Content::Png, "PNG");
        assert_eq!(content(b"\xFF\xD8\xFF\xE0"), Content::Jpeg, "JPEG");
        assert_eq!(
            content(b"MM\0\x2A\0\0\0\x08"),
            Content::Tiff,
            "big-endian TIFF"
        );
        assert_eq!(content(b"\x76\x2F\x31\x01"), Content::Exr, "EXR");
        assert_eq!(content(b"\0\0\0\x18ftypheic"), Content::Other(HEIC), "HEIC");
        assert_eq!(
            content(b"\0\0\0\x18ftypcrx \0"),
            Content::Other(RAW),
            "raw in a box file"
        );
        assert_eq!(
            content(b"II*\0\x10\0\0\0CR\x02\0"),
            Content::Other(RAW),
            "raw in a TIFF"
        );
        assert_eq!(
            content(b"\0\0\0\x18ftypmp42"),
            Content::Other(VIDEO),
            "film"
        );
        assert_eq!(content(b"f"), Content::Other(NOTHING), "one byte");
    }
}
