//! What can hurt people, gear or the picture.

use super::{Advisory, Level};
use crate::rig::ledger::stack_tau;
use crate::rig::{Mount, Setup};

/// Density from which infrared that the glass does not stop begins to colour blacks: common practice, no source.
const INFRARED: f64 = 1.5;
/// Density from which glass tempts someone to look at the sun: our own limit.
const SUN: f64 = 0.9;
/// Glass in the stages from which a lens's front does not carry it, grams: common practice, no source.
const HEAVY: f64 = 500.0;

impl Setup {
    pub(super) fn hazard_advisories(&self, found: &mut Vec<Advisory>) {
        let clearest = self.tau().samples().iter().copied().fold(0.0, f64::max);
        let placed: f64 = self
            .glass
            .iter()
            .filter_map(|g| g.piece.law().clearest_peak())
            .sum();
        let density = -clearest.max(1e-9).log10();
        let polarises = self.glass.iter().any(|g| g.piece.law().polarises.is_some());
        if density + placed >= SUN || polarises {
            found.push(Advisory::new(
                "sun-finder",
                Level::Caution,
                "No density or polariser makes it safe to look at the sun through an optical \
                 finder.",
            ));
        }
        self.infrared_advisory(found);
        for g in &self.glass {
            if let Some(text) = g.piece.law().caution {
                let text = format!("{}: {}: {text}", g.place, g.piece.name());
                found.push(Advisory::new("glass", Level::Note, text));
            }
        }
        let weight = self.stage_weight().get();
        if weight > HEAVY {
            found.push(Advisory::new(
                "weight",
                Level::Note,
                format!(
                    "The stages hold {weight:.0} g of glass, trays not counted: carry the matte box on rods, \
                     not on the lens's front thread."
                ),
            ));
        }
        if self
            .glass
            .iter()
            .any(|g| matches!(g.mount, Mount::Tray { .. }))
        {
            found.push(Advisory::new(
                "falling-glass",
                Level::Note,
                "Glass falls: lock trays and stages, and strap the matte box. Local codes and the \
                 crew's own practice decide.",
            ));
        }
    }

    /// Dense glass that leaves infrared alone. One piece that stops it stops it for the whole stack,
    /// at the near end as far as its cut is steep.
    fn infrared_advisory(&self, found: &mut Vec<Advisory>) {
        // Of what passes nothing no density is known.
        if !self.passes_light() {
            return;
        }
        let (cuts, passes): (Vec<_>, Vec<_>) = self
            .glass
            .iter()
            .partition(|g| g.piece.law().stops_infrared);
        let through = stack_tau(passes.iter().copied());
        let clearest = through.samples().iter().copied().fold(0.0, f64::max);
        let placed: f64 = passes.iter().map(|g| g.density_on_axis()).sum();
        let density = placed - clearest.max(1e-9).log10();
        if density < INFRARED {
            return;
        }
        if cuts.is_empty() {
            found.push(Advisory::new(
                "infrared",
                Level::Caution,
                format!(
                    "Density {density:.1} may leak infrared: dark fabrics can turn reddish. Test \
                     it, or use glass that also stops infrared."
                ),
            ));
        } else {
            found.push(Advisory::new(
                "infrared",
                Level::Note,
                format!(
                    "Density {density:.1} that may leak infrared stands with glass that cuts it: \
                     some deep red near the cut may still pass. Test dark fabrics."
                ),
            ));
        }
    }
}
