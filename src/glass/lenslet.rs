//! Lenslet softener: small lenses in the glass that each throw the picture a little out of focus.
//!
//! Law: lenslets of half-angle φ on a part a of the area leave 1 − a of the light in place and spread the
//! rest over an even disc of half-angle φ, the same in every colour: what refracts knows no wavelength as
//! diffraction does. The modulation is `(1 − a) + a·2J₁(x)/x`, x = 2πφν: fine texture falls to the
//! plateau 1 − a while anything coarser than the disc, and the middle of an edge, keeps its place. Half-angles
//! spread log-normally. The rims of the lenslets send a little of their light wide, and a little is lost
//! at them. Strength is the area covered; the disc does not grow with it.
//!
//! Source: geometry of a thin lens, transform of a disc after Airy ([`crate::optics::airy`]); no measured
//! figures of such glass were found in print, so area, half-angle and rims are our own estimates.
//!
//! ```
//! use foreglass::{glass::Family, optics::airy};
//! let glass = Family::find("lenslet")?.default_piece();
//! let scatter = glass.law().scatter.as_ref().unwrap();
//! // Strength 1: a = 0.17. Texture much finer than the disc keeps 1 − a.
//! assert!((scatter.transfer(1, 1e6) - 0.83).abs() < 1e-6);
//! // Without a spread, 2J₁(x)/x at x = 2 is 0.5767.
//! assert!((airy::jinc(2.0) - 0.576_724_8).abs() < 1e-7);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::strength::Strength;
use super::{Family, diffuser};
use crate::optics::fit::LEAST_DISC_SPREAD;
use crate::optics::scatter::{Lobe, Profile, Scatter};
use crate::units::Degrees;

pub(super) static FAMILY: Family = Family {
    key: "lenslet",
    name: NAME,
    purpose: "Takes the texture off skin and leaves eyes and edges in place.",
    source: "Lenslets on a part a of the area: (1−a) + a·2J₁(x)/x, x = 2πφν",
    honesty: "Modelled, not measured: area, half-angle and rims of the lenslets are our own estimates.",
    strengths: &Strength::ALL,
    controls: &[],
    make: |strength, options| {
        diffuser::make(NAME, strength, options, scatter(AREA[strength.rung()]))
    },
};

const NAME: &str = "Lenslet softener";
/// Area covered by lenslets at 1/8 to 5.
const AREA: [f64; 8] = [0.025, 0.05, 0.1, 0.17, 0.25, 0.32, 0.39, 0.45];
/// Median half-angle of a lenslet, radius over focal length: 0.11 mm on the sensor at 50 mm.
const ANGLE: Degrees = Degrees::clamped(0.13);
/// Spread of ln φ.
const SPREAD: f64 = 0.6;
const _: () = assert!(
    SPREAD >= LEAST_DISC_SPREAD,
    "too hard an edge for a sum of Gaussians"
);
/// Parts of the lenslets' light that their rims scatter wide, and lose.
const RIMS: f64 = 0.04;
const LOST: f64 = 0.01;
/// Half-width of the lobe from the rims.
const WIDE: Degrees = Degrees::clamped(2.0);

fn scatter(area: f64) -> Scatter {
    let disc = Profile::Disc {
        angle: ANGLE,
        spread: SPREAD,
    };
    Scatter {
        direct: [1.0 - area; 3],
        lobes: vec![
            Lobe::grey(area * (1.0 - RIMS - LOST), disc),
            Lobe::grey(area * RIMS, Profile::Harvey { width: WIDE }),
        ],
        veil: [0.0; 3],
        absorbed: [area * LOST; 3],
    }
}
