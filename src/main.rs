//! Starts the window or a command.

use clap::Parser as _;
use foreglass::cli::{self, Cli};
use std::process::ExitCode;

fn main() -> ExitCode {
    let args = Cli::parse();
    let done = match &args.command {
        Some(command) => cli::run(command),
        None => window(&args),
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(failure) => {
            #[expect(
                clippy::print_stderr,
                reason = "the one place where errors leave the program"
            )]
            {
                eprintln!("foreglass: {failure}");
            }
            ExitCode::from(failure.code())
        }
    }
}

#[cfg(feature = "window")]
fn window(args: &Cli) -> Result<(), cli::Failure> {
    let (frame, recipe) = (args.frame.as_deref(), args.recipe.as_deref());
    foreglass::app::run(frame, recipe, args.engine.into()).map_err(|e| {
        if e.is_input() {
            cli::Failure::Input(e.into())
        } else {
            cli::Failure::Work(e.into())
        }
    })
}

#[cfg(not(feature = "window"))]
fn window(_: &Cli) -> Result<(), cli::Failure> {
    Err(cli::Failure::Work(anyhow::anyhow!(
        "this build has no window; give it a command, see --help"
    )))
}
