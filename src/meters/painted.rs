//! A picture of figures, as codes for a display.

/// sRGB codes and an alpha that is 255 throughout, rows from the top.
#[derive(Clone, PartialEq, Eq)]
pub struct Painted {
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
    /// Four bytes a pixel.
    pub rgba: Vec<u8>,
}

impl std::fmt::Debug for Painted {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Painted {}×{}", self.width, self.height)
    }
}

/// One colour of a legend.
#[derive(Debug, Clone, PartialEq)]
pub struct Entry {
    /// sRGB codes.
    pub colour: [u8; 3],
    /// The lowest level or change that has it, in stops; None is all below.
    pub from: Option<f64>,
    /// Where it ends, in stops; None is all above.
    pub to: Option<f64>,
    /// What it says.
    pub word: String,
}
