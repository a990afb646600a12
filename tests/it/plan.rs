//! The plan: simplification never changes a picture, order matters only where it should, and the linear
//! invariants hold.

use crate::recipe::with;
use foreglass::engine::{self, Choice, Engine, Watch};
use foreglass::frame::Frame;
use foreglass::plan::{Pass, Plan, lower};
use foreglass::recipe::Recipe;
use foreglass::rig::Setup;
use proptest::prelude::*;
use serde_json::{Value, json};

const W: usize = 96;
const H: usize = 54;

pub(crate) fn setup(changes: &[(&str, Value)]) -> Setup {
    Recipe::parse(&with(changes))
        .expect("a good recipe")
        .setup()
        .expect("a good rig")
}

pub(crate) fn run(plan: &Plan, frame: &Frame, choice: Choice) -> Frame {
    Engine::default()
        .render(frame.clone(), plan, choice, &Watch::default())
        .expect("a picture")
        .0
}

pub(crate) fn render(setup: &Setup, frame: &Frame) -> Frame {
    run(
        &engine::plan(setup, frame.width(), frame.height()),
        frame,
        Choice::Cpu,
    )
}

/// A frame with texture, a gradient and lamps; deterministic.
pub(crate) fn scene(width: usize, height: usize, lamp: f32) -> Frame {
    let mut state = 0x2545_f491_u32;
    let mut noise = move || {
        state ^= state << 13;
        state ^= state >> 17;
        state ^= state << 5;
        state as f32 / u32::MAX as f32
    };
    let planes = std::array::from_fn(|c| {
        let tint = [1.0, 0.8, 0.6][c];
        let mut plane: Vec<f32> = (0..width * height)
            .map(|i| tint * (0.05 + 0.1 * noise() + 0.2 * (i / width) as f32 / height as f32))
            .collect();
        for (x, y) in [(0.21, 0.33), (0.7, 0.62), (0.03, 0.9)] {
            let at = (y * height as f64) as usize * width + (x * width as f64) as usize;
            plane[at] = lamp * 0.18 * tint;
        }
        plane
    });
    Frame::from_planes(width, height, planes)
}

pub(crate) fn even(width: usize, height: usize, light: [f32; 3]) -> Frame {
    Frame::from_planes(width, height, light.map(|v| vec![v; width * height]))
}

/// Greatest difference over the larger of the pixel and 1/256 of key.
pub(crate) fn difference(a: &Frame, b: &Frame) -> f32 {
    let pairs = a.planes().iter().flatten().zip(b.planes().iter().flatten());
    pairs
        .map(|(a, b)| (a - b).abs() / b.abs().max(0.18 / 256.0))
        .fold(0.0, f32::max)
}

fn mean(frame: &Frame, c: usize) -> f64 {
    frame.planes()[c].iter().map(|v| f64::from(*v)).sum::<f64>() / frame.planes()[c].len() as f64
}

fn stages(glass: &[Value]) -> Vec<(&'static str, Value)> {
    ["/rig/stages/0", "/rig/stages/1", "/rig/stages/2"]
        .into_iter()
        .zip(glass.iter().cloned())
        .collect()
}

