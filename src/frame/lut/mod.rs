//! Input LUTs: from any camera's codes to light, as a table or a list of operations in a file.
//!
//! Two formats are read, told apart by their content: the Common LUT Format (SMPTE ST 2136-1, and the
//! versions 2 and 3 before it; XML) and the plain text of three columns with `LUT_3D_SIZE` or
//! `LUT_1D_SIZE` above them.
//!
//! Codes go in as 0 to 1, whatever the file's bits; a file of floats goes in as it is. Tables clamp what
//! lies outside their domain, in both formats; the other operations do only where they say so.
//! A plain-text table of three dimensions is read between its nodes over tetrahedra, so that a grey
//! stays a mixture of two greys of the table; the Common LUT Format says itself how it is to be read.
//!
//! ```
//! use foreglass::frame::Lut;
//! // A table that halves: nodes at 0 and 1, red, green and blue alike.
//! let lut = Lut::parse("TITLE \"Half\"\nLUT_1D_SIZE 2\n0 0 0\n0.5 0.5 0.5\n")?;
//! assert_eq!(lut.apply([0.5, 1.0, 7.0]), [0.25, 0.5, 0.5]);
//! assert_eq!(lut.title(), Some("Half"));
//! # Ok::<(), foreglass::frame::LutError>(())
//! ```

mod bits;
mod cdl;
mod clf;
mod curve;
mod nodes;
mod op;
mod table;
mod text;

use super::encoding::Encoding;
use super::limits::one_line;
use op::Op;
use rayon::prelude::*;

/// Longest text of a LUT, in bytes: 64 MiB, a table of 129 × 129 × 129 in full precision.
pub const MAX_LUT_BYTES: usize = 64 << 20;
/// Most nodes along a side of a table of three dimensions.
pub const MAX_LUT_3D: usize = 129;
/// Most entries of a table of one dimension: one for each half-precision number.
pub const MAX_LUT_1D: usize = 65_536;

/// Pixels worked on together: they stay in the nearest cache through all operations.
const RUN: usize = 512;
/// Longest title that is kept, in letters.
const LONGEST_TITLE: usize = 60;

/// A LUT that cannot be used: where in its text, and why.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{}{message}", if place.is_empty() { String::new() } else { format!("{place}: ") })]
pub struct LutError {
    /// "line 7", or "node 2 (Log, line 31)"; empty for the text as a whole.
    pub place: String,
    /// What was wrong, with the limit.
    pub message: String,
}

impl LutError {
    fn at(place: impl Into<String>, message: impl Into<String>) -> Self {
        Self {
            place: place.into(),
            message: one_line(&message.into()),
        }
    }
}

/// A LUT that was read: operations on triples, one after the other.
#[derive(Clone, PartialEq)]
pub struct Lut {
    ops: Vec<Op>,
    title: Option<String>,
    shape: String,
    output: Option<Encoding>,
}

impl Lut {
    /// Reads a LUT from its text.
    ///
    /// # Errors
    /// [`LutError`], one line: the line or the node, the quantity and its limit.
    pub fn parse(text: &str) -> Result<Self, LutError> {
        if text.len() > MAX_LUT_BYTES {
            let message = format!(
                "the LUT is {} bytes long; the limit is {MAX_LUT_BYTES} (64 MiB)",
                text.len()
            );
            return Err(LutError::at("", message));
        }
        let text = text.trim_start_matches('\u{feff}');
        if text.trim_start().starts_with('<') {
            clf::read(text.trim_start())
        } else {
            text::read(text)
        }
    }

    /// What it calls itself.
    #[must_use]
    pub fn title(&self) -> Option<&str> {
        self.title.as_deref()
    }

    /// What it is made of, e.g. "33×33×33" or "Log, Matrix, LUT1D 1024".
    #[must_use]
    pub fn shape(&self) -> &str {
        &self.shape
    }

    /// The encoding of what comes out, where it names one of those that it may: ACES2065-1, ACEScg or
    /// ACEScct, in the `OutputDescriptor` of the Common LUT Format.
    #[must_use]
    pub const fn output(&self) -> Option<Encoding> {
        self.output
    }

    /// One triple through it.
    #[must_use]
    pub fn apply(&self, rgb: [f32; 3]) -> [f32; 3] {
        let mut one = [rgb];
        self.run(&mut one);
        one[0]
    }

    /// Triples through it, in place and in parallel.
    pub fn apply_to(&self, pixels: &mut [[f32; 3]]) {
        pixels.par_chunks_mut(RUN).for_each(|run| self.run(run));
    }

    /// Planes of equal length through it, in place and in parallel.
    pub fn apply_to_planes(&self, planes: &mut [Vec<f32>; 3]) {
        let [r, g, b] = planes;
        r.par_chunks_mut(RUN)
            .zip(g.par_chunks_mut(RUN))
            .zip(b.par_chunks_mut(RUN))
            .for_each(|((r, g), b)| {
                let mut pixels = [[0.0_f32; 3]; RUN];
                let pixels = &mut pixels[..r.len()];
                for (i, p) in pixels.iter_mut().enumerate() {
                    *p = [r[i], g[i], b[i]];
                }
                self.run(pixels);
                for (i, p) in pixels.iter().enumerate() {
                    [r[i], g[i], b[i]] = *p;
                }
            });
    }

    /// A run of triples through every operation, one operation at a time.
    pub(super) fn run(&self, pixels: &mut [[f32; 3]]) {
        for op in &self.ops {
            op.apply(pixels);
        }
    }
}

/// A title as it is kept: one line, not long, and none where it is empty.
fn titled(text: &str) -> Option<String> {
    let mut title: String = one_line(text).replace('"', "'");
    if title.chars().count() > LONGEST_TITLE {
        title = title.chars().take(LONGEST_TITLE - 1).chain(['…']).collect();
    }
    (!title.is_empty()).then_some(title)
}

/// A number of a LUT: finite in the precision of pixels.
fn number(word: &str) -> Result<f32, String> {
    let value = word.parse::<f32>().ok().filter(|v| v.is_finite());
    value.ok_or_else(|| format!("\"{}\" is not a finite number", shortened(word)))
}

/// A few letters of what a file says, for an error.
fn shortened(text: &str) -> String {
    titled(&text.chars().take(200).collect::<String>()).unwrap_or_default()
}

impl std::fmt::Debug for Lut {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Lut {:?} ({})", self.title, self.shape)
    }
}
