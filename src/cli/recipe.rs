//! `foreglass recipe`: a recipe with every default written out, the built-in kit, and the formats that
//! sensors come in.

use super::{Failure, say};
use crate::recipe::Recipe;
use crate::recipe::kit::DEFAULT_KIT;
use crate::rig::format::Format;

/// Print a recipe with every default, the built-in kit, or the formats of sensors
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  foreglass recipe --defaults > wheelhouse.json\n  \
                  foreglass recipe --default-kit > truck.json"
)]
#[group(required = true, multiple = false)]
pub struct Args {
    /// Print the defaults of a recipe
    #[arg(long)]
    defaults: bool,
    /// Print the built-in kit: the glass that `suggest` chooses from unless it is told another
    #[arg(long)]
    default_kit: bool,
    /// List the trade sizes of sensors, for a camera's `sensor_mm`
    #[arg(long)]
    formats: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    if args.formats {
        say(&formats())
    } else if args.default_kit {
        say(DEFAULT_KIT)
    } else {
        say(&Recipe::default().to_json())
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
