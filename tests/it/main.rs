//! All integration tests, one binary.

mod checks;
mod colour;
mod frame;
mod glass;
mod layering;
mod optics;
mod pupil;
mod recipe;
mod reference;
