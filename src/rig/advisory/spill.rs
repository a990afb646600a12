//! Stray light on the front, and what keeps it off.

use super::{Advisory, Level};
use crate::optics::field::View;
use crate::rig::Setup;

impl Setup {
    pub(super) fn spill_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        let Some(stops) = self.light.spill_stops else {
            return;
        };
        let share = self.spill_share(view);
        // Half a per cent of light at key is what a lens by itself makes of it: a veil of a four-thousandth
        // of key is past seeing.
        if share * stops.factor() < 0.05 {
            return;
        }
        let cure = match (self.light.spill_from_deg, self.flag_to_clear_mm(view)) {
            _ if !self.light.shade => "The shade is off: put it on, or flag the source.".to_owned(),
            (None, _) => "Flag the source, or turn it away.".to_owned(),
            (Some(_), Some(flag)) if flag < 400.0 => {
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
