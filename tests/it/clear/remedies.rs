//! What to change about a rig that vignettes: every remedy is tried anew from a recipe that has it.

use crate::plan::setup;
use foreglass::rig::Setup;
use foreglass::rig::remedies::{MOST, Remedy};
use serde_json::{Value, json};

/// An 18 mm lens at f/2.8, its pupil 40 mm deep; `more` may replace its camera.
fn rig(more: &[(&str, Value)]) -> Setup {
    let camera = json!({"focal_mm": 18, "stop": 2.8, "focus_m": null, "pupil_depth_mm": 40});
    let start = [("/camera", camera), ("/rig/stages/0", Value::Null)];
    setup(&start.iter().chain(more).cloned().collect::<Vec<_>>())
}

fn ring(thread: f64) -> (&'static str, Value) {
    (
        "/rig/rings/-",
        json!({"glass": "clear", "thread_mm": thread, "gap_mm": 8}),
    )
}

fn stage(glass: Value) -> (&'static str, Value) {
    ("/rig/stages/0", glass)
}

fn remedies(setup: &Setup) -> Vec<Remedy> {
    setup.remedies(&setup.sensor_view())
}

fn find(all: &[Remedy], words: &str) -> Remedy {
    let found = all.iter().find(|r| r.text.contains(words));
    found
        .unwrap_or_else(|| panic!("no \"{words}\" in {all:?}"))
        .clone()
}

/// What is told of a remedy is what the rig with it does.
fn holds(told: &Remedy, with: &Setup) {
    let v = with.vignette(&with.sensor_view());
    assert_eq!(
        (told.corner, told.starts_deg),
        (v.corner, v.starts_deg),
        "{told:?}"
    );
}

/// Every remedy halves the loss or ends it, they are at most five, and the best comes first.
fn in_order(setup: &Setup) {
    let before = setup.vignette(&setup.sensor_view()).corner;
    let all = remedies(setup);
    assert!(!all.is_empty() && all.len() <= MOST, "{all:?}");
    let left: Vec<f64> = all
        .iter()
        .map(|r| r.corner.expect("not black").get())
        .map(|stops| if stops < 0.01 { 0.0 } else { stops })
        .collect();
    assert!(left.windows(2).all(|w| w[0] <= w[1]), "{left:?}");
    if let Some(before) = before {
        assert!(
            left.iter().all(|l| 2.0 * l <= before.get()),
            "{left:?} of {before:?}"
        );
    }
    assert!(all.iter().all(|r| r.text.ends_with('.')), "{all:?}");
}

/// A ring that is too small: a larger thread, the matte box, no ring, a longer lens.
#[test]
fn a_small_ring() {
    let s = rig(&[ring(72.0)]);
    in_order(&s);
    let all = remedies(&s);
    // The corner lies 48·14.28/18 = 38.1 mm out with 3.2 mm of footprint about it: 86 mm threads, clear to
    // 41 mm from the axis, lose a little, and the next are 95.
    holds(&find(&all, "95 mm thread for Ring 1"), &rig(&[ring(95.0)]));
    holds(&find(&all, "Take Ring 1 out"), &rig(&[]));
    let moved = stage(json!({"glass": "clear", "size": "4x5.65"}));
    holds(&find(&all, "matte box, as 4x5.65"), &rig(&[moved]));
    // 48·14.28/f + f/5.6 comes under 34 mm between 22 and 23 mm.
    let longer = json!({"focal_mm": 23, "stop": 2.8, "focus_m": null, "pupil_depth_mm": 40});
    let lens = rig(&[("/camera", longer), ring(72.0)]);
    assert_eq!(
        lens.widest_focal_mm(&lens.sensor_view()).map(f64::ceil),
        Some(23.0)
    );
    holds(&find(&all, "Use a 23 mm lens"), &lens);
}

/// Glass in a tray: slid back, brought nearer, larger, turned upright.
#[test]
fn glass_in_a_tray() {
    let with = |size: &str, slide: f64, gap: f64, turn: f64| {
        rig(&[stage(
            json!({"glass": "grad-nd", "size": size, "slide_mm": slide, "gap_mm": gap,
            "turn_deg": turn}),
        )])
    };
    let slid = with("4x5.65", 40.0, 20.0, 0.0);
    in_order(&slid);
    let back = find(&remedies(&slid), "Slide Stage 1 back");
    holds(&back, &with("4x5.65", 0.0, 20.0, 0.0));
    assert_eq!(back.starts_deg, None, "it covers in the middle");
    let far = with("4x4", 0.0, 50.0, 0.0);
    in_order(&far);
    let all = remedies(&far);
    holds(&find(&all, "Stage 1 to 5 mm"), &with("4x4", 0.0, 5.0, 0.0));
    // The corner lies 62.2 mm out across, and 4 × 5.65 inch reach 71.75.
    holds(
        &find(&all, "Use 4x5.65 glass in Stage 1"),
        &with("4x5.65", 0.0, 50.0, 0.0),
    );
    let turned = with("4x5.65", 0.0, 30.0, 60.0);
    in_order(&turned);
    let upright = find(&remedies(&turned), "Turn Stage 1 upright");
    holds(&upright, &with("4x5.65", 0.0, 30.0, 0.0));
}

/// A stage comes no nearer than the ring behind it allows: 8 + 5 mm.
#[test]
fn what_stands_behind_is_respected() {
    let glass = json!({"glass": "clear", "size": "4x4", "gap_mm": 60});
    let s = rig(&[ring(105.0), stage(glass)]);
    find(&remedies(&s), "Stage 1 to 13 mm");
}

/// A long lens wide open that looks through more than the ring has: stopping down ends it, and where
/// the pupil is not the matter it is not told.
#[test]
fn stopping_down() {
    let camera = |stop: f64| {
        (
            "/camera",
            json!({"focal_mm": 135, "stop": stop, "focus_m": null, "pupil_depth_mm": 60}),
        )
    };
    let ring = || {
        (
            "/rig/rings/-",
            json!({"glass": "clear", "thread_mm": 62, "gap_mm": 5}),
        )
    };
    let open = rig(&[camera(2.0), ring()]);
    in_order(&open);
    // 67.5 mm of pupil behind 58 mm of ring; at f/2.8 48.2 mm, 6.9 mm off the axis.
    let told = find(&remedies(&open), "Stop down to f/");
    let n: f64 = told
        .text
        .trim_end_matches('.')
        .rsplit('/')
        .next()
        .expect("a stop")
        .parse()
        .expect("a number");
    assert!(n > 2.0, "{told:?}");
    holds(&told, &rig(&[camera(n), ring()]));
    let small = remedies(&rig(&[super::remedies::ring(62.0)]));
    assert!(
        !small.iter().any(|r| r.text.contains("Stop down")),
        "{small:?}"
    );
}

/// A shade in the picture: a wider mouth, or none.
#[test]
fn a_shade_in_the_picture() {
    let shade = |mouth: [f64; 2]| rig(&[("/rig/shade", json!({"opening_mm": mouth}))]);
    let s = shade([120.0, 80.0]);
    in_order(&s);
    let all = remedies(&s);
    // 120·24.89/18 + 6.43 = 172.4 and 120·14/18 + 6.43 = 99.8.
    holds(&find(&all, "mouth of 173 × 100 mm"), &shade([173.0, 100.0]));
    holds(&find(&all, "Take the shade off"), &rig(&[]));
}

/// A rig that clips nothing needs none.
#[test]
fn nothing_to_remedy() {
    assert_eq!(remedies(&rig(&[ring(105.0)])), Vec::new(), "clear");
}
