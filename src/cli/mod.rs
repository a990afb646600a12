//! The command line: one file per command. Data goes to standard output, errors to standard error as
//! one line each, never a panic.
//!
//! Exit codes: 0 done, 2 the command line is wrong, 3 an input cannot be used, 4 the work failed.

mod convert;
// Figures of glass as text and JSON, for several commands.
mod figures;
mod glass;
mod meter;
mod recipe;
mod render;
mod rig;
mod samples;
mod sheet;
mod suggest;

use crate::engine::{Choice, EngineError};
use crate::frame::restore::Told;
use crate::frame::{ReadError, Still};
use crate::recipe::{Framing, Recipe};
use anyhow::Context as _;
use clap::{Parser, Subcommand};
use std::borrow::Cow;
use std::io::Write as _;
use std::path::{Path, PathBuf};

/// Shows what glass in front of the lens will do to a shot, on a still, before it is ordered or rigged.
#[derive(Debug, Parser)]
#[command(
    name = "foreglass",
    version,
    args_conflicts_with_subcommands = true,
    after_help = "Without a command the window opens: on FRAME, or on the sample frame.\n\n\
                  Examples:\n  foreglass\n  foreglass scout.jpg --recipe wheelhouse.json\n  \
                  foreglass render scout.jpg --recipe wheelhouse.json --out wheelhouse.png\n\n\
                  Modelled, not measured: a camera test decides. No density or polariser makes it\n\
                  safe to look at the sun through an optical finder."
)]
pub struct Cli {
    /// The still to open: PNG, JPEG, TIFF or EXR
    pub frame: Option<PathBuf>,
    /// The recipe to open it with
    #[arg(long, value_name = "R.json")]
    pub recipe: Option<PathBuf>,
    /// Which executor makes the window's pictures; only auto falls back
    #[arg(long, value_enum, default_value = "auto")]
    pub engine: EngineName,
    /// A command; without one the window opens
    #[command(subcommand)]
    pub command: Option<Command>,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Render a frame through a recipe's glass
    Render(render::Args),
    /// The families of glass, and their figures
    #[command(subcommand)]
    Glass(glass::Args),
    /// Read a frame, bare and through a recipe's glass
    Meter(meter::Args),
    /// What a rig costs in light, covers and clips
    Rig(rig::Args),
    /// Which glass turns one colour temperature into another
    Convert(convert::Args),
    /// Which grads of a kit bring a region to a level, and where they go
    Suggest(suggest::Args),
    /// Write a reference sheet
    Sheet(sheet::Args),
    /// Print a recipe with every default, the built-in kit, or the formats of sensors
    Recipe(recipe::Args),
    /// Write the sample frames and their recipes into a folder
    Samples(samples::Args),
}

/// A command that did not do its work: what to say, and the exit code.
#[derive(Debug)]
pub enum Failure {
    /// The command line is wrong.
    Usage(anyhow::Error),
    /// An input cannot be used.
    Input(anyhow::Error),
    /// The work failed.
    Work(anyhow::Error),
}

impl Failure {
    /// The process's exit code.
    #[must_use]
    pub const fn code(&self) -> u8 {
        match self {
            Self::Usage(_) => 2,
            Self::Input(_) => 3,
            Self::Work(_) => 4,
        }
    }
}

impl std::fmt::Display for Failure {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let (Self::Usage(e) | Self::Input(e) | Self::Work(e)) = self;
        // One line, whatever a library says, and nothing said twice: some errors quote their cause.
        let mut text = String::new();
        for cause in e.chain().map(ToString::to_string) {
            if !text.contains(&cause) {
                let colon = if text.is_empty() { "" } else { ": " };
                text = format!("{text}{colon}{cause}");
            }
        }
        f.write_str(&text.split_whitespace().collect::<Vec<_>>().join(" "))
    }
}

