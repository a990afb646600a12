//! `foreglass recipe`: a recipe with every default written out, or the built-in kit.

use super::{Failure, say};
use crate::recipe::Recipe;
use crate::recipe::kit::DEFAULT_KIT;

/// Print a recipe with every default, or the built-in kit
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
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    if args.default_kit {
        say(DEFAULT_KIT)
    } else {
        say(&Recipe::default().to_json())
    }
}