fn any_glass() -> impl Strategy<Value = Value> {
    prop_oneof![
        Just(Value::Null),
        prop::sample::select(vec!["1/8", "1/2", "2"]).prop_map(|s| json!({"glass": "dark-mist", "strength": s})),
        prop::sample::select(vec!["1/4", "1"]).prop_map(|s| json!({"glass": "pale-mist", "strength": s})),
        prop::sample::select(vec!["81A", "80A", "85B"]).prop_map(|s| json!({"glass": "balance", "options": {"series": s}})),
        prop::sample::select(vec![0.3, 0.9]).prop_map(|d| json!({"glass": "nd", "options": {"density": d}})),
        (prop::sample::select(vec!["soft", "hard", "reverse", "stripe", "attenuator"]), 0.0..360.0, -20.0..20.0).prop_map(
            |(e, t, s): (_, f64, f64)| json!({"glass": "grad-nd", "options": {"edge": e}, "turn_deg": t, "slide_mm": s})
        ),
        (prop::sample::select(vec!["rose", "slate", "straw"]), 0.1..1.2, 0.0..360.0).prop_map(
            |(c, d, t): (_, f64, f64)| json!({"glass": "grad-colour", "options": {"colour": c, "density": d}, "turn_deg": t})
        ),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// The exact executor sees the same picture before and after.
    #[test]
    fn simplification_changes_nothing(
        glass in prop::collection::vec(any_glass(), 3),
        spill in prop::option::of(-4.0..2.0_f64),
        compensate in prop::sample::select(vec!["none", "light", "iris"]),
    ) {
        let mut changes = stages(&glass);
        changes.push(("/light", json!({"spill_stops": spill})));
        changes.push(("/exposure", json!({"compensate": compensate})));
        let setup = setup(&changes);
        let frame = scene(40, 24, 50.0);
        let plain = lower(&setup, setup.view(24.0 / 40.0));
        // Fields that are joined are averaged together over the pupil, which is the truth; apart they
        // are a product of means, another picture. So this looks at plans with one field that acts
        // (a wide pupil makes the openings act too); `pupil.rs` holds joined ones to a count of rays.
        let acts = |p: &&Pass| matches!(p, Pass::Field(f) if !f.law.is_clear(&plain.view));
        let fields = plain.passes.iter().filter(acts).count();
        let simple = plain.clone().simplify();
        prop_assert!(simple.passes.len() <= plain.passes.len());
        if fields <= 1 {
            let (a, b) = (run(&plain, &frame, Choice::Reference), run(&simple, &frame, Choice::Reference));
            prop_assert!(difference(&a, &b) < 2e-5, "{}", difference(&a, &b));
        }
    }

    /// Exposure scales through.
    #[test]
    fn exposure_scales_through(glass in prop::collection::vec(any_glass(), 3), stops in -6.0..6.0_f32) {
        let setup = setup(&stages(&glass));
        let frame = scene(W, H, 500.0);
        let gain = stops.exp2();
        let scaled = Frame::from_planes(W, H, frame.planes().clone().map(|p| p.iter().map(|v| v * gain).collect()));
        let (a, b) = (render(&setup, &scaled), render(&setup, &frame));
        let b = Frame::from_planes(W, H, b.into_planes().map(|p| p.iter().map(|v| v * gain).collect()));
        let worst = a.planes().iter().flatten().zip(b.planes().iter().flatten())
            .map(|(a, b)| (a - b).abs() / b.abs().max(0.18 * gain / 256.0)).fold(0.0, f32::max);
        prop_assert!(worst < 1e-3, "{worst}");
    }

    /// Superposition: the picture of a sum is the sum of the pictures.
    #[test]
    fn superposition_holds(glass in prop::collection::vec(any_glass(), 3)) {
        let setup = setup(&stages(&glass));
        let (a, b) = (scene(W, H, 800.0), even(W, H, [0.3, 0.2, 0.1]));
        let add = |a: &Frame, b: &Frame| Frame::from_planes(W, H, std::array::from_fn(|c| {
            a.planes()[c].iter().zip(&b.planes()[c]).map(|(a, b)| a + b).collect()
        }));
        let together = render(&setup, &add(&a, &b));
        let apart = add(&render(&setup, &a), &render(&setup, &b));
        prop_assert!(difference(&together, &apart) < 1e-3, "{}", difference(&together, &apart));
    }
}

#[test]
fn an_empty_rig_is_an_empty_plan() {
    let empty = setup(&[("/rig/stages/0", Value::Null)]);
    assert!(
        lower(&empty, empty.sensor_view())
            .simplify()
            .passes
            .is_empty(),
        "nothing to do"
    );
}

#[test]
fn neighbours_are_fused_and_order_is_kept_where_it_matters() {
    let mist = json!({"glass": "dark-mist", "strength": "1"});
    let pale = json!({"glass": "pale-mist", "strength": "1/2"});
    let grad = json!({"glass": "grad-nd", "options": {"edge": "hard"}});
    let kinds = |glass: &[Value]| -> String {
        let setup = setup(&stages(glass));
        let plan = lower(&setup, setup.sensor_view()).simplify();
        let letter = |p: &Pass| match p {
            Pass::Matrix(_) => 'M',
            Pass::Scatter(_) => 'S',
            Pass::Field(_) => 'F',
            Pass::Sky(_) => 'K',
            Pass::Lift(_) => 'L',
            Pass::Gain(_) => 'G',
        };
        plan.passes.iter().map(letter).collect()
    };
    assert_eq!(
        kinds(&[mist.clone(), pale.clone(), Value::Null]),
        "MS",
        "two diffusers are one"
    );
    assert_eq!(
        kinds(&[mist.clone(), pale, grad.clone()]),
        "MFS",
        "the front grad comes first"
    );
    assert_eq!(
        kinds(&[grad.clone(), mist.clone(), Value::Null]),
        "MSF",
        "the grad behind comes last"
    );
    assert_eq!(
        kinds(&[grad.clone(), grad, mist]),
        "MSF",
        "two grads are averaged together"
    );
}

/// A uniform colour's place in the stack does not change the picture.
#[test]
fn colour_commutes_with_scatter() {
    let (warm, mist) = (
        json!({"glass": "balance", "options": {"series": "85B"}}),
        json!({"glass": "pale-mist", "strength": "1"}),
    );
    let frame = scene(W, H, 400.0);
    let a = render(
        &setup(&stages(&[warm.clone(), mist.clone(), Value::Null])),
        &frame,
    );
    let b = render(&setup(&stages(&[mist, warm, Value::Null])), &frame);
    assert!(difference(&a, &b) < 1e-6, "{}", difference(&a, &b));
}

/// A constant field stays constant, times the transmission that the ledger tells.
#[test]
fn a_constant_field_stays_constant() {
    let glass = [
        json!({"glass": "dark-mist", "strength": "2"}),
        json!({"glass": "pale-mist", "strength": "1"}),
        json!({"glass": "nd", "options": {"density": 0.9}}),
    ];
    let setup = setup(&stages(&glass));
    let out = render(&setup, &even(W, H, [0.18; 3]));
    let wanted = 0.18 * (-setup.light_loss().get()).exp2();
    for v in out.planes().iter().flatten() {
        assert!(
            (f64::from(*v) / wanted - 1.0).abs() < 2e-5,
            "{v} against {wanted}"
        );
    }
}

/// Compensation makes the loss good: key comes back to key.
#[test]
fn compensation_makes_the_loss_good() {
    for how in ["iris", "iso", "light"] {
        let setup = setup(&[
            (
                "/rig/stages/1",
                json!({"glass": "nd", "options": {"density": 1.2}}),
            ),
            ("/exposure", json!({"compensate": how})),
        ]);
        let out = render(&setup, &even(W, H, [0.18; 3]));
        assert!(
            (mean(&out, 1) / 0.18 - 1.0).abs() < 1e-4,
            "{how}: {}",
            mean(&out, 1)
        );
    }
}

/// Twice the focal length is twice the halo: the second moment of an impulse's halo, in pixels.
#[test]
fn focal_length_times_two_is_halo_times_two() {
    let n = 256;
    let mut impulse = even(n, n, [0.0; 3]);
    for plane in impulse.planes_mut() {
        plane[128 * n + 128] = 1000.0;
    }
    let half_level = |focal: f64| {
        let setup = setup(&[
            ("/camera/focal_mm", json!(focal)),
            (
                "/rig/stages/0",
                json!({"glass": "dark-mist", "strength": "1"}),
            ),
        ]);
        let out = render(&setup, &impulse);
        // Radius at which the halo has fallen to a quarter of its level at a tenth of the way.
        let row: Vec<f32> = (1..120).map(|r| out.pixel(128 + r, 128)[1]).collect();
        let level = row[2];
        row.iter().position(|v| *v < level / 4.0).expect("it falls") as f64
    };
    let (near, far) = (half_level(100.0), half_level(200.0));
    assert!((far / near - 2.0).abs() < 0.12, "{near} px and {far} px");
}

/// The edge of a grad lies where its slide puts it and is dense on the side its turn says
/// (DESIGN of the recipe: at 0 dense at the top, counter-clockwise as seen).
#[test]
fn slide_and_turn_go_where_they_say() {
    let level = |slide: f64, turn: f64, x: f64, y: f64| {
        let setup = setup(&[
            (
                "/rig/stages/0",
                json!({"glass": "grad-nd", "options": {"density": 0.9, "edge": "hard"}, "slide_mm": slide, "turn_deg": turn, "gap_mm": 40}),
            ),
            (
                "/camera",
                json!({"focal_mm": 50, "stop": 16, "pupil_depth_mm": 60, "focus_m": null}),
            ),
        ]);
        let out = render(&setup, &even(200, 112, [0.18; 3]));
        out.pixel((x * 200.0) as usize, (y * 112.0) as usize)[1] / 0.18
    };
    assert!(
        level(0.0, 0.0, 0.5, 0.02) < 0.15 && level(0.0, 0.0, 0.5, 0.98) > 0.97,
        "dense at the top"
    );
    assert!(
        level(0.0, 90.0, 0.02, 0.5) < 0.15 && level(0.0, 90.0, 0.98, 0.5) > 0.97,
        "turned left"
    );
    // Slid 5 mm towards the dense side at z = 100 mm: the edge stands 2.5 mm above the middle.
    let rows: Vec<f32> = (0..56)
        .map(|y| level(5.0, 0.0, 0.5, f64::from(y) / 112.0 + 0.001))
        .collect();
    let edge = rows.iter().position(|v| *v > 0.56).expect("an edge") as f64 / 112.0 * 14.0;
    assert!(
        (7.0 - edge - 2.5).abs() < 0.15,
        "edge at {} mm above the middle",
        7.0 - edge
    );
}
