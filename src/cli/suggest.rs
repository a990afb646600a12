//! `foreglass suggest`: which placed glass of a kit brings a region to a level, where it goes, what it
//! costs the rest; and which stage suits which glass of the recipe.

use super::meter::{level, parse_region, place};
use super::{Failure, Lit, json, read_framed, read_recipe, say};
use crate::engine::Watch;
use crate::frame::save_atomically;
use crate::meters::suggest::{
    Answer, Ask, Metered, Places, Score, SuggestError, Suggestion, places, suggest,
};
use crate::recipe::Recipe;
use crate::recipe::kit::Kit;
use crate::units::Stops;
use anyhow::{Context as _, anyhow};
use serde_json::{Value, json};
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Which grads of a kit bring a region to a level, and where they go
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  \
    foreglass suggest scout.jpg --recipe wheelhouse.json --region 0,0,0.4,0.6 --target 1 --level 4\n\n\
    Levels are stops against key (0.18), after compensation. The glass of the recipe stays; grads, stripes\n\
    and attenuators of the kit go into its free stages. The score adds, in stops: what is left of the\n\
    difference, what the rest of the picture loses, half the unevenness over the region, what shows as a\n\
    line, and 0.05 for each piece. `foreglass recipe --default-kit` prints the built-in kit.")]
pub struct Args {
    /// The still: PNG, JPEG, TIFF or EXR
    frame: PathBuf,
    /// The recipe that the glass is added to
    #[arg(long, value_name = "R.json")]
    recipe: PathBuf,
    /// The part of the frame that is to come down, in 0 to 1 from its top left
    #[arg(long, value_name = "X0,Y0,X1,Y1", allow_hyphen_values = true)]
    region: String,
    /// The level it is to have through glass, in stops against key
    #[arg(long, value_name = "STOPS", allow_hyphen_values = true)]
    target: f64,
    /// What it meters bare, in stops against key, over what the frame shows, which the recipe's
    /// pins and levels bring back
    #[arg(long, value_name = "STOPS", allow_hyphen_values = true)]
    level: Option<f64>,
    /// The kit to choose from; the built-in one where left out
    #[arg(long, value_name = "K.json")]
    kit: Option<PathBuf>,
    /// Write the recipe with an option's glass in it
    #[arg(long, value_name = "R.json")]
    out: Option<PathBuf>,
    /// Which option that is
    #[arg(long, value_name = "N", default_value_t = 1, requires = "out")]
    option: usize,
    /// As JSON
    #[arg(long)]
    json: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let ask = Ask {
        region: parse_region(&args.region).map_err(Failure::Usage)?,
        target: stops("--target", args.target)?,
        level: args.level.map(|l| stops("--level", l)).transpose()?,
    };
    let recipe = read_recipe(&args.recipe)?;
    let kit = args.kit.as_deref().map_or(Ok(Kit::default()), read_kit)?;
    let (Lit { still, .. }, framing) = read_framed(&args.frame, &recipe)?;
    let picture = framing.take(still.frame);
    let answer = suggest(&picture, &framing, &recipe, &kit, &ask, &Watch::default());
    let answer = answer.map_err(|e| match e {
        SuggestError::Outside => {
            Failure::Usage(anyhow!("--region {}: {}", args.region, place(&framing)))
        }
        SuggestError::Recipe(e) => Failure::Input(e.into()),
        SuggestError::Engine(e) => Failure::Work(e.into()),
    })?;
    let places = places(&recipe, &framing.view()).map_err(|e| Failure::Input(e.into()))?;
    if let Some(path) = &args.out {
        write(path, args.option, &recipe, &answer)?;
    }
    say(&if args.json {
        json(&report(&ask, &kit, &answer, &places))
    } else {
        let line = framing.line().map_or(String::new(), |l| format!("{l}\n"));
        line + &text(&ask, &answer, &places)
    })
}

/// Writes the recipe with the glass of an option, counted from 1.
fn write(path: &Path, option: usize, recipe: &Recipe, answer: &Answer) -> Result<(), Failure> {
    let chosen = option.checked_sub(1).and_then(|i| answer.options.get(i));
    let chosen = chosen.ok_or_else(|| {
        let count = answer.options.len();
        Failure::Work(anyhow!(
            "--option {option}: there are {count}; nothing was written"
        ))
    })?;
    let mut recipe = recipe.clone();
    recipe.rig = chosen.rig.clone();
    save_atomically(path, |file| file.write_all(recipe.to_json().as_bytes()))
        .with_context(|| path.display().to_string())
        .map_err(Failure::Work)
}

