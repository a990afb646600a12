//! The rig: losses, the stop to set, coverage, vignette and advisories.

use crate::plan::setup;
use foreglass::optics::scatter::Profile;
use foreglass::rig::advisory::Level;
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

/// Each advisory has a rig that earns it and one just inside the limit that does not.
#[test]
fn advisories_fire_at_their_limits() {
    let nd = |d: f64| {
        [(
            "/rig/stages/0",
            json!({"glass": "nd", "options": {"density": d}}),
        )]
    };
    assert!(
        codes(&nd(1.5)).contains(&"infrared") && !codes(&nd(1.45)).contains(&"infrared"),
        "infrared"
    );
    assert!(
        codes(&nd(0.9)).contains(&"sun-finder") && !codes(&nd(0.85)).contains(&"sun-finder"),
        "sun"
    );
    let opens = |widest: f64| codes(&[nd(0.6)[0].clone(), ("/camera/widest_stop", json!(widest))]);
    assert!(
        opens(2.05).contains(&"beyond-widest-stop"),
        "the stop to set is 2.005"
    );
    assert!(
        !opens(2.0).contains(&"beyond-widest-stop"),
        "and a lens of 2.0 opens to it"
    );
    let clear = json!({"glass": "clear"});
    let three = [
        ("/rig/stages/1", clear.clone()),
        ("/rig/stages/2", clear.clone()),
    ];
    let four = [three[0].clone(), three[1].clone(), ("/rig/rings/-", clear)];
    assert!(
        codes(&four).contains(&"many-surfaces") && !codes(&three).contains(&"many-surfaces"),
        "faces"
    );
    assert!(codes(&three).contains(&"falling-glass"), "trays");
    let ring = [
        ("/rig/stages/0", Value::Null),
        ("/rig/rings/-", json!({"glass": "clear", "clear_mm": 70})),
    ];
    assert!(
        !codes(&ring).contains(&"falling-glass"),
        "no tray, no strap"
    );
    let edge = |kind: &str, stop: f64| {
        codes(&[
            (
                "/camera",
                json!({"focal_mm": 50, "stop": stop, "pupil_depth_mm": 60, "focus_m": null}),
            ),
            (
                "/rig/stages/0",
                json!({"glass": "grad-nd", "options": {"edge": kind}, "gap_mm": 40}),
            ),
        ])
    };
    // Edge widths over 14 mm of picture height: f(L + D)/z = 0.5(L + 50/N).
    assert!(edge("soft", 4.0).contains(&"edge-soft"), "28.75 mm");
    assert!(!edge("medium", 8.0).contains(&"edge-soft"), "13.1 mm");
    assert!(
        edge("hard", 32.0).contains(&"edge-hard"),
        "0.78 mm is under 0.84"
    );
    assert!(
        !edge("hard", 29.0).contains(&"edge-hard"),
        "0.862 mm is over"
    );
    let slid = |mm: f64| {
        codes(&[
            (
                "/camera",
                json!({"focal_mm": 50, "stop": 2.8, "pupil_depth_mm": 60, "focus_m": null}),
            ),
            (
                "/rig/stages/0",
                json!({"glass": "grad-nd", "gap_mm": 40, "slide_mm": mm}),
            ),
        ])
    };
    assert!(
        slid(27.9).contains(&"slide") && !slid(27.8).contains(&"slide"),
        "27.87 mm is the limit"
    );
}

