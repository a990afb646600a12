//! From what a camera made of a scene back to the scene's light, as far as a meter's readings allow.
//!
//! A file's codes, decoded plainly, are the light of a display. A camera put its own picture curve between
//! the scene and them, and cut off whatever was brighter than its white. Both are undone here in the
//! file's own channels, where the camera did them: first the picture curve ([`Curve`]), channel by channel,
//! through the points that were metered; then light that was clipped is given the level that was metered
//! and a smooth course from its rim ([`raise`]).
//!
//! Nothing here is measured of the camera: where no reading tells, the frame stays as it was decoded.

// The picture curve, through pins.
mod curve;
// Clipped light, brought back to its level.
mod raise;

pub use curve::{Curve, CurveTold, Shape};
pub use raise::{AreaTold, ClippedTold, LeftTold, LevelFrom};

use super::{Disc, Frame, Native, Still, matrix};
use crate::units::{Fraction, Stops};
use std::borrow::Cow;

/// A still's plainly decoded light, and the way back to the channels of its codes.
#[derive(Debug, Clone, Copy)]
pub struct Decoded<'a> {
    /// Its light.
    pub frame: &'a Frame,
    /// The way back.
    pub native: &'a Native,
}

impl Still {
    /// What a restoration begins with.
    #[must_use]
    pub const fn decoded(&self) -> Decoded<'_> {
        Decoded {
            frame: &self.frame,
            native: &self.native,
        }
    }
}

/// What is known of a frame's light beside its codes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ask {
    /// Points that were metered.
    pub pins: Vec<Pin>,
    /// What is taken for the camera's picture curve where no pins tell.
    pub assume: Assume,
    /// The level of clipped light that no area and no pin tells; None leaves it as it is.
    pub clipped: Option<Stops>,
    /// Where the hue of clipped light comes from, unless an area says otherwise.
    pub hue: Hue,
    /// Areas whose clipped light was metered.
    pub areas: Vec<Area>,
}

/// A metered point.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pin {
    /// Where, and how large the meter's spot was there.
    pub disc: Disc,
    /// What the meter said, in stops against key.
    pub stops: Stops,
}

/// An area whose clipped light was metered.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left, top, right, bottom in 0..1 of the frame.
    pub sides: [Fraction; 4],
    /// The mean level of the clipped light in it, in stops against key.
    pub stops: Stops,
    /// Where its hue comes from; None as [`Ask::hue`] says.
    pub hue: Option<Hue>,
}

/// What is taken for the camera's picture curve where no pins tell.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Assume {
    /// Nothing: the light is what the encoding says.
    #[default]
    Plain,
    /// A camera's usual contrast: see [`Curve`].
    Typical,
}

/// Where the hue of clipped light comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Hue {
    /// From the light at its rim, and neutral where there is none.
    #[default]
    Rim,
    /// Neutral: the camera's white.
    Neutral,
}

/// What became of a pin.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Role {
    /// The picture curve goes by it.
    Curve,
    /// It lies on clipped light and gives that its level.
    Level,
    /// It contradicts the others, and was left out.
    Outlier,
    /// There is no light there to go by.
    Dark,
}

/// A pin against the restored frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PinTold {
    /// What became of it.
    pub role: Role,
    /// What the meter said.
    pub said: Stops,
    /// What the frame reads there by plain decoding.
    pub plain: Stops,
    /// What it reads there now.
    pub now: Stops,
}

impl PinTold {
    /// How far the restored frame is over what the meter said.
    #[must_use]
    pub fn residual(&self) -> Stops {
        self.now - self.said
    }
}

/// A frame as the scene's light, and how it came to be.
#[derive(Debug, Clone)]
pub struct Restored<'a> {
    /// Scene light; the still's own frame where there was nothing to undo.
    pub frame: Cow<'a, Frame>,
    /// How.
    pub told: Told,
}

/// How a frame was brought back.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Told {
    /// The picture curve.
    pub curve: CurveTold,
    /// Every pin, in the order in which they were asked.
    pub pins: Vec<PinTold>,
    /// Clipped light.
    pub clipped: ClippedTold,
}

