//! Files that options name: a recipe holds their text, so that it is whole by itself; a person may
//! write a path.

use super::{RecipeError, RigDoc};
use crate::glass::Family;
use serde_json::{Map, Value};
use std::io::Read as _;
use std::path::Path;

/// Longest file read for an option.
const LONGEST: u64 = 1_000_000;

/// The text of a file that an option names. What is not UTF-8 is read as Latin-1.
///
/// # Errors
/// One clause that names the file: why it cannot be read, or that it is longer than 1 MB.
pub fn option_text(path: &Path) -> Result<String, String> {
    text_of(path, LONGEST)
}

/// The same of any file, of `longest` bytes at most.
pub(super) fn text_of(path: &Path, longest: u64) -> Result<String, String> {
    let read = || -> std::io::Result<Vec<u8>> {
        // Asked first: opening a pipe would wait for someone to write into it.
        if !std::fs::metadata(path)?.is_file() {
            return Err(std::io::Error::other("this is not a file"));
        }
        let mut bytes = Vec::new();
        std::fs::File::open(path)?
            .take(longest + 1)
            .read_to_end(&mut bytes)?;
        Ok(bytes)
    };
    let name = path.display();
    let bytes = read().map_err(|e| format!("\"{name}\" cannot be read: {e}"))?;
    if bytes.len() as u64 > longest {
        return Err(format!(
            "\"{name}\" is too long; the limit is {longest} bytes"
        ));
    }
    Ok(String::from_utf8(bytes)
        .unwrap_or_else(|e| e.into_bytes().into_iter().map(char::from).collect()))
}

impl RigDoc {
    /// Puts the text of files in place of their paths, which are looked up in `folder`.
    pub(super) fn take_in(&mut self, folder: &Path) -> Result<(), RecipeError> {
        let rings = self.rings.iter_mut().enumerate();
        let rings = rings.map(|(i, r)| (format!("rig.rings[{i}]"), &r.glass, &mut r.options));
        let stages = self.stages.iter_mut().enumerate().filter_map(|(i, s)| {
            let s = s.as_mut()?;
            Some((format!("rig.stages[{i}]"), &s.glass, &mut s.options))
        });
        for (place, key, options) in rings.chain(stages) {
            take_in(key, options, folder).map_err(|e| e.inside(&place))?;
        }
        Ok(())
    }
}

/// The same for one piece's options.
pub(super) fn take_in(
    key: &str,
    options: &mut Map<String, Value>,
    folder: &Path,
) -> Result<(), RecipeError> {
    // A family that does not exist is told by whoever makes the glass.
    let Ok(family) = Family::find(key) else {
        return Ok(());
    };
    for control in family.controls {
        let Some(value) = options.get_mut(control.name) else {
            continue;
        };
        if let Some(path) = control.kind.path_in(value) {
            let text = option_text(&folder.join(path))
                .map_err(|e| RecipeError::at(format!("options.{}", control.name), e))?;
            *value = Value::String(text);
        }
    }
    Ok(())
}
