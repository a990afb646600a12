//! `foreglass meter`: what is read of a frame, bare and through glass: spots, what the glass does to its
//! blacks and its texture, scopes; and how the frame's light was brought back.

// Scopes as pictures.
mod picture;
// What was read, as JSON.
mod report;
// What was read, in words.
mod text;

use super::{Failure, Lit, json, read_frame, read_framed, read_recipe, say};
use crate::engine::{self, Choice, Engine, Watch};
use crate::frame::Frame;
use crate::frame::restore::Told;
use crate::meters::chromaticity::{Chromaticity, Lamps, picture_white};
use crate::meters::histogram::{self, Histogram};
use crate::meters::spot::{Contrast, spot};
use crate::meters::waveform::Waveform;
use crate::meters::{Axis, Channel, Effect, Reduced, Region, effect};
use crate::recipe::{Framing, Recipe};
use crate::rig::Setup;
use crate::units::Stops;
use anyhow::anyhow;
use picture::Picture;
use std::path::PathBuf;

pub(super) use text::level;

/// Radius of a spot where none is given, in parts of the frame's width.
const RADIUS: f64 = 0.01;
/// Columns of a waveform that is told, and its bins to the stop.
const COLUMNS: usize = 160;
const PER_STOP: u8 = 8;
/// Parts of the pixels whose levels are told.
const PARTS: [f64; 5] = [0.01, 0.1, 0.5, 0.9, 0.99];

/// Read a frame, bare and through a recipe's glass
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  \
    foreglass meter quay.exr --recipe quay.json --spot 0.43,0.41 --spot 0.8,0.2,0.02 --ratio\n  \
    foreglass meter quay.exr --recipe quay.json --picture false-stops --out quay_stops.png\n\n\
    Levels are stops against key (0.18), of the mean light in the spot. Black lift: the darkest\n\
    hundredth of the frame, the loss divided out (a grad counts with its clear end). Texture: local\n\
    contrast kept, per cent and decibels, at about 160, 40 and 10 cycles to the picture's height.\n\
    Scopes read the picture reduced to 960 pixels along its longer side. Where the plan takes a part\n\
    of the frame, only that is read; places are told in the whole frame all the same.")]
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
    /// The contrast of the first two spots: key to fill
    #[arg(long)]
    ratio: bool,
    /// The part of the frame whose blacks and texture are told; the whole of it where left out
    #[arg(long, value_name = "X0,Y0,X1,Y1", allow_hyphen_values = true)]
    region: Option<String>,
    #[command(flatten)]
    scopes: Scopes,
    /// Stops either way of key that scopes span (8), and of no change in a difference (2)
    #[arg(long, value_name = "STOPS", allow_hyphen_values = true)]
    range: Option<f64>,
    /// Draw a scope, or paint the picture by what is read of it, into --out; through the glass where a
    /// recipe is given
    #[arg(long, value_enum, value_name = "WHAT", requires = "out")]
    picture: Option<Picture>,
    /// The file that --picture writes: .png
    #[arg(long, value_name = "PNG", requires = "picture")]
    out: Option<PathBuf>,
    /// Let --picture be of the bare frame
    #[arg(long, requires = "picture")]
    bare: bool,
    /// As JSON
    #[arg(long)]
    json: bool,
}

