//! Trade sizes of glass for a matte box.
//!
//! Source: common practice, no source; inches converted at 25.4 mm.

use serde::{Deserialize, Serialize};

/// A size of glass, upright in its tray at turn 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum Size {
    /// 4 × 4 inch.
    #[serde(rename = "4x4")]
    FourSquare,
    /// 4 × 5.65 inch, lying: 143.5 mm wide and 101.6 mm high.
    #[default]
    #[serde(rename = "4x5.65")]
    FourByFiveSixtyFive,
    /// 5.65 × 5.65 inch.
    #[serde(rename = "5.65x5.65")]
    FiveSixtyFiveSquare,
    /// 6.6 × 6.6 inch.
    #[serde(rename = "6.6x6.6")]
    SixSixSquare,
    /// 138 mm round.
    #[serde(rename = "138mm")]
    Round138,
    /// 4½ inch round.
    #[serde(rename = "4.5in")]
    RoundFourAndAHalf,
}

impl Size {
    /// Every size, smallest first.
    pub const ALL: [Self; 6] = [
        Self::FourSquare,
        Self::RoundFourAndAHalf,
        Self::Round138,
        Self::FourByFiveSixtyFive,
        Self::FiveSixtyFiveSquare,
        Self::SixSixSquare,
    ];

    /// Its name in recipes and on an order.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FourSquare => "4x4",
            Self::FourByFiveSixtyFive => "4x5.65",
            Self::FiveSixtyFiveSquare => "5.65x5.65",
            Self::SixSixSquare => "6.6x6.6",
            Self::Round138 => "138mm",
            Self::RoundFourAndAHalf => "4.5in",
        }
    }

    /// Width and height at turn 0 in mm; of a round glass, its diameter twice.
    #[must_use]
    pub const fn sides_mm(self) -> [f64; 2] {
        match self {
            Self::FourSquare => [101.6, 101.6],
            Self::FourByFiveSixtyFive => [143.5, 101.6],
            Self::FiveSixtyFiveSquare => [143.5, 143.5],
            Self::SixSixSquare => [167.6, 167.6],
            Self::Round138 => [138.0, 138.0],
            Self::RoundFourAndAHalf => [114.3, 114.3],
        }
    }

    /// Whether it is round: it turns, and cannot slide.
    #[must_use]
    pub const fn is_round(self) -> bool {
        matches!(self, Self::Round138 | Self::RoundFourAndAHalf)
    }
}
