//! `foreglass meter`: what a spot meter reads of a frame, bare and through glass, and what the glass
//! does to its blacks and its texture.

use super::{Failure, json, read_frame, read_recipe, say};
use crate::engine::{self, Choice, Engine, Watch};
use crate::meters::spot::spot;
use crate::meters::texture::Texture;
use crate::meters::{Effect, Region, effect};
use crate::recipe::Recipe;
use crate::units::Stops;
use anyhow::anyhow;
use serde_json::Value;
use std::path::PathBuf;

/// Radius of a spot where none is given, in parts of the frame's width.
const RADIUS: f64 = 0.01;

/// Read a frame, bare and through a recipe's glass
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  \
    foreglass meter quay.exr --recipe quay.json --spot 0.43,0.41 --spot 0.8,0.2,0.02\n\n\
    Levels are stops against key (0.18), of the mean light in the spot. Black lift: the darkest\n\
    hundredth of the frame, the loss divided out (a grad counts with its clear end). Texture: local\n\
    contrast kept, per cent, at about 160, 40 and 10 cycles to the picture's height.")]
pub struct Args {
    /// The still: PNG, JPEG, TIFF or EXR
    frame: PathBuf,
    /// The recipe; without one the frame is read bare
    #[arg(long, value_name = "R.json")]
    recipe: Option<PathBuf>,
    /// A spot: across and down in 0 to 1 of the frame from its top left, and its radius in 0 to 1 of
    /// the frame's width (0.01); may be repeated
    #[arg(long = "spot", value_name = "X,Y[,R]", allow_hyphen_values = true)]
    spots: Vec<String>,
    /// The part of the frame whose blacks and texture are told; the whole of it where left out
    #[arg(long, value_name = "X0,Y0,X1,Y1", allow_hyphen_values = true)]
    region: Option<String>,
    /// As JSON
    #[arg(long)]
    json: bool,
}

/// Where to read.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Spot {
    x: f64,
    y: f64,
    radius: f64,
}

/// What was read there.
struct Reading {
    spot: Spot,
    bare: Stops,
    glass: Option<Stops>,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let spots: Vec<Spot> = args
        .spots
        .iter()
        .map(|text| parse_spot(text))
        .collect::<Result<_, _>>()
        .map_err(Failure::Usage)?;
    let region = match &args.region {
        None => Region::WHOLE,
        Some(text) => parse_region(text).map_err(Failure::Usage)?,
    };
    if args.recipe.is_none() && spots.is_empty() {
        let nothing = anyhow!("nothing to read: give --spot X,Y, or --recipe for the whole frame");
        return Err(Failure::Usage(nothing));
    }
    let recipe = args.recipe.as_deref().map(read_recipe).transpose()?;
    let setup = recipe
        .as_ref()
        .map(Recipe::setup)
        .transpose()
        .map_err(|e| Failure::Input(e.into()))?;
    let frame = read_frame(&args.frame, recipe.as_ref().unwrap_or(&Recipe::default()))?.frame;
    let through = match &setup {
        None => None,
        Some(setup) => {
            let plan = engine::plan(setup, frame.width(), frame.height());
            let watch = Watch::default();
            let (glass, _) =
                Engine::default().render(frame.clone(), &plan, Choice::Auto, &watch)?;
            Some((glass, plan))
        }
    };
    let readings: Vec<Reading> = spots
        .into_iter()
        .map(|s| Reading {
            spot: s,
            bare: spot(&frame, s.x, s.y, s.radius),
            glass: through
                .as_ref()
                .map(|(glass, _)| spot(glass, s.x, s.y, s.radius)),
        })
        .collect();
    let effect = through
        .as_ref()
        .map(|(glass, plan)| effect(&frame, glass, plan, region));
    say(&if args.json {
        json(&report(&readings, effect))
    } else {
        text(&readings, effect)
    })
}

fn numbers(text: &str) -> Option<Vec<f64>> {
    let number = |part: &str| part.trim().parse::<f64>().ok().filter(|v| v.is_finite());
    text.split(',').map(number).collect()
}

