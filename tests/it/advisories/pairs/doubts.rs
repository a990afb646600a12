//! Pairs of what figures and picture may be off by.

use super::lens::apart;
use super::{Pair, first, half_diagonal, nd, pair};
use foreglass::rig::advisory::Level::Note;
use serde_json::{Value, json};
use std::f64::consts::LOG10_2;

pub(super) fn doubts() -> Vec<Pair> {
    // An estimated pupil: 25 mm and half the focal length. A hard edge is f·D/z: a fifth wider at z = 120
    // less 20.
    let grad = |gap: f64, pupil: Value| {
        let glass = json!({"glass": "grad-nd", "options": {"edge": "hard"}, "gap_mm": gap});
        let camera = json!({"focal_mm": 50, "stop": 4, "pupil_depth_mm": pupil, "focus_m": null});
        vec![("/camera", camera), first(glass)]
    };
    // Ring of 50 mm, 25 mm lens: 20 mm further the corner loses a hundredth of a stop.
    let r = 25.0 / 2.8 / 2.0;
    let z = apart(r, 50.0, f64::exp2(-0.01)) * 25.0 / half_diagonal();
    let ringed = |gap: f64| {
        let ring = json!({"glass": "clear", "thread_mm": 105, "clear_mm": 100, "gap_mm": gap});
        let camera = json!({"focal_mm": 25, "stop": 2.8, "focus_m": null});
        vec![
            ("/camera", camera),
            first(Value::Null),
            ("/rig/rings/-", ring),
        ]
    };
    let near = |focus: f64| {
        let glass = json!({"glass": "grad-nd", "gap_mm": 40});
        let camera = json!({"focal_mm": 50, "stop": 4, "pupil_depth_mm": 60, "focus_m": focus});
        vec![("/camera", camera), first(glass)]
    };
    // D(1/√(1 − sin²θ/n²) − 1) is 0.15 stop.
    let way = 1.0 + 0.15 * LOG10_2 / 2.1;
    let angle = (1.52 * (1.0 - 1.0 / (way * way)).sqrt()).asin();
    let focal = half_diagonal() / angle.tan();
    let dense = |focal: f64| vec![("/camera/focal_mm", json!(focal)), first(nd(2.1))];
    vec![
        pair(
            "pupil",
            Note,
            "20 mm of pupil depth (our own estimate) make a fifth of an edge's width",
            grad(69.5, Value::Null),
            grad(70.5, Value::Null),
            &["taken as 50 mm", "20 mm either way draws Stage 1's edge"],
        ),
        pair(
            "pupil",
            Note,
            "a pupil's place that is told is not in doubt",
            grad(20.0, Value::Null),
            grad(20.0, json!(50)),
            &[],
        ),
        pair(
            "pupil",
            Note,
            "20 mm of pupil depth decide whether corners are clear: lens area of two circles",
            ringed(z - 20.0 - 37.5 + 0.05),
            ringed(z - 20.0 - 37.5 - 0.05),
            &["decides whether the corners are clear"],
        ),
        pair(
            "near-subject",
            Note,
            "z/s is a tenth: 100 mm of 1 m",
            near(0.995),
            near(1.005),
            &["0.99 m away", "10 % narrower"],
        ),
        pair(
            "oblique",
            Note,
            "0.15 stop (our own limit) by refraction in n = 1.52",
            dense(focal - 0.05),
            dense(focal + 0.05),
            &["0.15 stop darker"],
        ),
    ]
}
