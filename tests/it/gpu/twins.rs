//! Twins: a kernel on the processor and its shader, at every pixel of every frame.

use super::{apart, executor, frames, on_cpu, on_gpu, plan_of, say, view};
use crate::plan::setup;
use foreglass::colour::Matrix3;
use foreglass::engine;
use foreglass::frame::Frame;
use foreglass::gpu::TOLERANCE;
use foreglass::plan::{Pass, Plan};
use foreglass::rig::Setup;
use serde_json::{Value, json};

/// Holds the twins of a frame's plan together on every frame, within `tolerance`.
fn hold(words: &str, tolerance: f64, plan: impl Fn(&Frame) -> Plan) {
    let Some(executor) = executor() else {
        return;
    };
    let mut worst = 0.0_f64;
    for (name, frame) in frames() {
        let plan = plan(&frame);
        let (off, place) = apart(&on_gpu(executor, &plan, &frame), &on_cpu(&plan, &frame));
        assert!(off <= tolerance, "{words}, {name}: {off:.2e}, {place}");
        worst = worst.max(off);
    }
    say(&format!("{words}: {worst:.1e}"));
}

/// A plan of one pass.
fn only(pass: Pass) -> impl Fn(&Frame) -> Plan {
    move |frame| plan_of(vec![pass.clone()], view(frame.width(), frame.height()))
}

/// A recipe's plan, which must have a pass in it that `is`.
fn of(setup: Setup, is: impl Fn(&Pass) -> bool) -> impl Fn(&Frame) -> Plan {
    move |frame| {
        let plan = engine::plan(&setup, frame.width(), frame.height());
        assert!(plan.passes.iter().any(&is), "the pass is there: {plan:?}");
        plan
    }
}

/// Rounding, at most one more where a driver fuses a product and a sum and another does not: where a
/// matrix takes one channel from another, what is left is small beside both.
#[test]
fn uniform_colour() {
    // A conversion's size of numbers, with a negative one.
    let rows = [[0.9, 0.15, -0.05], [0.02, 1.1, 0.01], [-0.01, 0.03, 0.4]];
    let matrix = Pass::Matrix(Matrix3::from_rows(rows));
    hold("a matrix", 1e-5, only(matrix));
    hold("a gain", 1e-6, only(Pass::Gain(0.37)));
}

#[test]
fn light_added() {
    hold("a lift", 1e-6, only(Pass::Lift([0.01, 0.002, 3.0])));
}

/// The factor itself is 0 to 2, and near nothing where a polariser is crossed: the rounding of its nodes, which
/// are as large as 1, is then seen beside it.
#[test]
fn a_polarised_sky() {
    for (words, azimuth, above, turn) in [
        ("a sky all over", 80.0, 1.1, 30.0),
        ("a sky above a line", -40.0, 0.45, 90.0),
    ] {
        let options = json!({
            "k1": 0.75, "sun_azimuth_deg": azimuth, "sun_elevation_deg": 20, "sky_above": above,
        });
        let glass = json!({"glass": "polariser", "options": options, "turn_deg": turn});
        let plan = of(setup(&[("/rig/stages/0", glass)]), |p| {
            matches!(p, Pass::Sky(_))
        });
        hold(words, 1e-5, plan);
    }
}

/// Tables that change in one direction.
#[test]
fn grads_across() {
    let field = |p: &Pass| matches!(p, Pass::Field(_));
    for (edge, density, turn) in [("soft", 0.9, 0.0), ("hard", 1.2, 33.0), ("hard", 0.6, 90.0)] {
        let options = json!({"edge": edge, "density": density});
        let glass =
            json!({"glass": "grad-nd", "options": options, "turn_deg": turn, "slide_mm": 2});
        let plan = of(setup(&[("/rig/stages/0", glass)]), field);
        hold(&format!("a {edge} grad at {turn}°"), 1e-4, plan);
    }
    let options = json!({"colour": "rose", "density": 0.9});
    let glass = json!({"glass": "grad-colour", "options": options, "turn_deg": 12});
    hold(
        "a colour grad",
        1e-4,
        of(setup(&[("/rig/stages/0", glass)]), field),
    );
}

/// Tiles: grads turned against each other, and openings that clip.
#[test]
fn fields_in_tiles() {
    let field = |p: &Pass| matches!(p, Pass::Field(_));
    let grad = |turn: f64| {
        let options = json!({"edge": "hard", "density": 0.9});
        json!({"glass": "grad-nd", "options": options, "turn_deg": turn})
    };
    let colour = json!({"glass": "grad-colour", "options": {"colour": "slate"}, "turn_deg": 80});
    let wide = |more: Value| {
        [
            ("/camera/focal_mm", json!(14)),
            ("/rig/stages/0", grad(10.0)),
            ("/rig/stages/2", more),
        ]
    };
    hold(
        "two grads, clipped",
        1e-4,
        of(setup(&wide(grad(50.0))), field),
    );
    hold(
        "a colour grad, clipped",
        1e-4,
        of(setup(&wide(colour)), field),
    );
}

/// The tolerance of the design, for all of it.
#[test]
fn the_stated_tolerance_is_the_designs() {
    assert!((TOLERANCE - 2e-3).abs() < 1e-12, "2e-3");
}
