//! The sheet of two to four looks: a row each.

use super::page::Page;
use super::sheet::{LookSheet, Sheet};

pub(super) fn lay_out(sheet: &Sheet, looks: &[LookSheet]) -> Page {
    super::one::lay_out(sheet, &looks[0])
}
