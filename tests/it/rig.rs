//! The rig: losses, the stop to set, vignette, edges, stripes; beside it advisories and stray light.

mod advisories;
mod spill;

use crate::plan::setup;
use serde_json::{Value, json};

fn codes(changes: &[(&str, Value)]) -> Vec<&'static str> {
    let setup = setup(changes);
    setup
        .advisories(&setup.sensor_view())
        .into_iter()
        .map(|a| a.code)
        .collect()
}

/// Two stops lost open the lens by two whole stops: f/4 to f/2 (definition of the stop).
#[test]
fn the_stop_to_set() {
    let nd = json!({"glass": "nd", "options": {"density": 2.0 * std::f64::consts::LOG10_2}});
    let two = setup(&[("/rig/stages/0", nd.clone())]);
    assert!(
        (two.light_loss().get() - 2.0).abs() < 1e-9,
        "{:?}",
        two.light_loss()
    );
    assert!(
        (two.stop_to_set() - 2.0).abs() < 1e-9,
        "{}",
        two.stop_to_set()
    );
    let t = setup(&[("/rig/stages/0", nd), ("/camera/t_stop", json!(4.4))]);
    assert!(
        (t.stop_to_set() - 2.2).abs() < 1e-9,
        "the T-stop keeps its ratio"
    );
}

/// A stack loses what its spectra lose together; an 85 with ND 0.3 loses 1 2/3 stop in the tables
/// (stack table of the reference values: 85N3).
#[test]
fn a_stack_adds_up() {
    let s = setup(&[
        (
            "/rig/stages/0",
            json!({"glass": "balance", "options": {"series": "85"}}),
        ),
        (
            "/rig/stages/1",
            json!({"glass": "nd", "options": {"density": 0.3}}),
        ),
    ]);
    assert!(
        (s.nominal_loss().get() - 5.0 / 3.0).abs() < 1e-9,
        "{:?}",
        s.nominal_loss()
    );
    assert!(
        (s.light_loss().get() - 5.0 / 3.0).abs() < 0.25,
        "{:?}",
        s.light_loss()
    );
}

/// `vignette.csv` (derived): r = 8.9286 (50 mm at f/2.8), R = 41 mm, z = 60 mm begins at 28.126°; and the
/// loss at a corner is the overlap of two circles.
#[test]
fn a_ring_vignettes_where_geometry_says() {
    let rig = |sensor: [f64; 2]| {
        setup(&[
            (
                "/camera",
                json!({"sensor_mm": sensor, "focal_mm": 50, "stop": 2.8, "pupil_depth_mm": 50, "focus_m": null}),
            ),
            ("/rig/stages/0", Value::Null),
            (
                "/rig/rings/-",
                json!({"glass": "clear", "thread_mm": 86, "clear_mm": 82, "gap_mm": 10}),
            ),
        ])
    };
    // 50·tan 35° = 35.0 mm half-diagonal: 56 × 42 mm.
    let wide = rig([56.0, 42.01]);
    let v = wide.vignette(&wide.sensor_view());
    // The circle begins at 28.1255°; a hundredth of a stop is lost a little further out.
    let from = v.starts_deg.expect("it vignettes");
    assert!((28.1255..28.9).contains(&from), "from {from}");
    let corner = v.corner.expect("not black").get();
    assert!(
        (corner + 0.405_690_f64.log2()).abs() < 0.01,
        "corner {corner}"
    );
    let narrow = rig([24.89, 14.0]);
    let clear = narrow.vignette(&narrow.sensor_view());
    assert!(
        clear.starts_deg.is_none() && clear.corner.is_some_and(|c| c.get() < 1e-9),
        "{clear:?}"
    );
    let black = rig([90.0, 90.0]);
    assert!(
        black.vignette(&black.sensor_view()).corner.is_none(),
        "nothing passes at 52°"
    );
}

