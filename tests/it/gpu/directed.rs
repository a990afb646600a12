//! Halos that have a direction: the shader and its twin on the processor.
//!
//! Both work in single precision, and a transform spreads the rounding of every sample over the whole frame:
//! about 6e-8 of the root of the mean square, on either side. Where one pixel of a million stands in a dark
//! frame that is more than the dark, and the two differ there by what neither can hold. So each is held to the
//! same transform in double precision there, within the tolerance and that rounding; everywhere else they are
//! held together within the tolerance alone.

use super::{apart, executor, frames, on_cpu, on_gpu, say, stops};
use crate::plan::{scene, setup};
use foreglass::engine::{self, Watch};
use foreglass::frame::Frame;
use foreglass::gpu::{self, Executor, TOLERANCE};
use foreglass::kernels::dct;
use foreglass::kernels::oriented::Params;
use foreglass::kernels::scatter::Border;
use foreglass::plan::{Pass, Plan, ScatterFit};
use foreglass::rig::Setup;
use rustdct::{DctPlanner, TransformType2And3};
use serde_json::{Value, json};
use std::sync::Arc;

/// What single precision rounds by.
const ROUNDING: f64 = f32::EPSILON as f64 / 2.0;

/// The transform's rounding beside light that is as large: 3e-4 of it here, where a highlight of a million
/// stands in a corner.
const NEAR: f64 = 1e-3;

fn turned(key: &str, strength: &str, turn: f64) -> Value {
    json!({"glass": key, "strength": strength, "turn_deg": turn})
}

/// A recipe's plan, which must have a halo in it that has a direction.
fn plan_of(setup: &Setup, frame: &Frame) -> Plan {
    let plan = engine::plan(setup, frame.width(), frame.height());
    assert!(plan.passes.iter().any(is_directed), "a direction: {plan:?}");
    plan
}

fn is_directed(pass: &Pass) -> bool {
    match pass {
        Pass::Scatter(s) => matches!(s.fit, Some(ScatterFit::Oriented(_))),
        _ => false,
    }
}

/// Holds the twins together on a frame.
fn hold(executor: &Executor, words: &str, plan: &Plan, (name, frame): (&str, &Frame)) {
    let alone = Plan {
        passes: plan
            .passes
            .iter()
            .filter(|p| is_directed(p))
            .cloned()
            .collect(),
        view: plan.view,
    };
    let is_brilliant = name.starts_with("impulses");
    let plan = if is_brilliant { &alone } else { plan };
    let (gpu, cpu) = (on_gpu(executor, plan, frame), on_cpu(plan, frame));
    if !is_brilliant {
        let (off, place) = apart(&gpu, &cpu);
        assert!(
            off <= NEAR.min(TOLERANCE),
            "{words}, {name}: {off:.2e}, {place}"
        );
        say(&format!("{words}, {name}: {off:.1e}"));
        return;
    }
    let exact = exact(plan, frame);
    for (side, out) in [("gpu", &gpu), ("cpu", &cpu)] {
        let (off, place) = beyond(out, &exact, frame);
        assert!(off <= 1.0, "{words}, {name}, {side}: {off:.2}, {place}");
        say(&format!(
            "{words}, {name}, {side}: {off:.2} of what is allowed"
        ));
    }
}

/// Greatest difference from `exact` over what is allowed: the tolerance at a pixel and the rounding of the frame.
fn beyond(out: &Frame, exact: &[Vec<f64>; 3], frame: &Frame) -> (f64, String) {
    let mut worst = (0.0, String::new());
    for (c, exact) in exact.iter().enumerate() {
        let squares = frame.planes()[c].iter().map(|v| f64::from(*v).powi(2));
        let rounding = ROUNDING * (squares.sum::<f64>() / exact.len() as f64).sqrt();
        for (i, (a, b)) in out.planes()[c].iter().zip(exact).enumerate() {
            let allowed = TOLERANCE * b.abs().max(0.18 / 256.0) + rounding;
            let off = (f64::from(*a) - b).abs() / allowed;
            if !off.is_finite() || off > worst.0 {
                let off = if off.is_finite() { off } else { f64::INFINITY };
                worst = (off, format!("channel {c}, sample {i}: {a} for {b}"));
            }
        }
    }
    worst
}

type Axis = Arc<dyn TransformType2And3<f64>>;

