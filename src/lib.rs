//! foreglass shows what glass in front of the lens will do to a shot, on a still, before the glass is
//! ordered or rigged.
//!
//! The pipeline, in the order in which the modules below may know of each other. A still is read into
//! scene-linear light ([`frame`], [`colour`]). Exact laws of scatter and of the entrance pupil
//! ([`optics`]) describe each family of [`glass`]; a [`rig`] is that glass in its stages in front of a
//! camera, and a [`recipe`] is the rig written down. A rig lowers to a short list of light passes, a
//! [`plan`], which is simplified and then fitted to what [`kernels`] can run. Three executors run the
//! same plan and never see each other: [`cpu`], [`gpu`] and the double-precision [`mod@reference`]. The
//! [`engine`] alone picks one. [`meters`] read a picture, [`handover`] writes what leaves the program,
//! [`session`] is the open document; `app` and [`cli`] are its two faces.
//!
//! A module imports only what stands above it in this list; a test holds it to that.

// Quantities as types: stops, densities, mireds, kelvin, millimetres, degrees.
pub mod units;

// Cancelling long work and watching its progress.
pub mod watch;

// Spectra, observers, illuminants, adaptation, primaries and transfer curves.
pub mod colour;

// Pictures as light: the frame, reading it, writing it.
pub mod frame;

// Exact laws of scattering and of the pupil, with no pixels in them, and their fits.
pub mod optics;

// The families of glass, one file each.
pub mod glass;

// Camera, lens, matte box and what stands in it; the exposure ledger and the advisories.
pub mod rig;

// Versioned documents.
pub mod recipe;

// The list of light passes that a rig lowers to.
pub mod plan;

// One file per light pass: its parameters and its pixel code.
pub mod kernels;

// The production executor.
pub mod cpu;

// The executor for graphics hardware.
pub mod gpu;

// The double-precision executor that holds the others to account.
pub mod reference;

// Picks an executor, reports progress, cancels.
pub mod engine;

// What is read off a picture.
pub mod meters;

// What leaves the program: the reference sheet.
pub mod handover;

// The open document: commands, undo, jobs, saving.
pub mod session;

// The window.
#[cfg(feature = "window")]
pub mod app;

// The command line.
pub mod cli;
