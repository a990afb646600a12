//! What leaves the program: the reference sheet, and pictures of what meters read.
//!
//! A [`Sheet`] is what the sheet says, in words and numbers that are already decided; [`lay_out`]
//! turns it into a [`Page`], a short list of things to draw; [`paint`] turns that into pixels, and
//! [`write_sheet`] into a file.

mod date;
mod flow;
mod kern;
mod letters;
mod look;
mod one;
mod page;
mod paint;
mod pieces;
mod several;
mod sheet;
mod write;

// Pictures of what meters read.
pub mod scopes;

// Stops and f-numbers in words.
pub mod words;

pub use crate::meters::Painted;
pub use date::today;
pub use letters::{ASCENT, DESCENT, clip, width, wrap};
pub use look::sheet_of;
pub use page::{Anchor, Area, Ink, Item, MM_PER_PT, Page, Picture8, Style, Text, regular};
pub use paint::{DPI, MOST_DPI, paint};
pub use sheet::{LookSheet, MODELLED, MOST_LOOKS, Sheet, StackRow, StopKind, lay_out};
pub use write::{SheetError, write_sheet};
