//! What every versioned document has in common: its length, its format and its version are looked at
//! before anything in it.

use super::RecipeError;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// The version that is read and written.
pub(super) const VERSION: u64 = 1;
/// Longest document read: a kit is a few kilobytes.
const LONGEST: usize = 1 << 20;
/// The same of a recipe, which is as short, but for an input LUT of 65 × 65 × 65 in full precision.
pub(super) const LONGEST_RECIPE: usize = 16 << 20;

/// A document of a known version, its values unchecked. `noun` is what it calls itself in an error.
pub(super) fn read<T: DeserializeOwned>(
    text: &str,
    format: &str,
    noun: &str,
) -> Result<T, RecipeError> {
    typed(open(text, LONGEST, format, noun)?)
}

/// The same, before its fields are looked at.
pub(super) fn open(
    text: &str,
    longest: usize,
    format: &str,
    noun: &str,
) -> Result<Value, RecipeError> {
    if text.len() > longest {
        let length = text.len();
        let limit = format!("the document is {length} bytes long; the limit is {longest}");
        return Err(RecipeError::at("", limit));
    }
    let value: Value = serde_json::from_str(text)
        .map_err(|e| RecipeError::at("", format!("this is not JSON: {e}")))?;
    match value.get("format").and_then(Value::as_str) {
        Some(own) if own == format => {}
        Some(other) => {
            let message = format!("\"{other}\" is not \"{format}\"");
            return Err(RecipeError::at("format", message));
        }
        None => {
            let message = format!("missing; {noun} says \"{format}\"");
            return Err(RecipeError::at("format", message));
        }
    }
    match value.get("version") {
        Some(v) if v.as_u64() == Some(VERSION) => {}
        Some(v) => {
            let message = format!("version {v} is not known; this program reads {VERSION}");
            return Err(RecipeError::at("version", message));
        }
        None => {
            let message = format!("missing; the version is {VERSION}");
            return Err(RecipeError::at("version", message));
        }
    }
    Ok(value)
}

/// A document's fields; the error tells the path.
pub(super) fn typed<T: DeserializeOwned>(value: Value) -> Result<T, RecipeError> {
    serde_path_to_error::deserialize(value).map_err(|e| {
        let path = e.path().to_string();
        RecipeError::at(
            if path == "." { "" } else { &path },
            e.into_inner().to_string(),
        )
    })
}
