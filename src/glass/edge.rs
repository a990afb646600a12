//! The edges that graduated glass is stocked with.

use crate::optics::pupil::Ramp;

/// How fast the density of a grad changes; lengths are our own estimates.
#[derive(Debug, Clone, Copy, PartialEq, Eq, serde::Deserialize)]
#[serde(rename_all = "lowercase")]
pub(super) enum Edge {
    Soft,
    Medium,
    Hard,
}

impl Edge {
    /// From clear to `peak`, linear in density over 45 mm, 20 mm or at once.
    pub(super) fn ramp(self, peak: f64) -> Ramp {
        Ramp::linear(
            peak,
            match self {
                Self::Soft => 45.0,
                Self::Medium => 20.0,
                Self::Hard => 0.0,
            },
        )
    }

    /// Its word in options and on an order.
    pub(super) const fn word(self) -> &'static str {
        match self {
            Self::Soft => "soft",
            Self::Medium => "medium",
            Self::Hard => "hard",
        }
    }
}
