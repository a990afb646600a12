//! Halos that have a direction: the shader and its twin on the processor.

use super::{apart, executor, frames, on_cpu, on_gpu, say};
use crate::plan::setup;
use foreglass::engine;
use foreglass::gpu::TOLERANCE;
use serde_json::{Value, json};

fn turned(key: &str, strength: &str, turn: f64) -> Value {
    json!({"glass": key, "strength": strength, "turn_deg": turn})
}

/// Every turn.
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
            for (name, frame) in frames() {
                let plan = engine::plan(&setup, frame.width(), frame.height());
                let t = std::time::Instant::now();
                let gpu = on_gpu(executor, &plan, &frame);
                let took = t.elapsed();
                let (off, place) = apart(&gpu, &on_cpu(&plan, &frame));
                say(&format!(
                    "{key} at {turn}, {name}: {off:.1e} {place} {took:?}"
                ));
            }
        }
    }
    let _ = TOLERANCE;
}
