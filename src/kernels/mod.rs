//! One file per light pass: its parameters and its pixel code.
