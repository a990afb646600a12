//! What the frame was seen by, in the window: told with where it came from, and the part that is taken.
//! Expected values are the window's own promise.

use crate::seen::fixture;
use crate::window::{click, sized};
use egui::accesskit::Role;
use egui::vec2;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use foreglass::session::Session;
use foreglass::units::Extent;
use std::path::Path;
use std::sync::Arc;

#[test]
fn the_set_up_tells_what_the_frame_was_seen_by_and_names_the_sensor() {
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(Path::new(&fixture("phone.jpg")));
    session.finish_reading().unwrap();
    session.change("Sensor", None, |r| {
        r.camera.sensor_mm = [30.0, 15.0].map(Extent::clamped);
        Ok(())
    });
    let mut h = sized(session, vec2(1280.0, 1900.0));
    for words in [
        "5.1 mm, EXIF",
        "26 mm, EXIF",
        "67.3°, worked out",
        "Stop f/1.78, EXIF.",
    ] {
        assert!(h.query_by_label_contains(words).is_some(), "{words}");
    }
    let line =
        "The frame spans 67.3° across (EXIF: 26 mm in 36 × 24 terms); the plan takes the middle";
    assert!(h.query_by_label_contains(line).is_some(), "{line}");
    let shown = |h: &egui_kittest::Harness<'_, foreglass::app::Window>, label: &str| {
        let node = h.get_by_role_and_label(Role::ComboBox, label);
        node.accesskit_node().value().unwrap_or_default()
    };
    assert_eq!(shown(&h, "Sensor"), "Custom", "no trade size");
    h.get_by_role_and_label(Role::ComboBox, "Sensor").click();
    h.run_steps(4);
    click(&mut h, "Full frame");
    assert_eq!(shown(&h, "Sensor"), "Full frame", "named");
    let camera = &h.state().session().recipe().camera;
    assert_eq!(camera.sensor_mm.map(Extent::get), [36.0, 24.0], "and set");
    let [w, _] = h.state().session().still().unwrap().picture;
    assert!(w < 120, "a part of it is taken: {w}");
    h.get_by_role_and_label(Role::ComboBox, "Take").click();
    h.run_steps(4);
    click(&mut h, "All of it");
    assert_eq!(
        h.state().session().still().unwrap().picture,
        [120, 90],
        "all"
    );
    let line = "it is taken whole as the planned picture, as the recipe says.";
    assert!(h.query_by_label_contains(line).is_some(), "{line}");
    // A recipe's keys are for those who write one.
    assert!(
        h.query_by_label_contains("frame.take").is_none(),
        "plain words"
    );
}