/// The kernel with the same factors, in double precision; a plan of one pass, in a mirrored frame.
fn exact(plan: &Plan, frame: &Frame) -> [Vec<f64>; 3] {
    let [Pass::Scatter(pass)] = &*plan.passes else {
        panic!("one pass: {plan:?}");
    };
    let Some(ScatterFit::Oriented(response)) = &pass.fit else {
        panic!("a direction: {plan:?}");
    };
    let size @ [width, height] = [frame.width(), frame.height()];
    let params = Params {
        response,
        per_pixel: plan.pixels_per_radian(width),
        border: Border::from(pass.outside),
        whole: true,
    };
    assert_eq!(params.border, Border::Mirror, "a mirrored frame");
    let mut planner = DctPlanner::new();
    let axes: [Axis; 2] = size.map(|n| planner.plan_dct2(n));
    let back = |mut columns: Vec<f64>, transform: dct::Transform<f64>| {
        let mut plane = columns.clone();
        dct::lines(&mut columns, axes[1].as_ref(), transform);
        dct::transpose(&columns, &mut plane, height, width);
        dct::lines(&mut plane, axes[0].as_ref(), transform);
        plane
    };
    [0, 1, 2].map(|c: usize| {
        let bare: Vec<f64> = frame.planes()[c].iter().map(|v| f64::from(*v)).collect();
        let (mut plane, mut columns) = (bare.clone(), bare.clone());
        dct::lines(&mut plane, axes[0].as_ref(), dct::cosines);
        dct::transpose(&plane, &mut columns, width, height);
        dct::lines(&mut columns, axes[1].as_ref(), dct::cosines);
        let part = if response.is_even() {
            height
        } else {
            2 * height
        };
        let factors = params.factors(c, size, 0..width, part);
        let mut sines = vec![0.0; columns.len()];
        for (i, value) in columns.iter_mut().enumerate() {
            let (kx, ky) = (i / height, i % height);
            let own = &factors[kx * part..][..part];
            if part > height && kx > 0 && ky > 0 {
                sines[i - height - 1] = *value * f64::from(own[height + ky]);
            }
            *value *= f64::from(own[ky]);
        }
        let light = back(columns, dct::from_cosines);
        let sines = back(sines, dct::from_sines);
        let veil = response.veil(c) * bare.iter().sum::<f64>() / bare.len() as f64;
        let straight = f64::from(response.direct(c) as f32);
        let parts = bare.iter().zip(&light).zip(&sines);
        parts
            .map(|((bare, light), sine)| straight * bare + light + sine + veil)
            .collect()
    })
}

#[test]
fn stars_nets_and_streaks_at_every_turn() {
    let Some(executor) = executor() else {
        return;
    };
    for turn in [0.0, 17.0, 45.0, 90.0] {
        for (key, strength) in [
            ("star", "2"),
            ("net-dark", "2"),
            ("net-pale", "3"),
            ("streak", "1"),
        ] {
            let setup = setup(&[("/rig/stages/0", turned(key, strength, turn))]);
            for (name, frame) in &frames() {
                let words = format!("{key} at {turn}°");
                hold(executor, &words, &plan_of(&setup, frame), (*name, frame));
            }
        }
    }
}

/// In the dark and in an even field, with a mist that is fused with them, on a wide lens.
#[test]
fn borders_stacks_and_wide_lenses() {
    let Some(executor) = executor() else {
        return;
    };
    let mist = json!({"glass": "dark-mist", "strength": "1"});
    let (star, net) = (turned("star", "3", 17.0), turned("net-pale", "3", 31.0));
    let streak = turned("streak", "2", 90.0);
    let looks = [
        ("a star in the dark", 50, star.clone(), None, json!("dark")),
        (
            "a streak in a field",
            50,
            streak,
            None,
            json!({"stops": -1.0}),
        ),
        (
            "a net and a mist",
            50,
            net.clone(),
            Some(mist),
            json!("mirror"),
        ),
        ("a star, wide", 16, star, None, json!("mirror")),
        (
            "a net, wide, in a field",
            16,
            net,
            None,
            json!({"stops": -1.0}),
        ),
    ];
    for (words, focal, glass, more, outside) in looks {
        let mut changes = vec![
            ("/camera/focal_mm", json!(focal)),
            ("/rig/stages/0", glass),
            ("/light/outside", outside.clone()),
        ];
        changes.extend(more.map(|more| ("/rig/stages/1", more)));
        let setup = setup(&changes);
        for (name, frame) in &frames() {
            // Double precision knows neither border nor stretch; edges cost the most and tell the least.
            let plain = outside == json!("mirror") && focal == 50;
            if (plain || !name.starts_with("impulses")) && *name != "edges" {
                hold(executor, words, &plan_of(&setup, frame), (*name, frame));
            }
        }
    }
}

/// Lengths of two parts, with a chirp and without, and primes that have a stage of their own.
#[test]
fn long_lines_and_primes() {
    let Some(executor) = executor() else {
        return;
    };
    let setup = setup(&[("/rig/stages/0", turned("star", "1", 30.0))]);
    for (width, height) in [
        (1500, 31),
        (1033, 67),
        (61, 1100),
        (509, 307),
        (1, 97),
        (53, 1),
    ] {
        let frame = scene(width, height, 1e4);
        let name = format!("{width}×{height}");
        hold(executor, "lines", &plan_of(&setup, &frame), (&name, &frame));
    }
}

