//! Light that the lens cannot make good.

use super::{Advisory, Level};
use crate::rig::Setup;

impl Setup {
    pub(super) fn exposure_advisories(&self, found: &mut Vec<Advisory>) {
        let (set, marked) = (
            self.stop_to_set(),
            self.camera.t_stop.unwrap_or(self.camera.stop),
        );
        let Some(widest) = self.camera.widest_stop else {
            return;
        };
        // A T-stopped lens keeps the ratio of its markings wide open too.
        let widest = widest.get() * marked.get() / self.camera.stop.get();
        if set < widest * 0.999 {
            found.push(Advisory::new(
                "beyond-widest-stop",
                Level::Stop,
                format!(
                    "The stop to set is {set:.2} and the lens opens to {widest:.2}: \
                     {:.2} stop of light is missing.",
                    2.0 * (widest / set).log2()
                ),
            ));
        }
    }
}
