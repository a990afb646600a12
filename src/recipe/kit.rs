//! The glass there is to choose from, as a document: a truck, a case, a rental list.
//!
//! Each row is a piece, told like a stage's, with what it fits: a size for trays, or a thread. The
//! built-in kit is a truck for one camera (common practice, no source).
//!
//! ```
//! use foreglass::recipe::kit::Kit;
//! let kit = Kit::parse(r#"{"format": "foreglass.kit", "version": 1, "name": "Case", "glass": [
//!     {"glass": "grad-nd", "options": {"density": 0.6, "edge": "soft"}, "size": "4x5.65", "count": 2},
//!     {"glass": "polariser", "thread_mm": 77}]}"#)?;
//! assert_eq!(kit.rows[0].piece()?.name(), "Grad ND 0.6 soft");
//! assert_eq!((kit.rows[0].count, kit.rows[1].count), (2, 1));
//! # Ok::<(), foreglass::recipe::RecipeError>(())
//! ```

use super::{RecipeError, document, places, texts};
use crate::glass::Piece;
use crate::rig::size::Size;
use crate::units::Extent;
use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};
use std::path::Path;

/// What a kit's `format` says.
const FORMAT: &str = "foreglass.kit";
/// Rows a kit may have.
const MOST_ROWS: usize = 200;
/// Pieces that one row may stand for.
const MOST_PIECES: u32 = 99;

/// The built-in kit, as it is printed.
pub const DEFAULT_KIT: &str = include_str!("kit.json");

/// The glass there is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kit {
    format: String,
    version: u64,
    /// The kit's name.
    #[serde(default)]
    pub name: String,
    /// Its pieces.
    #[serde(default, rename = "glass")]
    pub rows: Vec<KitRow>,
}

/// Some alike pieces of a kit.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KitRow {
    /// The family's key.
    pub glass: String,
    /// Its strength; None is the family's own default.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub strength: Option<String>,
    /// Its options.
    #[serde(default, skip_serializing_if = "Map::is_empty")]
    pub options: Map<String, Value>,
    /// Size of a piece for a tray; None is 4x5.65 unless a thread is told.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    size: Option<Size>,
    /// Thread of a piece in a ring.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    thread_mm: Option<Extent>,
    /// How many of them there are.
    #[serde(default = "one")]
    pub count: u32,
}

/// What a piece of a kit fits.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Fits {
    /// A tray of this size.
    Tray(Size),
    /// A ring of this thread.
    Ring(Extent),
}

const fn one() -> u32 {
    1
}

impl Default for Kit {
    /// The built-in kit.
    fn default() -> Self {
        #[expect(clippy::expect_used, reason = "a test reads the built-in kit")]
        Self::parse(DEFAULT_KIT).expect("the built-in kit is one")
    }
}

impl Kit {
    /// Reads a kit and checks all of it.
    ///
    /// # Errors
    /// [`RecipeError`] for anything that is not a kit of a known version, an unknown field, a piece of
    /// glass that does not exist, a piece told both a size and a thread, or too many of them.
    pub fn parse(text: &str) -> Result<Self, RecipeError> {
        let kit: Self = document::read(text, FORMAT, "a kit")?;
        kit.checked()
    }

    /// Reads a kit that was written in `folder`: where an option names a file, from there, the file's
    /// text takes the place of its name.
    ///
    /// # Errors
    /// As [`Kit::parse`], and for a file that cannot be read.
    pub fn parse_in(text: &str, folder: &Path) -> Result<Self, RecipeError> {
        let mut kit: Self = document::read(text, FORMAT, "a kit")?;
        for (i, row) in kit.rows.iter_mut().enumerate() {
            texts::take_in(&row.glass, &mut row.options, folder)
                .map_err(|e| e.inside(&format!("glass[{i}]")))?;
        }
        kit.checked()
    }

    fn checked(self) -> Result<Self, RecipeError> {
        if self.rows.len() > MOST_ROWS {
            let message = format!("{} rows; the limit is {MOST_ROWS}", self.rows.len());
            return Err(RecipeError::at("glass", message));
        }
        for (i, row) in self.rows.iter().enumerate() {
            row.check().map_err(|e| e.inside(&format!("glass[{i}]")))?;
        }
        Ok(self)
    }
}

impl KitRow {
    /// The glass.
    ///
    /// # Errors
    /// [`RecipeError`], its path within the row; never of a kit that was read.
    pub fn piece(&self) -> Result<Piece, RecipeError> {
        places::piece(&self.glass, self.strength.as_deref(), &self.options)
    }

    /// What it fits.
    #[must_use]
    pub fn fits(&self) -> Fits {
        match self.thread_mm {
            Some(thread) => Fits::Ring(thread),
            None => Fits::Tray(self.size.unwrap_or_default()),
        }
    }

    fn check(&self) -> Result<(), RecipeError> {
        if self.size.is_some() && self.thread_mm.is_some() {
            let message = "give the size of a tray's glass or the thread of a ring, not both";
            return Err(RecipeError::at("thread_mm", message));
        }
        if self.count > MOST_PIECES {
            let message = format!("{} is out of range: 0 to {MOST_PIECES}", self.count);
            return Err(RecipeError::at("count", message));
        }
        self.piece().map(|_| ())
    }
}
