//! For every code, recipes on either side of its limit.

// What figures may be off by.
mod doubts;
// Hazards, polarisers, room.
mod glass;
// Light, openings, edges.
mod lens;
// Codes of two levels.
mod levels;

use super::{Changes, told};
use foreglass::rig::advisory::{Advisory, Level};
use serde_json::{Value, json};

/// A recipe that earns an advisory and one that does not, or earns a lesser one.
pub(crate) struct Pair {
    pub(crate) code: &'static str,
    /// What the limit is, and where it comes from.
    pub(crate) limit: &'static str,
    pub(crate) level: Level,
    pub(crate) fires: Changes,
    pub(crate) quiet: Changes,
    /// What is told inside the limit of a code that has another below it, and words of it.
    pub(crate) inside: Option<(Level, &'static str)>,
    /// Words of the one that fires.
    pub(crate) says: Vec<&'static str>,
    /// Who tells it.
    pub(crate) tells: fn(&Changes) -> Vec<Advisory>,
}

impl Pair {
    /// The same, inside whose limit the code is still told.
    fn or(mut self, level: Level, says: &'static str) -> Self {
        self.inside = Some((level, says));
        self
    }
}

pub(crate) fn all() -> Vec<Pair> {
    [
        lens::light(),
        lens::planned(),
        lens::openings(),
        lens::edges(),
        glass::hazards(),
        glass::polarisers(),
        glass::room(),
        levels::levels(),
        doubts::doubts(),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn pair(
    code: &'static str,
    level: Level,
    limit: &'static str,
    fires: Changes,
    quiet: Changes,
    says: &[&'static str],
) -> Pair {
    Pair {
        code,
        limit,
        level,
        fires,
        quiet,
        inside: None,
        says: says.to_vec(),
        tells: told,
    }
}

/// Half the diagonal of the default sensor over its sides, mm.
const HALF: [f64; 2] = [12.445, 7.0];

fn half_diagonal() -> f64 {
    HALF[0].hypot(HALF[1])
}

/// A lens at infinity whose pupil lies `pupil` mm behind the front.
fn lens(focal: f64, stop: f64, pupil: f64) -> (&'static str, Value) {
    let camera = json!({"focal_mm": focal, "stop": stop, "pupil_depth_mm": pupil, "focus_m": null});
    ("/camera", camera)
}

/// The first stage of the recipe, which holds a mist otherwise.
fn first(stage: Value) -> (&'static str, Value) {
    ("/rig/stages/0", stage)
}

fn nd(density: f64) -> Value {
    json!({"glass": "nd", "options": {"density": density}})
}
