//! Figures of glass as text and as JSON: what `glass show` and `rig` share.

use super::rig::ledger::lost;
use crate::glass::law::Figures;
use crate::optics::figures::{Mtf, Spread};
use crate::units::Degrees;
use serde_json::{Map, Value, json};

/// Where the light goes and what scattering comes to.
pub(super) fn to_json(f: Figures, spread: &Spread) -> Map<String, Value> {
    let halo = spread.halo.map(|halo| {
        let [r, g, b] = halo.map(|radii| radii.map(Degrees::get));
        json!({"r": r, "g": g, "b": b})
    });
    let number = |at: f64| format!("{at}");
    let mtf: Map<String, Value> = spread
        .mtf
        .iter()
        .map(|(at, m)| (number(*at), json!(m.mean)))
        .collect();
    let directions: Option<Map<String, Value>> = spread
        .mtf
        .iter()
        .map(|(at, m)| Some((number(*at), directions_json(m)?)))
        .collect();
    let rows = [
        ("direct", json!(f.direct)),
        ("scattered", json!(f.scattered)),
        ("absorbed", json!(f.absorbed)),
        ("loss_stops_flat", json!(lost(f.loss_flat()))),
        ("loss_stops_core", json!(lost(f.loss_core()))),
        ("haze_percent", json!(f.haze_percent)),
        ("veiling_glare_percent", json!(100.0 * spread.veiling_glare)),
        ("patch_deg", json!(spread.patch.get())),
        ("halo_deg", json!(halo)),
        ("mtf", json!(mtf)),
        ("mtf_directions", json!(directions)),
    ];
    rows.into_iter().map(|(k, v)| (k.to_owned(), v)).collect()
}

fn directions_json(m: &Mtf) -> Option<Value> {
    let ((worst, worst_at), (best, best_at)) = (m.worst?, m.best?);
    Some(json!({
        "worst": worst, "worst_deg": worst_at.get(),
        "best": best, "best_deg": best_at.get(),
    }))
}

/// The same in words, a line each, indented.
pub(super) fn light(f: Figures) -> String {
    let stops = |loss| lost(loss).map_or_else(|| "all".to_owned(), |l| format!("{l:.3} stop"));
    format!(
        "  of the light: {:.1} % direct, {:.1} % scattered, {:.1} % lost\n  \
         loss: {} of an even field, {} of a small bright detail\n",
        100.0 * f.direct,
        100.0 * f.scattered,
        100.0 * f.absorbed,
        stops(f.loss_flat()),
        stops(f.loss_core())
    )
}

/// What scattering comes to, in words, a line each, indented; nothing where nothing is scattered.
pub(super) fn scattering(f: Figures, spread: &Spread, focal_mm: f64) -> String {
    if f.scattered <= 0.0 {
        return String::new();
    }
    let mut t = format!(
        "  haze beyond 2.5°: {:.1} %; veiling glare: {:.1} % in a black disc of ±{:.2}°\n",
        f.haze_percent,
        100.0 * spread.veiling_glare,
        spread.patch.get()
    );
    if let Some(halo) = spread.halo {
        for (name, [half, most]) in ["red", "green", "blue"].into_iter().zip(halo) {
            let mm = focal_mm * half.radians().tan();
            t += &format!(
                "  {name} halo: half within {:.2}° ({mm:.2} mm at {focal_mm} mm), 95 % within \
                 {:.1}°\n",
                half.get(),
                most.get()
            );
        }
    }
    let all: Vec<String> = spread
        .mtf
        .iter()
        .map(|(at, m)| format!("{:.2} at {at}", m.mean))
        .collect();
    t += &format!(
        "  contrast kept (MTF) at {focal_mm} mm: {} cycles/mm\n",
        all.join(", ")
    );
    let (_, middle) = spread.mtf[1];
    if let (Some((worst, across)), Some((best, along))) = (middle.worst, middle.best) {
        t += &format!(
            "    {worst:.2} to {best:.2} at {} by direction: least along {:.0}°, most along {:.0}°\n",
            spread.mtf[1].0,
            across.get(),
            along.get()
        );
    }
    t
}
