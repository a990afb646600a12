//! All integration tests, one binary.
mod sheet;
