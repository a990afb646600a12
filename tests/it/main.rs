//! All integration tests, one binary.

#![expect(
    clippy::float_cmp,
    clippy::unwrap_used,
    clippy::needless_pass_by_value,
    reason = "tests fail by a panic, and compare numbers that come back as they were given"
)]

mod checks;
mod cli;
mod colour;
mod diffusion;
mod figures;
mod frame;
mod glass;
mod layering;
mod masks;
mod meter;
mod optics;
mod oriented;
mod picture;
mod placed;
mod plan;
mod pupil;
mod recipe;
mod reference;
mod rig;
mod session;
mod sheet;
mod sky;
mod spectrum;
mod stretch;
mod suggest;
mod uniform;
#[cfg(feature = "window")]
mod window;
