//! Warnings about a rig, each with its reason in plain words.

// Light that the lens cannot make good.
mod exposure;
// What the frame's corners see.
mod coverage;
// Edges too soft or too hard.
mod edges;
// Stray light on the front.
mod spill;
// Diffusion that is coarse before a small pupil.
mod grain;
// What can hurt people, gear or the picture.
mod hazards;

use super::Setup;
use crate::optics::field::View;
use serde::Serialize;

/// How serious a warning is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Worth knowing.
    Note,
    /// Look at this before the day.
    Caution,
    /// This will not work.
    Stop,
}

impl Level {
    /// Its word. The gravest level is not called by its name: beside f-numbers "stop" would be read
    /// as one.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "Note",
            Self::Caution => "Caution",
            Self::Stop => "Must fix",
        }
    }
}

/// One warning.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Advisory {
    /// What it is about, for programs.
    pub code: &'static str,
    /// How serious it is.
    pub level: Level,
    /// The reason, in plain words.
    pub text: String,
    /// What lies behind a warning of this kind, in a sentence or two.
    pub explanation: &'static str,
}

impl Advisory {
    /// A warning.
    #[must_use]
    pub fn new(code: &'static str, level: Level, text: impl Into<String>) -> Self {
        Self {
            code,
            level,
            text: text.into(),
            explanation: explanation(code),
        }
    }
}

/// What lies behind the warnings of each code.
pub const EXPLAINED: &[(&str, &str)] = &[
    (
        "beyond-widest-stop",
        "The light that the glass takes is made good by opening the iris, and a lens opens only so far. Past \
         that only more light, a slower shutter or a higher index helps.",
    ),
    (
        "coverage",
        "The bundle of rays of every corner of the picture must pass the glass whole. Where it meets the \
         glass's end, an edge or a tray shows.",
    ),
    (
        "vignette",
        "Mounts and glass that clip a corner's bundle of rays take light from it; the wider the lens and the \
         further from it they stand, the more.",
    ),
    (
        "slide",
        "A tray can slide until its glass's end meets the rays of a corner: beyond, part of the picture has no \
         glass before it.",
    ),
    (
        "edge-soft",
        "The picture shows a grad's edge over f(L + D)/z: a long lens, an open stop or glass close to the lens \
         spreads it, until it is no edge at all.",
    ),
    (
        "edge-hard",
        "A wide lens, a small stop or glass far from the lens draws the edge so narrow that it can be seen as \
         a line wherever it does not follow one in the scene.",
    ),
    (
        "spill",
        "Light from outside the picture that strikes the front glass is scattered into the lens as an even \
         veil: it lifts the blacks and takes contrast.",
    ),
    (
        "coarse",
        "Diffusion works by many specks or threads before the pupil. With few of them before a small pupil \
         each shows by itself.",
    ),
    (
        "sun-finder",
        "Neutral density and polarisers pass infrared and are not made for the eye; a lens gathers hundreds of \
         times the light that an eye does.",
    ),
    (
        "infrared",
        "Dyes that hold back visible light let the near infrared pass, and sensors see it: the darker the \
         glass, the larger its part.",
    ),
    (
        "two-polarisers",
        "Two polarisers pass by the square of the cosine of the angle between them (Malus): crossed they are \
         nearly black, and alike the second does nothing but cost light.",
    ),
    (
        "glass",
        "Something about this very piece has to be known before its picture is trusted.",
    ),
    (
        "many-surfaces",
        "Every face sends back a part of the light, and two of them throw a ghost of a lamp into the picture. \
         A tipped stage throws it out.",
    ),
    (
        "falling-glass",
        "A pane that comes out of its tray falls on whoever stands under it.",
    ),
    (
        "not-applied",
        "The recipe keeps it, so that nothing is lost; the picture does not show it yet.",
    ),
    (
        "frame-too-narrow",
        "A frame shows no more than the camera that it was seen by took in. What a wider lens would see beside it \
         has to be told, or left out.",
    ),
];

/// What lies behind the warnings of a code; empty for a code that is not there, which a test forbids.
fn explanation(code: &str) -> &'static str {
    EXPLAINED
        .iter()
        .find(|(known, _)| *known == code)
        .map_or("", |(_, text)| text)
}

/// Codes of the warnings about harm to people and gear.
pub const HAZARDS: [&str; 3] = ["sun-finder", "infrared", "falling-glass"];
impl Setup {
    /// Every warning this rig earns over `view`, most serious first.
    #[must_use]
    pub fn advisories(&self, view: &View) -> Vec<Advisory> {
        let mut found = Vec::new();
        self.exposure_advisories(&mut found);
        self.coverage_advisories(view, &mut found);
        self.edge_advisories(view, &mut found);
        self.spill_advisories(view, &mut found);
        self.grain_advisories(&mut found);
        self.hazard_advisories(&mut found);
        found.sort_by_key(|a| std::cmp::Reverse(a.level));
        found
    }
}
