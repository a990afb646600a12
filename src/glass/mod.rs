//! The families of glass.
//!
//! A family is one file and one word in the list below. It owns its options (unknown ones are
//! refused), its controls, its strengths, its law and the words it is called by; the window, the
//! recipe, the sheet and the command line read all of that from here and name no family themselves.

// What a person may set on a piece of glass.
pub mod control;
// What a glass does to light, and the figures that follow from it.
pub mod law;
// What grads share.
mod edge;
// What all diffusers share.
mod diffuser;
// What glass of droplets shares.
mod air;
// What dyes share.
mod dye;
// What the mists share.
mod mist;
// What the nets share.
mod net;
// The trade's ladder of strengths.
pub mod strength;
// Which pieces turn one colour temperature into another.
pub mod conversion;

use crate::units::{Density, Mireds, Stops};
use control::{Control, Kind};
use law::Law;
use serde_json::{Map, Value};
use strength::Strength;

macro_rules! families {
    ($($stem:ident),* $(,)?) => {
        $(mod $stem;)*

        /// Every family, in the order in which they are offered.
        pub static FAMILIES: &[&Family] = &[$(&$stem::FAMILY),*];
    };
}

families! {
    clear, dark_mist, pale_mist, lenslet, fog, low_contrast, net_dark, net_pale, star, streak,
    nd, balance, cc, spectrum, polariser, grad_nd, grad_colour
}

/// One family of glass: what it is called, what may be set on it, and how its law is made.
#[derive(Debug)]
pub struct Family {
    /// Its key in recipes and on the command line.
    pub key: &'static str,
    /// Its name in the trade's words.
    pub name: &'static str,
    /// What it is for, in a sentence.
    pub purpose: &'static str,
    /// Where its physics and figures come from.
    pub source: &'static str,
    /// How far its figures can be trusted.
    pub honesty: &'static str,
    /// The strengths it comes in, weakest first; empty when strength is not how it is told.
    pub strengths: &'static [Strength],
    /// What else may be set on it.
    pub controls: &'static [Control],
    /// Makes a piece of it.
    make: fn(Strength, &Map<String, Value>) -> Result<Made, OptionError>,
}

/// What a family's own code makes of a strength and its options.
#[derive(Debug, Clone)]
struct Made {
    law: Law,
    name: String,
    nominal_loss: Option<Stops>,
    nominal_shift: Option<Mireds>,
}

/// Options that a family does not take: where in the options, and why.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{message}")]
pub struct OptionError {
    /// JSON path inside the options object; empty for the object as a whole.
    pub path: String,
    /// What was wrong, with the limit.
    pub message: String,
}

/// Why a piece of glass could not be made.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GlassError {
    /// No family has this key.
    #[error("no family of glass is called \"{key}\"; there are: {known}")]
    Unknown {
        /// The key asked for.
        key: String,
        /// The keys there are.
        known: String,
    },
    /// The family does not come in this strength.
    #[error("{name} does not come in strength {asked}; it comes in {known}")]
    Strength {
        /// The family's name.
        name: &'static str,
        /// The strength asked for.
        asked: String,
        /// The strengths there are.
        known: String,
    },
    /// The family refuses these options.
    #[error(transparent)]
    Option(#[from] OptionError),
}

/// A piece of glass as it is ordered: a family, a strength and options, checked.
#[derive(Debug, Clone)]
pub struct Piece {
    family: &'static Family,
    strength: Option<Strength>,
    options: Map<String, Value>,
    made: Made,
}

