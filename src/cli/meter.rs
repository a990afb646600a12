//! `foreglass meter`: what a spot meter reads of a frame, bare and through glass, and what the glass
//! does to its blacks and its texture.

use super::{Failure, Lit, json, read_frame, read_framed, read_recipe, say};
use crate::engine::{self, Choice, Engine, Watch};
use crate::meters::spot::spot;
use crate::meters::texture::Band;
use crate::meters::{Effect, Region, effect};
use crate::recipe::{Framing, Recipe};
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
    contrast kept, per cent, at about 160, 40 and 10 cycles to the picture's height. Where the plan\n\
    takes a part of the frame, only that is read; places are told in the whole frame all the same.")]
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
    let (frame, framing) = match &recipe {
        Some(recipe) => {
            let (Lit { still, .. }, framing) = read_framed(&args.frame, recipe)?;
            (framing.take(still.frame), framing)
        }
        // Without a plan all of the frame is read.
        None => {
            let frame = read_frame(&args.frame, &Recipe::default())?.still.frame;
            let size = [frame.width(), frame.height()];
            (frame, Recipe::default().unframed(size))
        }
    };
    let spots: Vec<(Spot, Spot)> = spots
        .into_iter()
        .map(|s| Ok((s, within(s, &framing)?)))
        .collect::<Result<_, _>>()
        .map_err(Failure::Usage)?;
    let region = region_within(region, args.region.as_deref(), &framing).map_err(Failure::Usage)?;
    let through = match &setup {
        None => None,
        Some(setup) => {
            let plan = engine::plan_over(setup, framing.view());
            let watch = Watch::default();
            let (glass, _) =
                Engine::default().render(frame.clone(), &plan, Choice::Auto, &watch)?;
            Some((glass, plan))
        }
    };
    let readings: Vec<Reading> = spots
        .into_iter()
        .map(|(told, s)| Reading {
            spot: told,
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
        let line = framing.line().map_or(String::new(), |l| format!("{l}\n"));
        line + &text(&readings, effect)
    })
}

/// Where the planned picture lies, for sentences.
pub(super) fn place(framing: &Framing) -> String {
    let [x0, y0, x1, y1] = framing.sides();
    format!(
        "lies outside the planned picture, which goes from {x0:.3} to {x1:.3} across and from {y0:.3} to \
         {y1:.3} down the frame"
    )
}

/// A spot of the frame, as one of the planned picture.
fn within(spot: Spot, framing: &Framing) -> anyhow::Result<Spot> {
    let Spot { x, y, radius } = spot;
    let there = framing.to_picture([x, y]);
    let [px, py] = there.ok_or_else(|| anyhow!("--spot {x},{y}: {}", place(framing)))?;
    Ok(Spot {
        x: px,
        y: py,
        radius: framing.radius_to_picture(radius),
    })
}

/// A region of the frame, as one of the planned picture; all of that where none is told.
fn region_within(region: Region, told: Option<&str>, framing: &Framing) -> anyhow::Result<Region> {
    let Some(told) = told else {
        return Ok(Region::WHOLE);
    };
    let [x0, y0, x1, y1] = region.sides();
    let corners = framing
        .to_picture([x0, y0])
        .zip(framing.to_picture([x1, y1]));
    corners
        .and_then(|([x0, y0], [x1, y1])| Region::new([x0, y0, x1, y1]))
        .ok_or_else(|| anyhow!("--region {told}: {}", place(framing)))
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
        let kept = e.texture.scales().map(|(name, _, band)| {
            let kept = band.map(Band::percent);
            (name.to_owned(), serde_json::json!(kept))
        });
        Value::Object(kept.into_iter().collect())
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
        let scales = e.texture.scales().map(|(name, _, band)| match band {
            Some(band) => format!("{name} {:.0} %", band.percent()),
            None => format!("{name} –"),
        });
        t += &format!("texture kept: {}\n", scales.join(", "));
    }
    t
}
