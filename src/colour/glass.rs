//! What glass of a known transmittance does to a picture: one matrix on working light.
//!
//! A picture holds three numbers where the scene had a spectrum. The spectrum is rebuilt as a sum
//! of three reflectances under the scene's light, passed through the glass, and seen by the same
//! camera at the same balance. The reflectances are those of Mallett and Yuksel, "Spectral Primary
//! Decomposition for Rendering with sRGB Reflectance", EGSR 2019, doi 10.2312/sr.20191216; they
//! add up to 1 at every wavelength, so white is the scene's light itself and goes through the
//! glass exactly. Colours are estimates: for the glass of a full conversion the 24 patches of a
//! colour chart come out with a mean CIEDE2000 of about 1.1 and a worst of about 5 from their true
//! spectra.
//!
//! With E the scene's light, τ the glass, S the CAT16 adaptation from working white to the camera's
//! balance, M working light to XYZ, and A(L) the three reflectances under light L as columns of XYZ
//! (Y of E is 1), the matrix is M⁻¹ S⁻¹ A(Eτ) A(E)⁻¹ S M.
//!
//! ```
//! use foreglass::colour::{glass, illuminant, spectrum::Spectrum};
//! let scene = illuminant::d55();
//! let balance = illuminant::white(&scene);
//! let grey = glass::glass_matrix(&Spectrum::constant(0.25), &scene, balance, false);
//! let out = grey.apply([0.1, 0.2, 0.3]); // two stops of neutral density
//! assert!((out[0] - 0.025).abs() < 1e-12 && (out[2] - 0.075).abs() < 1e-12);
//! ```

use super::primaries::{Space, WORKING_WHITE};
use super::tables::reflectance::BASIS;
use super::{Matrix3, Spectrum, Xyz, adapt, illuminant, observer};

/// Above this [`scene_condition`] the rebuilding says nothing about colours.
///
/// Errors in the seventh digit of a picture would show. From 2000 K to 25 000 K it is below 20, at
/// 1700 K 25 and at 1000 K 540 (there is next to no blue to tell a blue by); only a light of one or
/// two narrow lines passes it.
pub const WORST_CONDITION: f64 = 1e5;

/// The three reflectances, red, green and blue: at every wavelength they add up to 1 (the published
/// numbers do within 1e-5; the rest is divided out).
#[must_use]
pub fn reflectances() -> [Spectrum; 3] {
    std::array::from_fn(|k| {
        Spectrum::from_samples(BASIS.map(|row| row[k] / row.iter().sum::<f64>()))
    })
}

/// The matrix on working light of glass with transmittance `tau`, under the light `scene`, seen by
/// a camera whose white is `balance`.
///
/// `through` is balance through the glass: the camera's white is set again with the glass on,
/// which takes the shift of white out (CAT16, white through the glass to white without it, each at
/// Y = 1) and leaves the loss of luminance and the change between colours. τ = 1 gives the
/// identity.
///
/// Under a light from which no reflectances can be told ([`scene_condition`] above
/// [`WORST_CONDITION`]) what is left is the change of white alone: a CAT16 shift times the loss.
#[must_use]
pub fn glass_matrix(tau: &Spectrum, scene: &Spectrum, balance: Xyz, through: bool) -> Matrix3 {
    let [x, y] = WORKING_WHITE;
    let working = Xyz::from_xy(x, y);
    let to_scene = adapt::cat16(working, balance) * Space::AcesCg.to_xyz();
    let from_scene = to_scene.inverse().unwrap_or(Matrix3::IDENTITY);
    let seen = scene.product(tau);
    let (white, tinted) = (illuminant::white(scene), illuminant::white(&seen));
    let passed = transmitted_luminance(tau, scene);
    let bare = under(scene, scene);
    let glass = if bare.condition() < WORST_CONDITION {
        under(&seen, scene) * bare.inverse().unwrap_or(Matrix3::IDENTITY)
    } else {
        adapt::cat16(white, tinted).scaled(passed)
    };
    let rebalance = if through && passed > 0.0 {
        adapt::cat16(tinted, white)
    } else {
        Matrix3::IDENTITY
    };
    from_scene * rebalance * glass * to_scene
}

/// How ill-conditioned the rebuilding of reflectances is under a light: the condition number of the
/// three reflectances' XYZ; infinite for a light without luminance.
#[must_use]
pub fn scene_condition(scene: &Spectrum) -> f64 {
    under(scene, scene).condition()
}

/// The luminance that glass passes of a light, 0 to 1 for real glass: Y through over Y bare.
#[must_use]
pub fn transmitted_luminance(tau: &Spectrum, scene: &Spectrum) -> f64 {
    let bare = observer::integrate(scene).luminance();
    let through = observer::integrate(&scene.product(tau)).luminance();
    if bare > 0.0 { through / bare } else { 0.0 }
}

// The reflectances under `light`, as columns of XYZ, where `white` has Y = 1.
fn under(light: &Spectrum, white: &Spectrum) -> Matrix3 {
    let y = observer::integrate(white).luminance();
    let columns = reflectances().map(|r| observer::integrate(&light.product(&r)).get());
    if y > 0.0 {
        Matrix3::from_columns(columns).scaled(1.0 / y)
    } else {
        Matrix3::diagonal([0.0; 3])
    }
}
