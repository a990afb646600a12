//! `foreglass recipe --defaults`: a recipe with every default written out.

use super::{Failure, say};
use crate::recipe::Recipe;

/// Print a recipe with every default
#[derive(Debug, clap::Args)]
#[command(after_help = "Example:\n  foreglass recipe --defaults > wheelhouse.json")]
pub struct Args {
    /// Print the defaults
    #[arg(long, required = true)]
    defaults: bool,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    if args.defaults {
        say(&Recipe::default().to_json())
    } else {
        Ok(())
    }
}
