//! Changes to the light path, as functions on a recipe. They name no family: what a piece of glass
//! takes is asked of its family.

use crate::glass::control::{Control, Kind};
use crate::glass::strength::Strength;
use crate::glass::{Family, GlassError, Piece};
use crate::recipe::{RINGS, Recipe, RingDoc, STAGES, StageDoc};
use crate::rig::Place;
use crate::units::FNumber;
use serde_json::{Map, Value};

/// Every place for glass, from the lens outward.
#[must_use]
pub fn places() -> Vec<Place> {
    (1..=RINGS)
        .map(Place::Ring)
        .chain((1..=STAGES).map(Place::Stage))
        .collect()
}

/// What is written down about the glass in a place: key, strength, options.
pub(super) fn written(
    recipe: &Recipe,
    place: Place,
) -> Option<(&str, Option<&str>, &Map<String, Value>)> {
    match place {
        Place::Ring(n) => {
            let r = recipe.rig.rings.get(n - 1)?;
            Some((&r.glass, r.strength.as_deref(), &r.options))
        }
        Place::Stage(n) => {
            let s = recipe.rig.stages.get(n - 1)?.as_ref()?;
            Some((&s.glass, s.strength.as_deref(), &s.options))
        }
    }
}

/// Sets the metered stop. The T-stop that goes with it follows: a lens keeps the ratio of its markings.
pub fn set_stop(recipe: &mut Recipe, stop: FNumber) {
    let camera = &mut recipe.camera;
    let ratio = stop.get() / camera.stop.get();
    camera.t_stop = camera.t_stop.map(|t| FNumber::clamped(t.get() * ratio));
    camera.stop = stop;
}

/// The stage's document, where it holds glass.
pub fn stage_mut(recipe: &mut Recipe, place: Place) -> Option<&mut StageDoc> {
    let Place::Stage(n) = place else { return None };
    recipe.rig.stages.get_mut(n - 1)?.as_mut()
}

/// The ring's document.
pub fn ring_mut(recipe: &mut Recipe, place: Place) -> Option<&mut RingDoc> {
    let Place::Ring(n) = place else { return None };
    recipe.rig.rings.get_mut(n - 1)
}

/// Whether glass can be put in a place: rings are screwed one into the other, so that the second
/// needs the first.
#[must_use]
pub fn can_hold(recipe: &Recipe, place: Place) -> bool {
    match place {
        Place::Ring(n) => n <= (recipe.rig.rings.len() + 1).min(RINGS),
        Place::Stage(n) => n <= STAGES,
    }
}

/// Puts a piece in a place, in place of whatever stood there.
///
/// # Errors
/// A sentence, where the place cannot hold glass.
pub fn put(recipe: &mut Recipe, place: Place, piece: &Piece) -> Result<(), String> {
    if !can_hold(recipe, place) {
        return Err(format!(
            "{place} has nothing to be screwed into: fill the ring behind it first."
        ));
    }
    match place {
        Place::Ring(n) => {
            let doc = RingDoc::holding(piece);
            match recipe.rig.rings.get_mut(n - 1) {
                Some(ring) => {
                    // The ring stays; its glass is another one.
                    ring.glass = doc.glass;
                    ring.strength = doc.strength;
                    ring.options = doc.options;
                }
                None => recipe.rig.rings.push(doc),
            }
        }
        Place::Stage(_) => {
            let doc = StageDoc::holding(piece);
            *slot(recipe, place)? = Some(doc);
        }
    }
    Ok(())
}

/// Takes the glass out of a place. Rings in front of a ring move up.
pub fn remove(recipe: &mut Recipe, place: Place) {
    match place {
        Place::Ring(n) if n <= recipe.rig.rings.len() => {
            recipe.rig.rings.remove(n - 1);
        }
        Place::Ring(_) => {}
        Place::Stage(_) => {
            if let Ok(slot) = slot(recipe, place) {
                *slot = None;
            }
        }
    }
}

/// Carries the glass of one place to another; what stands there takes its place.
///
/// Between stages a glass keeps its size, slide, turn and tilt, and each stage its distance from the
/// lens. Between a ring and a stage only the glass itself is carried.
///
/// # Errors
/// A sentence, where there is nothing to carry or nowhere to put it.
pub fn carry(recipe: &mut Recipe, from: Place, to: Place) -> Result<(), String> {
    if from == to {
        return Ok(());
    }
    match (from, to) {
        (Place::Stage(a), Place::Stage(b)) => {
            slot(recipe, from)?;
            slot(recipe, to)?;
            let stages = &mut recipe.rig.stages;
            let gaps = [a, b].map(|n| stages[n - 1].as_ref().and_then(|s| s.gap_mm));
            stages.swap(a - 1, b - 1);
            for (n, gap) in [(a, gaps[0]), (b, gaps[1])] {
                if let Some(stage) = &mut stages[n - 1] {
                    stage.gap_mm = gap;
                }
            }
            Ok(())
        }
        (Place::Ring(a), Place::Ring(b)) => {
            let count = recipe.rig.rings.len();
            if a > count || b > count {
                return Err(format!(
                    "{from} cannot change places with {to}: one is empty."
                ));
            }
            recipe.rig.rings.swap(a - 1, b - 1);
            Ok(())
        }
        _ => {
            let moving = piece_at(recipe, from)?
                .ok_or_else(|| format!("{from} is empty: there is nothing to move."))?;
            let other = piece_at(recipe, to)?;
            put(recipe, to, &moving)?;
            match other {
                Some(other) => put(recipe, from, &other),
                None => {
                    remove(recipe, from);
                    Ok(())
                }
            }
        }
    }
}

