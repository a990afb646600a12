//! What all diffusers share: they take no options, their faces are coated, and their strength stands in
//! their name.

use super::law::{COATED, Law};
use super::strength::Strength;
use super::{Made, OptionError, read_options};
use crate::optics::scatter::Scatter;
use serde_json::{Map, Value};

/// A piece of diffusion that scatters like this.
pub(super) fn make(
    name: &str,
    strength: Strength,
    options: &Map<String, Value>,
    scatter: Scatter,
) -> Result<Made, OptionError> {
    let _: Options = read_options(options)?;
    Ok(Made {
        law: Law {
            scatter: Some(scatter),
            ..Law::neutral(COATED)
        },
        name: format!("{name} {strength}"),
        nominal_loss: None,
        nominal_shift: None,
    })
}

#[derive(serde::Deserialize)]
#[serde(deny_unknown_fields)]
struct Options {}
