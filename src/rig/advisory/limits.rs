//! Where figures and picture may be off by more than a little.

use super::{Advisory, Level};
use crate::optics::field::View;
use crate::rig::Setup;
use crate::rig::doubt::PUPIL_OFF;

/// Error of an edge's width, in parts of it, that is told: our own limit.
const EDGE: f64 = 0.1;
/// Loss at the corners beside the axis's, in stops, that is told: our own limit.
const OBLIQUE: f64 = 0.15;

impl Setup {
    pub(super) fn limit_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        if let Some(doubt) = self.pupil_doubt(view) {
            let depth = self.camera.pupil_depth().get();
            let mut open: Vec<String> = doubt
                .edges
                .iter()
                .map(|(place, ends)| {
                    let [low, high] = ends.map(|mm| 100.0 * mm / view.height_mm);
                    format!(
                        "draws {place}'s edge {low:.0} to {high:.0} % of the picture's height wide"
                    )
                })
                .collect();
            if doubt.corners {
                open.push("decides whether the corners are clear".to_owned());
            }
            found.push(Advisory::new(
                "pupil",
                Level::Note,
                format!(
                    "The entrance pupil is taken as {depth:.0} mm behind the front, an estimate: {:.0} mm \
                     either way {}. Enter the lens's own.",
                    PUPIL_OFF.get(),
                    open.join(", and ")
                ),
            ));
        }
        for g in &self.glass {
            let Some(error) = self.edge_error(g).filter(|e| *e > EDGE) else {
                continue;
            };
            found.push(Advisory::new(
                "near-subject",
                Level::Note,
                format!(
                    "{}: focused {:.2} m away, for what stands far behind the edge of {} is drawn up \
                     to {:.0} % narrower than it is. A still has no depth: test it, or set the glass nearer the lens.",
                    g.place,
                    self.camera.subject_mm() / 1000.0,
                    g.piece.name(),
                    100.0 * error
                ),
            ));
        }
        let oblique = self.oblique_loss(view).get();
        if oblique > OBLIQUE {
            found.push(Advisory::new(
                "oblique",
                Level::Note,
                format!(
                    "At the corners, {:.0}° off the axis, light runs through the glass aslant: if it is dyed \
                     through, the darkest of them is {oblique:.2} stop darker than drawn. A longer lens evens them, and so \
                     does density that reflects.",
                    view.widest_angle().get()
                ),
            ));
        }
    }
}
