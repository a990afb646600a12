//! What the frame's corners see: glass that is too small, slid off, or in the way.

use super::{Advisory, Level};
use crate::optics::field::View;
use crate::rig::{Mount, Setup};

impl Setup {
    pub(super) fn coverage_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        for g in self.glass.iter().filter(|g| !self.covers(g, view)) {
            found.push(Advisory::new(
                "coverage",
                Level::Caution,
                format!(
                    "{}: {} does not cover the corners of the frame.",
                    g.place,
                    g.piece.name()
                ),
            ));
        }
        let v = self.vignette(view);
        if v.corner.is_none() {
            found.push(Advisory::new(
                "vignette",
                Level::Stop,
                "The corners are black.",
            ));
        } else if let (Some(from), Some(loss)) = (v.starts_deg, v.corner) {
            found.push(Advisory::new(
                "vignette",
                Level::Caution,
                format!(
                    "The rig vignettes from {from:.1}° off the axis; the worst corner loses {:.2} \
                     stop.",
                    loss.get()
                ),
            ));
        }
        for g in &self.glass {
            let [low, high] = self.slide_range_mm(g, view);
            let slide = g.slide_mm();
            let slid_off = slide < low || slide > high;
            if slid_off && high > low && matches!(g.mount, Mount::Tray { .. }) {
                found.push(Advisory::new(
                    "slide",
                    Level::Caution,
                    format!(
                        "{}: slid {slide:.1} mm, and {} covers the frame only from {low:.1} to \
                         {high:.1} mm.",
                        g.place,
                        g.piece.name()
                    ),
                ));
            }
        }
    }
}
