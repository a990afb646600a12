//! `foreglass sheet`: a reference sheet for the grade and the director.

use super::{Failure, framed, read_recipe, read_still};
use crate::handover::{DPI, SheetError, sheet_of, write_sheet};
use crate::watch::Watch;
use std::path::PathBuf;

/// Write a reference sheet: bare, glass, the stack, the light lost and the stop to set
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Example:\n  foreglass sheet quay.exr --recipe half.json --recipe full.json --out quay_sheet.png"
)]
pub struct Args {
    /// The still: PNG, JPEG, TIFF or EXR
    frame: PathBuf,
    /// A recipe; up to four looks share a sheet
    #[arg(long = "recipe", value_name = "R.json", required = true)]
    recipes: Vec<PathBuf>,
    /// The file to write: .png
    #[arg(long, value_name = "SHEET")]
    out: PathBuf,
    /// The day that the sheet bears; today where it is left out
    #[arg(long, value_name = "DATE")]
    date: Option<String>,
}

pub(super) fn run(args: &Args) -> Result<(), Failure> {
    let mut looks = Vec::new();
    for path in &args.recipes {
        let recipe = read_recipe(path)?;
        let setup = recipe.setup().map_err(|e| Failure::Input(e.into()))?;
        looks.push((recipe, setup));
    }
    let (first, _) = &looks[0];
    let still = read_still(&args.frame, first)?;
    let framings = looks
        .iter()
        .map(|(recipe, _)| framed(&args.frame, &still, recipe))
        .collect::<Result<Vec<_>, _>>()?;
    let frame_name = args
        .frame
        .file_name()
        .map(|n| n.to_string_lossy().into_owned());
    let frame_name = frame_name.unwrap_or_default();
    let title = if looks.len() == 1 && !first.name.is_empty() {
        &first.name
    } else {
        &frame_name
    };
    let pairs: Vec<_> = looks
        .iter()
        .zip(&framings)
        .map(|((recipe, setup), framing)| (recipe, setup, framing))
        .collect();
    let watch = Watch::default();
    let date = args.date.clone().unwrap_or_else(crate::handover::today);
    let sheet = sheet_of(title, &frame_name, still.decoded(), &pairs, &date, &watch)?;
    write_sheet(&args.out, &sheet, DPI, &watch).map_err(|e| match e {
        SheetError::Extension { .. } | SheetError::NoPdf { .. } | SheetError::Looks { .. } => {
            Failure::Usage(e.into())
        }
        e => Failure::Work(e.into()),
    })
}
