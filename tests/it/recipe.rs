//! The recipe: it comes back to the bit, and what is wrong with one is told by name and path.

use foreglass::recipe::Recipe;
use foreglass::rig::Place;
use proptest::prelude::*;
use serde_json::{Value, json};

/// A small recipe of the scenario, with some of its fields replaced.
pub(crate) fn with(changes: &[(&str, Value)]) -> String {
    let mut recipe = json!({
        "format": "foreglass.recipe", "version": 1, "name": "Wheelhouse, warm half",
        "camera": { "focal_mm": 50, "stop": 4.0 },
        "rig": { "rings": [], "stages": [ { "glass": "dark-mist", "strength": "1/2" }, null, null ] }
    });
    for (pointer, value) in changes {
        let (parent, name) = pointer.rsplit_once('/').expect("a pointer");
        if recipe.pointer(parent).is_none() {
            let (above, own) = parent.rsplit_once('/').expect("a pointer");
            let above = recipe
                .pointer_mut(above)
                .expect("the parent's parent is there");
            above[own] = json!({});
        }
        let parent = recipe.pointer_mut(parent).expect("the parent is there");
        match parent {
            Value::Array(items) if name == "-" => items.push(value.clone()),
            Value::Array(items) => items[name.parse::<usize>().expect("an index")] = value.clone(),
            _ => parent[name] = value.clone(),
        }
    }
    recipe.to_string()
}

fn refusal(changes: &[(&str, Value)]) -> String {
    Recipe::parse(&with(changes))
        .expect_err("refused")
        .to_string()
}

#[test]
fn what_is_wrong_is_told_by_path() {
    let cases: &[(&str, Value, &str)] = &[
        (
            "/camera/focal_mm",
            json!(-50),
            "camera.focal_mm: length -50 is out of range",
        ),
        (
            "/camera/focallength",
            json!(50),
            "camera.focallength: unknown field",
        ),
        (
            "/format",
            json!("other"),
            "format: \"other\" is not \"foreglass.recipe\"",
        ),
        ("/version", json!(2), "version: version 2 is not known"),
        (
            "/rig/stages/1",
            json!({"glass": "gauze"}),
            "rig.stages[1].glass: no family",
        ),
        (
            "/rig/stages/0/strength",
            json!("9"),
            "rig.stages[0].strength: \"9\" is not a strength",
        ),
        (
            "/rig/stages/1",
            json!({"glass": "nd", "strength": "5"}),
            "rig.stages[1].strength: ND does not come",
        ),
        (
            "/rig/stages/0/slide_mm",
            json!(500),
            "rig.stages[0].slide_mm: 500 mm is beyond",
        ),
        (
            "/rig/stages/0/options",
            json!({"grain": 1}),
            "rig.stages[0].options.grain: unknown field",
        ),
        (
            "/rig/stages/1",
            json!({"glass": "nd", "options": {"density": 9}}),
            "rig.stages[1].options.density: density 9",
        ),
        (
            "/rig/stages/-",
            json!(null),
            "rig.stages: 4 stages; the limit is 3",
        ),
        (
            "/rig/stages/1",
            json!({"glass": "clear", "size": "138mm", "slide_mm": 3}),
            "round glass",
        ),
        ("/camera/iso", json!(0), "camera.iso: 0 is out of range"),
        ("/camera/squeeze", json!(2.0), "camera.squeeze"),
        ("/note2", json!(""), "note2: unknown field"),
    ];
    for (pointer, value, wanted) in cases {
        let told = refusal(&[(pointer, value.clone())]);
        assert!(told.contains(wanted), "{pointer} = {value}: {told}");
        assert!(!told.contains('\n'), "one line: {told}");
    }
    for text in [
        "",
        "{",
        "[]",
        "{\"format\": NaN}",
        "null",
        "{\"format\":\"foreglass.recipe\"}",
    ] {
        assert!(Recipe::parse(text).is_err(), "{text:?} is no recipe");
    }
    let nan = with(&[]).replace("4.0", "NaN");
    assert!(
        Recipe::parse(&nan)
            .unwrap_err()
            .to_string()
            .contains("not JSON"),
        "NaN is not JSON"
    );
    let endless = with(&[]).replace("4.0", "1e999");
    assert!(Recipe::parse(&endless).is_err(), "an infinite stop");
}

#[test]
fn places_run_from_the_lens_outward() {
    let ring = json!({"glass": "balance", "options": {"series": "81A"}, "thread_mm": 77, "clear_mm": 73, "gap_mm": 5});
    let text = with(&[
        ("/rig/rings/-", ring),
        (
            "/rig/stages/2",
            json!({"glass": "grad-nd", "slide_mm": 12.0}),
        ),
    ]);
    let setup = Recipe::parse(&text).unwrap().setup().unwrap();
    let places: Vec<_> = setup.glass.iter().map(|g| (g.place, g.gap.get())).collect();
    assert_eq!(
        places,
        [
            (Place::Ring(1), 5.0),
            (Place::Stage(1), 20.0),
            (Place::Stage(3), 36.0)
        ],
        "gaps"
    );
}

#[test]
fn defaults_are_the_documented_ones() {
    let d: Value = serde_json::from_str(&Recipe::default().to_json()).unwrap();
    assert_eq!(d["camera"]["sensor_mm"], json!([24.89, 14.0]), "sensor");
    assert_eq!(d["camera"]["focus_m"], json!(3.0), "focus");
    assert_eq!(
        d["camera"]["pupil_depth_mm"],
        Value::Null,
        "pupil depth is estimated"
    );
    assert_eq!(d["light"]["outside"], json!("mirror"), "outside");
    assert_eq!(
        d["rig"]["stages"],
        json!([null, null, null]),
        "three empty stages"
    );
    assert_eq!(
        d["exposure"]["compensate"],
        json!("none"),
        "no compensation"
    );
    assert_eq!(d["frame"]["encoding"], json!("auto"), "encoding");
}

proptest! {
    /// Numbers come back to the bit.
    #[test]
    fn comes_back_to_the_bit(focal in 4.0..800.0_f64, stop in 0.7..32.0_f64, slide in -50.0..50.0_f64, turn in 0.0..360.0_f64) {
        let text = with(&[
            ("/camera/focal_mm", json!(focal)),
            ("/camera/stop", json!(stop)),
            ("/rig/stages/1", json!({"glass": "grad-nd", "slide_mm": slide, "turn_deg": turn})),
        ]);
        let once = Recipe::parse(&text).unwrap();
        prop_assert_eq!(once.camera.focal_mm.get().to_bits(), focal.to_bits());
        let again = Recipe::parse(&once.to_json()).unwrap();
        prop_assert_eq!(&once, &again);
        prop_assert_eq!(once.to_json(), again.to_json());
    }
}
