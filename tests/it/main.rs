//! All integration tests, one binary.

mod checks;
mod cli;
mod colour;
mod frame;
mod glass;
mod layering;
mod optics;
mod picture;
mod plan;
mod pupil;
mod recipe;
mod reference;
mod rig;
mod session;
mod sheet;
mod window;
