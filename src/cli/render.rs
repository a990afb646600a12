//! `foreglass render`: a frame through a recipe's glass, into a file.

use super::{EngineName, Failure, Lit, read_framed, read_recipe, say};
use crate::engine::{self, Choice, Engine, Used, Watch};
use crate::frame::{self, Kind, Output, OutputSpace};
use std::path::PathBuf;
use std::time::Instant;

/// Render a frame through a recipe's glass
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  foreglass render quay.exr --recipe quay.json --out quay_glass.png --width 1920"
)]
pub struct Args {
    /// The still: PNG, JPEG, TIFF or EXR
    frame: PathBuf,
    /// The recipe
    #[arg(long, value_name = "R.json")]
    recipe: PathBuf,
    /// The file to write: .exr, .png (16 bit), .tif (16 bit) or .jpg
    #[arg(long, value_name = "OUT")]
    out: PathBuf,
    /// Which executor runs; only auto falls back
    #[arg(long, value_enum, default_value = "auto")]
    engine: EngineName,
    /// Width of the picture in pixels, at most that of the planned part of the frame
    #[arg(long, value_name = "PX")]
    width: Option<usize>,
    /// Colour space of the picture; acescg for EXR and srgb for the others where it is left out
    #[arg(long, value_name = "SPACE", value_parser = |s: &str| s.parse::<OutputSpace>())]
    space: Option<OutputSpace>,
    /// Render without the glass
    #[arg(long)]
    bare: bool,
    /// Print one line of JSON: the engine that ran, how long each part took, and why graphics hardware
    /// that is there was passed over, if it was
    #[arg(long)]
    timings: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let kind = Kind::of(&args.out).map_err(|e| Failure::Usage(e.into()))?;
    let mut output = Output::for_kind(kind);
    output.space = args.space.unwrap_or(output.space);
    let choice = Choice::from(args.engine);
    if choice == Choice::Gpu {
        // Before the work, not after it.
        engine::graphics().map_err(|e| Failure::Work(e.into()))?;
    }
    let _ahead = (choice == Choice::Auto && !args.bare).then(engine::look_ahead);
    let recipe = read_recipe(&args.recipe)?;
    let setup = recipe.setup().map_err(|e| Failure::Input(e.into()))?;

    let mut clock = Clock::start();
    let (Lit { still, .. }, framing) = read_framed(&args.frame, &recipe)?;
    let picture = framing.take(still.frame);
    let picture = match args.width {
        Some(width) => frame::to_width(&picture, width).map_err(|e| Failure::Usage(e.into()))?,
        None => picture,
    };
    let decode_ms = clock.lap();

    let plan = engine::plan_over(&setup, framing.view_at(picture.width(), picture.height()));
    let plan_ms = clock.lap();

    let engine = Engine::default();
    let (picture, used) = if args.bare {
        (picture, Used::Cpu)
    } else {
        engine.render(picture, &plan, choice, &Watch::default())?
    };
    let light_ms = clock.lap();

    frame::write(&args.out, &picture, &output, &Watch::default())
        .map_err(|e| Failure::Work(e.into()))?;
    let encode_ms = clock.lap();

    if args.timings {
        let megapixels = (picture.width() * picture.height()) as f64 / 1e6;
        let mut line = serde_json::json!({
            "engine": used.to_string(),
            "megapixels": megapixels,
            "decode_ms": decode_ms,
            "plan_ms": plan_ms,
            "light_ms": light_ms,
            "encode_ms": encode_ms,
            "peak_mib": peak_mib(),
        });
        if let Some(reason) = engine.passed_over() {
            line["gpu_passed_over"] = reason.to_string().into();
        }
        say(&format!("{line}\n"))?;
    } else if let Some(line) = framing.line() {
        say(&format!("{line}\n"))?;
    }
    Ok(())
}

/// Milliseconds between one lap and the next.
struct Clock(Instant);

impl Clock {
    fn start() -> Self {
        Self(Instant::now())
    }

    fn lap(&mut self) -> f64 {
        let now = Instant::now();
        let ms = (now - self.0).as_secs_f64() * 1e3;
        self.0 = now;
        ms
    }
}

/// The most memory the process has held, in MiB; None where the system does not tell.
fn peak_mib() -> Option<f64> {
    let status = std::fs::read_to_string("/proc/self/status").ok()?;
    let line = status.lines().find_map(|l| l.strip_prefix("VmHWM:"))?;
    let kib: f64 = line.trim().strip_suffix("kB")?.trim().parse().ok()?;
    Some(kib / 1024.0)
}
