//! What glass covers, and how far it may slide and turn.

use crate::plan::setup;
use foreglass::recipe::Recipe;
use foreglass::rig::Setup;
use proptest::prelude::*;
use serde_json::{Value, json};

fn rig(focal: f64, pupil: f64, stage: Value) -> Setup {
    setup(&[
        (
            "/camera",
            json!({"focal_mm": focal, "stop": 4, "pupil_depth_mm": pupil, "focus_m": null}),
        ),
        ("/rig/stages/0", stage),
    ])
}

fn codes(setup: &Setup) -> Vec<(&'static str, String)> {
    let all = setup.advisories(&setup.sensor_view()).into_iter();
    all.map(|a| (a.code, a.text)).collect()
}

/// Glass that is too narrow does not cover wherever it is slid: at 12 mm the corners of a 24.89 × 14 mm
/// picture lie 60·12.445/12 = 62.2 mm out on glass that ends at 50.8 (similar triangles).
#[test]
fn glass_that_is_too_narrow_may_not_slide() {
    let s = rig(12.0, 40.0, json!({"glass": "grad-nd", "size": "4x4"}));
    let view = s.sensor_view();
    assert!(!s.covers(&s.glass[0], &view), "62.2 mm and the footprint");
    assert_eq!(s.slide_range_mm(&s.glass[0], &view), [0.0; 2], "no slide");
    let told = codes(&s);
    assert!(
        told.iter().any(|(c, _)| *c == "coverage") && !told.iter().any(|(c, _)| *c == "slide"),
        "{told:?}"
    );
    // 143.5 mm across are enough, and then the height decides: 50.8 − 60·7/12 − 1.5.
    let wide = rig(12.0, 40.0, json!({"glass": "grad-nd", "size": "4x5.65"}));
    let [low, high] = wide.slide_range_mm(&wide.glass[0], &view);
    assert!(
        (high - 14.3).abs() < 1e-9 && (low + 14.3).abs() < 1e-9,
        "{low} to {high}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    /// The range against the definition, for any turn: glass slid just inside it covers, just outside it
    /// does not, and where there is none no slide covers.
    #[test]
    fn the_range_is_where_glass_covers(
        focal in 9.0..28.0_f64, pupil in 10.0..60.0_f64, turn in 0.0..360.0_f64,
        size in prop::sample::select(vec!["4x4", "4x5.65", "5.65x5.65", "6.6x6.6"]),
    ) {
        let with = |slide: f64| rig(focal, pupil,
            json!({"glass": "clear", "size": size, "turn_deg": turn, "slide_mm": slide}));
        let covers = |slide: f64| {
            let s = with(slide);
            s.covers(&s.glass[0], &s.sensor_view())
        };
        let s = with(0.0);
        let [low, high] = s.slide_range_mm(&s.glass[0], &s.sensor_view());
        if high > low {
            prop_assert!(covers(high - 1e-6) && covers(low + 1e-6), "inside {low} to {high}");
            prop_assert!(!covers(high + 1e-3) && !covers(low - 1e-3), "outside {low} to {high}");
        } else {
            let any = (-50..=50).map(f64::from).find(|mm| covers(*mm));
            prop_assert!(any.is_none(), "covers slid {any:?}");
        }
    }
}

/// A grad that covers upright and is turned until its corners enter the picture: told with the turn that
/// still covers, which does, and a little more does not.
#[test]
fn turned_corners_are_told_with_the_turn_that_covers() {
    let stage = |turn: f64| json!({"glass": "grad-nd", "size": "4x5.65", "turn_deg": turn});
    let told = |turn: f64| {
        let s = rig(14.0, 40.0, stage(turn));
        codes(&s).into_iter().find(|(c, _)| *c == "turned-corners")
    };
    assert!(told(0.0).is_none(), "it covers upright");
    let s = rig(14.0, 40.0, stage(40.0));
    let range = s
        .turn_range_deg(&s.glass[0], &s.sensor_view())
        .expect("a range");
    // 60/14 of the corner (12.445, 7) is (53.3, 30.0): turned by t it is 53.3·sin t + 30.0·cos t high, and
    // 50.8 − 1.75 of footprint is where the glass ends. By hand: t = 23.9°.
    let height =
        |t: f64| 60.0 / 14.0 * (12.445 * t.to_radians().sin() + 7.0 * t.to_radians().cos());
    assert!((height(range) - (50.8 - 1.75)).abs() < 1e-5, "{range}");
    let (_, text) = told(40.0).expect("told");
    assert!(
        text.contains(&format!("up to {range:.1}° from upright")),
        "{text}"
    );
    assert!(
        told(range - 0.01).is_none() && told(range + 0.01).is_some(),
        "{range}"
    );
    assert!(told(-range - 0.01).is_some(), "either way");
    // Glass that does not cover upright either is too small, however it is turned.
    let small = rig(10.0, 40.0, stage(40.0));
    let codes: Vec<_> = codes(&small).into_iter().map(|(c, _)| c).collect();
    assert!(
        codes.contains(&"coverage") && !codes.contains(&"turned-corners"),
        "{codes:?}"
    );
}

/// Slid past the glass's end: told with the range, and not also called too small.
#[test]
fn a_slide_too_far_is_told_as_one() {
    let s = rig(
        24.0,
        40.0,
        json!({"glass": "grad-nd", "size": "4x5.65", "slide_mm": 40}),
    );
    let told = codes(&s);
    let (_, text) = told.iter().find(|(c, _)| *c == "slide").expect("told");
    // 50.8 − 60·7/24 − 3.
    assert!(text.contains("from −30.3 to 30.3 mm"), "{text}");
    assert!(!told.iter().any(|(c, _)| *c == "coverage"), "{told:?}");
}

/// What turns and cannot slide is refused with that reason, by its path.
#[test]
fn rings_and_rounds_do_not_slide() {
    let refusal = |changes: &[(&str, Value)]| {
        let text = crate::recipe::with(changes);
        Recipe::parse(&text).expect_err("refused").to_string()
    };
    let ring = refusal(&[("/rig/rings/-", json!({"glass": "grad-nd", "slide_mm": 4}))]);
    assert_eq!(
        ring,
        "rig.rings[0].slide_mm: a ring turns and cannot slide; glass in a stage can"
    );
    let round = refusal(&[(
        "/rig/stages/0",
        json!({"glass": "clear", "size": "138mm", "slide_mm": 4}),
    )]);
    assert_eq!(
        round,
        "rig.stages[0].slide_mm: round glass (138mm) turns and cannot slide"
    );
}
