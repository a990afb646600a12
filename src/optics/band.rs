//! The channels' bands in the unit of a glass's own measures.

use crate::colour;
use std::sync::OnceLock;

/// For each of R, G, B: (wavelength in µm, weight), weights of unit sum, zeros left out.
pub(super) fn colours() -> &'static [Vec<(f64, f64)>; 3] {
    static COLOURS: OnceLock<[Vec<(f64, f64)>; 3]> = OnceLock::new();
    COLOURS.get_or_init(|| {
        colour::bands().each_ref().map(|band| {
            let sample = band.iter().map(|(nm, weight)| (nm.get() * 1e-3, weight));
            sample.filter(|&(_, weight)| weight > 0.0).collect()
        })
    })
}
