//! Versioned documents. A recipe is one look written down: how the frame was seen, the camera, the
//! light, the rig and the exposure, as JSON. Numbers come back to the bit.

// What every versioned document has in common.
mod document;
// How a frame is read and brought back to the scene's light.
mod frame;
// Which part of a frame the planned camera would see.
mod framing;
// The glass there is to choose from.
pub mod kit;
// The LUT that a frame's codes go through.
mod input_lut;
// Rings and stages as they are written down.
mod places;
// The sample frames and their recipes, held in the program.
pub mod samples;
// The camera that the frame was seen by.
mod seen;
// Files that options name.
mod texts;

pub use crate::rig::{RINGS, STAGES};
pub use frame::{ClippedArea, FrameDoc, Pin, SPOT};
pub use framing::{Framing, FramingError};
pub use input_lut::{InputLut, input_lut_from};
pub use places::{RigDoc, RingDoc, StageDoc};
pub use seen::{Known, Origin, Seen, SeenBy, Take};
pub use texts::option_text;

use crate::rig::Setup;
use crate::rig::advisory::{Advisory, Level};
use crate::rig::camera::{Camera, Compensate, Light};
use crate::units::Degrees;
use serde::{Deserialize, Serialize};
use std::path::Path;

/// What a recipe's `format` says.
const FORMAT: &str = "foreglass.recipe";

/// A recipe that cannot be used: where in the document, and why.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}{message}", if path.is_empty() { String::new() } else { format!("{path}: ") })]
pub struct RecipeError {
    /// JSON path, e.g. `rig.stages[1].options.density`; empty for the document as a whole.
    pub path: String,
    /// What was wrong, with the limit.
    pub message: String,
}

impl RecipeError {
    fn at(path: impl Into<String>, message: impl Into<String>) -> Self {
        Self {
            path: path.into(),
            message: message.into(),
        }
    }
}

/// One look, written down.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Recipe {
    format: String,
    version: u64,
    /// The look's name.
    #[serde(default)]
    pub name: String,
    /// How the frame is read.
    #[serde(default)]
    pub frame: FrameDoc,
    /// The planned camera and lens.
    #[serde(default)]
    pub camera: Camera,
    /// The scene's light.
    #[serde(default)]
    pub light: Light,
    /// The glass.
    #[serde(default)]
    pub rig: RigDoc,
    /// How the loss is made good.
    #[serde(default)]
    pub exposure: ExposureDoc,
    /// A note for whoever reads it next.
    #[serde(default)]
    pub note: String,
}

/// How the loss is made good.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct ExposureDoc {
    /// By the iris, the exposure index, the light, or not at all.
    pub compensate: Compensate,
}

impl Default for Recipe {
    fn default() -> Self {
        Self {
            format: FORMAT.to_owned(),
            version: document::VERSION,
            name: String::new(),
            frame: FrameDoc::default(),
            camera: Camera::default(),
            light: Light::default(),
            rig: RigDoc::default(),
            exposure: ExposureDoc::default(),
            note: String::new(),
        }
    }
}

impl Recipe {
    /// Reads a recipe and checks all of it.
    ///
    /// # Errors
    /// [`RecipeError`] for anything that is not a recipe of a known version, an unknown field, a value
    /// out of range, a piece of glass that does not exist, or an option that names a file instead of
    /// holding its text.
    pub fn parse(text: &str) -> Result<Self, RecipeError> {
        let recipe = Self::document(text)?;
        recipe.setup()?;
        Ok(recipe)
    }

    /// Reads a recipe that was written in `folder`: where an option names a file, from there, the
    /// file's text takes the place of its name.
    ///
    /// # Errors
    /// As [`Recipe::parse`], and for a file that cannot be read.
    pub fn parse_in(text: &str, folder: &Path) -> Result<Self, RecipeError> {
        let mut recipe = Self::document(text)?;
        recipe.rig.take_in(folder)?;
        recipe.frame.take_in(folder)?;
        recipe.setup()?;
        Ok(recipe)
    }

