//! Exact laws of light through glass, with no pixels in them, and their fits to what a kernel can run.
//!
//! Angles are measured at the lens: a ray scattered by θ lands f·θ from where it would have landed, so
//! every law here is in angle, and the plan scales it by focal length and pixel pitch.

// The angular distributions of scattered light.
pub mod profile;

// What a diffusing glass does with the light that arrives.
pub mod scatter;

// Scattered light as a sum of Gaussians.
pub mod mixture;

// Streaks across engraved lines and ribs.
pub mod lines;

mod across;

// The orders of a net.
pub mod net;

// Directions as cosines, where wide lenses keep a scatter the same everywhere.
pub mod cosines;

// What a sampled picture can hold of a narrow streak.
pub mod pixel;

mod band;
mod disc;

// Glass with specks in it: what they take, and where it goes.
pub mod specks;

// Glass with lines or ribs in it, and nets of threads: the same for them.
pub mod engraved;
pub mod threads;

// How many of them stand before the pupil.
pub mod grain;
// Glass with translucent droplets in it.
pub mod droplets;

// Density that changes across a glass.
pub mod ramp;

// Coloured density: what a dye spread unevenly does to working light.
pub mod tint;

// Light through the entrance pupil: what a pixel sees of glass that is not the same everywhere.
pub mod pupil;

mod bundle;

// Placed glass and openings over a picture.
pub mod field;

// Pictures as tiles, fine only where something happens.
pub mod tiles;

// Polarised light through sheet polarisers.
pub mod polarised;

// A clear sky through a polariser.
pub mod sky;

// Gauss–Legendre quadrature.
pub mod quadrature;

// Diffraction by one round speck.
pub mod airy;

// Specks that overlap.
pub mod overlap;

mod halo;
mod hankel;
mod memo;
mod normal;
mod table;

// Laws as sums of Gaussians; neighbouring scatters fused.
pub mod fit;

// What scattering comes to without a picture: haze, veiling glare, halo radii, MTF.
pub mod figures;

mod enclosed;
mod least;

mod octaves;
mod pairs;

// Laws as tables of their transforms, for what no sum of round Gaussians holds.
pub mod response;