fn parse_spot(text: &str) -> anyhow::Result<Spot> {
    let (x, y, radius) = match numbers(text).as_deref() {
        Some(&[x, y]) => (x, y, RADIUS),
        Some(&[x, y, radius]) => (x, y, radius),
        _ => {
            return Err(anyhow!(
                "--spot {text}: write X,Y or X,Y,R, three plain numbers"
            ));
        }
    };
    if ![x, y].iter().all(|v| (0.0..=1.0).contains(v)) {
        let limit = "lies outside the frame: X and Y run from 0 to 1";
        return Err(anyhow!("--spot {text}: {limit}"));
    }
    if radius <= 0.0 || radius > 1.0 {
        let limit = "a radius is more than 0 and at most 1 of the frame's width";
        return Err(anyhow!("--spot {text}: {limit}"));
    }
    Ok(Spot { x, y, radius })
}

/// A part of a frame.
pub(super) fn parse_region(text: &str) -> anyhow::Result<Region> {
    let sides = numbers(text).and_then(|n| <[f64; 4]>::try_from(n).ok());
    sides.and_then(Region::new).ok_or_else(|| {
        anyhow!(
            "--region {text}: write X0,Y0,X1,Y1, left and top before right and bottom, in 0 to 1"
        )
    })
}

fn report(readings: &[Reading], effect: Option<Effect>) -> Value {
    let spots: Vec<Value> = readings
        .iter()
        .map(|r| {
            serde_json::json!({
                "x": r.spot.x,
                "y": r.spot.y,
                "radius": r.spot.radius,
                "bare_stops": r.bare.get(),
                "glass_stops": r.glass.map(Stops::get),
            })
        })
        .collect();
    let texture = effect.map(|e| {
        let Texture {
            fine,
            medium,
            coarse,
        } = e.texture;
        serde_json::json!({"fine": fine, "medium": medium, "coarse": coarse})
    });
    serde_json::json!({
        "spots": spots,
        "black_lift_stops": effect.map(|e| e.blacks.lift().get()),
        "black_stops": effect.map(|e| serde_json::json!({
            "bare": e.blacks.bare.get(), "glass": e.blacks.glass.get(),
        })),
        "texture": texture,
    })
}

/// A level with its sign; the lowest there is has no light in it.
pub(super) fn level(stops: Stops) -> String {
    if stops.get() <= Stops::LOW {
        "no light".to_owned()
    } else {
        format!("{:+.2}", stops.get()).replace('-', "−")
    }
}

fn text(readings: &[Reading], effect: Option<Effect>) -> String {
    let mut t = String::new();
    if !readings.is_empty() {
        t += "  across   down       bare";
        t += if effect.is_some() {
            "      glass     change   (stops against key)\n"
        } else {
            "   (stops against key)\n"
        };
    }
    for r in readings {
        t += &format!(
            "  {:>6.3} {:>6.3} {:>10}",
            r.spot.x,
            r.spot.y,
            level(r.bare)
        );
        if let Some(glass) = r.glass {
            t += &format!(" {:>10} {:>10}", level(glass), level(glass - r.bare));
        }
        t.push('\n');
    }
    if let Some(e) = effect {
        let lift = e.blacks.lift().get();
        let word = if lift < 0.0 { "held down" } else { "lifted" };
        t += &format!(
            "blacks {word} by {:.2} stops, from {} to {} against key, the loss divided out\n",
            lift.abs(),
            level(e.blacks.bare),
            level(e.blacks.glass)
        );
        let scale = |name: &str, kept: Option<f64>| match kept {
            Some(kept) => format!("{name} {kept:.0} %"),
            None => format!("{name} –"),
        };
        t += &format!(
            "texture kept: {}, {}, {}\n",
            scale("fine", e.texture.fine),
            scale("medium", e.texture.medium),
            scale("coarse", e.texture.coarse)
        );
    }
    t
}
