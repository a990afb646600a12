//! What can hurt people, gear or the picture.

use super::{Advisory, Level};
use crate::colour::spectrum::Spectrum;
use crate::rig::{Mount, Setup};
use crate::units::Stops;

/// Density from which infrared that the glass does not stop begins to colour blacks.
const INFRARED: f64 = 1.5;
/// Density from which glass tempts someone to look at the sun.
const SUN: f64 = 0.9;
/// Pieces from which reflections between them are worth a thought.
const MANY: usize = 4;

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
        self.polariser_advisories(found);
        for g in &self.glass {
            if let Some(text) = g.piece.law().caution {
                let text = format!("{}: {}: {text}", g.place, g.piece.name());
                found.push(Advisory::new("glass", Level::Note, text));
            }
        }
        if self.glass.len() >= MANY {
            found.push(Advisory::new(
                "many-surfaces",
                Level::Note,
                format!(
                    "{} pieces of glass make {} faces: look for ghosts of lamps, and tip a stage.",
                    self.glass.len(),
                    2 * self.glass.len()
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
        let (cuts, passes): (Vec<_>, Vec<_>) = self
            .glass
            .iter()
            .partition(|g| g.piece.law().stops_infrared);
        let through = passes.iter().fold(Spectrum::constant(1.0), |tau, g| {
            tau.product(&g.piece.law().tau)
        });
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

    /// Two polarisers: what the second takes depends on how they are turned (Malus).
    fn polariser_advisories(&self, found: &mut Vec<Advisory>) {
        let sheets: Vec<_> = self
            .glass
            .iter()
            .filter_map(|g| Some((g, g.piece.law().polarises?)))
            .collect();
        for pair in sheets.windows(2) {
            let [(behind, last), (front, first)] = pair else {
                continue;
            };
            let turned = (front.turn.get() - behind.turn.get()).rem_euclid(180.0);
            let turned = turned.min(180.0 - turned);
            let both = Stops::of_loss(first.passed_by_both(last, turned.to_radians()));
            let each = Stops::of_loss(first.passed_unpolarised() * last.passed_unpolarised());
            found.push(Advisory::new(
                "two-polarisers",
                Level::Caution,
                format!(
                    "{} and {} both polarise, {turned:.0}° to one another: if both are linear they \
                     lose {:.1} stops together, and the figures here count {:.1}. Take one out.",
                    behind.place,
                    front.place,
                    both.get(),
                    each.get()
                ),
            ));
        }
    }
}
