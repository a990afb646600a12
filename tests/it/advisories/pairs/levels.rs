//! Pairs of codes that tell two things: inside the graver limit stands the lesser, not silence.

use super::{Pair, first, nd, pair};
use crate::advisories::Changes;
use foreglass::rig::advisory::Level::{Caution, Note, Stop};
use serde_json::{Value, json};

pub(super) fn levels() -> Vec<Pair> {
    let two = |a: Value, b: Value| -> Changes { vec![first(a), ("/rig/stages/1", b)] };
    let sheets = |turn: f64| {
        let polariser = |turn: f64| json!({"glass": "polariser", "turn_deg": turn});
        // Either way round from the first, and through the half turn after which a sheet is itself again.
        two(polariser(20.0), polariser(20.0 + 180.0 - turn))
    };
    let clear = |gap: f64, tilt: f64| json!({"glass": "clear", "gap_mm": gap, "tilt_deg": tilt});
    let tipped = |gap: f64| two(clear(20.0, 0.0), clear(gap, 1.0));
    let after = |density: f64, infrared: &str| {
        let options = json!({"density": 0.3, "infrared": infrared});
        two(nd(density), json!({"glass": "nd", "options": options}))
    };
    vec![
        pair(
            "two-polarisers",
            Caution,
            "30° to one another (our own limit)",
            sheets(30.1),
            sheets(29.9),
            &["Take one out, or mark the angle"],
        )
        .or(Caution, "only costs light"),
        pair(
            "two-polarisers",
            Caution,
            "60° to one another (our own limit)",
            sheets(60.1),
            sheets(59.9),
            &["Crossed they darken fast"],
        )
        .or(Caution, "Take one out, or mark the angle"),
        pair(
            "two-polarisers",
            Stop,
            "80° to one another (our own limit; Malus: cos² 80° is 3 %)",
            sheets(80.1),
            sheets(79.9),
            &["nearly black"],
        )
        .or(Caution, "Crossed they darken fast"),
        pair(
            "stages",
            Stop,
            "glass 4 mm thick (common practice, no source) that meets before it tips into the next",
            tipped(23.95),
            tipped(24.0),
            &["they meet"],
        )
        .or(Caution, "0.0 mm are free"),
        pair(
            "infrared",
            Caution,
            "glass that cuts it stands with glass that passes it",
            after(1.8, "pass"),
            after(1.8, "cut"),
            &["dark fabrics can turn reddish"],
        )
        .or(Note, "stands with glass that cuts it"),
        pair(
            "infrared",
            Note,
            "density 1.5 of what passes it (common practice, no source), the other glass not counted",
            after(1.51, "cut"),
            after(1.49, "cut"),
            &["Density 1.5", "stands with glass that cuts it"],
        ),
    ]
}
