//! The LUT that a frame's codes go through, as a recipe holds it.
//!
//! In JSON it is a string: the LUT's own text, so that the recipe is whole by itself, or the path of its
//! file, which a person may write. A line break or a `<` tells the text. It is read once, when the
//! recipe is; copies share it.

use super::document::LONGEST_RECIPE;
use super::{FrameDoc, RecipeError, texts};
use crate::frame::Lut;
use serde::{Deserialize, Serialize};
use std::path::Path;
use std::sync::Arc;

/// Longest LUT that a recipe may hold, as JSON: the rest of a recipe has the room that is left.
const LONGEST: usize = LONGEST_RECIPE - (1 << 20);
/// Where it stands in a recipe.
const PLACE: &str = "frame.input_lut";

/// An input LUT: its text, and what was read from it.
#[derive(Clone, Serialize, Deserialize)]
#[serde(try_from = "String", into = "String")]
pub struct InputLut {
    text: Arc<str>,
    /// None while the text is a path.
    lut: Option<Arc<Lut>>,
}

impl InputLut {
    /// An input LUT from its text.
    ///
    /// # Errors
    /// One clause: the line or the node, the quantity and its limit; or that it is too long to be held
    /// by a recipe.
    pub fn parse(text: &str) -> Result<Self, String> {
        let length = text.len() + text.bytes().map(escape).sum::<usize>();
        if length > LONGEST {
            return Err(format!(
                "the LUT is {length} bytes long in a recipe; the limit is {LONGEST}"
            ));
        }
        let lut = Lut::parse(text).map_err(|e| e.to_string())?;
        Ok(Self {
            text: text.into(),
            lut: Some(Arc::new(lut)),
        })
    }

    /// What the codes go through; None of a path, which no recipe that was read holds.
    #[must_use]
    pub fn lut(&self) -> Option<Arc<Lut>> {
        self.lut.clone()
    }

    /// What to call it: its title, or else what it is.
    #[must_use]
    pub fn name(&self) -> String {
        self.lut.as_ref().map_or_else(String::new, |lut| {
            lut.title().unwrap_or_else(|| lut.shape()).to_owned()
        })
    }

    /// Its text.
    #[must_use]
    pub fn text(&self) -> &str {
        &self.text
    }

    pub(super) fn check(&self) -> Result<(), RecipeError> {
        if self.lut.is_some() {
            return Ok(());
        }
        let mut words: String = self.text.chars().take(40).collect();
        if words.len() < self.text.len() {
            words.push('…');
        }
        let message = format!(
            "\"{words}\" is one line: the text of a LUT is wanted, or the path of a file where a \
             recipe is read from disk"
        );
        Err(RecipeError::at(PLACE, message))
    }
}

/// What a byte takes more in JSON than by itself.
const fn escape(byte: u8) -> usize {
    match byte {
        b'"' | b'\\' | b'\n' | b'\r' | b'\t' | 8 | 12 => 1,
        0..0x20 => 5,
        _ => 0,
    }
}

/// An input LUT from a file.
///
/// # Errors
/// One clause that names the file: why it cannot be read, or what in it cannot be used.
pub fn input_lut_from(path: &Path) -> Result<InputLut, String> {
    let text = texts::text_of(path, LONGEST as u64)?;
    InputLut::parse(&text).map_err(|e| format!("\"{}\": {e}", path.display()))
}

impl FrameDoc {
    /// Puts the text of the LUT's file in place of its path, which is looked up in `folder`.
    pub(super) fn take_in(&mut self, folder: &Path) -> Result<(), RecipeError> {
        if let Some(told) = &mut self.input_lut
            && told.lut.is_none()
        {
            let read = input_lut_from(&folder.join(&*told.text));
            *told = read.map_err(|e| RecipeError::at(PLACE, e))?;
        }
        Ok(())
    }
}

impl TryFrom<String> for InputLut {
    type Error = String;
    fn try_from(text: String) -> Result<Self, String> {
        if text.contains(['\n', '<']) {
            return Self::parse(&text);
        }
        Ok(Self {
            text: text.into(),
            lut: None,
        })
    }
}

impl From<InputLut> for String {
    fn from(lut: InputLut) -> Self {
        lut.text.as_ref().to_owned()
    }
}

impl PartialEq for InputLut {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.text, &other.text) || self.text == other.text
    }
}

impl std::fmt::Debug for InputLut {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        // The text itself may be megabytes long.
        write!(f, "InputLut {} bytes, {:?}", self.text.len(), self.lut)
    }
}
