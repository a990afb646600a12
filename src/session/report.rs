//! What a rig costs in light, covers and warns of, worked out away from the window's thread.

use crate::optics::pupil::Shape;
use crate::recipe::Framing;
use crate::rig::advisory::Advisory;
use crate::rig::camera::FieldOfView;
use crate::rig::coverage::Vignette;
use crate::rig::{Place, Setup};
use crate::units::Stops;

/// The figures of a look.
#[derive(Debug, Clone, PartialEq)]
pub struct Report {
    /// Modelled loss of the whole stack.
    pub loss: Stops,
    /// Loss as the trade's tables add it up.
    pub nominal: Stops,
    /// The metered stop that the loss is counted from: a T-stop where the lens has them.
    pub marked: f64,
    /// Whether `marked` and `stop_to_set` are T-stops.
    pub t_stops: bool,
    /// The stop to set.
    pub stop_to_set: f64,
    /// What the rig clips.
    pub vignette: Vignette,
    /// Front vertex to entrance pupil, mm, and whether it is an estimate.
    pub pupil_depth: (f64, bool),
    /// What the planned picture takes in.
    pub field: FieldOfView,
    /// What the frame was seen by and which part of it is taken; None where there is nothing to tell.
    pub framing: Option<String>,
    /// What each glass does.
    pub places: Vec<PlaceReport>,
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
    /// Whether it passes the whole frame.
    pub covers: bool,
    /// Full width of its edge on the sensor, in parts of the picture's height.
    pub edge_part: Option<f64>,
    /// What it is called: "edge", of a stripe "flank".
    pub edge_word: &'static str,
    /// How far its tray may slide, mm.
    pub slide_range_mm: [f64; 2],
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
                covers: setup.covers(g, &view),
                edge_part: setup.edge_width_mm(g).map(|mm| mm / view.height_mm),
                edge_word: g.shape().map_or("edge", Shape::word),
                slide_range_mm: setup.slide_range_mm(g, &view),
            })
            .collect();
        let mut advisories: Vec<Advisory> = setup.advisories(&view);
        advisories.extend(unapplied);
        advisories.sort_by_key(|a| std::cmp::Reverse(a.level));
        let camera = &setup.camera;
        Self {
            loss: setup.light_loss(),
            nominal: setup.nominal_loss(),
            marked: camera.t_stop.unwrap_or(camera.stop).get(),
            t_stops: camera.t_stop.is_some(),
            stop_to_set: setup.stop_to_set(),
            vignette: setup.vignette(&view),
            pupil_depth: (camera.pupil_depth().get(), camera.pupil_depth_mm.is_none()),
            field: FieldOfView::of(&view),
            framing: framing.and_then(Framing::line).map(str::to_owned),
            places,
            advisories,
        }
    }

    /// The figures of the glass in a place.
    #[must_use]
    pub fn place(&self, place: Place) -> Option<&PlaceReport> {
        self.places.iter().find(|p| p.place == place)
    }
}
