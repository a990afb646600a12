//! Stray light on the front, and what keeps it off.

use super::{Advisory, Level};
use crate::optics::field::View;
use crate::rig::Setup;

/// Stray light, in parts of key, that is past seeing: a lens by itself makes half a per cent of it, a veil of
/// a four-thousandth of key (our own limit).
const UNSEEN: f64 = 0.05;
/// Longest top flag that is proposed: common practice, no source.
const LONGEST_FLAG_MM: f64 = 400.0;

impl Setup {
    pub(super) fn spill_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        let Some(stops) = self.light.spill_stops else {
            return;
        };
        let share = self.spill_share(view);
        if share * stops.factor() < UNSEEN {
            return;
        }
        let cure = match (self.light.spill_from_deg, self.flag_to_clear_mm(view)) {
            _ if !self.light.shade => "The shade is off: put it on, or flag the source.".to_owned(),
            (None, _) => "Flag the source, or turn it away.".to_owned(),
            (Some(from), _) if from.radians().tan() < 0.5 * view.height_mm / view.focal_mm => {
                "It stands as high as the picture reaches: what flags it is seen. Turn the source or move \
                 the camera."
                    .to_owned()
            }
            (Some(_), Some(flag)) if self.flag_is_seen(flag, view) => format!(
                "A top flag would have to reach {flag:.0} mm beyond the shade, and the picture would see it: \
                 flag it at the source."
            ),
            (Some(_), Some(flag)) if flag < LONGEST_FLAG_MM => {
                format!("A top flag reaching {flag:.0} mm beyond the shade keeps it off.")
            }
            (Some(_), _) => {
                "It comes from too low for a top flag: flag it at the source.".to_owned()
            }
        };
        found.push(Advisory::new(
            "spill",
            Level::Caution,
            format!(
                "Stray light lights {:.0} % of the front that the picture looks through: it veils the \
                 blacks. {cure}",
                100.0 * share
            ),
        ));
    }
}
