//! What a rig costs in light, covers and warns of, worked out away from the window's thread.

use crate::optics::pupil::Shape;
use crate::recipe::Framing;
use crate::rig::advisory::Advisory;
use crate::rig::camera::FieldOfView;
use crate::rig::ledger::{Exposure, Turned};
use crate::rig::remedies::Remedy;
use crate::rig::vignette::Vignette;
use crate::rig::{Place, Setup};
use crate::units::{Grams, Mireds, Stops};

/// The figures of a look.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Modelled loss of the whole stack.
    pub loss: Stops,
    /// Loss as the trade's tables add it up.
    pub nominal: Stops,
    /// Whether they lack some of the glass, which then counts as modelled.
    pub untabled: bool,
    /// The metered stop that the loss is counted from: a T-stop where the lens has them.
    pub marked: f64,
    /// Whether `marked` and `stop_to_set` are T-stops.
    pub t_stops: bool,
    /// The stop to set.
    pub stop_to_set: f64,
    /// What makes the loss good; None where the stack passes nothing.
    pub exposure: Option<Exposure>,
    /// The sum of the shifts that the pieces are sold by; None where none is.
    pub nominal_shift: Option<Mireds>,
    /// How far the stack shifts the scene's light; None where that leaves no colour temperature.
    pub shift: Option<Mireds>,
    /// What the stack turns some lights into; empty where no piece has a colour.
    pub turns: Vec<Turned>,
    /// What the rig clips.
    pub vignette: Vignette,
    /// The widest lens that it clears, mm.
    pub widest_focal_mm: Option<f64>,
    /// What to change about what it clips, best first.
    pub remedies: Vec<Remedy>,
    /// Front vertex to entrance pupil, mm, and whether it is an estimate.
    pub pupil_depth: (f64, bool),
    /// What the planned picture takes in.
    pub field: FieldOfView,
    /// What the frame was seen by and which part of it is taken; None where there is nothing to tell.
    pub framing: Option<String>,
    /// What each glass does.
    pub places: Vec<PlaceReport>,
    /// What all the glass weighs.
    pub weight: Grams,
    /// How much darker the corners are than drawn, because light passes dyes aslant.
    pub oblique: Stops,
    /// Warnings, most serious first.
    pub advisories: Vec<Advisory>,
}

/// The figures of one glass where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceReport {
    /// Where it stands.
    pub place: Place,
    /// Modelled loss.
    pub loss: Stops,
    /// Loss by the trade's tables.
    pub nominal: Option<Stops>,
    /// The shift that it is sold by.
    pub nominal_shift: Option<Mireds>,
    /// Whether it passes the whole frame.
    pub covers: bool,
    /// Full width of its edge on the sensor, in parts of the picture's height.
    pub edge_part: Option<f64>,
    /// What it is called: "edge", of a stripe "flank".
    pub edge_word: &'static str,
    /// Most by which the edge is drawn narrower than it is far behind the focus, in parts of its width.
    pub edge_error: Option<f64>,
    /// How far its tray may slide, mm.
    pub slide_range_mm: [f64; 2],
    /// What it weighs.
    pub weight: Grams,
}

impl Report {
    /// The figures of `setup` for the planned picture in a frame; None is the sensor's shape.
    pub(super) fn of(setup: &Setup, framing: Option<&Framing>, unapplied: Vec<Advisory>) -> Self {
        let view = framing.map_or_else(|| setup.sensor_view(), Framing::view);
        let scene = setup.scene();
        let places = setup
            .glass
            .iter()
            .map(|g| PlaceReport {
                place: g.place,
                loss: g.loss(&scene),
                nominal: g.nominal_loss(),
                nominal_shift: g.piece.nominal_shift(),
                covers: setup.covers(g, &view),
                edge_part: setup.edge_width_mm(g).map(|mm| mm / view.height_mm),
                edge_word: g.shape().map_or("edge", Shape::word),
                edge_error: setup.edge_error(g),
                slide_range_mm: setup.slide_range_mm(g, &view),
                weight: g.weight(),
            })
            .collect();
        let mut advisories: Vec<Advisory> = setup.advisories(&view);
        advisories.extend(unapplied);
        advisories.sort_by_key(|a| std::cmp::Reverse(a.level));
        let camera = &setup.camera;
        Self {
            loss: setup.light_loss(),
            nominal: setup.nominal_loss(),
            untabled: setup.has_untabled(),
            marked: setup.marked_stop(),
            t_stops: camera.t_stop.is_some(),
            stop_to_set: setup.stop_to_set(),
            exposure: setup.exposure(),
            nominal_shift: setup.nominal_shift(),
            shift: setup.shift(),
            turns: if setup.has_colour() {
                setup.turns()
            } else {
                Vec::new()
            },
            vignette: setup.vignette(&view),
            widest_focal_mm: setup.widest_focal_mm(&view),
            remedies: setup.remedies(&view),
            pupil_depth: (camera.pupil_depth().get(), camera.pupil_depth_mm.is_none()),
            field: FieldOfView::of(&view),
            framing: framing.and_then(Framing::line).map(str::to_owned),
            places,
            weight: setup.weight(),
            oblique: setup.oblique_loss(&view),
            advisories,
        }
    }

    /// The figures of the glass in a place.
    #[must_use]
    pub fn place(&self, place: Place) -> Option<&PlaceReport> {
        self.places.iter().find(|p| p.place == place)
    }
}
