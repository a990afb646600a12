//! The ladder of strengths that diffusion is ordered by: 1/8, 1/4, 1/2, 1, 2, 3, 4, 5.
//!
//! Source: common practice, no source.

use std::fmt;
use std::str::FromStr;

const LADDER: [(&str, f64); 8] = [
    ("1/8", 0.125),
    ("1/4", 0.25),
    ("1/2", 0.5),
    ("1", 1.0),
    ("2", 2.0),
    ("3", 3.0),
    ("4", 4.0),
    ("5", 5.0),
];

/// A rung of the ladder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Strength(u8);

impl Strength {
    /// The rungs from 1/8 to 5.
    pub const ALL: [Self; 8] = [
        Self(0),
        Self(1),
        Self(2),
        Self(3),
        Self(4),
        Self(5),
        Self(6),
        Self(7),
    ];
    /// Strength 1.
    pub const ONE: Self = Self(3);

    /// The number on the ring: 0.125 to 5.
    #[must_use]
    pub const fn number(self) -> f64 {
        LADDER[self.0 as usize].1
    }

    /// Its place on the ladder, 0 for 1/8.
    #[must_use]
    pub const fn rung(self) -> usize {
        self.0 as usize
    }
}

impl fmt::Display for Strength {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(LADDER[self.rung()].0)
    }
}

/// A strength that is not on the ladder.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("\"{0}\" is not a strength; strengths are 1/8, 1/4, 1/2, 1, 2, 3, 4, 5")]
pub struct NotAStrength(pub String);

impl FromStr for Strength {
    type Err = NotAStrength;
    fn from_str(s: &str) -> Result<Self, NotAStrength> {
        Self::ALL
            .into_iter()
            .find(|rung| LADDER[rung.rung()].0 == s.trim())
            .ok_or_else(|| NotAStrength(s.to_owned()))
    }
}
