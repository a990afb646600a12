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
// Two polarisers, and one before a wide lens.
mod polarisers;
// Many faces, and ghosts.
mod ghosts;
// Whether there is room for the glass.
mod room;
// Where figures and picture may be off.
mod limits;

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
        "Each corner of the picture looks through a patch of glass as large as the entrance pupil. Where that \
         patch runs over the end of the glass, the end or its tray shows as a soft border.",
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
        "A grad's edge is drawn as wide as its ramp and the entrance pupil together, larger with focal \
         length: a long lens, an open stop or glass close to the lens spreads it until it is no edge at all.",
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
        "The second passes by the square of the cosine of the angle between them (Malus): crossed they are \
         nearly black, alike the second only costs light. Behind a circular one it always costs its whole \
         loss.",
    ),
    (
        "glass",
        "Something about this very piece has to be known before its picture is trusted.",
    ),
    (
        "many-surfaces",
        "A face sends back 4 % of the light, coated half a per cent. Two of them make a lamp's ghost 9 stops \
         under it, coated 15: a lamp that bright shows it. A tipped glass throws it aside.",
    ),
    (
        "uneven-sky",
        "A clear sky is polarised most at a right angle from the sun and hardly towards it. A wide lens takes \
         in both, so that a polariser darkens one part of it and leaves the other.",
    ),
    (
        "stages",
        "Glass is about 4 mm thick, and stages stand 6 to 8 mm apart so that trays pass. A tipped stage needs \
         room at its edge: half its height times the sine of the angle.",
    ),
    (
        "stage-count",
        "A matte box has three stages. Density and colour can share a glass, what is not slid can sit in a \
         ring, and a rotating pair of polarisers takes two stages.",
    ),
    (
        "weight",
        "A 4x5.65 pane weighs about 150 g and a 6.6x6.6 one 280 g, and trays come on top. Hung on a lens's \
         front thread they pull it off its axis and strain its mount.",
    ),
    (
        "pupil",
        "Edges and corners are reckoned from the entrance pupil, the stop as seen through the front. It lies \
         where the lens turns without things near and far shifting against one another.",
    ),
    (
        "near-subject",
        "Close focus narrows the bundle of rays on the glass, and with it an edge. What lies behind the focus \
         has a wider bundle and a softer edge.",
    ),
    (
        "oblique",
        "Rays to the corners run aslant through the glass and meet more of its dye. ND 2.1 takes 0.4 stop \
         more at 30° off the axis; metal-coated density does not.",
    ),
    (
        "falling-glass",
        "A pane that comes out of its tray falls on whoever stands under it. Lock the tray before the camera \
         moves, and tie matte box and flag with a strap.",
    ),
    (
        "not-applied",
        "The recipe keeps it, so that nothing is lost; the picture does not show it yet.",
    ),
    (
        "opaque",
        "What passes nothing has no filter factor. A table of a spectrum that is all noughts, or in another \
         unit than its heading says, is the usual reason.",
    ),
    (
        "turned-corners",
        "A square sheet that is turned brings its corners nearer to the axis along one side and its ends along \
         the other: sheets that are to be turned far must be larger than the picture needs upright, or round.",
    ),
    (
        "shade",
        "A shade keeps stray light off best where it is narrow, and the bundle of rays of every corner of the \
         picture must pass its mouth and below its flag.",
    ),
    (
        "frame-too-narrow",
        "A frame shows no more than the camera that it was seen by took in. What a wider lens would see beside it \
         has to be told, or left out.",
    ),
    (
        "edge-out",
        "A glass shows only the part of itself that the picture looks through: tan θ times its distance from \
         the entrance pupil either way, and half the pupil more. An edge beyond that is not seen.",
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
        self.room_advisories(&mut found);
        self.polariser_advisories(view, &mut found);
        self.ghost_advisories(view, &mut found);
        self.limit_advisories(view, &mut found);
        self.hazard_advisories(&mut found);
        found.sort_by_key(|a| std::cmp::Reverse(a.level));
        found
    }
}
