//! What a person may set on a piece of glass, told so that any face of the program can offer it.

use serde_json::Value;
use std::path::Path;

/// One option of a family.
#[derive(Debug, Clone, Copy)]
pub struct Control {
    /// Its name in the options object.
    pub name: &'static str,
    /// Its label.
    pub label: &'static str,
    /// What it does, in a sentence.
    pub help: &'static str,
    /// What values it takes.
    pub kind: Kind,
}

/// The values a control takes.
#[derive(Debug, Clone, Copy)]
pub enum Kind {
    /// A number within limits.
    Number {
        /// Unit shown after it; empty for none.
        unit: &'static str,
        /// Smallest value taken.
        low: f64,
        /// Largest value taken.
        high: f64,
        /// Where it starts; None: not set.
        default: Option<f64>,
        /// Values the trade stocks, offered as shortcuts.
        stock: &'static [f64],
    },
    /// One word of a list.
    Choice {
        /// The words.
        words: &'static [&'static str],
        /// Where it starts; None: not set.
        default: Option<&'static str>,
    },
    /// Yes or no.
    Switch {
        /// Where it starts.
        default: bool,
    },
    /// The text of a file, which is of several lines and is held whole. A person may write the path of
    /// the file instead, on one line: whoever reads from disk puts the text in its place.
    File {
        /// Words and endings of what is offered.
        kinds: &'static [(&'static str, &'static [&'static str])],
    },
}

impl Kind {
    /// The path that stands in place of a file's text; None for other kinds and for the text itself.
    #[must_use]
    pub fn path_in(self, value: &Value) -> Option<&Path> {
        let text = value.as_str()?.trim();
        let named = matches!(self, Self::File { .. }) && !text.contains('\n');
        named.then(|| Path::new(text))
    }
}

/// A unit as it stands after a number: a space before it, but for the degree sign's.
#[must_use]
pub fn after_number(unit: &str) -> String {
    match unit {
        "" | "°" => unit.to_owned(),
        words => format!(" {words}"),
    }
}
