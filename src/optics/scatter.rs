//! What a diffusing glass does to a ray, exactly.

use crate::units::{Degrees, Micrometres};

/// The angular distribution of one kind of scattered light, of unit sum over all directions.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Profile {
    /// Light diffracted by opaque specks: `[2J₁(u)/u]²`, `u = πd·sinθ/λ`, averaged over a log-normal
    /// spread of diameters (weighted by the area that they cover) and over the channel's band.
    Speck {
        /// Median diameter, weighted by area.
        diameter: Micrometres,
        /// Standard deviation of ln d; 0 is one size.
        spread: f64,
    },
    /// A K-correlation (Harvey) lobe of slope S = −3, the same in every channel:
    /// `L / (2π (θ² + L²)^{3/2})`.
    Harvey {
        /// The half-width L.
        width: Degrees,
    },
}

/// One kind of scattered light and how much of it there is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Lobe {
    /// Part of the light that arrives at the glass.
    pub weight: f64,
    /// Where it goes.
    pub profile: Profile,
}

/// A glass's account of the light that arrives at it:
/// `direct + Σ lobes.weight + veil + absorbed = 1`.
#[derive(Debug, Clone, PartialEq)]
pub struct Scatter {
    /// Part that goes straight on.
    pub direct: f64,
    /// Parts that are scattered about their direction.
    pub lobes: Vec<Lobe>,
    /// Part that is spread over the whole field: the mean of the scene, everywhere.
    pub veil: f64,
    /// Part that is lost: absorbed, or sent back.
    pub absorbed: f64,
}