impl Family {
    /// The family with this key.
    ///
    /// # Errors
    /// [`GlassError::Unknown`], which lists the keys.
    pub fn find(key: &str) -> Result<&'static Self, GlassError> {
        FAMILIES
            .iter()
            .copied()
            .find(|f| f.key == key)
            .ok_or_else(|| GlassError::Unknown {
                key: key.to_owned(),
                known: FAMILIES
                    .iter()
                    .map(|f| f.key)
                    .collect::<Vec<_>>()
                    .join(", "),
            })
    }

    /// The strength a new piece has: 1 where there is one, else the weakest.
    #[must_use]
    pub fn default_strength(&self) -> Option<Strength> {
        let one = self.strengths.iter().copied().find(|s| *s == Strength::ONE);
        one.or_else(|| self.strengths.first().copied())
    }

    /// A piece of this family.
    ///
    /// `strength` None is the default strength; families without strengths take none (or 1, which
    /// is every recipe's default).
    ///
    /// # Errors
    /// [`GlassError::Strength`] or [`GlassError::Option`].
    pub fn piece(
        &'static self,
        strength: Option<Strength>,
        options: &Map<String, Value>,
    ) -> Result<Piece, GlassError> {
        let strength = match strength {
            None => self.default_strength(),
            Some(s) if self.strengths.contains(&s) => Some(s),
            Some(s) if self.strengths.is_empty() && s == Strength::ONE => None,
            Some(s) => {
                let known = self
                    .strengths
                    .iter()
                    .map(ToString::to_string)
                    .collect::<Vec<_>>();
                return Err(GlassError::Strength {
                    name: self.name,
                    asked: s.to_string(),
                    known: if known.is_empty() {
                        "none".to_owned()
                    } else {
                        known.join(", ")
                    },
                });
            }
        };
        let made = (self.make)(strength.unwrap_or(Strength::ONE), options)?;
        Ok(Piece {
            family: self,
            strength,
            options: options.clone(),
            made,
        })
    }

    /// A piece with the family's defaults.
    ///
    /// # Panics
    /// Never: a test makes every family's default piece.
    #[must_use]
    pub fn default_piece(&'static self) -> Piece {
        #[expect(
            clippy::expect_used,
            reason = "every family's defaults are made in a test"
        )]
        self.piece(None, &Map::new())
            .expect("a family's defaults are in range")
    }
}

impl Piece {
    /// The family it belongs to.
    #[must_use]
    pub const fn family(&self) -> &'static Family {
        self.family
    }

    /// Its strength, where the family has strengths.
    #[must_use]
    pub const fn strength(&self) -> Option<Strength> {
        self.strength
    }

    /// Its options as given: what is not there has its default.
    #[must_use]
    pub const fn options(&self) -> &Map<String, Value> {
        &self.options
    }

    /// What it is called when it is ordered, e.g. "ND 0.6" or "Dark mist 1/2".
    #[must_use]
    pub fn name(&self) -> &str {
        &self.made.name
    }

    /// What it does to light.
    #[must_use]
    pub const fn law(&self) -> &Law {
        &self.made.law
    }

    /// The loss that the trade's tables give it, where they do.
    #[must_use]
    pub const fn nominal_loss(&self) -> Option<Stops> {
        self.made.nominal_loss
    }

    /// The shift that it is sold by, where it is glass that shifts colour temperature; density in the
    /// same glass does not change it.
    #[must_use]
    pub const fn nominal_shift(&self) -> Option<Mireds> {
        self.made.nominal_shift
    }
}

impl Piece {
    /// The pieces of its family that differ from it in one choice: every word of every choice in turn.
    pub fn choices(&self) -> impl Iterator<Item = Self> + '_ {
        let words = self.family.controls.iter().flat_map(|control| {
            let words = match control.kind {
                Kind::Choice { words, .. } => words,
                _ => &[],
            };
            words.iter().map(|word| (control.name, *word))
        });
        words.filter_map(|(name, word)| {
            let mut options = self.options.clone();
            options.insert(name.to_owned(), Value::from(word));
            self.family.piece(self.strength, &options).ok()
        })
    }
}

impl PartialEq for Piece {
    fn eq(&self, other: &Self) -> bool {
        std::ptr::eq(self.family, other.family)
            && self.strength == other.strength
            && self.options == other.options
    }
}

/// Reads a family's options from their JSON object; the error tells the path inside it.
fn read_options<T: serde::de::DeserializeOwned>(
    options: &Map<String, Value>,
) -> Result<T, OptionError> {
    let value = Value::Object(options.clone());
    serde_path_to_error::deserialize(value).map_err(|e| {
        let path = e.path().to_string();
        OptionError {
            path: if path == "." { String::new() } else { path },
            message: e.into_inner().to_string(),
        }
    })
}

/// A refusal of one option.
fn refuse(path: &str, message: impl Into<String>) -> OptionError {
    OptionError {
        path: path.to_owned(),
        message: message.into(),
    }
}

/// An option's number within a family's limits, both included.
fn within(name: &str, value: f64, [low, high]: [f64; 2], unit: &str) -> Result<f64, OptionError> {
    if (low..=high).contains(&value) {
        Ok(value)
    } else {
        let message = format!("{name} {value} is out of range: {low} to {high}{unit}");
        Err(refuse(name, message))
    }
}

/// A density option within a family's limits.
fn density_option(value: f64, low: f64, high: f64) -> Result<Density, OptionError> {
    within("density", value, [low, high], "").map(Density::clamped)
}
