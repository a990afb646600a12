//! A clear sky through a polariser: how much more or less of it passes than of unpolarised light.
//!
//! Skylight seen in direction d, with the sun in direction s, is polarised along d × s, across the
//! plane of scattering, by P·sin²γ/(1 + cos²γ), cos γ = d·s ([`super::polarised::rayleigh`]). A sheet
//! whose absorbing axis is b passes, of a ray along d, what is polarised along t = d × b/|d × b|. With
//! v = (k₁ − k₂)/(k₁ + k₂) the sheet lets through, over what it lets through of unpolarised light,
//! 1 + v·P·(2((d × s)·t)² − sin²γ)/(1 + cos²γ), which is smooth everywhere, the sun itself included. It
//! is applied above a line of the picture, with a soft edge a tenth of the picture's height wide.
//!
//! Sources: single Rayleigh scattering (dust, haze and light from the ground lower P, clouds have
//! none); t for a dichroic sheet that passes the ordinary ray (from memory).
//!
//! ```
//! use foreglass::optics::{field::View, sky::{Sky, Sun}};
//! let view = View { focal_mm: 50.0, width_mm: 24.0, height_mm: 13.5 };
//! let sun = Sun { azimuth: 90_f64.to_radians(), elevation: 0.0, most: 0.75, above: 1.1 };
//! let sky = |turn: f64| Sky { sun, contrast: 1.0, turn: turn.to_radians() };
//! // A right angle from the sun: 1 + 0.75 in line, 1 − 0.75 crossed.
//! assert!((sky(0.0).at(&view, 0.0, 0.0) - 1.75).abs() < 1e-12);
//! assert!((sky(90.0).at(&view, 0.0, 0.0) - 0.25).abs() < 1e-12);
//! ```

use super::field::View;
use super::polarised::rayleigh;

/// Width of the line's soft edge, in parts of the picture's height.
const EDGE: f64 = 0.1;

/// The sun over a picture, and where its sky begins.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sun {
    /// To the right of the lens axis, radians.
    pub azimuth: f64,
    /// Above the lens axis, radians.
    pub elevation: f64,
    /// Degree of polarisation at a right angle from the sun.
    pub most: f64,
    /// The line above which the picture is sky, in parts of its height from the top.
    pub above: f64,
}

/// What a polariser does to the sky of a picture, over what it does to unpolarised light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Sky {
    /// The sun and the line.
    pub sun: Sun,
    /// The sheet's (k₁ − k₂)/(k₁ + k₂).
    pub contrast: f64,
    /// How far its axis is turned from upright, counter-clockwise as seen in the picture, radians.
    pub turn: f64,
}

impl Sky {
    /// The factor at a point of the picture, mm from its centre.
    #[must_use]
    pub fn at(&self, view: &View, x_mm: f64, y_mm: f64) -> f64 {
        let part = self.part(0.5 - y_mm / view.height_mm);
        if part <= 0.0 {
            return 1.0;
        }
        let [x, y] = view.direction(x_mm, y_mm);
        part.mul_add(self.swing([x, y, 1.0]), 1.0)
    }

    /// How much of sky a row is, 0 to 1; `down` is its place in parts of the height from the top.
    #[must_use]
    pub fn part(&self, down: f64) -> f64 {
        let t = ((self.sun.above - down) / EDGE + 0.5).clamp(0.0, 1.0);
        t * t * (3.0 - 2.0 * t)
    }

    /// Whether no picture is changed by it.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.part(0.0) <= 0.0 || (self.contrast * self.sun.most).abs() <= 0.0
    }

    /// What the factor has over 1 in a direction: x right, y up, z along the lens axis.
    fn swing(&self, toward: [f64; 3]) -> f64 {
        let Sun {
            azimuth,
            elevation,
            most,
            ..
        } = self.sun;
        let ((sin_a, cos_a), (sin_e, cos_e)) = (azimuth.sin_cos(), elevation.sin_cos());
        let sun = [cos_e * sin_a, sin_e, cos_e * cos_a];
        let length = dot(toward, toward).sqrt();
        let d = toward.map(|v| v / length);
        let across = cross(d, sun);
        // The absorbing axis lies at a right angle to the one that passes.
        let (sin_t, cos_t) = self.turn.sin_cos();
        let passes = cross(d, [cos_t, sin_t, 0.0]);
        let along = dot(across, passes);
        let sin2 = dot(across, across);
        if sin2 <= 0.0 {
            return 0.0; // the sun itself, unpolarised
        }
        // cos 2φ of the axis that passes against the light's own.
        let turned = 2.0 * along * along / (sin2 * dot(passes, passes)) - 1.0;
        self.contrast * rayleigh(dot(d, sun), most) * turned
    }
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}
