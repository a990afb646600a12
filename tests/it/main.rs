//! All integration tests, one binary.

#![expect(
    clippy::float_cmp,
    clippy::unwrap_used,
    clippy::needless_pass_by_value,
    reason = "tests fail by a panic, and compare numbers that come back as they were given"
)]

#[cfg(feature = "window")]
mod advice;
mod advisories;
mod again;
mod checks;
mod clear;
mod cli;
mod colour;
mod conversion;
mod diffusion;
mod figures;
mod frame;
mod gain_map;
mod glass;
mod gpu;
#[cfg(feature = "window")]
mod keep_window;
mod layering;
mod ledger;
mod lut;
mod masks;
mod meter;
#[cfg(feature = "window")]
mod metered_window;
mod optics;
mod oriented;
mod picture;
mod placed;
mod plan;
mod pupil;
#[cfg(feature = "window")]
mod readings_window;
mod recipe;
mod reference;
mod restore_clip;
mod restore_curve;
mod rig;
mod scopes;
mod scout;
mod seen;
mod seen_session;
#[cfg(feature = "window")]
mod seen_window;
mod session;
mod sheet;
#[cfg(feature = "window")]
mod shown_window;
mod sky;
mod spectrum;
mod stretch;
mod suggest;
mod uniform;
#[cfg(feature = "window")]
mod window;
