//! What a reference sheet says.

use super::page::{Page, Picture8};
use super::words;
use super::write::SheetError;
use crate::rig::advisory::Advisory;

/// Stands at the foot of every sheet.
pub const MODELLED: &str = "Modelled, not measured: a camera test decides.";

/// The most looks one sheet shows.
pub const MOST_LOOKS: usize = 4;

/// A reference sheet: one page, for the grade and the director.
#[derive(Debug, Clone, PartialEq)]
pub struct Sheet {
    /// The look's name, or what the looks are of.
    pub title: String,
    /// The frame it was judged on.
    pub frame_name: String,
    /// One to four looks; the first is the one agreed or proposed.
    pub looks: Vec<LookSheet>,
    /// Cautions for the foot of the page, e.g. on the sun, infra-red, or glass that can fall.
    pub cautions: Vec<String>,
    /// The day it was made, as it shall read.
    pub date: String,
}

/// One look.
#[derive(Debug, Clone, PartialEq)]
pub struct LookSheet {
    /// Its name.
    pub name: String,
    /// The frame without glass.
    pub bare: Picture8,
    /// The frame with glass.
    pub glass: Picture8,
    /// Its glass, from the lens outward.
    pub stack: Vec<StackRow>,
    /// Modelled loss of the whole stack, in stops.
    pub light_loss_stops: f64,
    /// The loss that trade tables give for it, in stops, where they give one.
    pub loss_nominal_stops: Option<f64>,
    /// Which kind of stop the two below are.
    pub stop_kind: StopKind,
    /// The metered stop without glass.
    pub bare_stop: f64,
    /// The stop that makes up for the glass, unrounded.
    pub stop_to_set: f64,
    /// What its diffusion does to light and to this frame, in words; empty where it has none.
    pub diffusion: String,
    /// Camera and light, a line each, e.g. "50 mm, f/4, focus 2.5 m".
    pub camera_lines: Vec<String>,
    /// What the rig has to say.
    pub advisories: Vec<Advisory>,
    /// The look's note; empty for none.
    pub note: String,
}

/// Whether a stop is the geometric one or the photometric one.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum StopKind {
    /// f/N: focal length over pupil.
    F,
    /// T: with the lens's own loss in it.
    T,
}

impl StopKind {
    /// The nearest third-stop mark: "f/3.2", "T3.2".
    #[must_use]
    pub fn words(self, n: f64) -> String {
        match self {
            Self::F => words::f_stop(n),
            Self::T => words::t_stop(n),
        }
    }
}

/// One piece of glass.
#[derive(Debug, Clone, PartialEq)]
pub struct StackRow {
    /// Where it stands: "Ring 1", "Stage 1".
    pub place: String,
    /// What it is: name, strength, options in words.
    pub glass: String,
    /// Its own loss, in stops.
    pub loss_stops: f64,
    /// How it is placed: slide, turn, size.
    pub detail: String,
}

/// Lays the sheet out on one A4 page lying on its side.
///
/// One look gets the page to itself; two to four share it, a row each. What a shared or crowded
/// page has no room for ends in an ellipsis or a count: it stands in full in the recipe.
///
/// # Errors
/// [`SheetError::Looks`] without a look, or with more than [`MOST_LOOKS`].
pub fn lay_out(sheet: &Sheet) -> Result<Page, SheetError> {
    match sheet.looks.as_slice() {
        [] => Err(SheetError::Looks { count: 0 }),
        [look] => Ok(super::one::lay_out(sheet, look)),
        looks if looks.len() <= MOST_LOOKS => Ok(super::several::lay_out(sheet, looks)),
        looks => Err(SheetError::Looks { count: looks.len() }),
    }
}
