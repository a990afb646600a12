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
mod frame;
mod glass;
mod layering;
mod masks;
mod optics;
mod oriented;
mod picture;
mod plan;
mod pupil;
mod recipe;
mod reference;
mod rig;
mod session;
mod sheet;
#[cfg(feature = "window")]
mod window;
