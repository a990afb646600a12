//! The camera that a frame was seen by: what the recipe tells of it, and what EXIF does.

use super::{near, recipe, still};
use crate::recipe::with;
use foreglass::frame::Still;
use foreglass::recipe::{Origin, Recipe, SeenBy};
use foreglass::units::Extent;
use serde_json::{Value, json};

/// Half of what a frame takes in across, as a tangent, by the equivalent along the diagonal.
fn by_diagonal(mm: f64, w: f64, h: f64) -> f64 {
    0.5 * 36_f64.hypot(24.0) * w / w.hypot(h) / mm
}

fn across(tangent: f64) -> f64 {
    2.0 * tangent.atan().to_degrees()
}

#[test]
fn what_the_recipe_tells_comes_before_exif_and_the_plan_is_left_alone() {
    let Still { frame, exif, .. } = still("phone.jpg");
    let size = [frame.width(), frame.height()];
    let field = |told: Value| {
        let r = recipe(&[("/frame", json!({ "seen_by": told }))]);
        let seen = r.seen(&exif, size);
        (seen.field_deg.value.unwrap().get(), seen)
    };
    let (found, seen) = field(json!(null));
    near(found, across(by_diagonal(26.0, 4.0, 3.0)), 1e-9);
    assert_eq!(seen.focal_mm.origin, Origin::Exif, "{seen:?}");
    assert!(
        matches!(seen.sensor_mm.origin, Origin::WorkedOut(_)),
        "{seen:?}"
    );
    // 26/5.1 times smaller than 36 × 24 along the diagonal.
    let diagonal = seen.sensor_mm.value.map(|[w, h]| w.get().hypot(h.get()));
    near(diagonal.unwrap(), 36_f64.hypot(24.0) * 5.1 / 26.0, 1e-9);
    assert_eq!(seen.focus_m.origin, Origin::Unknown, "{seen:?}");

    let (found, seen) = field(json!({"focal_35_mm": 52}));
    near(found, across(by_diagonal(52.0, 4.0, 3.0)), 1e-9);
    assert!(seen.source.starts_with("told"), "{}", seen.source);
    // A sensor of 3:2 holds a 4:3 picture of its full height: 32 × 24 mm.
    let (found, _) = field(json!({"focal_mm": 40, "sensor_mm": [36, 24], "focal_35_mm": 52}));
    near(found, across(16.0 / 40.0), 1e-9);
    let (found, seen) = field(json!({"sensor_mm": [6.4, 4.8]}));
    near(found, across(3.2 / 5.1), 1e-9);
    assert!(seen.source.contains("partly"), "{}", seen.source);
    let (found, seen) = field(json!({"field_deg": 61.5, "focal_35_mm": 52, "iso": 800}));
    near(found, 61.5, 1e-12);
    assert_eq!(seen.iso.value, Some(800), "told, where EXIF says 64");

    // EXIF leaves the planned camera as it is.
    let (plain, r) = (
        recipe(&[]),
        recipe(&[("/frame", json!({"seen_by": {"iso": 64}}))]),
    );
    drop(r.framing(&exif, size).unwrap());
    assert_eq!(r.camera, plain.camera, "the planned camera");
    assert_eq!(r.setup().unwrap(), plain.setup().unwrap(), "and its rig");
}

/// Held upright the frame is 3:4; a sensor's resolution serves where no equivalent is told; a frame cut
/// since, and a focal length alone, tell no field.
#[test]
fn fields_of_other_files() {
    let of = |name: &str| {
        let Still { frame, exif, .. } = still(name);
        let size = [frame.width(), frame.height()];
        let r = recipe(&[]);
        let framing = r.framing(&exif, size).unwrap();
        let field = r.seen(&exif, size).field_deg.value;
        (size, field.map(|f| f.get()), framing)
    };
    let (size, field, _) = of("upright.jpg");
    assert_eq!(size, [90, 120], "upright");
    near(field.unwrap(), across(by_diagonal(26.0, 3.0, 4.0)), 1e-9);
    let (_, field, framing) = of("still.tif");
    near(field.unwrap(), 39.598, 1e-3);
    let line = framing.line().unwrap();
    assert!(line.contains("EXIF: 50 mm on 36 × 24 mm"), "{line}");
    let (_, field, _) = of("plain.png");
    near(field.unwrap(), across(by_diagonal(35.0, 16.0, 9.0)), 1e-9);
    for (name, word) in [
        ("cut.jpg", "cropped since"),
        ("lens.jpg", "50 mm and no sensor"),
    ] {
        let (_, field, framing) = of(name);
        assert_eq!(field, None, "{name}");
        assert!(framing.is_whole(), "{name} is taken as the planned picture");
        let line = framing.line().unwrap();
        assert!(line.contains(word), "{line}");
    }
}

#[test]
fn what_is_wrong_in_seen_by_is_told_by_path() {
    let said = |seen: Value| {
        let e = Recipe::parse(&with(&[("/frame", json!({ "seen_by": seen }))]));
        e.unwrap_err().to_string()
    };
    let text = said(json!({"lens": 26}));
    assert!(
        text.starts_with("frame.seen_by.lens: unknown field"),
        "{text}"
    );
    let text = said(json!({"field_deg": 180}));
    assert!(
        text.starts_with("frame.seen_by.field_deg: 180 is out of range"),
        "{text}"
    );
    let text = said(json!({"focal_mm": -3}));
    assert!(
        text.starts_with("frame.seen_by.focal_mm: length -3"),
        "{text}"
    );
    let told = SeenBy {
        focal_35_mm: Some(Extent::clamped(26.1)),
        ..SeenBy::default()
    };
    let mut r = recipe(&[]);
    r.frame.seen_by = Some(told);
    let back = Recipe::parse(&r.to_json()).unwrap();
    assert_eq!(back.frame.seen_by, Some(told), "it comes back");
}
