//! The executor for graphics hardware.
