//! Starts the window or a command.

fn main() {}
