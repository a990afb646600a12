//! Random rigs: the exact field and the plan's table against a count of rays.

use super::rays::{Met, count, field, painted, place};
use crate::plan::setup;
use proptest::prelude::*;
use serde_json::{Value, json};

/// Sides of glass in trays, mm (common practice, inches at 25.4).
const SIZES: [(&str, [f64; 2]); 4] = [
    ("4x4", [101.6, 101.6]),
    ("4x5.65", [143.5, 101.6]),
    ("5.65x5.65", [143.5, 143.5]),
    ("6.6x6.6", [167.6, 167.6]),
];
/// Lengths of edges, mm, as `foreglass glass show grad-nd` lists them.
const EDGES: [(&str, f64); 3] = [("hard", 0.0), ("medium", 20.0), ("soft", 45.0)];
/// At an edge so many rays come within 2e-4.
const RAYS: usize = 400_000;

/// A piece in a stage, told shortly so that a failure can be read.
#[derive(Debug, Clone)]
struct Tray {
    edge: Option<usize>,
    size: usize,
    turn: f64,
    slide: f64,
}

fn trays() -> impl Strategy<Value = Tray> {
    let turns = prop_oneof![Just(0.0), Just(90.0), 0.0..360.0];
    (prop::option::of(0..3_usize), 0..4_usize, turns, -25.0..25.0).prop_map(
        |(edge, size, turn, slide): (_, _, f64, f64)| Tray {
            edge,
            size,
            turn,
            slide,
        },
    )
}

impl Tray {
    fn stage(&self) -> Value {
        let size = SIZES[self.size].0;
        let mut stage =
            json!({"glass": "clear", "size": size, "turn_deg": self.turn, "slide_mm": self.slide});
        if let Some(edge) = self.edge {
            stage["glass"] = json!("grad-nd");
            stage["options"] = json!({"edge": EDGES[edge].0, "density": 0.9});
        }
        stage
    }

    fn met(&self, z: f64) -> Vec<Met> {
        let mut met = vec![Met::Sheet {
            sides: SIZES[self.size].1,
            turn_deg: self.turn,
            slide: self.slide,
            z,
        }];
        met.extend(self.edge.map(|edge| Met::Grad {
            peak: 0.9,
            length: EDGES[edge].1,
            turn_deg: self.turn,
            slide: self.slide,
            z,
        }));
        met
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(32))]

    /// One to three pieces, any turn, slide, size and ring, focal lengths of 10 to 200 mm at f/1.4 to f/22,
    /// near and far: the exact field within 1e-3 of the count, and the table within 1e-3 of the field,
    /// between its nodes too.
    #[test]
    fn random_rigs_clear_what_rays_clear(
        focal in (10_f64.ln()..200_f64.ln()).prop_map(f64::exp),
        stop in (1.4_f64.ln()..22_f64.ln()).prop_map(f64::exp),
        focus in prop::option::of((0.3_f64.ln()..20_f64.ln()).prop_map(f64::exp)),
        pupil in 20.0..120.0_f64,
        ring in prop::option::of(40.0..101.0_f64),
        glass in prop::collection::vec(trays(), 1..=3),
        at in prop::collection::vec((0..173_usize, 0..97_usize), 5),
    ) {
        let mut rig = vec![
            ("/camera", json!({"focal_mm": focal, "stop": stop, "focus_m": focus, "pupil_depth_mm": pupil})),
            ("/rig/stages/0", Value::Null),
        ];
        let mut met = Vec::new();
        if let Some(clear) = ring {
            rig.push(("/rig/rings/-", json!({"glass": "clear", "thread_mm": 105, "clear_mm": clear, "gap_mm": 5})));
            met.push(Met::Ring { radius: clear / 2.0, z: pupil + 5.0 });
        }
        for ((i, tray), key) in glass.iter().enumerate().zip(["/rig/stages/0", "/rig/stages/1", "/rig/stages/2"]) {
            rig.push((key, tray.stage()));
            met.extend(tray.met(pupil + 20.0 + 8.0 * i as f64));
        }
        let setup = setup(&rig);
        let view = setup.sensor_view();
        let size = [173, 97];
        let Some((law, fit)) = field(&setup, &view) else { return Ok(()); };
        let picture = painted(&fit, view, size);
        let focus_mm = focus.map_or(f64::INFINITY, |m| 1000.0 * m);
        for (x, y) in at {
            let [right, up] = place(&view, size, [x, y]);
            let toward = [right / focal, up / focal];
            let counted = count(focal / stop, focus_mm, &met, toward, RAYS);
            let exact = law.at(&view, right, up);
            prop_assert!((exact - counted).abs() < 1e-3, "({x}, {y}): {exact} for {counted}");
        }
        for i in (0..173 * 97).step_by(3) {
            let [right, up] = place(&view, size, [i % 173, i / 173]);
            let exact = law.at(&view, right, up);
            let shown = f64::from(picture.pixel(i % 173, i / 173)[0]);
            prop_assert!((shown - exact).abs() < 1e-3, "pixel {i}: the table has {shown} for {exact}");
        }
    }
}