/// Edge width f(L + D′)/z and slide range from the glass's own height.
#[test]
fn edges_and_slides() {
    let s = setup(&[
        (
            "/camera",
            json!({"focal_mm": 50, "stop": 2.8, "pupil_depth_mm": 60, "focus_m": null}),
        ),
        (
            "/rig/stages/0",
            json!({"glass": "grad-nd", "options": {"edge": "hard"}, "gap_mm": 40}),
        ),
    ]);
    let g = &s.glass[0];
    // `grad_geometry.csv`: 50 mm, f/2.8, z = 100 mm.
    assert!(
        (s.edge_width_mm(g).unwrap() - 8.928_571).abs() < 1e-5,
        "{:?}",
        s.edge_width_mm(g)
    );
    // 50.8 mm half-height less 100·7/50 mm of reach less 8.9286 mm of footprint.
    let free = 50.8 - 14.0 - 8.928_571;
    let [low, high] = s.slide_range_mm(g, &s.sensor_view());
    assert!(
        (high - free).abs() < 1e-5 && (low + free).abs() < 1e-5,
        "{low} to {high}"
    );
}

/// A stripe takes nothing from an even field's clear part and is told by its flanks; an attenuator counts
/// on the axis: half of its peak unslid, and 0.6/101.6 mm of density for every millimetre that it is slid.
#[test]
fn stripes_and_attenuators_count_and_are_spoken_of() {
    let camera = |stop: f64| {
        (
            "/camera",
            json!({"focal_mm": 50, "stop": stop, "pupil_depth_mm": 60, "focus_m": null}),
        )
    };
    let glass = |edge: &str, more: Value| {
        let mut stage =
            json!({"glass": "grad-nd", "options": {"edge": edge, "density": 0.6}, "gap_mm": 40});
        for (key, value) in more.as_object().unwrap() {
            stage[key] = value.clone();
        }
        setup(&[camera(2.8), ("/rig/stages/0", stage)])
    };
    let stripe = glass("stripe", json!({}));
    let clear = -(0.99_f64.log2());
    assert!(
        (stripe.light_loss().get() - clear).abs() < 1e-9,
        "faces only"
    );
    // f(L + D)/z with a flank of 12 mm, and 32 mm of stripe in all.
    let d = 50.0 / 2.8;
    let g = &stripe.glass[0];
    assert!(
        (stripe.edge_width_mm(g).unwrap() - 0.5 * (12.0 + d)).abs() < 1e-9,
        "flank"
    );
    assert!(
        (stripe.stripe_width_mm(g).unwrap() - 0.5 * (32.0 + d)).abs() < 1e-9,
        "stripe"
    );
    assert!(
        (stripe.attenuator_span(g, &stripe.sensor_view())).is_none(),
        "no attenuator"
    );
    let soft = |s: &foreglass::rig::Setup| {
        let all = s.advisories(&s.sensor_view());
        all.into_iter().find(|a| a.code == "edge-soft")
    };
    let told = soft(&stripe).expect("24.9 mm over 14").text;
    assert!(told.contains("ND stripe 0.6 with its flanks"), "{told}");
    let stage = json!({"glass": "grad-nd", "options": {"edge": "stripe"}, "gap_mm": 100});
    let far = setup(&[
        (
            "/camera",
            json!({"focal_mm": 32, "stop": 8, "pupil_depth_mm": 60, "focus_m": null}),
        ),
        ("/rig/stages/0", stage),
    ]);
    assert!(soft(&far).is_none(), "0.2 · 36 mm is 7.2 mm of 14");

    let axis = |slide: f64| (0.3 - 0.6 * slide / 101.6) / std::f64::consts::LOG10_2;
    for slide in [0.0, 20.0, -20.0] {
        let s = glass("attenuator", json!({"slide_mm": slide}));
        let (loss, nominal) = (s.light_loss().get(), s.nominal_loss().get());
        assert!(
            (loss - clear - axis(slide)).abs() < 1e-9,
            "slid {slide}: {loss}"
        );
        assert!(
            (nominal - (1.0 - 2.0 * slide / 101.6)).abs() < 1e-9,
            "slid {slide}: {nominal}"
        );
        assert_eq!(
            s.glass[0].loss(&s.scene()),
            s.light_loss(),
            "its row is the sum"
        );
    }
    let attenuator = glass("attenuator", json!({}));
    let g = &attenuator.glass[0];
    assert!(
        (attenuator.edge_width_mm(g).unwrap() - 0.5 * (101.6 + d)).abs() < 1e-9,
        "ramp"
    );
    // A glass of 143.5 mm reaches from end to end of itself: half its peak is still on the axis.
    let large = glass("attenuator", json!({"size": "5.65x5.65"}));
    let ramp = large.glass[0].ramp().unwrap();
    assert!(
        ramp.length() == 143.5 && (ramp.density(-71.75)).abs() < 1e-12,
        "{ramp:?}"
    );
    assert!(
        (large.light_loss().get() - clear - axis(0.0)).abs() < 1e-9,
        "axis"
    );
    // 28 mm of glass are seen: 0.6·28/101.6 of density, over a quarter of a stop; at 0.2 it is not.
    let span = attenuator
        .attenuator_span(g, &attenuator.sensor_view())
        .unwrap()
        .get();
    assert!(
        (span - 0.6 * 28.0 / 101.6 / std::f64::consts::LOG10_2).abs() < 1e-9,
        "{span}"
    );
    assert!(
        soft(&attenuator).is_none(),
        "an attenuator is meant to be soft"
    );
    let weak = glass(
        "attenuator",
        json!({"options": {"edge": "attenuator", "density": 0.2}}),
    );
    let told = soft(&weak).expect("0.18 stop").text;
    assert!(told.contains("changes by only 0.18 stop"), "{told}");
}

