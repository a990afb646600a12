//! Picks an executor, reports progress, cancels.