/// A few rows and columns at a time, against all at once: to the bit.
#[test]
fn pieces_have_no_seam() {
    let Some(whole) = executor() else {
        return;
    };
    let frame = scene(150, 97, 1000.0);
    for (words, outside) in [
        ("mirrored", json!("mirror")),
        ("in the dark", json!("dark")),
    ] {
        let star = ("/rig/stages/0", turned("star", "2", 30.0));
        let plan = plan_of(&setup(&[star, ("/light/outside", outside)]), &frame);
        let expected = on_gpu(whole, &plan, &frame);
        // Rows of 192 or 320 samples and columns of 128 or 256, complex lines of up to 300.
        for bytes in [1 << 16, 9000] {
            let executor = gpu::find().expect("it was there before");
            let pieces = on_gpu(&executor.in_pieces_of(bytes), &plan, &frame);
            assert!(pieces == expected, "{words}, in pieces of {bytes} bytes");
        }
    }
}

/// One executor, one picture after another: what is kept of one serves the next or gives way to it.
#[test]
fn what_is_kept_belongs_to_its_picture() {
    let Some(executor) = executor() else {
        return;
    };
    let frame = scene(90, 64, 100.0);
    for (turn, focal) in [(0.0, 50), (0.0, 50), (20.0, 50), (20.0, 85), (0.0, 50)] {
        let setup = setup(&[
            ("/camera/focal_mm", json!(focal)),
            ("/rig/stages/0", turned("star", "2", turn)),
        ]);
        let words = format!("{turn}°, {focal} mm");
        hold(
            executor,
            &words,
            &plan_of(&setup, &frame),
            ("again", &frame),
        );
    }
}

/// Whoever waits sees progress and can stop the work before its end.
#[test]
fn work_stops_on_the_way() {
    let Some(executor) = executor() else {
        return;
    };
    let frame = scene(700, 500, 10.0);
    let setup = setup(&[("/rig/stages/0", turned("star", "2", 17.0))]);
    stops(executor, &plan_of(&setup, &frame), &frame);
}

/// What lies before a round scatter may have a direction and is kept then; a plan without one keeps nothing.
#[test]
fn many_plans_of_one_frame() {
    let Some(executor) = executor() else {
        return;
    };
    let (frame, watch) = (scene(150, 97, 1e4), Watch::default());
    let source = executor.upload(&frame, &watch).expect("room for it");
    let alone = source.bytes();
    for (star, mist, outside, is_kept) in [
        (17.0, None, json!("mirror"), false),
        (17.0, Some("1"), json!("mirror"), true),
        (17.0, Some("1/4"), json!("mirror"), true),
        (60.0, Some("1/4"), json!("mirror"), true),
        (60.0, Some("1/4"), json!("dark"), true),
        (60.0, None, json!({"stops": -1.0}), true),
    ] {
        let grad = json!({"glass": "grad-nd", "options": {"edge": "soft"}});
        let mut changes = vec![
            ("/rig/stages/0", turned("star", "2", star)),
            ("/rig/stages/1", grad),
            ("/light/outside", outside),
        ];
        // Glass that is placed parts them, so that they are not fused.
        changes.extend(mist.map(|strength| {
            let mist = json!({"glass": "dark-mist", "strength": strength});
            ("/rig/stages/2", mist)
        }));
        let plan = plan_of(&setup(&changes), &frame);
        let picture = executor.render_from(&source, &plan, &watch);
        let picture = picture.expect("a picture");
        let made = executor.read(&picture, &watch).expect("a frame");
        let words = format!("a star at {star}°, mist {mist:?}");
        assert!(made == on_gpu(executor, &plan, &frame), "{words}");
        let (off, place) = apart(&made, &on_cpu(&plan, &frame));
        assert!(off <= TOLERANCE, "{words}: {off:.2e}, {place}");
        assert_eq!(source.bytes() > alone, is_kept, "{words}");
    }
}

/// Scratch that was full of light that is not finite: nothing of it is seen.
#[test]
fn scratch_leaks_nothing() {
    let Some(_) = executor() else {
        return;
    };
    let executor = gpu::find().expect("it was there before");
    for (words, focal, outside) in [
        ("mirrored", 50, json!("mirror")),
        ("in the dark", 50, json!("dark")),
        ("wide", 16, json!("mirror")),
    ] {
        for [width, height] in [[150, 97], [61, 131]] {
            let setup = setup(&[
                ("/camera/focal_mm", json!(focal)),
                ("/rig/stages/0", turned("star", "2", 17.0)),
                ("/light/outside", outside.clone()),
            ]);
            let frame = scene(width, height, 1e4);
            let plan = plan_of(&setup, &frame);
            let first = on_gpu(&executor, &plan, &frame);
            let plane = vec![f32::NAN; width * height];
            let nan = Frame::from_planes(width, height, [plane.clone(), plane.clone(), plane]);
            let spoilt = on_gpu(&executor, &plan, &nan);
            assert!(spoilt.planes()[0][0].is_nan(), "{words}: it was spoilt");
            let again = on_gpu(&executor, &plan, &frame);
            assert!(first == again, "{words}, {width}×{height}");
        }
    }
}
