//! What a still's numbers mean: primaries and transfer curve together, under one word.
//!
//! The words are those of the command line and of the recipe's `frame.encoding`.

use crate::colour::primaries::Space;
use crate::colour::transfer::Curve;
use serde::{Deserialize, Serialize};

/// How a still's numbers become light. Serialises as the word in each variant's description.
///
/// `auto` asks the file, in this order:
/// 1. EXR: its chromaticities attribute, linear; without one, linear BT.709 primaries with D65.
/// 2. A PNG's cICP chunk, which outranks its other colour chunks (PNG third edition, 4.3).
/// 3. An embedded ICC profile, converted to working light.
/// 4. TIFF of floats: linear, BT.709 primaries. All else: sRGB.
///
/// Any other word overrules what the file says about itself. Where a frame is read through an input
/// LUT, the word tells of what comes out of that: see [`ReadAs`](super::ReadAs).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Encoding {
    /// `auto`: as the file says.
    #[default]
    Auto,
    /// `srgb`: sRGB (IEC 61966-2-1).
    Srgb,
    /// `bt1886`: BT.709 primaries through the BT.1886 display curve.
    Bt1886,
    /// `p3`: Display P3, P3 primaries with D65 and the sRGB curve.
    P3,
    /// `pq`: BT.2020 primaries, perceptual quantiser (ST 2084).
    Pq,
    /// `hlg`: BT.2020 primaries, hybrid log-gamma (BT.2100).
    Hlg,
    /// `acescct`: AP1 primaries, the grading curve with a toe.
    #[serde(rename = "acescct")]
    AcesCct,
    /// `acescg`: AP1 primaries, linear; working light itself.
    #[serde(rename = "acescg")]
    AcesCg,
    /// `aces2065-1`: AP0 primaries, linear; the interchange file of SMPTE ST 2065-1.
    #[serde(rename = "aces2065-1")]
    Aces2065,
    /// `srgb-linear`: BT.709 primaries, linear.
    SrgbLinear,
    /// `linear-bt2020`: BT.2020 primaries, linear.
    #[serde(rename = "linear-bt2020")]
    LinearBt2020,
}

/// A word that names no encoding.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("the encoding {0:?} is not known; known are {list}", list = Encoding::words())]
pub struct UnknownEncoding(pub String);

impl Encoding {
    /// All of them, `auto` first.
    pub const ALL: [Self; 11] = [
        Self::Auto,
        Self::Srgb,
        Self::Bt1886,
        Self::P3,
        Self::Pq,
        Self::Hlg,
        Self::AcesCct,
        Self::AcesCg,
        Self::Aces2065,
        Self::SrgbLinear,
        Self::LinearBt2020,
    ];

    /// The word for it, as in a recipe and on the command line.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Auto => "auto",
            Self::Srgb => "srgb",
            Self::Bt1886 => "bt1886",
            Self::P3 => "p3",
            Self::Pq => "pq",
            Self::Hlg => "hlg",
            Self::AcesCct => "acescct",
            Self::AcesCg => "acescg",
            Self::Aces2065 => "aces2065-1",
            Self::SrgbLinear => "srgb-linear",
            Self::LinearBt2020 => "linear-bt2020",
        }
    }

    /// What it is, in a few plain words.
    #[must_use]
    pub const fn describe(self) -> &'static str {
        match self {
            Self::Auto => "as the file says",
            Self::Srgb => "sRGB",
            Self::Bt1886 => "BT.709 through the BT.1886 display curve",
            Self::P3 => "Display P3",
            Self::Pq => "BT.2020 PQ",
            Self::Hlg => "BT.2020 HLG",
            Self::AcesCct => "ACEScct",
            Self::AcesCg => "linear ACEScg",
            Self::Aces2065 => "linear ACES2065-1",
            Self::SrgbLinear => "linear BT.709",
            Self::LinearBt2020 => "linear BT.2020",
        }
    }

    /// Primaries and curve; none for `auto`, which depends on the file.
    #[must_use]
    pub const fn parts(self) -> Option<(Space, Curve)> {
        Some(match self {
            Self::Auto => return None,
            Self::Srgb => (Space::Srgb, Curve::Srgb),
            Self::Bt1886 => (Space::Srgb, Curve::Bt1886),
            Self::P3 => (Space::DisplayP3, Curve::Srgb),
            Self::Pq => (Space::Bt2020, Curve::Pq),
            Self::Hlg => (Space::Bt2020, Curve::Hlg),
            Self::AcesCct => (Space::AcesCg, Curve::AcesCct),
            Self::AcesCg => (Space::AcesCg, Curve::Linear),
            Self::Aces2065 => (Space::Aces2065, Curve::Linear),
            Self::SrgbLinear => (Space::Srgb, Curve::Linear),
            Self::LinearBt2020 => (Space::Bt2020, Curve::Linear),
        })
    }

    fn words() -> String {
        Self::ALL.map(Self::word).join(", ")
    }
}

impl std::fmt::Display for Encoding {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.write_str(self.word())
    }
}

impl std::str::FromStr for Encoding {
    type Err = UnknownEncoding;
    fn from_str(word: &str) -> Result<Self, UnknownEncoding> {
        let known = Self::ALL.into_iter().find(|e| e.word() == word);
        known.ok_or_else(|| UnknownEncoding(word.to_owned()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn one_word_everywhere() {
        for e in Encoding::ALL {
            let json = serde_json::to_string(&e).unwrap();
            assert_eq!(json, format!("{:?}", e.word()), "the recipe's word");
            assert_eq!(
                serde_json::from_str::<Encoding>(&json).unwrap(),
                e,
                "and back"
            );
            assert_eq!(
                e.word().parse::<Encoding>().unwrap(),
                e,
                "the command line's word"
            );
        }
        let said = "adobe".parse::<Encoding>().unwrap_err().to_string();
        assert!(said.contains("linear-bt2020"), "{said}");
    }
}
