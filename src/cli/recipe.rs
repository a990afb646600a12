//! `foreglass recipe`: a recipe with every default written out, and the formats that sensors come in.

use super::{Failure, say};
use crate::recipe::Recipe;
use crate::rig::format::Format;

/// Print a recipe with every default, or the formats of sensors
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  foreglass recipe --defaults > wheelhouse.json")]
#[group(required = true, multiple = false)]
pub struct Args {
    /// Print the defaults
    #[arg(long)]
    defaults: bool,
    /// List the trade sizes of sensors, for a camera's `sensor_mm`
    #[arg(long)]
    formats: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    if args.defaults {
        say(&Recipe::default().to_json())
    } else if args.formats {
        say(&formats())
    } else {
        Ok(())
    }
}

fn formats() -> String {
    let mut t = String::new();
    for f in &Format::ALL {
        let [w, h] = f.sides_mm;
        t += &format!(
            "  {:<20} {w:>6.2} × {h:<5.2} mm  {} ({})\n",
            f.key, f.name, f.source
        );
    }
    t
}
