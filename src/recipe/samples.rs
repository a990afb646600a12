//! The sample frames and their recipes, held in the program so that it opens on them from any folder.

/// Every file of the samples: its name, and what is in it.
pub static SAMPLES: &[(&str, &[u8])] = &[(
    "night_quay.json",
    include_bytes!("../../sample_frames/night_quay.json"),
)];

/// The frame that the program opens on, and the recipe on it: their places in [`SAMPLES`].
pub const OPENING: [usize; 2] = [0, 1];