    fn document(text: &str) -> Result<Self, RecipeError> {
        let value = document::open(text, document::LONGEST_RECIPE, FORMAT, "a recipe")?;
        places::refuse_slid_rings(&value)?;
        document::typed(value)
    }

    /// The recipe as JSON, indented, with a final newline.
    #[must_use]
    pub fn to_json(&self) -> String {
        #[expect(
            clippy::expect_used,
            reason = "every field is a string, a finite number or a list"
        )]
        let mut text = serde_json::to_string_pretty(self).expect("a recipe serialises");
        text.push('\n');
        text
    }

    /// The rig, checked and typed.
    ///
    /// # Errors
    /// [`RecipeError`] with the path of the first thing that is out of range or does not exist.
    pub fn setup(&self) -> Result<Setup, RecipeError> {
        self.check_camera()?;
        self.frame.seen_by.as_ref().map_or(Ok(()), SeenBy::check)?;
        self.frame.check()?;
        if let Some(view) = &self.frame.view {
            let message = format!("viewing LUT \"{view}\": viewing through a LUT is not there yet");
            return Err(RecipeError::at("frame.view", message));
        }
        Ok(Setup {
            camera: self.camera.clone(),
            light: self.light.clone(),
            compensate: self.exposure.compensate,
            shade: self.rig.shade,
            glass: self.rig.mounted()?,
        })
    }

    /// Whether it says the same as another one of everything but the glass.
    #[must_use]
    pub fn is_but_for_its_rig(&self, other: &Self) -> bool {
        // Taken apart, so that no field is forgotten.
        let Self {
            format: _,
            version: _,
            name,
            frame,
            camera,
            light,
            rig: _,
            exposure,
            note,
        } = self;
        (name, frame, camera) == (&other.name, &other.frame, &other.camera)
            && (light, exposure, note) == (&other.light, &other.exposure, &other.note)
    }

    /// What the recipe says and this version keeps but does not yet apply to the picture.
    #[must_use]
    pub fn unapplied(&self) -> Vec<Advisory> {
        let mut kept = Vec::new();
        let tipped = |s: &StageDoc| s.tilt_deg.get().abs() > 0.0;
        if self.rig.stages.iter().flatten().any(tipped) {
            kept.push("the tilt of a stage (it counts for room and ghosts alone)");
        }
        if kept.is_empty() {
            return Vec::new();
        }
        let text = format!(
            "Kept in the recipe, not yet applied to the picture: {}.",
            kept.join(", ")
        );
        vec![Advisory::new("not-applied", Level::Note, text)]
    }

    fn check_camera(&self) -> Result<(), RecipeError> {
        let c = &self.camera;
        let limits = [
            ("iso", f64::from(c.iso), 1.0, 1e7),
            ("shutter_deg", c.shutter_deg, 0.1, 360.0),
            ("fps", c.fps, 0.01, 10_000.0),
            ("framing_aspect", c.framing_aspect.unwrap_or(1.0), 0.1, 10.0),
            ("pupil_depth_mm", c.pupil_depth().get(), 0.0, 2000.0),
        ];
        for (name, value, low, high) in limits {
            if !(low..=high).contains(&value) {
                let message = format!("{value} is out of range: {low} to {high}");
                return Err(RecipeError::at(format!("camera.{name}"), message));
            }
        }
        let from = self.light.spill_from_deg.map_or(0.0, Degrees::get);
        let flag = self.rig.shade.top_flag_mm.get();
        let limits = [
            ("light.spill_from_deg", from, 0.0, 90.0),
            ("rig.shade.top_flag_mm", flag, 0.0, 2000.0),
        ];
        for (path, value, low, high) in limits {
            if !(low..=high).contains(&value) {
                let message = format!("{value} is out of range: {low} to {high}");
                return Err(RecipeError::at(path, message));
            }
        }
        if (c.squeeze - 1.0).abs() > f64::EPSILON {
            let message = format!("{} : only spherical lenses (1) are modelled yet", c.squeeze);
            return Err(RecipeError::at("camera.squeeze", message));
        }
        Ok(())
    }
}
