//! All integration tests, one binary.

mod checks;
mod colour;
mod glass;
mod layering;
mod pupil;
mod recipe;
