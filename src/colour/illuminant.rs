//! Lights: Planckian, daylight, and the tabulated standard illuminants.
//!
//! Sources: Planck's law with c₂ = 1.438776877e-2 m·K (CODATA 2018); daylight and the illuminants
//! A, D55 and D65, CIE 15. All spectra are relative: 1 at 560 nm.
//!
//! ```
//! use foreglass::colour::illuminant;
//! use foreglass::units::Kelvin;
//! let [x, y] = illuminant::white(&illuminant::planckian(Kelvin::new(3200.0)?)).xy();
//! assert!((x - 0.423_36).abs() < 5e-5 && (y - 0.398_95).abs() < 5e-5);
//! # Ok::<(), foreglass::units::OutOfRange>(())
//! ```

use super::tables::illuminants::{A_D55_D65, S0_S1_S2};
use super::{Spectrum, Xyz, observer};
use crate::units::{Kelvin, Nanometres};

/// The second radiation constant, m·K.
pub const C2: f64 = 1.438_776_877e-2;

/// From this temperature on a scene's light is taken for daylight.
pub const DAYLIGHT_FROM: Kelvin = Kelvin::clamped(4000.0);

/// A glowing body at temperature `t`.
#[must_use]
pub fn planckian(t: Kelvin) -> Spectrum {
    let radiance = |nm: f64| {
        let metres = nm * 1e-9;
        1.0 / (metres.powi(5) * (C2 / (metres * t.get())).exp_m1())
    };
    let at560 = radiance(560.0);
    Spectrum::from_fn(|nm: Nanometres| radiance(nm.get()) / at560)
}

/// Daylight of correlated colour temperature `t` by the CIE method, which holds from 4000 K to
/// 25 000 K; a lower temperature is taken for 4000 K.
#[must_use]
pub fn daylight(t: Kelvin) -> Spectrum {
    let [x, y] = daylight_xy(t);
    let below = 0.0241 + 0.2562 * x - 0.7341 * y;
    let m1 = (-1.3515 - 1.7703 * x + 5.9114 * y) / below;
    let m2 = (0.0300 - 31.4424 * x + 30.0717 * y) / below;
    let power = |[s0, s1, s2]: [f64; 3]| s0 + m1 * s1 + m2 * s2;
    // S0 is 100 and S1, S2 are 0 at 560 nm.
    Spectrum::from_samples(S0_S1_S2.map(|s| power(s) / 100.0))
}

/// The chromaticity x, y of daylight by the CIE method, from 4000 K.
#[must_use]
pub fn daylight_xy(t: Kelvin) -> [f64; 2] {
    let t = t.get().max(DAYLIGHT_FROM.get());
    let (a, b, c, d) = if t <= 7000.0 {
        (-4.6070e9, 2.9678e6, 0.099_11e3, 0.244_063)
    } else {
        (-2.0064e9, 1.9018e6, 0.247_48e3, 0.237_040)
    };
    let x = ((a / t + b) / t + c) / t + d;
    [x, -3.0 * x * x + 2.870 * x - 0.275]
}

/// The light of a scene at colour temperature `t`: a glowing body below 4000 K, daylight from
/// there.
///
/// At 4000 K the colour steps by a Duv of 0.0027, daylight being the greener.
#[must_use]
pub fn scene(t: Kelvin) -> Spectrum {
    if t < DAYLIGHT_FROM {
        planckian(t)
    } else {
        daylight(t)
    }
}

/// The same power at every wavelength, CIE illuminant E.
#[must_use]
pub fn equal_energy() -> Spectrum {
    Spectrum::constant(1.0)
}

/// CIE illuminant A: tungsten.
#[must_use]
pub fn a() -> Spectrum {
    tabulated(0)
}

/// CIE illuminant D55: mid-morning daylight.
#[must_use]
pub fn d55() -> Spectrum {
    tabulated(1)
}

/// CIE illuminant D65: noon daylight.
#[must_use]
pub fn d65() -> Spectrum {
    tabulated(2)
}

fn tabulated(column: usize) -> Spectrum {
    Spectrum::from_samples(A_D55_D65.map(|row| row[column] / 100.0))
}

/// The white of a light: its tristimulus values at Y = 1; those of equal energy when it has no
/// luminance.
#[must_use]
pub fn white(light: &Spectrum) -> Xyz {
    observer::integrate(light)
        .at_unit_luminance()
        .unwrap_or(Xyz::new(1.0, 1.0, 1.0))
}
