//! What the rig clips, and what to do about it, as JSON and in words.

use crate::optics::field::View;
use crate::rig::Setup;
use crate::rig::vignette::{Cause, LONGEST};
use crate::units::Stops;
use serde_json::Value;

/// The key "vignette".
pub(super) fn report(setup: &Setup, view: &View) -> Value {
    let vignette = setup.vignette(view);
    let remedies = setup.remedies(view).into_iter().map(|r| {
        serde_json::json!({
            "text": r.text,
            "corner_stops": r.corner.map(Stops::get),
            "starts_deg": r.starts_deg,
        })
    });
    serde_json::json!({
        "starts_deg": vignette.starts_deg,
        "corner_stops": vignette.corner.map(Stops::get),
        "corner_black": vignette.corner.is_none(),
        "cause": vignette.cause.map(Cause::key),
        "widest_focal_mm": setup.widest_focal_mm(view),
        "remedies": remedies.collect::<Vec<_>>(),
    })
}

/// The same in lines.
pub(super) fn text(setup: &Setup, view: &View) -> String {
    let v = setup.vignette(view);
    let mut t = match (v.starts_deg, v.corner) {
        (_, None) => "the corners are black\n".to_owned(),
        (None, Some(_)) => "no vignetting\n".to_owned(),
        (Some(from), Some(corner)) => {
            format!(
                "vignettes from {from:.1}°, worst corner {}\n",
                corner.counted()
            )
        }
    };
    if let Some(cause) = v.cause {
        t += &format!("  most of it: {}\n", cause.to_string().to_lowercase());
    }
    match setup.widest_focal_mm(view) {
        Some(f) => t += &format!("widest lens that this rig clears at this stop: {f:.1} mm\n"),
        None if v.cause.is_some() => {
            t += &format!("no lens up to {LONGEST:.0} mm clears this rig\n");
        }
        None => {}
    }
    for r in setup.remedies(view) {
        let left = match (r.starts_deg, r.corner) {
            (Some(from), Some(corner)) => {
                format!("leaves {}, from {from:.1}°", corner.counted())
            }
            _ => "ends it".to_owned(),
        };
        t += &format!("  {} ({left})\n", r.text.trim_end_matches('.'));
    }
    t
}
