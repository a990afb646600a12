//! `foreglass rig`: what a rig costs in light, covers and clips, and what to look out for.

// What the camera takes in, and what of the frame.
mod camera;
// What the glass costs, and what makes it good.
pub(in crate::cli) mod ledger;
// What the rig clips, and what to change about it.
mod vignette;

use super::{Failure, Lit, figures, json, read_framed, read_recipe, say};
use crate::optics::field::View;
use crate::optics::pupil::Shape;
use crate::recipe::Recipe;
use crate::rig::Setup;
use crate::rig::advisory::Advisory;
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
    /// What lies behind each warning, under it
    #[arg(long)]
    explain: bool,
    /// As JSON; explanations are always in it
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let recipe = read_recipe(&args.recipe)?;
    let setup = recipe.setup().map_err(|e| Failure::Input(e.into()))?;
    let framed = match &args.frame {
        Some(path) => {
            let (Lit { still, .. }, framing) = read_framed(path, &recipe)?;
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
        camera::report(&mut report, &setup, &view, framed);
        json(&report)
    } else {
        text(&recipe, &setup, &view, framed) + &warnings(&advisories, args.explain)
    })
}

fn report(setup: &Setup, view: &View, advisories: &[Advisory]) -> Value {
    let scene = setup.scene();
    let stages: Vec<Value> = setup
        .glass
        .iter()
        .map(|g| {
            let edge = setup.edge_width_mm(g);
            // An attenuator has no edge that could leave its place.
            let has_place = g.shape() != Some(Shape::Attenuator);
            let loss = g.loss(&scene);
            let [factor, mireds] = ledger::factor_and_mireds(g, loss);
            serde_json::json!({
                "place": g.place.key(),
                "glass": g.piece.name(),
                "covers": setup.covers(g, view),
                "edge_width_mm": edge,
                "slide_range_mm": setup.slide_range_mm(g, view),
                "tilt_range_deg": edge.filter(|_| has_place).map(|_| setup.tilt_range_deg(view)),
                "loss_stops": ledger::lost(loss),
                "loss_nominal_stops": g.nominal_loss().map(Stops::get),
                "factor": factor,
                "mireds": mireds,
                "edge_error": setup.edge_error(g),
                "weight_g": g.weight().get(),
            })
        })
        .collect();
    let stack = setup.stack();
    serde_json::json!({
        "stack": figures::to_json(setup.figures(&stack), &setup.spread(&stack)),
        "light_loss_stops": ledger::lost(setup.light_loss()),
        "loss_nominal_stops": ledger::lost(setup.nominal_loss()),
        "stop_to_set": setup.exposure().map(|e| e.stop_to_set),
        "exposure": ledger::exposure_json(setup),
        "colour": ledger::colour_json(setup),
        "pupil_depth_mm": setup.camera.pupil_depth().get(),
        "pupil_depth_estimated": setup.camera.pupil_depth_mm.is_none(),
        "vignette": vignette::report(setup, view),
        "stages": stages,
        "weight_g": setup.weight().get(),
        "oblique_stops": setup.oblique_loss(view).get(),
        "advisories": advisories,
    })
}

fn text(recipe: &Recipe, setup: &Setup, view: &View, framed: Option<&camera::Framed>) -> String {
    let mut t = String::new();
    if !recipe.name.is_empty() {
        t += &format!("{}\n", recipe.name);
    }
    t += &ledger::text(setup);
    for g in &setup.glass {
        if let Some(width) = setup.edge_width_mm(g) {
            let part = 100.0 * width / view.height_mm;
            let word = g.shape().map_or("edge", Shape::word);
            t += &format!(
                "{}: {word} {width:.1} mm wide, {part:.0} % of the picture's height\n",
                g.place
            );
        }
    }
    let stack = setup.stack();
    let (f, spread) = (setup.figures(&stack), setup.spread(&stack));
    if f.scattered > 0.0 {
        t += "the stack as a whole\n";
        t += &figures::light(f);
        t += &figures::scattering(f, &spread, setup.camera.focal_mm.get());
    }
    t += &vignette::text(setup, view);
    t += &camera::text(setup, view, framed);
    if setup.camera.pupil_depth_mm.is_none() {
        let depth = setup.camera.pupil_depth().get();
        t += &format!("entrance pupil taken as {depth:.0} mm behind the front (estimated)\n");
    }
    t += &doubts(setup, view);
    t
}

/// What the glass weighs, and how far the figures above may be off.
fn doubts(setup: &Setup, view: &View) -> String {
    let mut t = String::new();
    if !setup.glass.is_empty() {
        t += &format!("{:.0} g of glass\n", setup.weight().get());
    }
    let oblique = setup.oblique_loss(view).get();
    if oblique >= 0.005 {
        t += &format!("corners {oblique:.2} stop darker than drawn, where glass is dyed through\n");
    }
    for g in &setup.glass {
        if let Some(error) = setup.edge_error(g).filter(|e| *e >= 0.005) {
            t += &format!(
                "{}: far behind the focus the edge is drawn up to {:.0} % narrower than it is\n",
                g.place,
                100.0 * error
            );
        }
    }
    t
}

/// The warnings, a line each; `explain` puts what lies behind them under them.
fn warnings(advisories: &[Advisory], explain: bool) -> String {
    let mut t = String::new();
    for a in advisories {
        t += &format!("{}: {}\n", a.level.word(), a.text);
        if explain {
            t += &format!("    {}\n", a.explanation);
        }
    }
    t
}
