//! Pairs that hang on the glass: hazards, polarisers, and room for it.

use super::{Pair, first, half_diagonal, nd, pair};
use crate::advisories::{Changes, figures};
use foreglass::rig::advisory::Level::{Caution, Note, Stop};
use serde_json::{Value, json};

pub(super) fn hazards() -> Vec<Pair> {
    let grad = |density: f64| {
        let options = json!({"density": density});
        vec![first(json!({"glass": "grad-nd", "options": options}))]
    };
    // Coated faces count.
    let faces = -f64::log10(0.99);
    // ND 2.1 from end to end of 101.6 mm: 1.5 of it where the axis meets it.
    let slide = 101.6 * (0.5 - (1.5 - faces) / 2.1);
    let attenuator = |slide: f64| {
        let options = json!({"edge": "attenuator", "density": 2.1});
        let glass = json!({"glass": "grad-nd", "options": options, "slide_mm": slide});
        vec![first(glass)]
    };
    let cut = |infrared: &str| {
        let options = json!({"density": 1.8, "infrared": infrared});
        vec![first(json!({"glass": "nd", "options": options}))]
    };
    let three = |sizes: [&str; 3]| -> Changes {
        let stage = |i: usize| json!({"glass": "clear", "size": sizes[i]});
        vec![
            first(stage(0)),
            ("/rig/stages/1", stage(1)),
            ("/rig/stages/2", stage(2)),
        ]
    };
    let ring = vec![
        first(Value::Null),
        ("/rig/rings/-", json!({"glass": "clear"})),
    ];
    vec![
        pair(
            "sun-finder",
            Caution,
            "density 0.9 (common practice, no source)",
            vec![first(nd(0.91))],
            vec![first(nd(0.89))],
            &["No density or polariser"],
        ),
        pair(
            "sun-finder",
            Caution,
            "a grad counts with its dense end",
            grad(0.9 - faces + 0.005),
            grad(0.9 - faces - 0.005),
            &[],
        ),
        pair(
            "infrared",
            Caution,
            "density 1.5 (common practice, no source)",
            vec![first(nd(1.51))],
            vec![first(nd(1.49))],
            &["Density 1.5"],
        ),
        pair(
            "infrared",
            Caution,
            "density that cuts it does not leak it",
            cut("pass"),
            cut("cut"),
            &["Density 1.8"],
        ),
        pair(
            "infrared",
            Caution,
            "an attenuator counts where the axis meets it",
            attenuator(slide - 0.2),
            attenuator(slide + 0.2),
            &["Density 1.5"],
        ),
        pair(
            "falling-glass",
            Note,
            "a tray; a ring is screwed on",
            vec![],
            ring,
            &["Local codes"],
        ),
        pair(
            "glass",
            Note,
            "what a still does not tell of a polariser",
            vec![first(json!({"glass": "polariser"}))],
            vec![first(nd(0.6))],
            &["reflections"],
        ),
        // 2.5e-3 g/mm³ · 4 mm: 205.9 + 145.8 + 149.6 g, and 205.9 + 2 · 145.8.
        pair(
            "weight",
            Note,
            "500 g in the stages (common practice, no source)",
            three(["5.65x5.65", "4x5.65", "138mm"]),
            three(["5.65x5.65", "4x5.65", "4x5.65"]),
            &["501 g of glass"],
        ),
        pair(
            "not-applied",
            Note,
            "a stage that is tipped at all",
            vec![first(json!({"glass": "clear", "tilt_deg": 0.01}))],
            vec![first(json!({"glass": "clear", "tilt_deg": 0}))],
            &["the tilt of a stage"],
        ),
    ]
}

pub(super) fn polarisers() -> Vec<Pair> {
    let polariser = |turn: f64| json!({"glass": "polariser", "turn_deg": turn});
    // Corners 35° off the axis.
    let wide = half_diagonal() / 35_f64.to_radians().tan();
    let sky = |focal: f64, clear: f64| {
        let options = json!({"sky_above": 1.1, "sun_azimuth_deg": 90, "sun_elevation_deg": 0, "sky_polarised": clear});
        let glass = json!({"glass": "polariser", "options": options, "turn_deg": 90});
        vec![("/camera/focal_mm", json!(focal)), first(glass)]
    };
    // A little hazier than what leaves half a stop between the picture's lightest and darkest sky.
    let hazy = figures::haze_of_half_a_stop(wide - 0.3);
    vec![
        pair(
            "two-polarisers",
            Caution,
            "two of them",
            vec![first(polariser(0.0)), ("/rig/stages/1", polariser(45.0))],
            vec![first(polariser(0.0))],
            &["45° to one another"],
        ),
        pair(
            "uneven-sky",
            Note,
            "corners 35° off the axis (common practice, no source)",
            sky(wide - 0.1, 0.75),
            sky(wide + 0.1, 0.75),
            // 1.5 stops of its own, and two of a sky that it passes a quarter of.
            &["35° off its axis", "to 3.5 stops from a clear sky"],
        ),
        pair(
            "uneven-sky",
            Note,
            "half a stop of change (our own limit), by brute force",
            sky(wide - 0.3, hazy + 0.01),
            sky(wide - 0.3, hazy - 0.01),
            &["dark band"],
        ),
        pair(
            "uneven-sky",
            Note,
            "no sky told, none judged",
            sky(wide - 0.3, 0.75),
            vec![
                ("/camera/focal_mm", json!(wide - 0.3)),
                first(polariser(90.0)),
            ],
            &[],
        ),
    ]
}

