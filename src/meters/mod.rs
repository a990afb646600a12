//! What is read off a picture.

// Spot meters.
pub mod spot;
