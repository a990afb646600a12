//! Quantities as types: every value that crosses a module border says what it is and is finite.
//!
//! Each type wraps an `f64`, refuses what is not finite (or lies outside its range) when it is made,
//! and stays finite under arithmetic by saturating at the largest `f64`. All of them serialise as a
//! plain JSON number.
//!
//! Source: definitions of optical density and filter factor, ISO 5-2 / ISO 5-3 (from memory);
//! mired = 10⁶ / K, common practice.
//!
//! ```
//! use foreglass::units::{Density, Stops};
//! let nd = Density::new(0.3)?;
//! assert!((Stops::from(nd).get() - 0.996_578).abs() < 1e-6); // the trade reads "one stop"
//! assert!((nd.transmittance() - 0.501_187).abs() < 1e-6);
//! # Ok::<(), foreglass::units::OutOfRange>(())
//! ```

use serde::{Deserialize, Serialize};
use std::fmt;

/// A value that a quantity does not take: it says which quantity, and the limit.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{quantity} {value} is out of range: {low} to {high} {unit}")]
pub struct OutOfRange {
    /// What was being made, e.g. "focal length".
    pub quantity: &'static str,
    /// The refused value.
    pub value: f64,
    /// Smallest value taken.
    pub low: f64,
    /// Largest value taken.
    pub high: f64,
    /// Unit of all three numbers.
    pub unit: &'static str,
}

fn checked(
    value: f64,
    quantity: &'static str,
    low: f64,
    high: f64,
    unit: &'static str,
) -> Result<f64, OutOfRange> {
    if value.is_finite() && value >= low && value <= high {
        Ok(value)
    } else {
        Err(OutOfRange {
            quantity,
            value,
            low,
            high,
            unit,
        })
    }
}

macro_rules! quantity {
    ($(#[$doc:meta])* $name:ident, $words:literal, $unit:literal, $low:expr, $high:expr) => {
        $(#[$doc])*
        #[derive(Clone, Copy, PartialEq, PartialOrd, Serialize, Deserialize)]
        #[serde(try_from = "f64", into = "f64")]
        pub struct $name(f64);

        impl $name {
            /// Smallest value this quantity takes.
            pub const LOW: f64 = $low;
            /// Largest value this quantity takes.
            pub const HIGH: f64 = $high;

            /// Makes the quantity.
            ///
            /// # Errors
            /// [`OutOfRange`] when `value` is not finite or outside `LOW..=HIGH`.
            pub fn new(value: f64) -> Result<Self, OutOfRange> {
                checked(value, $words, $low, $high, $unit).map(Self)
            }

            /// Makes the quantity from a value known to be in range, clamping it where it is not
            /// (NaN becomes the low end). For constants and for results of arithmetic.
            #[must_use]
            pub const fn clamped(value: f64) -> Self {
                if value >= $low {
                    if value <= $high { Self(value) } else { Self($high) }
                } else {
                    Self($low)
                }
            }

            /// The bare number, in the unit of the type's name.
            #[must_use]
            pub const fn get(self) -> f64 {
                self.0
            }
        }

        impl TryFrom<f64> for $name {
            type Error = OutOfRange;
            fn try_from(value: f64) -> Result<Self, OutOfRange> {
                Self::new(value)
            }
        }

        impl From<$name> for f64 {
            fn from(value: $name) -> Self {
                value.0
            }
        }

        impl fmt::Debug for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "{} {}", self.0, $unit)
            }
        }
    };
}

macro_rules! additive {
    ($($name:ident),*) => {$(
        impl std::ops::Add for $name {
            type Output = Self;
            fn add(self, other: Self) -> Self {
                Self::clamped(self.0 + other.0)
            }
        }
        impl std::ops::Sub for $name {
            type Output = Self;
            fn sub(self, other: Self) -> Self {
                Self::clamped(self.0 - other.0)
            }
        }
        impl std::ops::Neg for $name {
            type Output = Self;
            fn neg(self) -> Self {
                Self::clamped(-self.0)
            }
        }
        impl std::iter::Sum for $name {
            fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
                iter.fold(Self(0.0), |a, b| a + b)
            }
        }
    )*};
}

quantity!(
    /// A level or a loss, in stops (factors of two of light).
    Stops, "a level", "stops", -1e3, 1e3
);
quantity!(
    /// Optical density, D = −log₁₀ τ.
    Density, "density", "(density)", 0.0, 20.0
);
quantity!(
    /// A shift on the reciprocal colour-temperature scale, 10⁶/K; positive warms.
    Mireds, "mired shift", "mireds", -1000.0, 1000.0
);
quantity!(
    /// A correlated colour temperature.
    Kelvin, "colour temperature", "K", 1000.0, 25_000.0
);
quantity!(
    /// A length or a position, in millimetres.
    Millimetres, "length", "mm", -1e6, 1e6
);
quantity!(
    /// A length that is more than nothing, in millimetres: focal lengths, sensor sides.
    Extent, "length", "mm", 1e-3, 1e5
);
quantity!(
    /// A distance in metres, to a subject.
    Metres, "distance", "m", 1e-3, 1e6
);
quantity!(
    /// A time in seconds: how long a shutter is open.
    Seconds, "time", "s", 1e-7, 1e5
);
quantity!(
    /// A size in micrometres: specks, threads.
    Micrometres, "size", "µm", 1e-3, 1e6
);
quantity!(
    /// A wavelength in nanometres.
    Nanometres, "wavelength", "nm", 1.0, 1e5
);
quantity!(
    /// An angle in degrees.
    Degrees, "angle", "°", -36_000.0, 36_000.0
);
quantity!(
    /// A relative aperture, the N of f/N (or of T/N).
    FNumber, "stop", "(f-number)", 0.1, 1e3
);
quantity!(
    /// A weight, in grams.
    Grams, "weight", "g", 0.0, 1e6
);
quantity!(
    /// A part of a whole.
    Fraction, "fraction", "(0 to 1)", 0.0, 1.0
);

