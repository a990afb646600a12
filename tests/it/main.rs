//! All integration tests, one binary.

mod colour;
mod frame;
