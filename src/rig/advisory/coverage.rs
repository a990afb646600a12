//! What the frame's corners see: glass that is too small, slid off, turned into them, or in the way.

use super::{Advisory, Level};
use crate::optics::field::View;
use crate::rig::vignette::Cause;
use crate::rig::{Mounted, Setup};

impl Setup {
    pub(super) fn coverage_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        for g in self.glass.iter().filter(|g| !self.covers(g, view)) {
            found.push(self.uncovered(g, view));
        }
        found.extend(self.shade_advisory(view));
        let v = self.vignette(view);
        let most = v.cause.map_or_else(String::new, |cause| match v.corner {
            Some(_) => format!(" {cause} takes most of it."),
            None => format!(" {cause} is most in the way."),
        });
        if v.corner.is_none() {
            found.push(Advisory::new(
                "vignette",
                Level::Stop,
                format!("The corners are black.{most}"),
            ));
        } else if let (Some(from), Some(loss)) = (v.starts_deg, v.corner) {
            found.push(Advisory::new(
                "vignette",
                Level::Caution,
                format!(
                    "The rig vignettes from {from:.1}° off the axis; the worst corner loses {}.\
                     {most}",
                    loss.counted()
                ),
            ));
        }
    }

    /// Why glass does not cover the frame: it is slid too far, turned too far, or too small.
    fn uncovered(&self, g: &Mounted, view: &View) -> Advisory {
        let (place, name) = (g.place, g.piece.name());
        let [low, high] = self.slide_range_mm(g, view);
        if high > low {
            let slide = g.slide_mm();
            let text = format!(
                "slid {slide:.1} mm, and covers the frame only from {low:.1} to {high:.1} mm"
            );
            let text = format!("{place}: {name} is {}.", text.replace('-', "−"));
            return Advisory::new("slide", Level::Caution, text);
        }
        match self.turn_range_deg(g, view) {
            Some(range) => Advisory::new(
                "turned-corners",
                Level::Caution,
                format!(
                    "{place}: {name} is turned {:.1}° and its corners enter the picture: it covers the \
                     frame up to {range:.1}° from upright.",
                    g.turn.get()
                ),
            ),
            None => Advisory::new(
                "coverage",
                Level::Caution,
                format!("{place}: {name} does not cover the corners of the frame."),
            ),
        }
    }

    /// A shade that stands in the picture, and the mouth that would not.
    fn shade_advisory(&self, view: &View) -> Option<Advisory> {
        let cuts = self.shade_cuts(view);
        let who = match cuts[..] {
            [] => return None,
            [Cause::Shade] => "The shade cuts",
            [Cause::TopFlag] => "The top flag cuts",
            _ => "The shade and its top flag cut",
        };
        let [wide, high] = self.mouth_to_clear_mm(view);
        let text =
            format!("{who} the picture: a mouth of {wide:.0} × {high:.0} mm would clear it.");
        Some(Advisory::new("shade", Level::Caution, text))
    }
}
