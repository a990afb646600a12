//! `foreglass samples`: writes the sample frames and their recipes.

use super::{Failure, say};
use crate::frame::save_atomically;
use crate::recipe::samples::SAMPLES;
use anyhow::Context as _;
use std::io::Write as _;
use std::path::PathBuf;

/// Write the sample frames and their recipes into a folder
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  foreglass samples samples\n  foreglass samples/night_quay.exr --recipe samples/night_quay.json"
)]
pub struct Args {
    /// The folder; it is made where it is not there
    folder: PathBuf,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    write(args).map_err(Failure::Work)?;
    for (name, _) in SAMPLES {
        say(&format!("{}\n", args.folder.join(name).display()))?;
    }
    Ok(())
}

fn write(args: &Args) -> anyhow::Result<()> {
    std::fs::create_dir_all(&args.folder).with_context(|| args.folder.display().to_string())?;
    for (name, bytes) in SAMPLES {
        let path = args.folder.join(name);
        save_atomically(&path, |file| file.write_all(bytes))
            .with_context(|| path.display().to_string())?;
    }
    Ok(())
}
