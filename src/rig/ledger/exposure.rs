//! What makes the light good that the glass takes: the iris, the exposure index, or more light. Each
//! multiplies the exposure by the filter factor, 2^loss.
//!
//! Exposure goes with light and index, and with 1/N² of the stop, so that the factor F asks for the stop
//! N·F^(−1/2), the index S·F, or F times the light. A lens opens only so far: beyond its widest stop the
//! picture stays darker by what is missing. Density inside the camera stands behind the lens: it was
//! there when the bare stop was metered, and is not counted.
//!
//! Source: definitions of the relative aperture (ISO 517) and of the filter factor (common practice);
//! marks of the index are the customary third stops (common practice, no source).
//!
//! ```
//! use foreglass::recipe::Recipe;
//! let mut recipe = Recipe::default(); // f/4, ISO 800
//! recipe.rig.stages[0] = serde_json::from_str(r#"{"glass": "nd", "options": {"density": 0.6}}"#)?;
//! let made_good = recipe.setup().unwrap().exposure().unwrap();
//! assert!((made_good.factor - 3.981_07).abs() < 1e-5); // 10^0.6
//! assert!((made_good.stop_to_set - 2.004_75).abs() < 1e-5);
//! assert!((made_good.iso_to_set - 3184.9).abs() < 0.1);
//! # Ok::<(), serde_json::Error>(())
//! ```

use crate::rig::Setup;
use crate::rig::camera::Compensate;
use crate::units::Stops;

/// Marks of the exposure index in third stops, as cameras and meters show them.
const MARKS: [u32; 31] = [
    100, 125, 160, 200, 250, 320, 400, 500, 640, 800, 1000, 1250, 1600, 2000, 2500, 3200, 4000,
    5000, 6400, 8000, 10_000, 12_800, 16_000, 20_000, 25_600, 32_000, 40_000, 51_200, 64_000,
    80_000, 102_400,
];

/// What makes the loss good, each of it alone.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Exposure {
    /// The filter factor of the stack: by how much the exposure has to be multiplied, and so the light.
    pub factor: f64,
    /// The stop to set, unrounded: of the T-stops where the lens is marked in them.
    pub stop_to_set: f64,
    /// The exposure index to set, unrounded.
    pub iso_to_set: f64,
    /// What the iris cannot give of it, because the lens does not open that far; nothing where its
    /// widest stop is not told.
    pub stops_missing: Stops,
}

impl Setup {
    /// What makes the loss good; None where the stack passes nothing.
    #[must_use]
    pub fn exposure(&self) -> Option<Exposure> {
        let factor = self.light_loss().factor();
        self.passes_light().then(|| Exposure {
            factor,
            stop_to_set: self.stop_to_set(),
            iso_to_set: f64::from(self.camera.iso) * factor,
            stops_missing: self.stops_missing(),
        })
    }

    /// The stop to set so that the picture is as bright as bare: the T-stop, or else the stop, times
    /// 2^(−loss/2).
    #[must_use]
    pub fn stop_to_set(&self) -> f64 {
        self.marked_stop() * (-self.light_loss().get() / 2.0).exp2()
    }

    /// The metered stop as the lens is marked: in T-stops, or else in f-numbers.
    #[must_use]
    pub fn marked_stop(&self) -> f64 {
        self.camera.t_stop.unwrap_or(self.camera.stop).get()
    }

    /// The widest stop as the lens is marked: a lens that is marked in T-stops keeps the ratio of its
    /// markings wide open too.
    #[must_use]
    pub fn widest_marked(&self) -> Option<f64> {
        let ratio = self.marked_stop() / self.camera.stop.get();
        self.camera.widest_stop.map(|widest| widest.get() * ratio)
    }

    /// Light that is missing when the lens is opened all the way; nothing where it can make the loss
    /// good, where its widest stop is not told, or where there is nothing to make good.
    #[must_use]
    pub fn stops_missing(&self) -> Stops {
        let Some(widest) = self.camera.widest_stop.filter(|_| self.passes_light()) else {
            return Stops::ZERO;
        };
        let given = 2.0 * (self.camera.stop.get() / widest.get()).log2();
        // No more than the glass takes: a bare stop that the lens does not open to was never metered.
        let loss = self.light_loss().get();
        Stops::clamped((loss - given).clamp(0.0, loss.max(0.0)))
    }

    /// Light that the chosen way of making the loss good adds to the picture. A stack that passes
    /// nothing leaves nothing to raise.
    #[must_use]
    pub fn made_good(&self) -> Stops {
        match self.compensate {
            Compensate::None => Stops::ZERO,
            _ if !self.passes_light() => Stops::ZERO,
            Compensate::Iris => self.light_loss() - self.stops_missing(),
            Compensate::Iso | Compensate::Light => self.light_loss(),
        }
    }
}

/// The first mark of the exposure index on the third-stop scale that is not less; None off the scale.
#[must_use]
pub fn iso_mark_above(index: f64) -> Option<u32> {
    // A hundredth of a stop is no mark more.
    let enough = |mark: &u32| f64::from(*mark) >= index * 0.993;
    MARKS.into_iter().find(enough)
}

/// The nearest mark of the exposure index on the third-stop scale; None off the scale.
#[must_use]
pub fn iso_mark(index: f64) -> Option<u32> {
    let apart = |mark: u32| (index / f64::from(mark)).log2().abs();
    let nearest = MARKS
        .into_iter()
        .min_by(|a, b| apart(*a).total_cmp(&apart(*b)))?;
    (apart(nearest) < 0.25).then_some(nearest)
}
