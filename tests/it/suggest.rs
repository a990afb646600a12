//! Which glass of a kit, and where: against a search written out here, and as the trade would have it.

// A search over everything, written independently.
mod brute;
// The command.
mod command;
// Which stage for which glass.
mod places;
// What a practitioner expects.
mod trade;

use crate::recipe::with;
use foreglass::engine::Watch;
use foreglass::frame::Frame;
use foreglass::meters::Region;
use foreglass::meters::suggest::{Answer, Ask, suggest};
use foreglass::recipe::Recipe;
use foreglass::recipe::kit::Kit;
use foreglass::units::Stops;
use serde_json::{Value, json};

pub(crate) const W: usize = 128;
pub(crate) const H: usize = 72;

/// A grey frame from a level in stops at each place (0 to 1 from the top left).
pub(crate) fn frame(level: impl Fn(f64, f64) -> f64) -> Frame {
    let light: Vec<f32> = (0..W * H)
        .map(|i| {
            let x = ((i % W) as f64 + 0.5) / W as f64;
            let y = ((i / W) as f64 + 0.5) / H as f64;
            (0.18 * level(x, y).exp2()) as f32
        })
        .collect();
    Frame::from_planes(W, H, [light.clone(), light.clone(), light])
}

/// A kit of grads: density, edge, how many.
pub(crate) fn grads(of: &[(f64, &str, u32)]) -> Value {
    let rows: Vec<Value> = of
        .iter()
        .map(|(density, edge, count)| {
            json!({"glass": "grad-nd", "options": {"density": density, "edge": edge}, "count": count})
        })
        .collect();
    json!({"format": "foreglass.kit", "version": 1, "name": "Quay case", "glass": rows})
}

pub(crate) fn recipe(camera: Value, stages: Value) -> Recipe {
    let text = with(&[("/camera", camera), ("/rig/stages", stages)]);
    Recipe::parse(&text).expect("a good recipe")
}

pub(crate) fn ask(
    frame: &Frame,
    recipe: &Recipe,
    kit: &Value,
    region: [f64; 4],
    target: f64,
) -> Answer {
    ask_told(frame, recipe, kit, region, target, None)
}

/// The same, the region's level told.
pub(crate) fn ask_told(
    frame: &Frame,
    recipe: &Recipe,
    kit: &Value,
    region: [f64; 4],
    target: f64,
    level: Option<f64>,
) -> Answer {
    let ask = Ask {
        region: Region::new(region).expect("a region"),
        target: Stops::clamped(target),
        level: level.map(Stops::clamped),
    };
    let kit = Kit::parse(&kit.to_string()).expect("a good kit");
    let framing = recipe.unframed([frame.width(), frame.height()]);
    suggest(frame, &framing, recipe, &kit, &ask, &Watch::default()).expect("an answer")
}
