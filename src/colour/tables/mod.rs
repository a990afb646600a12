//! Number tables, and nothing else.

pub(super) mod illuminants;
pub(super) mod observer;
pub(super) mod reflectance;