/// Scopes to be told.
#[derive(Debug, Clone, Copy, clap::Args)]
struct Scopes {
    /// Which part of the picture has which level
    #[arg(long)]
    histogram: bool,
    /// The same column by column
    #[arg(long)]
    waveform: bool,
    /// Where the picture's colours lie, and the scene's light before and behind the glass
    #[arg(long)]
    chromaticity: bool,
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

/// The same thing read of the bare picture and of the one through glass.
struct Pair<T> {
    bare: T,
    glass: Option<T>,
}

impl<T> Pair<T> {
    fn map<U>(&self, f: impl Fn(&T) -> U) -> Pair<U> {
        Pair {
            bare: f(&self.bare),
            glass: self.glass.as_ref().map(f),
        }
    }
}

/// All that was read.
struct Read {
    spots: Vec<Reading>,
    /// Key to fill, where it was asked for; None in it where a spot has no light.
    contrast: Option<Pair<Option<Contrast>>>,
    effect: Option<Effect>,
    histogram: Option<Pair<(Histogram, [Stops; PARTS.len()])>>,
    waveform: Option<Pair<Waveform>>,
    chromaticity: Option<Pair<Chromaticity>>,
    /// The scene's light, where a recipe tells it.
    lamps: Option<Lamps>,
    /// What the frame asked of the restoration, and what came of it.
    light: (Recipe, Told),
    /// How the file was read, a sentence without a full stop.
    how: String,
    /// The planned picture's place in the frame, where there is anything to tell.
    line: Option<String>,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let spots = spots(args).map_err(Failure::Usage)?;
    let region = match &args.region {
        None => Region::WHOLE,
        Some(text) => parse_region(text).map_err(Failure::Usage)?,
    };
    let axis = axis(args)?;
    let drawing = picture::Drawing::of(args)?;
    let recipe = args.recipe.as_deref().map(read_recipe).transpose()?;
    let setup = recipe
        .as_ref()
        .map(Recipe::setup)
        .transpose()
        .map_err(|e| Failure::Input(e.into()))?;
    let (frame, how, told, framing) = match &recipe {
        Some(recipe) => {
            let (Lit { still, told }, framing) = read_framed(&args.frame, recipe)?;
            (framing.take(still.frame), still.how, told, framing)
        }
        // Without a plan all of the frame is read.
        None => {
            let Lit { still, told } = read_frame(&args.frame, &Recipe::default())?;
            let size = [still.frame.width(), still.frame.height()];
            let framing = Recipe::default().unframed(size);
            (still.frame, still.how, told, framing)
        }
    };
    let spots: Vec<(Spot, Spot)> = spots
        .into_iter()
        .map(|s| Ok((s, within(s, &framing)?)))
        .collect::<Result<_, _>>()
        .map_err(Failure::Usage)?;
    let region = region_within(region, args.region.as_deref(), &framing).map_err(Failure::Usage)?;
    let (frames, effect) = through(frame, setup.as_ref(), &framing, region)?;
    if let Some(drawing) = drawing {
        let name = recipe.as_ref().map(|r| r.name.as_str());
        drawing.draw(&frames, setup.as_ref(), (&axis, name))?;
    }
    let recipe = recipe.unwrap_or_default();
    let read = Read {
        line: framing.line().map(str::to_owned),
        light: (recipe, told),
        how,
        effect,
        ..read(args, &frames, &spots, (&axis, setup.as_ref()))
    };
    say(&if args.json {
        json(&report::report(&read))
    } else {
        text::text(&read)
    })
}

/// The picture through the glass, and what the glass does to it.
fn through(
    bare: Frame,
    setup: Option<&Setup>,
    framing: &Framing,
    region: Region,
) -> Result<(Pair<Frame>, Option<Effect>), Failure> {
    let Some(setup) = setup else {
        return Ok((Pair { bare, glass: None }, None));
    };
    let plan = engine::plan_over(setup, framing.view());
    let watch = Watch::default();
    let (glass, _) = Engine::default().render(bare.clone(), &plan, Choice::Auto, &watch)?;
    let effect = effect(&bare, &glass, &plan, region);
    let glass = Some(glass);
    Ok((Pair { bare, glass }, Some(effect)))
}

/// Reads the spots and the scopes that were asked for.
fn read(
    args: &Args,
    frames: &Pair<Frame>,
    spots: &[(Spot, Spot)],
    (axis, setup): (&Axis, Option<&Setup>),
) -> Read {
    let spots: Vec<Reading> = spots
        .iter()
        .map(|(told, s)| {
            let at = frames.map(|frame| spot(frame, s.x, s.y, s.radius));
            Reading {
                spot: *told,
                bare: at.bare,
                glass: at.glass,
            }
        })
        .collect();
    let contrast = match spots.as_slice() {
        [key, fill, ..] if args.ratio => Some(Pair {
            bare: Contrast::between(key.bare, fill.bare),
            glass: key
                .glass
                .zip(fill.glass)
                .map(|(key, fill)| Contrast::between(key, fill)),
        }),
        _ => None,
    };
    let wanted = args.scopes;
    let any = wanted.histogram || wanted.waveform || wanted.chromaticity;
    let pictures = any.then(|| frames.map(Reduced::of));
    let pictures = |wanted: bool| pictures.as_ref().filter(|_| wanted);
    let white = setup.map_or_else(picture_white, Setup::balance);
    Read {
        spots,
        contrast,
        effect: None,
        histogram: pictures(wanted.histogram).map(|pair| {
            pair.map(|p| {
                let levels = p.percentiles(Channel::Luminance, PARTS);
                (Histogram::of(p, *axis), levels)
            })
        }),
        waveform: pictures(wanted.waveform)
            .map(|pair| pair.map(|p| Waveform::of(p, *axis, COLUMNS))),
        chromaticity: pictures(wanted.chromaticity)
            .map(|pair| pair.map(|p| Chromaticity::of(p, white))),
        lamps: setup.and_then(Lamps::of),
        light: (Recipe::default(), Told::default()),
        how: String::new(),
        line: None,
    }
}

/// The axis of the scopes.
fn axis(args: &Args) -> Result<Axis, Failure> {
    let Some(range) = args.range else {
        return Ok(Axis::usual(histogram::PER_STOP));
    };
    let made = Stops::new(range).and_then(|range| Axis::new(-range, range, PER_STOP));
    made.map_err(|e| Failure::Usage(anyhow!("--range {range}: {e}")))
}

/// The spots; an error where nothing at all is asked for.
fn spots(args: &Args) -> anyhow::Result<Vec<Spot>> {
    let spots: Vec<Spot> = args
        .spots
        .iter()
        .map(|text| parse_spot(text))
        .collect::<Result<_, _>>()?;
    if args.ratio && spots.len() < 2 {
        return Err(anyhow!(
            "--ratio: give two spots, first the brighter side: --spot X,Y --spot X,Y"
        ));
    }
    let Scopes {
        histogram,
        waveform,
        chromaticity,
    } = args.scopes;
    let scopes = histogram || waveform || chromaticity || args.picture.is_some();
    if args.recipe.is_none() && spots.is_empty() && !scopes {
        return Err(anyhow!(
            "nothing to read: give --spot X,Y, a scope, or --recipe for the whole frame"
        ));
    }
    Ok(spots)
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
