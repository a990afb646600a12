//! `foreglass rig`: what a rig costs in light, covers and clips, and what to look out for.

use super::{Failure, figures, json, read_framed, read_recipe, say};
use crate::optics::field::View;
use crate::optics::pupil::Shape;
use crate::recipe::{Framing, Origin, Recipe, Seen};
use crate::rig::Setup;
use crate::rig::advisory::Advisory;
use crate::rig::camera::FieldOfView;
use crate::rig::format::Format;
use crate::units::Stops;
use serde_json::Value;
use std::path::PathBuf;

/// What a rig costs in light, covers and clips
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  foreglass rig --recipe wheelhouse.json --json")]
pub struct Args {
    /// The recipe
    #[arg(long, value_name = "R.json")]
    recipe: PathBuf,
    /// A frame, for its shape and what it was seen by; without one the framed part of the sensor is used
    #[arg(long, value_name = "FRAME")]
    frame: Option<PathBuf>,
    /// As JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let recipe = read_recipe(&args.recipe)?;
    let setup = recipe.setup().map_err(|e| Failure::Input(e.into()))?;
    let framed = match &args.frame {
        Some(path) => {
            let (still, framing) = read_framed(path, &recipe)?;
            let seen = recipe.seen(&still.exif, [still.frame.width(), still.frame.height()]);
            Some((seen, framing))
        }
        None => None,
    };
    let framed = framed.as_ref();
    let view = framed.map_or_else(|| setup.sensor_view(), |(_, framing)| framing.view());
    let advisories: Vec<Advisory> = setup
        .advisories(&view)
        .into_iter()
        .chain(recipe.unapplied())
        .collect();
    say(&if args.json {
        let mut report = report(&setup, &view, &advisories);
        camera_json(&mut report, &setup, &view, framed);
        json(&report)
    } else {
        text(&recipe, &setup, (&view, framed), &advisories)
    })
}

fn report(setup: &Setup, view: &View, advisories: &[Advisory]) -> Value {
    let scene = setup.scene();
    let vignette = setup.vignette(view);
    let stages: Vec<Value> = setup
        .glass
        .iter()
        .map(|g| {
            let edge = setup.edge_width_mm(g);
            // An attenuator has no edge that could leave its place.
            let has_place = g.shape() != Some(Shape::Attenuator);
            serde_json::json!({
                "place": g.place.key(),
                "glass": g.piece.name(),
                "covers": setup.covers(g, view),
                "edge_width_mm": edge,
                "slide_range_mm": setup.slide_range_mm(g, view),
                "tilt_range_deg": edge.filter(|_| has_place).map(|_| setup.tilt_range_deg(view)),
                "loss_stops": g.loss(&scene).get(),
                "loss_nominal_stops": g.nominal_loss().map(Stops::get),
            })
        })
        .collect();
    let stack = setup.stack();
    serde_json::json!({
        "stack": figures::to_json(setup.figures(&stack), &setup.spread(&stack)),
        "light_loss_stops": setup.light_loss().get(),
        "loss_nominal_stops": setup.nominal_loss().get(),
        "stop_to_set": setup.stop_to_set(),
        "pupil_depth_mm": setup.camera.pupil_depth().get(),
        "pupil_depth_estimated": setup.camera.pupil_depth_mm.is_none(),
        "vignette": {
            "starts_deg": vignette.starts_deg,
            "corner_stops": vignette.corner.map(Stops::get),
            "corner_black": vignette.corner.is_none(),
        },
        "stages": stages,
        "advisories": advisories,
    })
}

type Framed = (Seen, Framing);

/// What the planned camera takes in, what the frame was seen by, and which part of it the plan takes.
fn camera_json(report: &mut Value, setup: &Setup, view: &View, framed: Option<&Framed>) {
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
fn camera_text(setup: &Setup, view: &View, framed: Option<&Framed>) -> String {
    let (camera, field) = (&setup.camera, FieldOfView::of(view));
    let [w, h] = camera.sensor_mm.map(crate::units::Extent::get);
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

fn text(
    recipe: &Recipe,
    setup: &Setup,
    (view, framed): (&View, Option<&Framed>),
    advisories: &[Advisory],
) -> String {
    let mut t = String::new();
    if !recipe.name.is_empty() {
        t += &format!("{}\n", recipe.name);
    }
    let scene = setup.scene();
    for g in &setup.glass {
        t += &format!(
            "  {:<8} {:<24} {:>6.2} stop",
            g.place.to_string(),
            g.piece.name(),
            g.loss(&scene).get()
        );
        if let Some(width) = setup.edge_width_mm(g) {
            let part = 100.0 * width / view.height_mm;
            let word = g.shape().map_or("edge", Shape::word);
            t += &format!("   {word} {width:.1} mm wide, {part:.0} % of the picture's height");
        }
        t.push('\n');
    }
    t += &format!(
        "light lost {:.2} stop (by the trade's tables {:.2}); set {:.2} instead of {:.2}\n",
        setup.light_loss().get(),
        setup.nominal_loss().get(),
        setup.stop_to_set(),
        setup.camera.t_stop.unwrap_or(setup.camera.stop).get()
    );
    let stack = setup.stack();
    let (f, spread) = (setup.figures(&stack), setup.spread(&stack));
    if f.scattered > 0.0 {
        t += "the stack as a whole\n";
        t += &figures::light(f);
        t += &figures::scattering(f, &spread, setup.camera.focal_mm.get());
    }
    let v = setup.vignette(view);
    t += &match (v.starts_deg, v.corner) {
        (_, None) => "the corners are black\n".to_owned(),
        (None, Some(_)) => "no vignetting\n".to_owned(),
        (Some(from), Some(corner)) => {
            format!(
                "vignettes from {from:.1}°, worst corner {:.2} stop\n",
                corner.get()
            )
        }
    };
    t += &camera_text(setup, view, framed);
    if setup.camera.pupil_depth_mm.is_none() {
        let depth = setup.camera.pupil_depth().get();
        t += &format!("entrance pupil taken as {depth:.0} mm behind the front (estimated)\n");
    }
    for a in advisories {
        t += &format!("{}: {}\n", a.level.word(), a.text);
    }
    t
}