pub(super) fn room() -> Vec<Pair> {
    let clear = |gap: f64, tilt: f64| json!({"glass": "clear", "gap_mm": gap, "tilt_deg": tilt});
    let two = |a: Value, b: Value| vec![first(a), ("/rig/stages/1", b)];
    let ring = |stage: f64| {
        let ring = json!({"glass": "clear", "gap_mm": 5});
        vec![("/rig/rings/-", ring), first(clear(stage, 0.0))]
    };
    // Half of 101.6 mm times the sine is what 8 mm less the glass's 4 leave, or 5 mm before the lens.
    let tips = |room: f64| f64::asin(room / 50.8).to_degrees();
    let plain = || json!({"glass": "clear"});
    let three = |tilt: f64| -> Changes {
        vec![
            first(plain()),
            ("/rig/stages/1", plain()),
            (
                "/rig/stages/2",
                json!({"glass": "clear", "tilt_deg": tilt, "gap_mm": 60}),
            ),
        ]
    };
    let four = |tilt: f64| -> Changes {
        let mut four = three(tilt);
        four.push(("/rig/rings/-", plain()));
        four
    };
    // f·tan 2t is half of 14 mm.
    let aside = f64::atan(7.0 / 50.0).to_degrees() / 2.0;
    vec![
        pair(
            "stages",
            Stop,
            "glass 4 mm thick (common practice, no source)",
            two(clear(20.0, 0.0), clear(23.95, 0.0)),
            two(clear(20.0, 0.0), clear(24.0, 0.0)),
            &["Stage 2 stands 3.9 mm before Stage 1", "26.0 mm or more"],
        ),
        pair(
            "stages",
            Stop,
            "in order from the lens outward",
            two(clear(28.0, 0.0), clear(20.0, 0.0)),
            two(clear(20.0, 0.0), clear(28.0, 0.0)),
            &["nearer to it than Stage 1"],
        ),
        pair(
            "stages",
            Stop,
            "4 mm from a ring's glass",
            ring(8.9),
            ring(9.0),
            &["Stage 1", "Ring 1"],
        ),
        pair(
            "stages",
            Caution,
            "h/2·sin t in 4 mm",
            two(clear(20.0, 0.0), clear(28.0, tips(4.0) + 0.05)),
            two(clear(20.0, 0.0), clear(28.0, tips(4.0) - 0.05)),
            &[
                "Stage 2 is tipped by 4.6°",
                "towards Stage 1",
                "4.0 mm are free",
            ],
        ),
        pair(
            "stages",
            Caution,
            "two that are tipped alike stay apart",
            two(clear(20.0, 8.0), clear(28.0, 0.0)),
            two(clear(20.0, 8.0), clear(28.0, 8.0)),
            &["Stage 1 is tipped by 8.0°", "towards Stage 2"],
        ),
        pair(
            "stages",
            Caution,
            "h/2·sin t before the lens",
            vec![first(clear(5.0, -tips(5.0) - 0.05))],
            vec![first(clear(5.0, -tips(5.0) + 0.05))],
            &["towards the lens"],
        ),
        pair(
            "stage-count",
            Note,
            "three of three stages",
            three(0.0),
            vec![("/rig/stages/2", plain())],
            &["All 3 stages are taken", "needs no tray"],
        ),
        pair(
            "many-surfaces",
            Note,
            "four pieces (common practice, no source)",
            four(0.0),
            three(0.0),
            &["8 faces, 28 pairs", "Stage 1 (Clear)", "4.0° or more"],
        ),
        pair(
            "many-surfaces",
            Note,
            "one of four tipped so far that its ghosts stand half the picture's height aside",
            four(aside - 0.05),
            four(aside + 0.05),
            &[],
        ),
    ]
}
