//! All integration tests, one binary.

mod checks;
mod colour;
mod glass;
mod layering;
mod plan;
mod pupil;
mod recipe;
mod rig;
