//! What the scopes show: read off the picture beside the one that is shown, on the thread that made it.

use super::Session;
use super::shown::Shown;
use crate::frame::Frame;
use crate::meters::chromaticity::{Chromaticity, Lamps};
use crate::meters::difference::Difference;
use crate::meters::false_stops;
use crate::meters::histogram::Histogram;
use crate::meters::texture::{self, Texture};
use crate::meters::waveform::Waveform;
use crate::meters::{Reduced, Region, even_gain};
use crate::plan::Plan;
use crate::rig::Setup;
use std::sync::Arc;

/// What the panes show.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Viewing {
    /// The picture.
    #[default]
    Picture,
    /// Every pixel in the colour of its level.
    FalseStops,
    /// What the glass changes, in stops.
    Difference,
}

impl Viewing {
    /// All of them.
    pub const ALL: [Self; 3] = [Self::Picture, Self::FalseStops, Self::Difference];
}

/// The pictures painted by their levels, bare and glass; of a difference both are the same.
#[derive(Debug)]
pub struct Aid {
    /// What they show.
    pub view: Viewing,
    /// Bare, glass.
    pub pair: [Arc<Shown>; 2],
}

impl Aid {
    /// Of a picture, bare and through the glass, coded for so many `pixels` across the screen; None where the picture
    /// itself is shown.
    pub(super) fn of(
        view: Viewing,
        [bare, glass]: [&Arc<Frame>; 2],
        (ladder, pixels): (u64, [f32; 2]),
    ) -> Option<Self> {
        let pair = match view {
            Viewing::Picture => return None,
            Viewing::FalseStops => [bare, glass].map(|frame| {
                Arc::new(Shown::painted(vec![Arc::clone(frame)], ladder, |f| {
                    false_stops::paint(&f[0]).rgba
                }))
            }),
            Viewing::Difference => {
                let scale = Difference::default();
                let frames = vec![Arc::clone(bare), Arc::clone(glass)];
                let paint = move |f: &[Arc<Frame>]| scale.paint(&f[0], &f[1]).rgba;
                let shown = Arc::new(Shown::painted(frames, ladder, paint));
                [Arc::clone(&shown), shown]
            }
        };
        for (shown, pixels) in pair.iter().zip(pixels) {
            shown.code(pixels);
        }
        Some(Self { view, pair })
    }
}

/// What is wanted beside the pictures.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Wants {
    /// What the panes show.
    pub view: Viewing,
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
            if self.aid.as_ref().is_some_and(|a| a.view != wants.view) {
                self.aid = None;
            }
            self.order();
        }
    }

    /// The pictures painted as is wanted; of the last picture for which they are ready.
    #[must_use]
    pub const fn aid(&self) -> Option<&Arc<Aid>> {
        self.aid.as_ref()
    }

    /// The readings; of the last picture for which they are ready.
    #[must_use]
    pub const fn scopes(&self) -> Option<&Arc<Scopes>> {
        self.scopes.as_ref()
    }
}
