//! Rings and stages as they are written down, and their way to glass.

use super::RecipeError;
use crate::glass::strength::Strength;
use crate::glass::{Family, GlassError, Piece};
use crate::rig::geometry::{RING_PITCH, stage_gap_mm};
use crate::rig::size::Size;
use crate::rig::spill::Shade;
use crate::rig::{Mount, Mounted, Place, RINGS, STAGES};
use crate::units::{Degrees, Extent, Millimetres};
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

/// Furthest that glass may stand in front of the lens.
const LONGEST_GAP: f64 = 1000.0;

/// The glass of a look, from the lens outward.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct RigDoc {
    /// Screw-in rings, two at most.
    pub rings: Vec<RingDoc>,
    /// Stages of the matte box, three at most; an empty one is None.
    pub stages: Vec<Option<StageDoc>>,
    /// The shade in front of the stages.
    pub shade: Shade,
}

impl Default for RigDoc {
    fn default() -> Self {
        Self {
            rings: Vec::new(),
            stages: vec![None; STAGES],
            shade: Shade::default(),
        }
    }
}

/// Glass in a screw-in ring.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct RingDoc {
    /// The family's key.
    pub glass: String,
    /// Its strength; None is the family's own default.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<String>,
    /// Its options.
    #[serde(default, skip_serializing_if = "Map::is_empty")]
    pub options: Map<String, Value>,
    /// Thread.
    #[serde(default = "thread")]
    pub thread_mm: Extent,
    /// Clear opening; None is 4 mm less than the thread.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub clear_mm: Option<Extent>,
    /// Front vertex to glass; None is 5 mm for each ring.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gap_mm: Option<Millimetres>,
    /// Turned counter-clockwise.
    #[serde(default = "no_turn")]
    pub turn_deg: Degrees,
}

/// Glass in a stage of the matte box.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct StageDoc {
    /// The family's key.
    pub glass: String,
    /// Its strength; None is the family's own default.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<String>,
    /// Its options.
    #[serde(default, skip_serializing_if = "Map::is_empty")]
    pub options: Map<String, Value>,
    /// Size of the glass.
    #[serde(default)]
    pub size: Size,
    /// Front vertex to glass; None is 20 mm for stage 1 and 8 mm more for each further one.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gap_mm: Option<Millimetres>,
    /// How far the tray is slid, towards the dense side.
    #[serde(default = "no_slide")]
    pub slide_mm: Millimetres,
    /// Turned counter-clockwise.
    #[serde(default = "no_turn")]
    pub turn_deg: Degrees,
    /// Tipped against ghosts.
    #[serde(default = "no_turn")]
    pub tilt_deg: Degrees,
}

const fn thread() -> Extent {
    Extent::clamped(77.0)
}
const fn no_turn() -> Degrees {
    Degrees::clamped(0.0)
}
const fn no_slide() -> Millimetres {
    Millimetres::clamped(0.0)
}

impl StageDoc {
    /// A piece in a stage, everything else at its default.
    #[must_use]
    pub fn holding(piece: &Piece) -> Self {
        Self {
            glass: piece.family().key.to_owned(),
            strength: piece.strength().map(|s| s.to_string()),
            options: piece.options().clone(),
            size: Size::default(),
            gap_mm: None,
            slide_mm: no_slide(),
            turn_deg: no_turn(),
            tilt_deg: no_turn(),
        }
    }

    /// The glass it holds.
    ///
    /// # Errors
    /// [`RecipeError`], its path within the stage.
    pub fn piece(&self) -> Result<Piece, RecipeError> {
        piece(&self.glass, self.strength.as_deref(), &self.options)
    }
}

impl RingDoc {
    /// A piece in a ring, everything else at its default.
    #[must_use]
    pub fn holding(piece: &Piece) -> Self {
        Self {
            glass: piece.family().key.to_owned(),
            strength: piece.strength().map(|s| s.to_string()),
            options: piece.options().clone(),
            thread_mm: thread(),
            clear_mm: None,
            gap_mm: None,
            turn_deg: no_turn(),
        }
    }

    /// The glass it holds.
    ///
    /// # Errors
    /// [`RecipeError`], its path within the ring.
    pub fn piece(&self) -> Result<Piece, RecipeError> {
        piece(&self.glass, self.strength.as_deref(), &self.options)
    }
}