/// A level that a meter can read.
fn stops(name: &str, value: f64) -> Result<Stops, Failure> {
    if (-30.0..=30.0).contains(&value) {
        return Ok(Stops::clamped(value));
    }
    let limit = anyhow!("{name} {value}: a level is -30 to 30 stops against key");
    Err(Failure::Usage(limit))
}

fn read_kit(path: &Path) -> Result<Kit, Failure> {
    let read = || -> anyhow::Result<Kit> {
        let text = std::fs::read_to_string(path)?;
        let folder = path.parent().unwrap_or(Path::new(""));
        Ok(Kit::parse_in(&text, folder)?)
    };
    read()
        .with_context(|| path.display().to_string())
        .map_err(Failure::Input)
}

fn report(ask: &Ask, kit: &Kit, answer: &Answer, order: &Places) -> Value {
    let bare = &answer.bare;
    json!({
        "target_stops": ask.target.get(),
        "kit": kit.name,
        "metered": {
            "stops": answer.metered.get(),
            "by": match answer.metered_by {
                Metered::Told => "level",
                Metered::Frame => "frame",
            },
        },
        "bare": {
            "level_stops": bare.level.get(),
            "residual_stops": bare.score.residual.get(),
            "overshoot_stops": bare.score.overshoot.get(),
            "score": bare.score.total().get(),
            "text": bare.text,
        },
        "options": answer.options.iter().map(option).collect::<Vec<_>>(),
        "nothing": answer.nothing,
        "places": places_json(order),
    })
}

fn option(option: &Suggestion) -> Value {
    let glass = option.glass.iter().map(|g| {
        json!({
            "place": g.place.key(),
            "glass": g.name,
            "size": g.size.name(),
            "slide_mm": g.slide.get(),
            "turn_deg": g.turn.get(),
            "words": g.words,
        })
    });
    json!({
        "rig": option.rig,
        "level_stops": option.level.get(),
        "residual_stops": option.score.residual.get(),
        "overshoot_stops": option.score.overshoot.get(),
        "uneven_stops": option.score.uneven.get(),
        "line_stops": option.score.line.get(),
        "score": option.score.total().get(),
        "glass": glass.collect::<Vec<_>>(),
        "line": option.line,
    })
}

fn places_json(order: &Places) -> Value {
    let glass = order.glass.iter().map(|g| {
        let reasons = g
            .reasons
            .iter()
            .map(|(ground, text)| json!({"ground": ground.word(), "text": text}));
        json!({
            "glass": g.glass,
            "place": g.now.key(),
            "best": g.best.key(),
            "reasons": reasons.collect::<Vec<_>>(),
        })
    });
    json!({
        "well": order.well,
        "text": order.text,
        "glass": glass.collect::<Vec<_>>(),
        "rig": order.rig,
    })
}

fn text(ask: &Ask, answer: &Answer, order: &Places) -> String {
    let by = match answer.metered_by {
        Metered::Told => "as told",
        Metered::Frame => "by the frame",
    };
    let mut t = format!(
        "the region meters {} bare ({by}); the target is {}\n{}\n",
        level(answer.metered),
        level(ask.target),
        answer.bare.text
    );
    if let Some(nothing) = &answer.nothing {
        t += &format!("{nothing}\n");
    }
    for (i, option) in answer.options.iter().enumerate() {
        t += &option_text(i + 1, option);
    }
    t += "the recipe's own glass\n";
    t += &format!("  {}\n", order.text);
    for g in &order.glass {
        let stays = if g.now == g.best {
            "stays".to_owned()
        } else {
            format!("better in {}", g.best.to_string().to_lowercase())
        };
        t += &format!("  {:<8} {}: {stays}\n", g.now.to_string(), g.glass);
        for (_, reason) in &g.reasons {
            t += &format!("           {reason}\n");
        }
    }
    t
}

fn option_text(number: usize, option: &Suggestion) -> String {
    let Score {
        residual,
        overshoot,
        uneven,
        ..
    } = option.score;
    let left = residual.get();
    let word = if left < 0.0 { "under" } else { "over" };
    let mut t = format!(
        "{number}  score {:.2}: reaches {}, {:.2} {word}; takes {:.2} stop from the rest; uneven by {:.2}\n",
        option.score.total().get(),
        level(option.level),
        left.abs(),
        overshoot.get(),
        uneven.get()
    );
    for g in &option.glass {
        t += &format!(
            "   {:<8} {} ({}): {}\n",
            g.place.to_string(),
            g.name,
            g.size.name(),
            g.words
        );
    }
    if let Some(line) = &option.line {
        t += &format!("   {line}\n");
    }
    t
}
