//! Spectra, observers, illuminants, adaptation, primaries and transfer curves.
//!
//! Working light is linear, scene-referred, with ACES AP1 primaries and white
//! ([`primaries`]); codes become light and light becomes codes through
//! [`transfer`]. Glass with a colour is a
//! [`Spectrum`] until [`glass`] makes one matrix of
//! it.

mod bands;
mod tables;

pub mod adapt;
pub mod glass;
pub mod illuminant;
pub mod matrix;
pub mod observer;
pub mod primaries;
pub mod spectrum;
pub mod temperature;
pub mod transfer;
pub mod xyz;

pub use bands::bands;
pub use matrix::Matrix3;
pub use spectrum::Spectrum;
pub use xyz::Xyz;