impl RigDoc {
    /// The glass where it stands, from the lens outward, everything checked.
    ///
    /// # Errors
    /// [`RecipeError`] with the path inside the document.
    pub fn mounted(&self) -> Result<Vec<Mounted>, RecipeError> {
        let rings = "put the rest into the matte box, or density and colour into one glass";
        let stages = "put density and colour into one glass, or what needs no tray into a ring";
        for (name, count, limit, cure) in [
            ("rings", self.rings.len(), RINGS, rings),
            ("stages", self.stages.len(), STAGES, stages),
        ] {
            if count > limit {
                let message = format!("{count} {name}; the limit is {limit}: {cure}");
                return Err(RecipeError::at(format!("rig.{name}"), message));
            }
        }
        let rings = self
            .rings
            .iter()
            .enumerate()
            .map(|(i, r)| ring(i, r).map_err(|e| e.inside(&format!("rig.rings[{i}]"))));
        let stages = self.stages.iter().enumerate().filter_map(|(i, s)| {
            let s = s.as_ref()?;
            Some(stage(i, s).map_err(|e| e.inside(&format!("rig.stages[{i}]"))))
        });
        rings.chain(stages).collect()
    }
}

/// Refuses a ring that is asked to slide with the reason, where an unknown field would leave one guessing.
pub(super) fn refuse_slid_rings(document: &Value) -> Result<(), RecipeError> {
    let rings = document.pointer("/rig/rings").and_then(Value::as_array);
    for (i, ring) in rings.into_iter().flatten().enumerate() {
        if ring.get("slide_mm").is_some() {
            let message = "a ring turns and cannot slide; glass in a stage can";
            return Err(RecipeError::at(format!("rig.rings[{i}].slide_mm"), message));
        }
    }
    Ok(())
}

impl RecipeError {
    pub(super) fn inside(self, outer: &str) -> Self {
        let path = if self.path.is_empty() {
            outer.to_owned()
        } else {
            format!("{outer}.{}", self.path)
        };
        Self { path, ..self }
    }
}

fn ring(index: usize, doc: &RingDoc) -> Result<Mounted, RecipeError> {
    let thread = doc.thread_mm;
    let clear = doc.clear_mm.unwrap_or(Extent::clamped(thread.get() - 4.0));
    if clear.get() >= thread.get() {
        let message = format!(
            "a clear opening of {} mm does not fit a {} mm thread",
            clear.get(),
            thread.get()
        );
        return Err(RecipeError::at("clear_mm", message));
    }
    Ok(Mounted {
        place: Place::Ring(index + 1),
        piece: doc.piece()?,
        mount: Mount::Ring { thread, clear },
        gap: gap(doc.gap_mm, RING_PITCH * (index + 1) as f64)?,
        turn: doc.turn_deg,
    })
}

fn stage(index: usize, doc: &StageDoc) -> Result<Mounted, RecipeError> {
    if doc.size.is_round() && doc.slide_mm.get() != 0.0 {
        let message = format!("round glass ({}) turns and cannot slide", doc.size.name());
        return Err(RecipeError::at("slide_mm", message));
    }
    let sides = doc.size.sides_mm();
    if doc.slide_mm.get().abs() > sides[1] {
        let limit = format!(
            "{} mm is beyond the glass: ±{} mm",
            doc.slide_mm.get(),
            sides[1]
        );
        return Err(RecipeError::at("slide_mm", limit));
    }
    if doc.tilt_deg.get().abs() > 15.0 {
        let message = format!("{}° is out of range: −15 to 15", doc.tilt_deg.get());
        return Err(RecipeError::at("tilt_deg", message));
    }
    Ok(Mounted {
        place: Place::Stage(index + 1),
        piece: doc.piece()?,
        mount: Mount::Tray {
            size: doc.size,
            slide: doc.slide_mm,
            tilt: doc.tilt_deg,
        },
        gap: gap(doc.gap_mm, stage_gap_mm(index).get())?,
        turn: doc.turn_deg,
    })
}

fn gap(given: Option<Millimetres>, default: f64) -> Result<Millimetres, RecipeError> {
    let gap = given.unwrap_or(Millimetres::clamped(default));
    if (0.0..=LONGEST_GAP).contains(&gap.get()) {
        Ok(gap)
    } else {
        let message = format!("{} mm is out of range: 0 to {LONGEST_GAP}", gap.get());
        Err(RecipeError::at("gap_mm", message))
    }
}

/// A piece from what a row of a document says of it.
pub(super) fn piece(
    key: &str,
    strength: Option<&str>,
    options: &Map<String, Value>,
) -> Result<Piece, RecipeError> {
    let family = Family::find(key).map_err(|e| RecipeError::at("glass", e.to_string()))?;
    let strength = strength
        .map(str::parse::<Strength>)
        .transpose()
        .map_err(|e| RecipeError::at("strength", e.to_string()))?;
    family.piece(strength, options).map_err(|e| match e {
        GlassError::Option(o) if o.path.is_empty() => RecipeError::at("options", o.message),
        GlassError::Option(o) => RecipeError::at(format!("options.{}", o.path), o.message),
        GlassError::Strength { .. } => RecipeError::at("strength", e.to_string()),
        GlassError::Unknown { .. } => RecipeError::at("glass", e.to_string()),
    })
}
