//! What the scopes show: read off the picture beside the one that is shown, on the thread that made it.

use super::Session;
use crate::frame::Frame;
use crate::meters::chromaticity::{Chromaticity, Lamps};
use crate::meters::histogram::Histogram;
use crate::meters::texture::{self, Texture};
use crate::meters::waveform::Waveform;
use crate::meters::{Reduced, Region, even_gain};
use crate::plan::Plan;
use crate::rig::Setup;
use std::sync::Arc;

/// What is wanted beside the pictures.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wants {
    /// Waveform, histogram, chromaticity, texture.
    pub scopes: bool,
    /// The region whose texture is told, in 0 to 1 of the still; the whole picture where none is.
    pub face: Option<Region>,
}

/// Readings of the picture, bare and through the glass.
#[derive(Debug)]
pub struct Scopes {
    /// Bare, glass.
    pub pair: [Scope; 2],
    /// The scene's light before and behind the glass.
    pub lamps: Option<Lamps>,
    /// The texture kept of the face, or of the whole picture.
    pub texture: Option<Texture>,
}

/// Readings of one picture.
#[derive(Debug)]
pub struct Scope {
    /// Levels column by column.
    pub waveform: Waveform,
    /// Levels of all of it.
    pub histogram: Histogram,
    /// Where its colours lie.
    pub chromaticity: Chromaticity,
}

impl Scope {
    fn of(frame: &Frame, setup: &Setup) -> Self {
        let read = Reduced::of(frame);
        Self {
            waveform: Waveform::usual(&read),
            histogram: Histogram::usual(&read),
            chromaticity: Chromaticity::of(&read, setup.balance()),
        }
    }
}

impl Scopes {
    /// Of a picture, bare and through the glass of a plan; `face` in 0 to 1 of the picture, None where it
    /// lies outside.
    pub(super) fn of(
        [bare, glass]: [&Frame; 2],
        setup: &Setup,
        plan: &Plan,
        face: Option<Region>,
    ) -> Self {
        Self {
            pair: [Scope::of(bare, setup), Scope::of(glass, setup)],
            lamps: Lamps::of(setup),
            texture: face.map(|face| texture::kept(bare, glass, even_gain(plan), face)),
        }
    }
}

impl Session {
    /// Says what is wanted beside the pictures.
    pub fn want(&mut self, wants: Wants) {
        if self.wants != wants {
            self.wants = wants;
            if !wants.scopes {
                self.scopes = None;
            }
            self.order();
        }
    }

    /// The readings; of the last picture for which they are ready.
    #[must_use]
    pub const fn scopes(&self) -> Option<&Arc<Scopes>> {
        self.scopes.as_ref()
    }
}