impl Told {
    /// What was done, in sentences; none where the frame is as it was decoded.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let mut lines = self.curve_lines();
        lines.extend(self.clipped_lines());
        lines
    }

    /// What the picture curve is, and how the pins lie to it.
    #[must_use]
    pub fn curve_lines(&self) -> Vec<String> {
        self.curve.lines(&self.pins)
    }

    /// What is clipped, and what was done about it.
    #[must_use]
    pub fn clipped_lines(&self) -> Vec<String> {
        self.clipped.lines()
    }
}

/// The scene's light of a still.
#[must_use]
pub fn restore<'a>(still: Decoded<'a>, ask: &Ask) -> Restored<'a> {
    let Decoded { frame, native } = still;
    let (width, height) = (frame.width(), frame.height());
    let on_clipped: Vec<bool> = ask
        .pins
        .iter()
        .map(|pin| native.is_clipped(pin.disc, frame))
        .collect();
    let fitted = Curve::fit(&still, ask, &on_clipped);
    let levels = raise::Levels::of(ask, &on_clipped);
    let untouched = fitted.curve.is_plain() && (levels.is_empty() || native.clipped.is_none());
    let (frame, clipped) = if untouched {
        (Cow::Borrowed(frame), raise::look(&still, &levels))
    } else {
        let mut planes = frame.planes().clone();
        matrix::apply(&native.from_working, &mut planes);
        fitted.curve.apply(&mut planes);
        let (told, raised) = raise::raise(&planes, &still, &fitted.curve, &levels);
        if fitted.curve.is_plain() {
            // Light that is not raised stays as it was, to the bit.
            planes.clone_from(frame.planes());
        } else {
            matrix::apply(&native.to_working, &mut planes);
        }
        let rows = native.to_working.rows_f32();
        for (at, light) in raised.at.into_iter().zip(raised.light) {
            let light = matrix::mul(&rows, light);
            planes
                .iter_mut()
                .zip(light)
                .for_each(|(plane, v)| plane[at as usize] = v);
        }
        (Cow::Owned(Frame::from_planes(width, height, planes)), told)
    };
    let level = |frame: &Frame, disc: Disc| {
        Stops::clamped((disc.mean(frame) / f64::from(Frame::KEY)).max(0.0).log2())
    };
    let pins = ask
        .pins
        .iter()
        .enumerate()
        .zip(&fitted.roles)
        .map(|((i, pin), role)| PinTold {
            role: *role,
            said: pin.stops,
            plain: level(still.frame, pin.disc),
            now: clipped
                .lamp_of(i)
                .unwrap_or_else(|| level(&frame, pin.disc)),
        })
        .collect();
    Restored {
        frame,
        told: Told {
            curve: fitted.told,
            pins,
            clipped,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A reader compares what the curve's sentences say with what those on clipped light do.
    #[test]
    fn all_sentences_tell_levels_alike() {
        let stops = Stops::clamped;
        let told = Told {
            curve: CurveTold {
                shape: Shape::Through(1),
                held: Some([stops(-5.31), stops(0.5)]),
                expected: true,
                ..CurveTold::default()
            },
            pins: vec![PinTold {
                role: Role::Curve,
                said: stops(-1.0),
                plain: stops(0.0),
                now: stops(0.256),
            }],
            clipped: ClippedTold {
                share: 0.25,
                areas: vec![AreaTold {
                    sides: [0.0, 0.0, 0.5, 0.5],
                    pixels: 9,
                    before: stops(2.0),
                    after: stops(3.459),
                    from: LevelFrom::General,
                    hue: Hue::Rim,
                }],
                left: vec![LeftTold {
                    sides: [0.5, 0.5, 1.0, 1.0],
                    pixels: 4,
                    from: LevelFrom::General,
                    told: stops(-0.5),
                    shows: stops(2.0),
                }],
                asked: true,
                ..ClippedTold::default()
            },
        };
        let lines = told.lines().join(" ");
        for level in [
            "between −5.31 and +0.50 stops",
            "reads +0.26 stops; the meter said −1.00",
            "a mean of +3.46 stops",
            "told −0.50 stops, but it already shows +2.00",
        ] {
            assert!(lines.contains(level), "{level}: {lines}");
        }
    }
}