/// A colour grad costs its faces, like a neutral one, whatever its dye.
#[test]
fn a_colour_grad_counts_with_its_clear_end() {
    let s = setup(&[(
        "/rig/stages/0",
        json!({"glass": "grad-colour", "options": {"colour": "slate", "density": 1.2}}),
    )]);
    assert!(
        (s.light_loss().get() + 0.99_f64.log2()).abs() < 1e-9,
        "{:?}",
        s.light_loss()
    );
    assert!(
        s.nominal_loss().get().abs() < 1e-12,
        "{:?}",
        s.nominal_loss()
    );
    assert!(
        !codes(&[(
            "/rig/stages/0",
            json!({"glass": "grad-colour", "options": {"colour": "rose", "density": 1.2}}),
        )])
        .contains(&"sun-finder"),
        "it passes most of the light"
    );
    assert_eq!(
        s.glass[0].piece.law().peak_density(),
        Some(1.2),
        "told as peak density"
    );
}

/// An attenuator's density on the axis counts in the stack's figures as in the light lost, and an ND one
/// leaks infrared like any other density (common practice, no source for the limit).
#[test]
fn an_attenuator_counts_on_the_axis_everywhere() {
    let with = |density: f64| {
        setup(&[
            ("/rig/stages/0", json!({"glass": "dark-mist"})),
            (
                "/rig/stages/1",
                json!({"glass": "grad-nd", "options": {"edge": "attenuator", "density": density}, "slide_mm": -40}),
            ),
        ])
    };
    let s = with(2.1);
    let told = s.figures(&s.stack()).loss_flat().get();
    let lost = s.light_loss().get();
    assert!((told - lost).abs() < 1e-3, "{told} against {lost}");
    assert!(lost > 5.0, "slid to its dense end: {lost}");
    let leaks = |s: &foreglass::rig::Setup| {
        let all = s.advisories(&s.sensor_view());
        all.iter().any(|a| a.code == "infrared")
    };
    assert!(
        leaks(&s),
        "density {:.2} on the axis",
        s.glass[1].density_on_axis()
    );
    assert!(!leaks(&with(1.5)), "under the limit");
}