fn piece_at(recipe: &Recipe, place: Place) -> Result<Option<Piece>, String> {
    let piece = match place {
        Place::Ring(n) => recipe.rig.rings.get(n - 1).map(RingDoc::piece),
        Place::Stage(n) => recipe
            .rig
            .stages
            .get(n - 1)
            .and_then(Option::as_ref)
            .map(StageDoc::piece),
    };
    piece.transpose().map_err(|e| format!("{place}: {e}."))
}

/// Sets the strength of the glass in a place.
///
/// # Errors
/// A sentence, where the place is empty.
pub fn set_strength(recipe: &mut Recipe, place: Place, strength: Strength) -> Result<(), String> {
    let (written, _) = glass_mut(recipe, place)?;
    *written = Some(strength.to_string());
    Ok(())
}

/// Sets an option of the glass in a place, or with None leaves it to its default.
///
/// Some options stand in for one another. Where the family refuses the new value only because of
/// another option, that other one is dropped: the newest word counts.
///
/// # Errors
/// A sentence, where the place is empty or the family refuses the value whatever else is set.
pub fn set_option(
    recipe: &mut Recipe,
    place: Place,
    name: &str,
    value: Option<Value>,
) -> Result<(), String> {
    let (key, strength, options) =
        written(recipe, place).ok_or_else(|| format!("{place} is empty."))?;
    let family = Family::find(key).map_err(|e| format!("{e}."))?;
    let strength = strength.and_then(|s| s.parse::<Strength>().ok());
    let mut wanted = options.clone();
    match value {
        Some(value) => wanted.insert(name.to_owned(), value),
        None => wanted.remove(name),
    };
    let wanted =
        reconciled(family, strength, wanted, name).map_err(|e| format!("{place}: {e}."))?;
    *glass_mut(recipe, place)?.1 = wanted;
    Ok(())
}

/// The options, less any one that contradicts `name`.
fn reconciled(
    family: &'static Family,
    strength: Option<Strength>,
    options: Map<String, Value>,
    name: &str,
) -> Result<Map<String, Value>, GlassError> {
    let Err(refusal) = family.piece(strength, &options) else {
        return Ok(options);
    };
    let others: Vec<String> = options.keys().filter(|k| *k != name).cloned().collect();
    for other in others {
        let mut fewer = options.clone();
        fewer.remove(&other);
        if family.piece(strength, &fewer).is_ok() {
            return Ok(fewer);
        }
    }
    Err(refusal)
}

/// The value of a control that is not written down: its default, unless what is written down stands
/// in for it.
pub(super) fn default_in_effect(piece: &Piece, control: &Control) -> Option<Value> {
    let default = match control.kind {
        Kind::Number { default, .. } => default.map(Value::from),
        Kind::Choice { default, .. } => default.map(Value::from),
        Kind::Switch { default } => Some(Value::from(default)),
        Kind::File { .. } => None,
    }?;
    if piece.options().is_empty() {
        return Some(default);
    }
    let mut with = piece.options().clone();
    with.insert(control.name.to_owned(), default.clone());
    piece
        .family()
        .piece(piece.strength(), &with)
        .is_ok()
        .then_some(default)
}

type Written<'a> = (&'a mut Option<String>, &'a mut Map<String, Value>);

fn glass_mut(recipe: &mut Recipe, place: Place) -> Result<Written<'_>, String> {
    let found = match place {
        Place::Ring(n) => recipe
            .rig
            .rings
            .get_mut(n - 1)
            .map(|r| (&mut r.strength, &mut r.options)),
        Place::Stage(n) => recipe
            .rig
            .stages
            .get_mut(n - 1)
            .and_then(Option::as_mut)
            .map(|s| (&mut s.strength, &mut s.options)),
    };
    found.ok_or_else(|| format!("{place} is empty."))
}

/// A stage's slot; a document may list fewer stages than there are.
fn slot(recipe: &mut Recipe, place: Place) -> Result<&mut Option<StageDoc>, String> {
    let Place::Stage(n) = place else {
        return Err(format!("{place} is not a stage."));
    };
    if recipe.rig.stages.len() < STAGES {
        recipe.rig.stages.resize(STAGES, None);
    }
    recipe
        .rig
        .stages
        .get_mut(n - 1)
        .ok_or_else(|| format!("There is no {place}."))
}
