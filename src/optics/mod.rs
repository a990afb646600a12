//! Exact laws of light through glass, with no pixels in them, and their fits to what a kernel can run.
//!
//! Angles are measured at the lens: a ray scattered by θ lands f·θ from where it would have landed, so
//! every law here is in angle, and the plan scales it by focal length and pixel pitch.

// Scattered light: the exact law.
pub mod scatter;

// Scattered light as a sum of Gaussians.
pub mod mixture;

// Streaks across engraved lines and ribs.
pub mod lines;

mod across;

// The orders of a net.
pub mod net;

// What a sampled picture can hold of a narrow streak.
pub mod pixel;

mod disc;

// Glass with specks in it: what they take, and where it goes.
pub mod specks;

// Glass with lines or ribs in it, and nets of threads: the same for them.
pub mod engraved;
pub mod threads;

// How many of them stand before the pupil.
pub mod grain;

// Density that changes across a glass.
pub mod ramp;

// Light through the entrance pupil: what a pixel sees of glass that is not the same everywhere.
pub mod pupil;

// Placed glass and openings over a picture.
pub mod field;

// Gauss–Legendre quadrature.
pub mod quadrature;

// Diffraction by one round speck.
pub mod airy;

mod halo;
mod table;

// Laws as sums of Gaussians; neighbouring scatters fused.
pub mod fit;

mod least;

mod octaves;
mod pairs;

// Laws as tables of their transforms, for what no sum of round Gaussians holds.
pub mod response;
