//! The production executor.
