//! Fog: fine droplets in the glass, a wide glow about every lamp and mist over the whole picture.
//!
//! Law: [`crate::optics::droplets::Droplets`]: exp(−τQ) of each wavelength stays in place, diffraction by
//! the droplets is a strong lobe of some degrees, what they refract goes wider and partly over the whole
//! field. Droplets this fine hold back blue more than red: lamps keep a slightly warm core in a cooler
//! glow, as in real fog of such droplets. Strength is the number of droplets. Light that meets two of
//! them is counted once: at the strong end real glass is a little wider than this.
//!
//! Source: extinction after van de Hulst, see [`crate::optics::droplets`]; no measured figures of such
//! glass were found in print, so size, number and shares are our own estimates.
//!
//! ```
//! use foreglass::glass::Family;
//! let fog = Family::find("fog")?.default_piece();
//! let direct = fog.law().scatter.as_ref().unwrap().direct;
//! // The core is warm: red stays, blue goes.
//! assert!(direct[0] > direct[1] && direct[1] > direct[2]);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::Family;
use super::air::{Air, HONESTY, SOURCE};
use super::strength::Strength;

pub(super) static FAMILY: Family = Family {
    key: "fog",
    name: AIR.name,
    purpose: "A wide glow about lamps and pale air over everything, like fog.",
    source: SOURCE,
    honesty: HONESTY,
    strengths: &Strength::ALL,
    controls: &[],
    make: |strength, options| AIR.make(strength, options),
};

const AIR: Air = Air {
    name: "Fog",
    depth: [0.013, 0.026, 0.05, 0.09, 0.145, 0.205, 0.27, 0.34],
    diameter_um: 8.0,
    step: 0.033,
    refracted: 0.45,
    lobe_deg: 5.0,
    veil: 0.45,
    back: 0.03,
};
