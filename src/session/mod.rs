//! The open document: commands, undo, jobs, saving.