/// Runs a command.
///
/// # Errors
/// [`Failure`], which carries the exit code.
pub fn run(command: &Command) -> Result<(), Failure> {
    match command {
        Command::Render(a) => render::run(a),
        Command::Glass(a) => glass::run(a),
        Command::Meter(a) => meter::run(a),
        Command::Rig(a) => rig::run(a),
        Command::Convert(a) => convert::run(a),
        Command::Suggest(a) => suggest::run(a),
        Command::Sheet(a) => sheet::run(a),
        Command::Recipe(a) => recipe::run(a),
        Command::Samples(a) => samples::run(a),
    }
}

/// Writes data to standard output; a reader that went away is not an error.
fn say(text: &str) -> Result<(), Failure> {
    let mut out = std::io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != std::io::ErrorKind::BrokenPipe => Err(Failure::Work(
            anyhow::Error::new(e).context("standard output"),
        )),
        _ => Ok(()),
    }
}

/// Reads a recipe file.
///
/// # Errors
/// [`Failure::Input`], naming the file.
pub fn read_recipe(path: &Path) -> Result<Recipe, Failure> {
    let read = || -> anyhow::Result<Recipe> {
        let text = std::fs::read_to_string(path)?;
        let folder = path.parent().unwrap_or(Path::new(""));
        Ok(Recipe::parse_in(&text, folder)?)
    };
    read()
        .with_context(|| path.display().to_string())
        .map_err(Failure::Input)
}

/// A still as its recipe would have it: the scene's light, and the planned picture's place in it.
struct Lit {
    /// The still; its frame is the scene's light, as far as the recipe brings it back.
    still: Still,
    /// How it was brought back.
    told: Told,
}

/// Reads a still as its recipe says.
fn read_still(path: &Path, recipe: &Recipe) -> Result<Still, Failure> {
    crate::frame::read(path, recipe.read_as()).map_err(Failure::from)
}

/// The same, and brings its light back.
fn read_frame(path: &Path, recipe: &Recipe) -> Result<Lit, Failure> {
    let mut still = read_still(path, recipe)?;
    let restored = recipe.light(still.decoded());
    let told = restored.told;
    if let Cow::Owned(light) = restored.frame {
        still.frame = light;
    }
    Ok(Lit { still, told })
}

/// The same, and finds the planned picture's place in it.
fn read_framed(path: &Path, recipe: &Recipe) -> Result<(Lit, Framing), Failure> {
    let lit = read_frame(path, recipe)?;
    let framing = framed(path, &lit.still, recipe)?;
    Ok((lit, framing))
}

/// The planned picture's place in a frame.
fn framed(path: &Path, still: &Still, recipe: &Recipe) -> Result<Framing, Failure> {
    let size = [still.frame.width(), still.frame.height()];
    let name = path.file_name().unwrap_or(path.as_os_str()).display();
    recipe.framing(&still.exif, size).map_err(|e| {
        let keys = match e.keys() {
            "" => String::new(),
            keys => format!(" ({keys})"),
        };
        Failure::Input(anyhow::anyhow!("{name}: {e}{keys}"))
    })
}

/// The pretty JSON of a report, with a final newline.
fn json(value: &serde_json::Value) -> String {
    format!("{value:#}\n")
}

impl From<ReadError> for Failure {
    fn from(e: ReadError) -> Self {
        Self::Input(e.into())
    }
}

impl From<EngineError> for Failure {
    fn from(e: EngineError) -> Self {
        Self::Work(e.into())
    }
}

/// An engine by its name.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
pub enum EngineName {
    /// The fastest that there is
    Auto,
    /// The processor's cores
    Cpu,
    /// Graphics hardware, or an error
    Gpu,
    /// The exact one, slow
    Reference,
}

impl From<EngineName> for Choice {
    fn from(name: EngineName) -> Self {
        match name {
            EngineName::Auto => Self::Auto,
            EngineName::Cpu => Self::Cpu,
            EngineName::Gpu => Self::Gpu,
            EngineName::Reference => Self::Reference,
        }
    }
}
