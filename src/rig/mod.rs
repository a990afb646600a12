//! Camera, lens, matte box and what stands in it.
//!
//! A [`Setup`] is a rig with everything checked and typed. Its glass runs from the lens outward; light
//! meets it the other way round, front stage first. From it follow the exposure ledger, what the rig
//! covers and clips, and the advisories.

// Warnings, each with its reason.
pub mod advisory;
// The planned camera and its light.
pub mod camera;
// What the rig covers and allows.
pub mod coverage;
// Trade sizes of sensors.
pub mod format;
// The rig as planes and openings in front of the entrance pupil.
pub mod geometry;
// Light lost and colour shifted, and what makes the loss good.
pub mod ledger;
// Stray light on the front, and what the shade keeps off.
pub mod spill;
// Trade sizes of glass.
pub mod size;
// What the rig clips, and how wide a lens it clears.
pub mod vignette;
// What to change about a rig that clips.
pub mod remedies;
// What the glass weighs.
pub mod weight;
// How far figures and picture may be off.
pub mod doubt;

use crate::glass::Piece;
use crate::units::{Degrees, Extent, Millimetres};
use camera::{Camera, Compensate, Light};
use size::Size;
use spill::Shade;
use std::fmt;

/// Screw-in rings there can be.
pub const RINGS: usize = 2;
/// Stages of the matte box.
pub const STAGES: usize = 3;

/// A rig in front of a camera, checked.
#[derive(Debug, Clone, PartialEq)]
pub struct Setup {
    /// The planned camera and lens.
    pub camera: Camera,
    /// The scene's light.
    pub light: Light,
    /// How the loss is made good.
    pub compensate: Compensate,
    /// The shade in front of the matte box.
    pub shade: Shade,
    /// The glass, from the lens outward; empty places are left out.
    pub glass: Vec<Mounted>,
}

/// A piece of glass where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Mounted {
    /// Which ring or stage.
    pub place: Place,
    /// The glass.
    pub piece: Piece,
    /// What holds it.
    pub mount: Mount,
    /// Front vertex to glass.
    pub gap: Millimetres,
    /// Turned counter-clockwise as seen in the picture.
    pub turn: Degrees,
}

/// A place for glass, counted from the lens.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Place {
    /// A screw-in ring, from 1.
    Ring(usize),
    /// A stage of the matte box, from 1.
    Stage(usize),
}

/// What holds a piece of glass.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mount {
    /// A ring screwed into the one behind it.
    Ring {
        /// Its thread.
        thread: Extent,
        /// Its clear opening.
        clear: Extent,
    },
    /// A tray in a stage.
    Tray {
        /// The glass's size.
        size: Size,
        /// How far the tray is slid, towards the dense side.
        slide: Millimetres,
        /// How far the stage is tipped against ghosts.
        tilt: Degrees,
    },
}

impl Place {
    /// The key used in reports: "ring1", "stage2".
    #[must_use]
    pub fn key(self) -> String {
        match self {
            Self::Ring(n) => format!("ring{n}"),
            Self::Stage(n) => format!("stage{n}"),
        }
    }
}

impl fmt::Display for Place {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Ring(n) => write!(f, "Ring {n}"),
            Self::Stage(n) => write!(f, "Stage {n}"),
        }
    }
}
