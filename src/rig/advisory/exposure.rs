//! Light that the lens cannot make good.

use super::{Advisory, Level};
use crate::rig::Setup;
use crate::rig::camera::Compensate;
use crate::rig::ledger::iso_mark_above;
use crate::units::Stops;

/// Missing light that is the rounding of marks, in stops.
const ROUNDING: f64 = 0.003;
/// The slowest frame rate that is offered, in parts of the planned one: our own choice.
const SLOWEST: f64 = 0.5;

impl Setup {
    pub(super) fn exposure_advisories(&self, found: &mut Vec<Advisory>) {
        if !self.passes_light() {
            found.push(Advisory::new(
                "opaque",
                Level::Stop,
                "The stack passes no light at all: no stop, index or light makes that good.",
            ));
            return;
        }
        let Some(widest) = self.widest_marked() else {
            return;
        };
        // Where index or light make the loss good, the iris stays at the metered stop.
        let (stop, word) = match self.compensate {
            Compensate::None | Compensate::Iris => (self.stop_to_set(), "stop to set"),
            Compensate::Iso | Compensate::Light => (self.marked_stop(), "metered stop"),
        };
        let missing = Stops::clamped(2.0 * (widest / stop).log2());
        if missing.get() < ROUNDING {
            return;
        }
        let mark = if self.camera.t_stop.is_some() {
            "T "
        } else {
            "f/"
        };
        let are = if missing.get() < 1.005 {
            "stop of light is"
        } else {
            "stops of light are"
        };
        found.push(Advisory::new(
            "beyond-widest-stop",
            Level::Stop,
            format!(
                "The {word} is {mark}{stop:.2} and the lens opens to {mark}{widest:.2}: {:.2} {are} \
                 missing. {} makes it good, or {:.1} times the light{}.",
                missing.get(),
                self.raised_index(missing),
                missing.factor(),
                self.longer_exposure(missing)
            ),
        ));
    }

    /// The exposure index that gives so much back.
    fn raised_index(&self, missing: Stops) -> String {
        let index = f64::from(self.camera.iso) * missing.factor();
        match iso_mark_above(index) {
            Some(mark) => format!("ISO {mark}"),
            None => format!("ISO {index:.0}"),
        }
    }

    /// The shutter, and where it does not suffice the frame rate, that gives so much back or as much
    /// of it as is within reason.
    fn longer_exposure(&self, missing: Stops) -> String {
        let (camera, factor) = (&self.camera, missing.factor());
        let open = 360.0 / camera.shutter_deg;
        if factor <= open {
            return format!(", or a shutter of {:.0}°", camera.shutter_deg * factor);
        }
        let slower = open / factor;
        if slower >= SLOWEST {
            return format!(
                ", or an open shutter (360°) at {:.1} frames a second, where nothing moves",
                camera.fps * slower
            );
        }
        let most = (open / SLOWEST).log2();
        format!(
            "; an open shutter (360°) at {:.1} frames a second, where nothing moves, gives {most:.2} of it",
            camera.fps * SLOWEST
        )
    }
}
