//! The families of glass, one file each.
