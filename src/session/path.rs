//! What a light path holds, told for whoever shows it.

use super::edit;
use crate::glass::Piece;
use crate::glass::control::{Control, Kind};
use crate::recipe::Recipe;
use crate::rig::Place;
use serde_json::Value;

/// A place and what stands in it.
#[derive(Debug, Clone)]
pub struct Held {
    /// The place.
    pub place: Place,
    /// Its glass; None when it is empty.
    pub piece: Option<Piece>,
    /// The glass's controls and how they stand.
    pub settings: Vec<Setting>,
    /// Whether glass could be put there.
    pub open: bool,
}

/// A control and how it stands.
#[derive(Debug, Clone)]
pub struct Setting {
    /// The family's control.
    pub control: &'static Control,
    /// Its value; None where it is not set and has no default, or another control stands in for it.
    pub value: Option<Value>,
    /// Whether the value was set, or is the default.
    pub set: bool,
}

/// An option whose text is to be read from a file: of which piece, and which option.
#[derive(Debug, Clone, Copy)]
pub struct Wanted {
    /// Where the piece stands.
    pub place: Place,
    /// The option.
    pub control: &'static Control,
}

impl Wanted {
    /// Words and endings of the files that are offered.
    #[must_use]
    pub const fn kinds(self) -> &'static [(&'static str, &'static [&'static str])] {
        match self.control.kind {
            Kind::File { kinds } => kinds,
            _ => &[],
        }
    }
}

impl PartialEq for Wanted {
    fn eq(&self, other: &Self) -> bool {
        self.place == other.place && std::ptr::eq(self.control, other.control)
    }
}

impl Eq for Wanted {}

/// Every place of a recipe, from the lens outward.
pub(super) fn held(recipe: &Recipe) -> Vec<Held> {
    let mounted = recipe.rig.mounted().unwrap_or_default();
    edit::places()
        .into_iter()
        .map(|place| {
            let piece = mounted
                .iter()
                .find(|m| m.place == place)
                .map(|m| m.piece.clone());
            let settings = piece.as_ref().map(settings).unwrap_or_default();
            Held {
                place,
                piece,
                settings,
                open: edit::can_hold(recipe, place),
            }
        })
        .collect()
}

fn settings(piece: &Piece) -> Vec<Setting> {
    let family = piece.family();
    family
        .controls
        .iter()
        .map(|control| match piece.options().get(control.name) {
            Some(value) => Setting {
                control,
                value: Some(value.clone()),
                set: true,
            },
            None => {
                let value = edit::default_in_effect(piece, control);
                Setting {
                    control,
                    value,
                    set: false,
                }
            }
        })
        .collect()
}
