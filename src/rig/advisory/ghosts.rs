//! Many faces, and the ghosts of lamps between them.
//!
//! Light that the sensor and the lens send back leaves along the ray that it came by; a glass square to the
//! axis returns it as if it came from the other side of the axis, so that a ghost stands mirrored through the
//! middle of the picture. Tipped by t the glass returns it 2t aside: f·tan 2t on the sensor (law of
//! reflection).

use super::room::half_height;
use super::{Advisory, Level};
use crate::optics::field::View;
use crate::rig::{Mount, Mounted, Place, Setup};
use crate::units::Degrees;

/// Pieces from which reflections between them are worth a thought: common practice, no source.
const MANY: usize = 4;
/// Furthest that a stage tips, degrees.
const FURTHEST: f64 = 15.0;

impl Setup {
    /// Whether a stage could tip by so much without running into what stands beside it.
    fn has_room_tipped(&self, place: Place, by_deg: f64) -> bool {
        let mut tipped = self.clone();
        for g in &mut tipped.glass {
            if let Mount::Tray { tilt, .. } = &mut g.mount
                && g.place == place
            {
                *tilt = Degrees::clamped(by_deg);
            }
        }
        let cramped = |setup: &Self| {
            let mut found = Vec::new();
            setup.room_advisories(&mut found);
            found.iter().filter(|a| a.code == "stages").count()
        };
        cramped(&tipped) <= cramped(self)
    }

    pub(super) fn ghost_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        // Half the picture's height aside throws out the ghosts of all lamps in its upper half.
        let needed = (0.5 * view.height_mm / view.focal_mm).atan().to_degrees() / 2.0;
        let square: Vec<&Mounted> = self
            .glass
            .iter()
            .filter(|g| g.tilt().get().abs() < needed * (1.0 - 1e-9))
            .collect();
        if square.len() < MANY {
            return;
        }
        let faces = 2 * square.len();
        let even = |g: &&&Mounted| matches!(g.mount, Mount::Tray { .. }) && g.shape().is_none();
        let room = |g: &&&Mounted| self.has_room_tipped(g.place, needed);
        let tips = square.iter().filter(even);
        let cure = match tips.clone().find(room).or(tips.clone().next()) {
            Some(g) if needed <= FURTHEST && !room(&g) => format!(
                "Before bright lamps do with fewer pieces: to throw their ghosts aside {} ({}) would have to \
                 tip by {needed:.1}°, and at its edge lean {:.1} mm, which is more than there is room for.",
                g.place,
                g.piece.name(),
                half_height(g) * needed.to_radians().sin()
            ),
            Some(g) if needed <= FURTHEST => format!(
                "Before bright lamps tip a stage of even glass, {} ({}), by {needed:.1}° or more: that \
                 throws its ghosts half the picture's height aside.",
                g.place,
                g.piece.name()
            ),
            _ if needed > FURTHEST => format!(
                "This lens sees so wide that a stage would have to tip by {needed:.0}° to throw them aside: \
                 before bright lamps do with fewer pieces."
            ),
            _ => "Before bright lamps do with fewer pieces: none of these can be tipped without moving \
                  an edge."
                .to_owned(),
        };
        found.push(Advisory::new(
            "many-surfaces",
            Level::Note,
            format!(
                "{} pieces of glass stand square to the lens: {faces} faces, {} pairs of them, and ghosts \
                 of lamps mirrored through the middle of the picture. {cure}",
                square.len(),
                faces * (faces - 1) / 2
            ),
        ));
    }
}
