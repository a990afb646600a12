//! How a frame is read and brought back to the scene's light, as it is written down.

use super::{InputLut, Recipe, RecipeError, SeenBy, Take};
use crate::frame::restore::{self, Assume, Decoded, Hue, Restored, restore};
use crate::frame::{Disc, Encoding, ReadAs};
use crate::units::{Fraction, Stops};
use serde::{Deserialize, Serialize};
use std::ops::RangeInclusive;

/// Radius of a metered spot where none is told, in parts of the frame's width.
pub const SPOT: f64 = 0.01;
/// Most pins, and most areas, that a recipe may hold.
const MOST: usize = 200;
/// Exposure values that a meter may say: darker than starlight to brighter than the sun's disc.
const EV: RangeInclusive<f64> = -20.0..=40.0;

/// How the frame is read.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct FrameDoc {
    /// How codes become light; with an input LUT, what comes out of that.
    pub encoding: Encoding,
    /// The LUT that codes go through first; None takes them as they are.
    pub input_lut: Option<InputLut>,
    /// A LUT for viewing; None is plain encoding.
    pub view: Option<String>,
    /// The camera that the frame was seen by.
    pub seen_by: Option<SeenBy>,
    /// How much of the frame the planned picture is.
    pub take: Take,
    /// What is taken for the camera's picture curve where no pins tell.
    pub curve: Assume,
    /// What the spot meter said of key, as an exposure value; pins may then be told as exposure values.
    pub key_ev: Option<f64>,
    /// Points whose light was metered.
    pub pins: Vec<Pin>,
    /// Level of clipped light, in stops against key.
    pub clipped_stops: Option<Stops>,
    /// Where the hue of clipped light comes from.
    pub clipped_hue: Hue,
    /// Areas whose clipped light was metered.
    pub clipped_areas: Vec<ClippedArea>,
}

/// A metered point of the frame. Its level is told once: in stops against key, or as the meter's exposure
/// value.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Pin {
    /// Across, 0 to 1 from the left.
    pub x: Fraction,
    /// Down, 0 to 1 from the top.
    pub y: Fraction,
    /// What the meter said, in stops against key.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stops: Option<Stops>,
    /// What the meter said, as an exposure value; [`FrameDoc::key_ev`] is then told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub ev: Option<f64>,
    /// The radius of the meter's spot, in parts of the frame's width; None is [`SPOT`].
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub radius: Option<Fraction>,
}

/// An area whose clipped light was metered.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct ClippedArea {
    /// Left, top, right and bottom, 0 to 1 of the frame from its top left.
    pub sides: [Fraction; 4],
    /// The mean level of the clipped light in it, in stops against key.
    pub stops: Stops,
    /// Where its hue comes from; None is as for all clipped light.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub hue: Option<Hue>,
}

impl Pin {
    /// A point that the meter read in stops against key.
    #[must_use]
    pub const fn of_stops(x: Fraction, y: Fraction, stops: Stops) -> Self {
        Self {
            x,
            y,
            stops: Some(stops),
            ev: None,
            radius: None,
        }
    }

    /// Where the meter's spot lay.
    #[must_use]
    pub fn disc(&self) -> Disc {
        Disc {
            x: self.x.get(),
            y: self.y.get(),
            radius: self.radius.map_or(SPOT, Fraction::get),
        }
    }
}

impl FrameDoc {
    /// What the meter said of a pin, in stops against key; None where nothing tells it.
    #[must_use]
    pub fn level(&self, pin: &Pin) -> Option<Stops> {
        let by_ev = || Some(Stops::clamped(tidy(pin.ev? - self.key_ev?)));
        pin.stops.or_else(by_ev)
    }

    /// Tells every pin as an exposure value by a key that reads `key_ev`, or in stops; their levels stay.
    pub fn retell(&mut self, key_ev: Option<f64>) {
        for i in 0..self.pins.len() {
            let level = self.level(&self.pins[i]);
            let pin = &mut self.pins[i];
            match (level, key_ev) {
                (Some(level), Some(key)) => {
                    (pin.stops, pin.ev) = (None, Some(tidy(key + level.get())));
                }
                (Some(level), None) => (pin.stops, pin.ev) = (Some(level), None),
                (None, _) => {}
            }
        }
        self.key_ev = key_ev;
    }

    /// What it asks of the restoration.
    #[must_use]
    pub fn ask(&self) -> restore::Ask {
        let pin = |pin: &Pin| {
            Some(restore::Pin {
                disc: pin.disc(),
                stops: self.level(pin)?,
            })
        };
        restore::Ask {
            pins: self.pins.iter().filter_map(pin).collect(),
            assume: self.curve,
            clipped: self.clipped_stops,
            hue: self.clipped_hue,
            areas: self
                .clipped_areas
                .iter()
                .map(|a| restore::Area {
                    sides: a.sides,
                    stops: a.stops,
                    hue: a.hue,
                })
                .collect(),
        }
    }

    pub(super) fn check(&self) -> Result<(), RecipeError> {
        self.input_lut.as_ref().map_or(Ok(()), InputLut::check)?;
        for (name, count) in [
            ("pins", self.pins.len()),
            ("clipped_areas", self.clipped_areas.len()),
        ] {
            if count > MOST {
                let message = format!("{count} are too many; the limit is {MOST}");
                return Err(RecipeError::at(format!("frame.{name}"), message));
            }
        }
        let ev = |path: String, value: Option<f64>| match value {
            Some(v) if !EV.contains(&v) => {
                let message = format!("{v} is out of range: {} to {}", EV.start(), EV.end());
                Err(RecipeError::at(path, message))
            }
            _ => Ok(()),
        };
        ev("frame.key_ev".to_owned(), self.key_ev)?;
        for (i, pin) in self.pins.iter().enumerate() {
            let path = format!("frame.pins[{i}]");
            ev(format!("{path}.ev"), pin.ev)?;
            let message = match (pin.stops, pin.ev, self.key_ev) {
                (Some(_), None, _) | (None, Some(_), Some(_)) => continue,
                (Some(_), Some(_), _) => "tell its stops or its ev, not both",
                (None, Some(_), None) => {
                    "an ev says nothing without the key's: tell frame.key_ev, or this pin in stops"
                }
                (None, None, _) => "tell what the meter said: its stops, or its ev",
            };
            return Err(RecipeError::at(path, message));
        }
        for (i, area) in self.clipped_areas.iter().enumerate() {
            let [x0, y0, x1, y1] = area.sides.map(Fraction::get);
            if x0 >= x1 || y0 >= y1 {
                let message = "left and top come before right and bottom";
                let path = format!("frame.clipped_areas[{i}].sides");
                return Err(RecipeError::at(path, message));
            }
        }
        Ok(())
    }
}

/// Without the last digits, which are but the sum's rounding: a reading has two decimals.
fn tidy(value: f64) -> f64 {
    (value * 1e9).round() / 1e9
}

impl Recipe {
    /// How the frame's file is to be read.
    #[must_use]
    pub fn read_as(&self) -> ReadAs {
        ReadAs {
            encoding: self.frame.encoding,
            lut: self.frame.input_lut.as_ref().and_then(InputLut::lut),
        }
    }

    /// The scene's light of a still, as far as this recipe's pins and levels bring it back.
    #[must_use]
    pub fn light<'a>(&self, still: Decoded<'a>) -> Restored<'a> {
        restore(still, &self.frame.ask())
    }
}
