//! The planned camera's field of view, and the formats of sensors.

use super::{near, recipe};
use crate::cli::{Folder, data, foreglass, refusal};
use crate::recipe::with;
use foreglass::rig::camera::FieldOfView;
use foreglass::rig::format::Format;
use foreglass::units::Extent;
use serde_json::json;

/// Degrees across, up and from corner to corner on 36 × 24 mm as tables of lenses print them, to the
/// tenth; common practice, and each is 2·atan(w/2f).
#[test]
fn fields_of_view_are_those_of_lens_tables() {
    for (focal, wanted) in [
        (24.0, [73.7, 53.1, 84.1]),
        (35.0, [54.4, 37.8, 63.4]),
        (50.0, [39.6, 27.0, 46.8]),
        (85.0, [23.9, 16.1, 28.6]),
        (135.0, [15.2, 10.2, 18.2]),
    ] {
        let sides = [36.0, 24.0].map(Extent::clamped);
        let f = FieldOfView::new(sides, Extent::clamped(focal));
        for (found, wanted) in [f.across, f.up, f.diagonal].into_iter().zip(wanted) {
            near(found.get(), wanted, 0.051);
        }
    }
    let folder = Folder::new();
    let path = folder.write("r.json", with(&[("/camera/sensor_mm", json!([36, 24]))]));
    let rig = data(&["rig", "--recipe", &path, "--json"]);
    near(rig["field_deg"]["across"].as_f64().unwrap(), 39.598, 1e-3);
    near(rig["field_deg"]["up"].as_f64().unwrap(), 26.991, 1e-3);
    near(rig["field_deg"]["diagonal"].as_f64().unwrap(), 46.793, 1e-3);
    assert_eq!(rig["sensor_format"], "full-frame", "{rig}");
}

/// The framed part keeps the sensor's width or its height, whichever fits.
#[test]
fn the_framing_aspect_cuts_the_sensor() {
    for (aspect, wanted) in [
        (json!(null), [24.89, 18.66]),
        (json!(2.0), [24.89, 12.445]),
        (json!(1.0), [18.66, 18.66]),
    ] {
        let r = recipe(&[
            ("/camera/sensor_mm", json!([24.89, 18.66])),
            ("/camera/framing_aspect", aspect),
        ]);
        let found = r.camera.framed_mm().map(Extent::get);
        near(found[0], wanted[0], 1e-9);
        near(found[1], wanted[1], 1e-9);
        let view = r.setup().unwrap().sensor_view();
        near(view.height_mm, wanted[1], 1e-9);
    }
}

#[test]
fn formats_are_listed_and_named() {
    let out = foreglass(&["recipe", "--formats"]);
    let text = String::from_utf8(out.stdout).unwrap();
    assert_eq!(
        text.lines().count(),
        Format::ALL.len(),
        "a line each: {text}"
    );
    let line = text.lines().find(|l| l.contains("super-35-four-perf"));
    let line = line.expect("it is listed");
    assert!(
        line.contains("24.89 × 18.66") && line.contains("(read)"),
        "{line}"
    );
    for f in &Format::ALL {
        assert_eq!(Format::of(f.sensor_mm()), Some(f), "by its own sides");
    }
    let custom = Format::of([25.0, 14.0].map(Extent::clamped));
    assert_eq!(
        custom, None,
        "a tenth of a millimetre more is another sensor"
    );
    let (code, text) = refusal(&["recipe", "--formats", "--defaults"]);
    assert_eq!(code, 2, "one or the other: {text}");
}
