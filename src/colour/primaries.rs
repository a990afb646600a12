//! Sets of primaries, and the matrices between them and working light.
//!
//! Working light has the primaries AP1 and the ACES white. Every matrix is derived here from
//! chromaticities, whites adapted by Bradford; none is a rounded table.
//!
//! Sources: AP0 SMPTE ST 2065-1, AP1 Academy S-2014-004; sRGB IEC 61966-2-1 and ITU-R BT.709; P3
//! SMPTE EG 432-1 with the white D65; ITU-R BT.2020.
//!
//! ```
//! use foreglass::colour::primaries::Space;
//! let red = Space::Srgb.to_working().apply([1.0, 0.0, 0.0]);
//! assert!((red[0] - 0.613097).abs() < 1e-6 && (red[1] - 0.070194).abs() < 1e-6);
//! ```

use super::{Matrix3, Xyz, adapt};

/// The weights of working light's channels in its luminance: the Y row of AP1 to XYZ.
pub const LUMA: [f32; 3] = [LUMA64[0] as f32, LUMA64[1] as f32, LUMA64[2] as f32];

/// [`LUMA`] in double precision, for laws rather than pixels.
pub const LUMA64: [f64; 3] = [0.272_228_716_8, 0.674_081_765_8, 0.053_689_517_4];

/// The white of working light, ACES: x, y.
pub const WORKING_WHITE: [f64; 2] = [0.32168, 0.33767];

const D65: [f64; 2] = [0.3127, 0.3290];

/// A set of primaries and its white.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Space {
    /// AP1 with the ACES white: working light itself.
    AcesCg,
    /// AP0 with the ACES white, the primaries of the interchange file.
    Aces2065,
    /// sRGB, which shares its primaries with BT.709.
    Srgb,
    /// P3 primaries with the white D65.
    DisplayP3,
    /// BT.2020, which BT.2100 shares.
    Bt2020,
}

impl Space {
    /// All of them.
    pub const ALL: [Self; 5] = [
        Self::AcesCg,
        Self::Aces2065,
        Self::Srgb,
        Self::DisplayP3,
        Self::Bt2020,
    ];

    /// Chromaticities x, y of red, green and blue.
    #[must_use]
    pub const fn primaries(self) -> [[f64; 2]; 3] {
        match self {
            Self::AcesCg => [[0.713, 0.293], [0.165, 0.830], [0.128, 0.044]],
            Self::Aces2065 => [[0.7347, 0.2653], [0.0, 1.0], [0.0001, -0.0770]],
            Self::Srgb => [[0.640, 0.330], [0.300, 0.600], [0.150, 0.060]],
            Self::DisplayP3 => [[0.680, 0.320], [0.265, 0.690], [0.150, 0.060]],
            Self::Bt2020 => [[0.708, 0.292], [0.170, 0.797], [0.131, 0.046]],
        }
    }

    /// Chromaticity x, y of white.
    #[must_use]
    pub const fn white(self) -> [f64; 2] {
        match self {
            Self::AcesCg | Self::Aces2065 => WORKING_WHITE,
            Self::Srgb | Self::DisplayP3 | Self::Bt2020 => D65,
        }
    }

    /// Red, green, blue and white, the form in which a picture file carries them.
    #[must_use]
    pub const fn chromaticities(self) -> [[f64; 2]; 4] {
        let [r, g, b] = self.primaries();
        [r, g, b, self.white()]
    }

    /// Linear light in this space to XYZ, unadapted: white comes out as this space's white, Y = 1.
    #[must_use]
    pub fn to_xyz(self) -> Matrix3 {
        // A set of real primaries spans the plane: the table above has no singular entry (tested).
        rgb_to_xyz(self.chromaticities()).unwrap_or(Matrix3::IDENTITY)
    }

    /// Linear light in this space to working light.
    #[must_use]
    pub fn to_working(self) -> Matrix3 {
        match self {
            Self::AcesCg => Matrix3::IDENTITY,
            _ => to_working_from(self.chromaticities()).unwrap_or(Matrix3::IDENTITY),
        }
    }

    /// Working light to linear light in this space. What this space cannot show comes out negative
    /// or above one.
    #[must_use]
    pub fn from_working(self) -> Matrix3 {
        self.to_working().inverse().unwrap_or(Matrix3::IDENTITY)
    }
}

/// Linear light with these chromaticities (red, green, blue, white; x, y each) to working light,
/// whites adapted by Bradford.
///
/// Nothing when they are not finite, do not span a plane, or make no
/// matrix of plain numbers: a picture file may say anything.
#[must_use]
pub fn to_working_from(chromaticities: [[f64; 2]; 4]) -> Option<Matrix3> {
    let from = rgb_to_xyz(chromaticities)?;
    let [wx, wy] = chromaticities[3];
    let [ax, ay] = WORKING_WHITE;
    let adapted = adapt::bradford(Xyz::from_xy(wx, wy), Xyz::from_xy(ax, ay));
    let matrix = Space::AcesCg.to_xyz().inverse()? * adapted * from;
    // A picture must also leave again: a matrix without an inverse is refused here, not there.
    (matrix.is_finite() && matrix.inverse().is_some()).then_some(matrix)
}

/// Linear light with these chromaticities (red, green, blue, white) to XYZ with white at Y = 1, by
/// the standard derivation (SMPTE RP 177).
#[must_use]
pub fn rgb_to_xyz(chromaticities: [[f64; 2]; 4]) -> Option<Matrix3> {
    let [r, g, b, [wx, wy]] = chromaticities;
    if !chromaticities.iter().flatten().all(|v| v.is_finite()) || wy <= 0.0 {
        return None;
    }
    // Each primary as (x, y, z): no division by y, which AP0's blue and some files have at or near
    // 0.
    let columns = [r, g, b].map(|[x, y]| [x, y, 1.0 - x - y]);
    let unscaled = Matrix3::from_columns(columns);
    let scale = unscaled.inverse()?.apply(Xyz::from_xy(wx, wy).get());
    let matrix = unscaled * Matrix3::diagonal(scale);
    (matrix.is_finite() && matrix.inverse().is_some()).then_some(matrix)
}

/// Luminance of working light, 1 for white.
#[must_use]
#[inline]
pub fn luminance(rgb: [f32; 3]) -> f32 {
    LUMA[0] * rgb[0] + LUMA[1] * rgb[1] + LUMA[2] * rgb[2]
}
