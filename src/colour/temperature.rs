//! Correlated colour temperature, and shifts on the reciprocal scale.
//!
//! Sources: correlated colour temperature is that of the nearest point of the Planckian locus in
//! the CIE 1960 (u, v) diagram (CIE 15, ISO/CIE 11664); the signed distance Duv as in Ohno,
//! "Practical use and calculation of CCT and Duv", LEUKOS 10 (2014), positive above the locus
//! (green). The nearest point is found on the locus itself, not in a table of it. Mired = 10⁶/K:
//! common practice. White lamps are held to Duv ±0.006 of their line by ANSI C78.377 (from memory).
//!
//! ```
//! use foreglass::colour::{Xyz, temperature};
//! let (t, duv) = temperature::cct(Xyz::from_xy(0.3127, 0.3290));
//! assert!((t.get() - 6504.3).abs() < 1.0 && (duv - 0.0032).abs() < 1e-4); // D65
//! ```

use std::sync::OnceLock;

use super::{Spectrum, Xyz, illuminant, observer};
use crate::units::{Kelvin, Mireds};

// Points of the coarse search: 40 to 1000 mireds in steps of 10.
const COARSE: usize = 97;

/// Duv beyond which, either way, a light is no longer a white on the line (ANSI C78.377, from memory).
pub const OFF_THE_LINE: f64 = 0.006;
/// Duv beyond which a colour has no meaningful temperature (CIE 15).
const MEANINGLESS: f64 = 0.05;

/// A white: its correlated colour temperature, and how far it lies off the Planckian locus.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct White {
    /// Temperature of the nearest glowing body.
    pub kelvin: Kelvin,
    /// Distance from it in (u, v): positive is green, negative magenta.
    pub duv: f64,
}

impl White {
    /// The white of a light; None where it has no meaningful temperature: no light, a colour far from
    /// the locus, or one past either end of the range of temperatures.
    ///
    /// ```
    /// use foreglass::colour::{illuminant, temperature::White};
    /// let white = White::of(&illuminant::d65()).unwrap();
    /// assert!((white.kelvin.get() - 6504.0).abs() < 2.0 && !white.is_off_the_line());
    /// ```
    #[must_use]
    pub fn of(light: &Spectrum) -> Option<Self> {
        let (kelvin, duv) = cct(observer::integrate(light).at_unit_luminance()?);
        let ends = [kelvin.get() / Kelvin::LOW, Kelvin::HIGH / kelvin.get()];
        let inside = ends.iter().all(|e| *e > 1.000_01);
        (inside && duv.abs() <= MEANINGLESS).then_some(Self { kelvin, duv })
    }

    /// Whether the eye and the camera see a tint of green or magenta in it.
    #[must_use]
    pub fn is_off_the_line(self) -> bool {
        self.duv.abs() > OFF_THE_LINE
    }
}

/// What glass makes of a light.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Turn {
    /// The light.
    pub bare: Option<White>,
    /// The light behind the glass.
    pub through: Option<White>,
}

impl Turn {
    /// Of a light and the transmittance of glass.
    #[must_use]
    pub fn of(light: &Spectrum, tau: &Spectrum) -> Self {
        Self {
            bare: White::of(light),
            through: White::of(&light.product(tau)),
        }
    }

    /// How far the glass shifts this light; None where either has no temperature.
    #[must_use]
    pub fn shift(self) -> Option<Mireds> {
        Some(shift_between(self.bare?.kelvin, self.through?.kelvin))
    }
}

/// The correlated colour temperature and Duv of a colour, found between 1000 K and 25 000 K;
/// beyond, the nearer end, with Duv the distance from there.
///
/// A colour farther than 0.05 from the locus has no meaningful temperature (CIE 15); one still
/// comes back, and Duv tells.
#[must_use]
pub fn cct(colour: Xyz) -> (Kelvin, f64) {
    let uv = colour.uv();
    let distance = |mired: f64| {
        let [u, v] = locus(mired);
        (uv[0] - u).hypot(uv[1] - v)
    };
    let nearest = coarse_locus()
        .iter()
        .map(|[u, v]| (uv[0] - u).hypot(uv[1] - v))
        .enumerate()
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .map_or(0, |(i, _)| i);
    let mut low = coarse_mired(nearest.saturating_sub(1));
    let mut high = coarse_mired((nearest + 1).min(COARSE - 1));
    // Golden section: the distance has one minimum between the neighbours of the nearest point.
    let golden = (5.0_f64.sqrt() - 1.0) / 2.0;
    while high - low > 1e-5 {
        let (a, b) = (high - golden * (high - low), low + golden * (high - low));
        if distance(a) < distance(b) {
            high = b;
        } else {
            low = a;
        }
    }
    let mired = f64::midpoint(low, high);
    let [_, v] = locus(mired);
    (
        Kelvin::clamped(1e6 / mired),
        distance(mired).copysign(uv[1] - v),
    )
}

fn locus(mired: f64) -> [f64; 2] {
    illuminant::white(&illuminant::planckian(Kelvin::clamped(1e6 / mired))).uv()
}

fn coarse_mired(i: usize) -> f64 {
    let (first, last) = (1e6 / Kelvin::HIGH, 1e6 / Kelvin::LOW);
    first + (last - first) * i as f64 / (COARSE - 1) as f64
}

fn coarse_locus() -> &'static [[f64; 2]; COARSE] {
    static LOCUS: OnceLock<[[f64; 2]; COARSE]> = OnceLock::new();
    LOCUS.get_or_init(|| std::array::from_fn(|i| locus(coarse_mired(i))))
}

/// The shift that turns light of `from` into light of `to`; positive warms.
#[must_use]
pub fn shift_between(from: Kelvin, to: Kelvin) -> Mireds {
    to.mireds() - from.mireds()
}

/// Light of `from` after a shift: 10⁶ / (10⁶/T + ΔM), held to the range of colour temperatures.
#[must_use]
pub fn shifted(from: Kelvin, shift: Mireds) -> Kelvin {
    of_mireds(from.mireds() + shift)
}

/// The same; None past either end of the range of colour temperatures.
#[must_use]
pub fn reached(from: Kelvin, shift: Mireds) -> Option<Kelvin> {
    let mireds = from.mireds() + shift;
    (mireds.get() > 0.0)
        .then(|| Kelvin::new(1e6 / mireds.get()).ok())
        .flatten()
}

/// The temperature of a reciprocal one, held to the range of colour temperatures: the highest when
/// the mireds are not positive.
#[must_use]
pub fn of_mireds(mireds: Mireds) -> Kelvin {
    if mireds.get() > 0.0 {
        Kelvin::clamped(1e6 / mireds.get())
    } else {
        Kelvin::clamped(Kelvin::HIGH)
    }
}
