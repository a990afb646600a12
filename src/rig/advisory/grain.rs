//! Diffusion that is coarse before a small pupil.

use super::{Advisory, Level};
use crate::optics::grain::Grain;
use crate::rig::Setup;

/// How far diffusion is past coarse, before a pupil, when it will show: our own limit.
const COARSE: f64 = 2.5;

impl Setup {
    /// Diffusion that is coarse against the footprint of a point's light on it.
    pub(super) fn grain_advisories(&self, found: &mut Vec<Advisory>) {
        let pupil = self.pupil();
        for g in &self.glass {
            let footprint = pupil.diameter_mm * (1.0 - g.depth_mm(self) / pupil.subject_mm);
            let lobes = g.piece.law().scatter.iter().flat_map(|s| &s.lobes);
            let coarsest = lobes
                .filter_map(|lobe| Grain::of(lobe, footprint))
                .max_by(|a, b| a.coarseness().total_cmp(&b.coarseness()));
            let Some(grain) = coarsest.filter(|grain| grain.coarseness() > 1.0) else {
                continue;
            };
            let (place, name) = (g.place, g.piece.name());
            let text = match grain {
                Grain::Specks(n) => format!(
                    "{place}: only {n:.0} specks of {name} stand before the pupil: halos are uneven by \
                     {:.0} %, differ from lamp to lamp, and specks may show in discs out of focus. \
                     A wider stop evens them out.",
                    100.0 / n.max(1.0).sqrt()
                ),
                Grain::Lines(n) => format!(
                    "{place}: only {n:.1} lines of {name} stand across the pupil: rays differ from lamp \
                     to lamp, and lines may show in discs out of focus. A wider stop or closer lines \
                     even them out."
                ),
                Grain::Threads(n) => format!(
                    "{place}: only {n:.1} threads of {name} stand across the pupil: the net may show \
                     as a shadow and in discs out of focus. A wider stop or a finer net hides it."
                ),
            };
            let level = if grain.coarseness() > COARSE {
                Level::Caution
            } else {
                Level::Note
            };
            found.push(Advisory::new("coarse", level, text));
        }
    }
}
