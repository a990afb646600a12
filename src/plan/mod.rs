//! The list of light passes that a rig lowers to.
