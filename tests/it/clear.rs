//! What the rig clears: coverage, vignette, the shade, and placed glass against a count of rays.

mod cover;
mod random;
mod rays;
mod remedies;
mod shade;
mod tables;
mod vignette;
