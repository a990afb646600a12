//! Stray light that strikes the glass: the shade and its flag cut it, what lies behind it colours it.

use crate::plan::setup;
use serde_json::{Value, json};

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
