//! The planned camera's field, what the frame was seen by, and which part of it the plan takes.

use crate::optics::field::View;
use crate::recipe::{Framing, Origin, Seen};
use crate::rig::Setup;
use crate::rig::camera::FieldOfView;
use crate::rig::format::Format;
use crate::units::Extent;
use serde_json::Value;

pub(super) type Framed = (Seen, Framing);

/// What the planned camera takes in, what the frame was seen by, and which part of it the plan takes.
pub(super) fn report(report: &mut Value, setup: &Setup, view: &View, framed: Option<&Framed>) {
    let field = FieldOfView::of(view);
    report["field_deg"] = serde_json::json!({
        "across": field.across.get(), "up": field.up.get(), "diagonal": field.diagonal.get(),
    });
    report["sensor_format"] = Format::of(setup.camera.sensor_mm).map(|f| f.key).into();
    let Some((seen, framing)) = framed else {
        return;
    };
    let rows = seen.rows().into_iter();
    let rows = rows.map(|(name, value, from)| {
        serde_json::json!({"name": name, "value": value, "from": from.to_string()})
    });
    report["seen_by"] = rows.collect();
    report["framing"] = serde_json::json!({"text": framing.line(), "part": framing.sides()});
}

/// The same in words, a line each.
pub(super) fn text(setup: &Setup, view: &View, framed: Option<&Framed>) -> String {
    let (camera, field) = (&setup.camera, FieldOfView::of(view));
    let [w, h] = camera.sensor_mm.map(Extent::get);
    let name = Format::of(camera.sensor_mm).map_or("custom", |f| f.name);
    let mut t = format!(
        "{} mm on {w} × {h} mm ({name}): {:.1}° × {:.1}°, {:.1}° from corner to corner\n",
        camera.focal_mm.get(),
        field.across.get(),
        field.up.get(),
        field.diagonal.get()
    );
    if let Some((seen, framing)) = framed {
        let known = seen
            .rows()
            .into_iter()
            .filter(|(.., from)| *from != Origin::Unknown);
        let known: Vec<String> = known
            .filter_map(|(name, value, from)| Some(format!("{name} {} ({from})", value?)))
            .collect();
        if !known.is_empty() {
            t += &format!("the frame was seen by: {}\n", known.join(", "));
        }
        t += &framing.line().map_or(String::new(), |l| format!("{l}\n"));
    }
    t
}