additive!(Stops, Mireds, Millimetres, Degrees);

impl Stops {
    /// No change of level.
    pub const ZERO: Self = Self(0.0);

    /// The factor of light, 2^stops.
    #[must_use]
    pub fn factor(self) -> f64 {
        self.0.exp2()
    }

    /// So many stops with their unit, to a hundredth: "1.00 stop", "2.25 stops".
    #[must_use]
    pub fn counted(self) -> String {
        let unit = if self.0.abs() < 1.005 {
            "stop"
        } else {
            "stops"
        };
        format!("{:.2} {unit}", self.0.max(0.0))
    }

    /// A level or a difference as it is told: with its sign, a plus or a true minus, and always to a hundredth, so
    /// that levels which stand together are told alike. What is rounded to nothing is "+0.00".
    ///
    /// ```
    /// use foreglass::units::Stops;
    /// let told = [3.7, -0.256, -0.001].map(|v| Stops::clamped(v).signed());
    /// assert_eq!(told, ["+3.70", "−0.26", "+0.00"]);
    /// ```
    #[must_use]
    pub fn signed(self) -> String {
        let size = format!("{:.2}", self.0.abs());
        let sign = if self.0 < 0.0 && size != "0.00" {
            '−'
        } else {
            '+'
        };
        format!("{sign}{size}")
    }

    /// The loss of something that passes `transmittance` of the light; at nothing passed, the
    /// largest loss the type holds.
    #[must_use]
    pub fn of_loss(transmittance: f64) -> Self {
        // Not a bare minus: nothing lost is 0, and never −0.
        Self::clamped(0.0 - transmittance.log2())
    }
}

impl Density {
    /// Part of the light that passes, 10^−D.
    #[must_use]
    pub fn transmittance(self) -> f64 {
        libm::exp10(-self.0)
    }
}

impl From<Density> for Stops {
    /// D / log₁₀ 2 = 3.321928 D.
    fn from(d: Density) -> Self {
        Self::clamped(d.0 / std::f64::consts::LOG10_2)
    }
}

impl Kelvin {
    /// 10⁶ / T.
    #[must_use]
    pub fn mireds(self) -> Mireds {
        Mireds::clamped(1e6 / self.0)
    }
}

impl Degrees {
    /// The angle in radians.
    #[must_use]
    pub fn radians(self) -> f64 {
        self.0.to_radians()
    }
}

/// A number with at most so many decimals, and no needless ones.
#[must_use]
pub fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if !text.contains('.') {
        return text;
    }
    let text = text.trim_end_matches('0').trim_end_matches('.');
    if text == "-0" {
        "0".to_owned()
    } else {
        text.to_owned()
    }
}

/// The same with its sign, a plus or a true minus; nothing has none.
///
/// ```
/// use foreglass::units::signed;
/// assert_eq!([signed(0.5, 2), signed(-2.0, 2), signed(0.001, 2)], ["+0.5", "−2", "0"]);
/// ```
#[must_use]
pub fn signed(value: f64, decimals: usize) -> String {
    let size = trimmed(value.abs(), decimals);
    match size.as_str() {
        "0" => size,
        _ if value < 0.0 => format!("−{size}"),
        _ => format!("+{size}"),
    }
}

/// A whole level in stops as axes and legends mark it.
///
/// ```
/// use foreglass::units::level_mark;
/// assert_eq!([level_mark(2), level_mark(0), level_mark(-1)], ["+2", "key", "−1"]);
/// ```
#[must_use]
pub fn level_mark(stops: i32) -> String {
    match stops {
        0 => "key".to_owned(),
        _ => signed(f64::from(stops), 0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn refuses_what_is_not_finite_or_out_of_range() {
        assert!(Stops::new(f64::NAN).is_err(), "NaN is no level");
        assert!(Extent::new(-50.0).is_err(), "a focal length is positive");
        let e = Kelvin::new(90.0).unwrap_err().to_string();
        assert!(
            e.contains("colour temperature 90") && e.contains("1000"),
            "{e}"
        );
    }

    #[test]
    fn arithmetic_stays_finite() {
        let huge = Millimetres::clamped(f64::INFINITY);
        assert!((huge + huge).get().is_finite(), "saturates");
        assert!(
            Stops::clamped(f64::NAN).get() <= Stops::LOW,
            "NaN becomes the low end"
        );
    }
}
