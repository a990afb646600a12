//! The shade as an opening of the picture.

use super::rays::{MANY, Met, count, field, painted, place};
use crate::plan::setup;
use foreglass::recipe::Recipe;
use foreglass::rig::Setup;
use foreglass::rig::vignette::Cause;
use serde_json::{Value, json};

/// An 18 mm lens at f/4 with one clear glass 20 mm before it, 60 mm before the pupil.
fn rig(shade: Value, more: &[(&str, Value)]) -> Setup {
    let camera = json!({"focal_mm": 18, "stop": 4, "pupil_depth_mm": 40, "focus_m": null});
    let glass = json!({"glass": "clear", "size": "6.6x6.6", "gap_mm": 20});
    let rig = [
        ("/camera", camera),
        ("/rig/stages/0", glass),
        ("/rig/shade", shade),
    ];
    setup(&rig.iter().chain(more).cloned().collect::<Vec<_>>())
}

fn told(setup: &Setup) -> Option<String> {
    let all = setup.advisories(&setup.sensor_view());
    all.into_iter().find(|a| a.code == "shade").map(|a| a.text)
}

/// A mouth that is told and its flag cut the picture as rays say: the mouth 80 mm before the glass, the
/// flag's edge as high as the mouth's and 60 mm further out.
#[test]
fn a_mouth_and_its_flag_cut_what_rays_say() {
    let s = rig(
        json!({"opening_mm": [180, 112], "depth_mm": 80, "top_flag_mm": 60}),
        &[],
    );
    let view = s.sensor_view();
    let met = [
        Met::Sheet {
            sides: [180.0, 112.0],
            turn_deg: 0.0,
            slide: 0.0,
            z: 140.0,
        },
        Met::Flag {
            height: 56.0,
            z: 200.0,
        },
    ];
    let size = [81, 45];
    let (law, fit) = field(&s, &view).expect("a field");
    let picture = painted(&fit, view, size);
    for pixel in [
        [0, 0],
        [3, 3],
        [5, 6],
        [40, 6],
        [40, 0],
        [80, 44],
        [77, 20],
        [40, 22],
        [79, 5],
    ] {
        let [x, y] = place(&view, size, pixel);
        let counted = count(4.5, f64::INFINITY, &met, [x / 18.0, y / 18.0], MANY);
        let exact = law.at(&view, x, y);
        assert!(
            (exact - counted).abs() < 3e-4,
            "{pixel:?}: {exact} for {counted}"
        );
        let shown = f64::from(picture.pixel(pixel[0], pixel[1])[0]);
        assert!(
            (shown - counted).abs() < 1e-3,
            "{pixel:?}: {shown} for {counted}"
        );
    }
    // The upper corners are behind the flag: 200·7/18 = 77.8 mm up.
    let v = s.vignette(&view);
    assert!(v.corner.is_none(), "{v:?}");
}

/// A mouth made to the lens, and a shade that is off, cut nothing.
#[test]
fn a_mouth_made_to_the_lens_cuts_nothing() {
    let none = rig(json!({"top_flag_mm": 100}), &[]);
    assert_eq!(none.mounts().len(), 1, "the glass alone");
    assert!(told(&none).is_none(), "nothing to say");
    let small = json!({"opening_mm": [60, 40]});
    let off = rig(small.clone(), &[("/light/shade", json!(false))]);
    assert_eq!(off.mounts().len(), 1, "the glass alone");
    let on = rig(small, &[]);
    assert_eq!(on.mounts().len(), 2, "glass and mouth");
    assert!(told(&on).is_some(), "60 × 40 mm is in the picture");
}

/// Who cuts is told, and what mouth would clear it: that mouth does, and two millimetres less do not.
/// z·side/f + D at the mouth's and the flag's distance (similar triangles).
#[test]
fn the_mouth_that_clears_is_told() {
    let cause = |s: &Setup| s.vignette(&s.sensor_view()).cause;
    let mouth = rig(json!({"opening_mm": [150, 130]}), &[]);
    assert_eq!(cause(&mouth), Some(Cause::Shade), "150 is too narrow");
    // 140·24.89/18 + 4.5 = 198.1 and 140·14/18 + 4.5 = 113.4, less than there is.
    let text = told(&mouth).expect("told");
    assert!(
        text.contains("The shade cuts") && text.contains("199 × 130 mm"),
        "{text}"
    );
    let flagged = rig(json!({"opening_mm": [210, 120], "top_flag_mm": 100}), &[]);
    assert_eq!(cause(&flagged), Some(Cause::TopFlag), "60 mm up at 240 mm");
    // 240·14/18 + 4.5 = 191.2.
    let text = told(&flagged).expect("told");
    assert!(
        text.contains("The top flag cuts") && text.contains("210 × 192 mm"),
        "{text}"
    );
    let cleared = rig(json!({"opening_mm": [210, 192], "top_flag_mm": 100}), &[]);
    assert!(
        told(&cleared).is_none() && cause(&cleared).is_none(),
        "it clears"
    );
    let short = rig(json!({"opening_mm": [210, 190], "top_flag_mm": 100}), &[]);
    assert!(told(&short).is_some(), "it does not");
}

/// Without glass the shade stands before the front vertex.
#[test]
fn a_bare_lens_has_its_shade_before_the_vertex() {
    let s = rig(
        json!({"opening_mm": [100, 80], "depth_mm": 50}),
        &[("/rig/stages/0", Value::Null)],
    );
    let mounts = s.mounts();
    assert!(
        mounts.len() == 1 && (mounts[0].1.depth_mm - 90.0).abs() < 1e-12,
        "{mounts:?}"
    );
}

/// For stray light a mouth made to the lens counts as 165 × 125 mm, and the default is written as null.
#[test]
fn an_untold_mouth_meets_spill_as_the_usual_one() {
    let spill = [
        ("/light/spill_stops", json!(2.0)),
        ("/light/spill_from_deg", json!(35.0)),
    ];
    let share = |shade: Value| {
        let s = rig(shade, &spill);
        s.spill_share(&s.sensor_view())
    };
    let untold = share(json!({}));
    assert!(untold > 0.0 && untold < 1.0, "partly: {untold}");
    assert_eq!(
        untold,
        share(json!({"opening_mm": [165, 125]})),
        "the usual"
    );
    let text = Recipe::default().to_json();
    assert!(text.contains("\"opening_mm\": null"), "{text}");
    assert_eq!(
        Recipe::parse(&text).expect("read"),
        Recipe::default(),
        "back"
    );
}