#[test]
fn advisories_are_sorted_by_level_and_speak_in_sentences() {
    let s = setup(&[
        (
            "/rig/stages/0",
            json!({"glass": "nd", "options": {"density": 2.1}}),
        ),
        ("/camera/widest_stop", json!(2.8)),
    ]);
    let all = s.advisories(&s.sensor_view());
    assert_eq!(all[0].level, Level::Stop, "the worst first");
    assert!(all.windows(2).all(|w| w[0].level >= w[1].level), "{all:?}");
    assert!(
        all.iter()
            .all(|a| a.text.ends_with('.') && a.text.len() > 20),
        "{all:?}"
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

/// The part of a disc above a chord: source, the hard-edge table F(u) of `tests/checks` (closed form
/// (acos u − u√(1−u²))/π: 0.195501 at 0.5, 0.072147 at 0.75).
#[test]
fn a_shade_cuts_stray_light_by_the_chord_law() {
    use foreglass::rig::spill::lit;
    for (u, above) in [
        (-0.5, 0.804_499),
        (0.0, 0.5),
        (0.5, 0.195_501),
        (0.75, 0.072_147),
    ] {
        // The shadow's edge at u radii above the axis: what lies below it is lit.
        let tan = (60.0 - u * 40.0) / 100.0;
        let got = lit(f64::atan(tan).to_degrees(), 60.0, 100.0, 40.0);
        assert!((got - (1.0 - above)).abs() < 1e-6, "u = {u}: {got}");
    }
}

/// Spill with a direction is cut by the shade and its flag; without one it is as metered.
#[test]
fn a_top_flag_clears_the_spill() {
    let with = |from: Option<f64>, shade: bool, flag: f64| {
        setup(&[
            ("/rig/stages/0", json!({"glass": "pale-mist"})),
            ("/light/spill_stops", json!(3.0)),
            ("/light/spill_from_deg", json!(from)),
            ("/light/shade", json!(shade)),
            ("/rig/shade/top_flag_mm", json!(flag)),
        ])
    };
    let fires = |s: &foreglass::rig::Setup| {
        let advisories = s.advisories(&s.sensor_view());
        advisories.into_iter().find(|a| a.code == "spill")
    };
    let metered = with(None, true, 0.0);
    assert_eq!(
        metered.spill_share(&metered.sensor_view()),
        1.0,
        "as metered"
    );
    assert!(fires(&metered).is_some(), "spill veils");
    let bare = with(Some(40.0), false, 0.0);
    assert_eq!(
        bare.spill_share(&bare.sensor_view()),
        1.0,
        "no shade, no shadow"
    );
    let shaded = with(Some(40.0), true, 0.0);
    let view = shaded.sensor_view();
    let share = shaded.spill_share(&view);
    assert!(share > 0.0 && share < 1.0, "partly: {share}");
    assert!(
        fires(&shaded).is_some_and(|a| a.text.contains("top flag")),
        "with its cure"
    );
    // The flag that is asked for does it, and a little less does not.
    let flag = shaded.flag_to_clear_mm(&view).expect("a flag");
    let cleared = with(Some(40.0), true, flag + 0.01);
    assert!(
        cleared.spill_share(&view) <= 0.0 && fires(&cleared).is_none(),
        "cleared"
    );
    let short = with(Some(40.0), true, flag - 25.0);
    assert!(
        short.spill_share(&view) > 0.0 && fires(&short).is_some(),
        "not quite"
    );
    // What reaches the picture is in proportion.
    let lift = |s: &foreglass::rig::Setup| {
        crate::plan::render(s, &foreglass::frame::Frame::black(32, 18)).pixel(9, 9)[1]
    };
    let part = f64::from(lift(&shaded) / lift(&bare));
    assert!((part / share - 1.0).abs() < 1e-4, "{part} for {share}");
}

/// Specks, threads and lines before the pupil: N = c(D/d)² under 100 is a halo uneven by over 10 %, and D/p
/// under 5 a net or lines that may show (the limit of D/p is our own estimate; N as in the reference
/// tables).
#[test]
fn coarse_glass_is_told() {
    let level = |glass: Value, stop: f64| {
        let s = setup(&[
            (
                "/camera",
                json!({"focal_mm": 50, "stop": stop, "focus_m": null}),
            ),
            ("/rig/stages/0", glass),
        ]);
        let all = s.advisories(&s.sensor_view());
        all.iter().find(|a| a.code == "coarse").map(|a| a.level)
    };
    // A pitch of 1 mm, 5 of them in 5 mm: f/10.
    let net = || json!({"glass": "net-dark", "options": {"pitch_mm": 1.0}});
    assert_eq!(level(net(), 9.98), None, "5.01 threads");
    assert_eq!(level(net(), 10.02), Some(Level::Note), "4.99 threads");
    assert_eq!(level(net(), 25.2), Some(Level::Caution), "1.98 threads");
    let star = || json!({"glass": "star", "options": {"spacing_mm": 2.0}});
    assert_eq!(level(star(), 4.99), None, "5.01 lines");
    assert_eq!(level(star(), 5.01), Some(Level::Note), "4.99 lines");
    let mist = || json!({"glass": "dark-mist", "strength": "1/8"});
    let scatter = setup(&[("/rig/stages/0", mist())]).glass[0]
        .piece
        .law()
        .scatter
        .clone()
        .unwrap();
    let stop = match scatter.lobes[0].profile {
        Profile::Speck {
            diameter, spread, ..
        } => {
            // (1 − c)² goes straight on.
            let covered = 1.0 - scatter.direct[1].sqrt();
            let enough = 100.0 / covered / (-2.0 * spread * spread).exp();
            50.0 / (1e-3 * diameter.get() * enough.sqrt())
        }
        other => panic!("a mist is made of specks: {other:?}"),
    };
    assert_eq!(
        level(mist(), stop * 0.99),
        None,
        "102 specks before f/{stop}"
    );
    assert_eq!(level(mist(), stop * 1.01), Some(Level::Note), "98 specks");
    assert_eq!(level(json!({"glass": "nd"}), 22.0), None, "nothing to show");
}

/// A veil has no border: over a black frame it is even, whatever lies outside and whatever scatters behind
/// the glass that it strikes (the definition of spill: added light, attenuated by all behind it).
#[test]
fn spill_is_even_whatever_lies_outside() {
    for outside in [json!("mirror"), json!("dark")] {
        let s = setup(&[
            (
                "/rig/stages/0",
                json!({"glass": "pale-mist", "strength": "5"}),
            ),
            ("/rig/stages/1", json!({"glass": "clear"})),
            ("/light/spill_stops", json!(3.0)),
            ("/light/outside", outside.clone()),
        ]);
        let out = crate::plan::render(&s, &foreglass::frame::Frame::black(64, 36));
        let (corner, middle) = (out.pixel(0, 0)[1], out.pixel(32, 18)[1]);
        let even = (corner / middle - 1.0).abs() < 1e-3;
        assert!(middle > 0.0 && even, "{outside}: {corner} {middle}");
    }
}

/// Stray light that strikes the front glass has not passed it: a camera balanced through a warming glass at
/// the front sees it blue, and one that is not sees it as it is (the definition of balance).
#[test]
fn spill_that_skipped_the_front_glass_is_balanced_through_it() {
    let veil = |through: bool, place: &str| {
        let s = setup(&[
            ("/rig/stages/0", Value::Null),
            (
                place,
                json!({"glass": "balance", "options": {"series": "85"}}),
            ),
            ("/light/spill_stops", json!(6.0)),
            ("/light/balance_through_glass", json!(through)),
        ]);
        let [r, _, b] = crate::plan::render(&s, &foreglass::frame::Frame::black(8, 8)).pixel(4, 4);
        b / r
    };
    assert!(
        (veil(false, "/rig/stages/0") - 1.0).abs() < 1e-4,
        "as it is"
    );
    assert!(
        veil(true, "/rig/stages/0") > 1.5,
        "{}",
        veil(true, "/rig/stages/0")
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
