//! What takes most of a corner, and the widest lens that a rig clears.

use crate::plan::setup;
use foreglass::rig::vignette::Cause;
use foreglass::rig::{Place, Setup};
use proptest::prelude::*;
use serde_json::{Value, json};
use std::f64::consts::PI;

fn ring(clear: f64, gap: f64) -> (&'static str, Value) {
    let ring = json!({"glass": "clear", "thread_mm": 105, "clear_mm": clear, "gap_mm": gap});
    ("/rig/rings/-", ring)
}

fn rig(focal: f64, stop: f64, more: &[(&str, Value)]) -> Setup {
    let camera = json!({"focal_mm": focal, "stop": stop, "focus_m": null, "pupil_depth_mm": 40});
    let start = [("/camera", camera), ("/rig/stages/0", Value::Null)];
    setup(&start.iter().chain(more).cloned().collect::<Vec<_>>())
}

fn cause(setup: &Setup) -> Option<Cause> {
    setup.vignette(&setup.sensor_view()).cause
}

/// The mount that alone takes most from the worst corner; of two that leave nothing, the nearer one.
#[test]
fn the_piece_that_takes_most_is_named() {
    let stage = |size: &str, slide: f64| {
        let glass = json!({"glass": "clear", "size": size, "slide_mm": slide, "gap_mm": 30});
        ("/rig/stages/1", glass)
    };
    let at = |place| Some(Cause::Place(place));
    // On an 18 mm lens at f/4 corners lie 0.793 mm out for each mm of distance: 35.7 mm at 45, 55.5 at 70.
    let first = rig(18.0, 4.0, &[ring(71.0, 5.0), stage("6.6x6.6", 0.0)]);
    assert_eq!(cause(&first), at(Place::Ring(1)), "35.5 against 35.7 mm");
    let stage_only = rig(18.0, 4.0, &[ring(90.0, 5.0), stage("4x4", 30.0)]);
    assert_eq!(
        cause(&stage_only),
        at(Place::Stage(2)),
        "20.8 mm below the axis"
    );
    let second = rig(18.0, 4.0, &[ring(74.0, 5.0), ring(78.0, 12.0)]);
    assert_eq!(cause(&second), at(Place::Ring(2)), "39 against 41.2 mm");
    let black = rig(18.0, 4.0, &[ring(40.0, 5.0), ring(40.0, 12.0)]);
    assert_eq!(cause(&black), at(Place::Ring(1)), "both leave nothing");
    let clear = rig(18.0, 4.0, &[ring(101.0, 5.0)]);
    assert_eq!(cause(&clear), None, "nothing is in the way");
    assert_eq!(cause(&black).map(Cause::key).as_deref(), Some("ring1"));
}

/// Part of a pupil of radius r that a ring of radius R leaves whose centre is d away: the lens of two
/// circles, as in `vignette.csv`.
fn overlap(r: f64, ring: f64, d: f64) -> f64 {
    if d <= ring - r {
        return 1.0;
    }
    if d >= ring + r {
        return 0.0;
    }
    let a = ((d * d + r * r - ring * ring) / (2.0 * d * r)).acos();
    let b = ((d * d + ring * ring - r * r) / (2.0 * d * ring)).acos();
    let kite = 0.5 * ((r + ring - d) * (d + r - ring) * (d - r + ring) * (d + r + ring)).sqrt();
    (r * r * a + ring * ring * b - kite) / (PI * r * r)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(16))]

    /// The widest lens that a ring clears, against the overlap of two circles tried every 0.02 mm; told
    /// and estimated pupil depths (25 mm and half the focal length, 150 at most).
    #[test]
    fn the_widest_lens_is_where_circles_say(
        clear in 50.0..101.0_f64, gap in 3.0..30.0_f64, stop in 2.0..11.0_f64,
        pupil in prop::option::of(20.0..80.0_f64), focal in 12.0..100.0_f64,
    ) {
        let s = setup(&[
            ("/camera", json!({"focal_mm": focal, "stop": stop, "focus_m": null, "pupil_depth_mm": pupil})),
            ("/rig/stages/0", Value::Null),
            ring(clear, gap),
        ]);
        let corner = 0.5 * 24.89_f64.hypot(14.0);
        let clears = |f: f64| {
            let depth = pupil.unwrap_or((25.0 + 0.5 * f).min(150.0));
            let seen = overlap(f / stop / 2.0, clear / 2.0, (gap + depth) * corner / f);
            -seen.log2() < 0.01
        };
        let wanted = (50..50_000).map(|i| 0.02 * f64::from(i)).find(|f| clears(*f));
        let got = s.widest_focal_mm(&s.sensor_view());
        match (wanted, got) {
            (Some(w), Some(g)) => prop_assert!((w - g).abs() < 0.021, "{g} for {w}"),
            (w, g) => prop_assert!(w.is_none() && g.is_none(), "{g:?} for {w:?}"),
        }
    }
}

/// Nothing in the way has no widest lens, and neither has a ring that no lens looks through whole.
#[test]
fn where_there_is_no_widest_lens() {
    let bare = rig(50.0, 4.0, &[]);
    assert_eq!(bare.widest_focal_mm(&bare.sensor_view()), None, "no glass");
    let tiny = rig(50.0, 1.4, &[ring(8.0, 5.0)]);
    assert_eq!(tiny.widest_focal_mm(&tiny.sensor_view()), None, "8 mm");
}
