//! Clipped light, brought back to its level.

use super::{Area, Ask, Curve, Decoded, Hue, Pin};
use crate::units::Stops;

/// What there is to tell of clipped light.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ClippedTold {
    /// The part of the frame's pixels that is clipped, 0..1.
    pub share: f64,
    /// What was given a level.
    pub areas: Vec<AreaTold>,
}

/// One connected area of clipped light that was given a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AreaTold {
    /// Left, top, right, bottom in 0..1 of the frame.
    pub sides: [f64; 4],
}

impl ClippedTold {
    /// What is clipped and what was done about it, in sentences.
    pub(super) const fn lines(&self) -> Vec<String> {
        Vec::new()
    }
}

/// The levels that are told.
pub(super) struct Levels {
    pins: Vec<Pin>,
    areas: Vec<Area>,
    general: Option<Stops>,
    hue: Hue,
}

impl Levels {
    pub(super) fn of(ask: &Ask, on_clipped: &[bool]) -> Self {
        let pins = ask.pins.iter().zip(on_clipped).filter(|(_, on)| **on);
        Self {
            pins: pins.map(|(p, _)| *p).collect(),
            areas: ask.areas.clone(),
            general: ask.clipped,
            hue: ask.hue,
        }
    }

    pub(super) fn is_empty(&self) -> bool {
        self.pins.is_empty() && self.areas.is_empty() && self.general.is_none()
    }
}

/// What is clipped, nothing changed.
pub(super) fn look(_still: &Decoded<'_>, _levels: &Levels) -> ClippedTold {
    ClippedTold::default()
}

/// Gives clipped light its level, in planes of the file's own channels behind the picture curve.
pub(super) fn raise(
    _planes: &mut [Vec<f32>; 3],
    still: &Decoded<'_>,
    _curve: &Curve,
    levels: &Levels,
) -> ClippedTold {
    look(still, levels)
}
