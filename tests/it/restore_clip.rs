//! Clipped light: found in a file's codes, brought back to the level that was metered.
//!
//! Scenes of more light than a file holds are made here, clipped and coded as a camera would, read back and
//! restored; what diffusion scatters of them is held to what it scatters of the scene itself.

mod found;
mod jpeg;
pub(crate) mod light;
mod scenes;
