//! The picture curve, undone.

use super::{Ask, Decoded, PinTold, Role};

/// A monotone curve from a channel's plainly decoded light to the scene's.
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {}

/// What kind of curve it is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Shape {
    /// None: plain decoding.
    #[default]
    Plain,
}

/// What there is to tell of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CurveTold {
    /// Its kind.
    pub shape: Shape,
}

impl CurveTold {
    /// What the curve is and how the pins lie to it, in sentences.
    pub(super) fn lines(&self, _pins: &[PinTold]) -> Vec<String> {
        Vec::new()
    }
}

/// A fitted curve.
pub(super) struct Fitted {
    pub(super) curve: Curve,
    /// What became of each pin.
    pub(super) roles: Vec<Role>,
    pub(super) told: CurveTold,
}

impl Curve {
    /// The curve that a still's pins ask for.
    pub(super) fn fit(_still: &Decoded<'_>, ask: &Ask, on_clipped: &[bool]) -> Fitted {
        let role = |on: &bool| if *on { Role::Level } else { Role::Curve };
        Fitted {
            curve: Self {},
            roles: on_clipped.iter().map(role).take(ask.pins.len()).collect(),
            told: CurveTold::default(),
        }
    }

    /// Whether it changes nothing.
    #[must_use]
    pub const fn is_plain(&self) -> bool {
        true
    }

    /// A channel's light, from its plainly decoded light.
    #[must_use]
    pub const fn light(&self, plain: f32) -> f32 {
        plain
    }

    /// The same for planes of a file's own channels.
    pub(super) fn apply(&self, _planes: &mut [Vec<f32>; 3]) {}
}
