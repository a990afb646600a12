//! Scopes as pictures.

use super::{Args, Pair};
use crate::cli::Failure;
use crate::frame::{Frame, to_width};
use crate::handover::scopes::{
    MOST_PAINTED, Scene, chromaticity_page, histogram_page, painted_page, waveform_page,
    write_scope,
};
use crate::meters::chromaticity::{Chromaticity, Lamps, picture_white};
use crate::meters::difference::Difference;
use crate::meters::histogram::Histogram;
use crate::meters::waveform::{COLUMNS, PER_STOP, Waveform};
use crate::meters::{Axis, Reduced, false_stops};
use crate::rig::Setup;
use crate::units::Stops;
use anyhow::anyhow;
use std::path::PathBuf;

/// What is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum Picture {
    /// Every pixel in the colour of its level
    FalseStops,
    /// How many stops the glass makes each pixel darker or brighter
    Difference,
    /// Levels column by column
    Waveform,
    /// Levels of the whole picture
    Histogram,
    /// Where its colours lie
    Chromaticity,
}

/// A drawing that was asked for and can be made.
pub(super) struct Drawing {
    what: Picture,
    out: PathBuf,
    bare: bool,
    difference: Difference,
    /// The frame's name.
    name: String,
}

impl Drawing {
    /// What the command line asks for.
    pub(super) fn of(args: &Args) -> Result<Option<Self>, Failure> {
        let (Some(what), Some(out)) = (args.picture, args.out.clone()) else {
            return Ok(None);
        };
        let wrong = |text: String| Err(Failure::Usage(anyhow!(text)));
        let ending = out.extension().unwrap_or_default().to_string_lossy();
        if !ending.eq_ignore_ascii_case("png") {
            return wrong(format!("--out {}: it is written as .png", out.display()));
        }
        if what == Picture::Difference && args.recipe.is_none() {
            return wrong("--picture difference: give the --recipe whose glass is told".to_owned());
        }
        if what == Picture::Difference && args.bare {
            return wrong("--picture difference: it is of both pictures, not --bare".to_owned());
        }
        let difference = match args.range {
            Some(range) if what == Picture::Difference => Stops::new(range)
                .and_then(Difference::new)
                .map_err(|e| Failure::Usage(anyhow!("--range {range}: {e}")))?,
            _ => Difference::default(),
        };
        let name = args.frame.file_name().unwrap_or(args.frame.as_os_str());
        Ok(Some(Self {
            what,
            out,
            bare: args.bare,
            difference,
            name: name.to_string_lossy().into_owned(),
        }))
    }

    /// Draws it; the recipe's name, where there is one, goes into its title.
    pub(super) fn draw(
        &self,
        frames: &Pair<Frame>,
        setup: Option<&Setup>,
        (axis, recipe): (&Axis, Option<&str>),
    ) -> Result<(), Failure> {
        let glass = frames.glass.as_ref().filter(|_| !self.bare);
        let frame = glass.unwrap_or(&frames.bare);
        let scene = self.scene(glass.is_some(), recipe);
        let read = || Reduced::of(frame);
        let page = match self.what {
            Picture::FalseStops => {
                let painted = false_stops::paint(&fitting(frame));
                painted_page(&scene, &painted, &false_stops::legend())
            }
            Picture::Difference => {
                let painted = self
                    .difference
                    .paint(&fitting(&frames.bare), &fitting(frame));
                painted_page(&scene, &painted, &self.difference.legend())
            }
            Picture::Waveform => {
                let [low, high] = [axis.centre(0), axis.centre(axis.bins() - 1)];
                let axis = Axis::new(low, high, PER_STOP).unwrap_or(*axis);
                waveform_page(&scene, &Waveform::of(&read(), axis, COLUMNS))
            }
            Picture::Histogram => histogram_page(&scene, &Histogram::of(&read(), *axis)),
            Picture::Chromaticity => {
                let white = setup.map_or_else(picture_white, Setup::balance);
                let colours = Chromaticity::of(&read(), white);
                let lamps = setup.and_then(Lamps::of);
                chromaticity_page(&scene, &colours, lamps.as_ref())
            }
        };
        write_scope(&self.out, &page).map_err(|e| Failure::Work(e.into()))
    }

    fn scene(&self, through: bool, recipe: Option<&str>) -> Scene {
        let (title, note) = match self.what {
            Picture::FalseStops => (
                "False stops",
                "Luminance in stops against key (0.18): a band reaches half a stop either way of its level.",
            ),
            Picture::Difference => (
                "Difference",
                "Stops that the glass takes from each pixel (blue) or gives it (sand), exposure that is made good counted.",
            ),
            Picture::Waveform => (
                "Waveform",
                "Stops against key (0.18) across the picture: luminance, and red, green and blue of working light.",
            ),
            Picture::Histogram => (
                "Histogram",
                "Eighths of a stop against key (0.18): luminance filled, red, green and blue of working light as lines.",
            ),
            Picture::Chromaticity => (
                "Chromaticity",
                "CIE 1976 u′v′; a grey card in light of the camera's balance lies where that light lies.",
            ),
        };
        let of = match recipe.filter(|name| !name.is_empty()) {
            _ if !through => "bare".to_owned(),
            None => "through the glass".to_owned(),
            Some(recipe) => format!("through the glass of “{recipe}”"),
        };
        Scene {
            title: format!("{title}, {}, {of}", self.name),
            note: note.to_owned(),
        }
    }
}

/// A frame no longer than is painted.
fn fitting(frame: &Frame) -> Frame {
    let (w, h) = (frame.width(), frame.height());
    let long = w.max(h);
    if long <= MOST_PAINTED {
        return frame.clone();
    }
    let width = (w * MOST_PAINTED / long).max(1);
    to_width(frame, width).unwrap_or_else(|_| frame.clone())
}
