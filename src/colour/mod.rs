//! Spectra, observers, illuminants, adaptation, primaries and transfer curves.
//!
//! Working light is linear, scene-referred, with ACES AP1 primaries and white ([`primaries`]); codes
//! become light and light becomes codes through [`transfer`].

pub mod adapt;
pub mod matrix;
pub mod primaries;
pub mod transfer;
pub mod xyz;

pub use matrix::Matrix3;
pub use xyz::Xyz;
