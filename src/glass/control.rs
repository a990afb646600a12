//! What a person may set on a piece of glass, told so that any face of the program can offer it.

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
}
