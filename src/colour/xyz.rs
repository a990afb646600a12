//! CIE 1931 tristimulus values, as a type.
//!
//! Source: CIE 15, chromaticity and CIE 1960 UCS; colour difference CIEDE2000 (CIE 142), both the
//! latter and CIELAB by the `palette` crate.
//!
//! ```
//! use foreglass::colour::Xyz;
//! let d65 = Xyz::from_xy(0.3127, 0.3290);
//! assert!((d65.get()[0] - 0.950_456).abs() < 1e-6 && (d65.get()[2] - 1.089_058).abs() < 1e-6);
//! ```

use palette::color_difference::Ciede2000 as _;
use palette::convert::FromColorUnclamped as _;
use palette::white_point::E;

/// X, Y, Z of the CIE 1931 2° observer. The scale is the user's; white has Y = 1 by habit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Xyz([f64; 3]);

impl Xyz {
    /// From X, Y and Z.
    #[must_use]
    pub const fn new(x: f64, y: f64, z: f64) -> Self {
        Self([x, y, z])
    }

    /// The colour of chromaticity (x, y) at Y = 1; black where y is not positive (no light has it).
    #[must_use]
    pub fn from_xy(x: f64, y: f64) -> Self {
        if y > 0.0 {
            Self([x / y, 1.0, (1.0 - x - y) / y])
        } else {
            Self([0.0; 3])
        }
    }

    /// X, Y and Z.
    #[must_use]
    pub const fn get(self) -> [f64; 3] {
        self.0
    }

    /// Y alone: luminance.
    #[must_use]
    pub const fn luminance(self) -> f64 {
        self.0[1]
    }

    /// The chromaticity (x, y); of black, equal-energy white's, ⅓ ⅓.
    #[must_use]
    pub fn xy(self) -> [f64; 2] {
        let [x, y, z] = self.0;
        let sum = x + y + z;
        if sum.abs() > 0.0 {
            [x / sum, y / sum]
        } else {
            [1.0 / 3.0; 2]
        }
    }

    /// The CIE 1960 chromaticity (u, v), in which colour temperature is defined.
    #[must_use]
    pub fn uv(self) -> [f64; 2] {
        let [x, y] = self.xy();
        let d = 12.0 * y - 2.0 * x + 3.0;
        [4.0 * x / d, 6.0 * y / d]
    }

    /// The same chromaticity at Y = 1; nothing when Y is not positive or something is not finite.
    #[must_use]
    pub fn at_unit_luminance(self) -> Option<Self> {
        let [x, y, z] = self.0;
        let white = Self([x / y, 1.0, z / y]);
        (y > 0.0 && white.0.iter().all(|v| v.is_finite())).then_some(white)
    }

    /// Every component times `factor`.
    #[must_use]
    pub fn scaled(self, factor: f64) -> Self {
        Self(self.0.map(|v| v * factor))
    }

    /// CIELAB relative to `white` (L*, a*, b*); `white` must have no zero component.
    #[must_use]
    pub fn lab(self, white: Self) -> [f64; 3] {
        let lab = self.to_lab(white);
        [lab.l, lab.a, lab.b]
    }

    // Equal-energy white stands for (1, 1, 1) in palette: the division is done here, by any white.
    fn to_lab(self, white: Self) -> palette::Lab<E, f64> {
        let [x, y, z]: [f64; 3] = std::array::from_fn(|i| self.0[i] / white.0[i]);
        palette::Lab::from_color_unclamped(palette::Xyz::new(x, y, z))
    }

    /// The CIEDE2000 difference of two colours, both seen against `white`.
    #[must_use]
    pub fn delta_e2000(self, other: Self, white: Self) -> f64 {
        self.to_lab(white).difference(other.to_lab(white))
    }
}

impl From<[f64; 3]> for Xyz {
    fn from(v: [f64; 3]) -> Self {
        Self(v)
    }
}
