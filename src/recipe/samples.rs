//! The sample frames, their recipes and a kit, held in the program so that it opens on them from any folder.

/// Every file of the samples: its name, and what is in it.
pub static SAMPLES: &[(&str, &[u8])] = &[
    (
        "night_quay.exr",
        include_bytes!("../../sample_frames/night_quay.exr"),
    ),
    (
        "night_quay.json",
        include_bytes!("../../sample_frames/night_quay.json"),
    ),
    (
        "wheelhouse.exr",
        include_bytes!("../../sample_frames/wheelhouse.exr"),
    ),
    (
        "wheelhouse.json",
        include_bytes!("../../sample_frames/wheelhouse.json"),
    ),
    (
        "wheelhouse_rings.json",
        include_bytes!("../../sample_frames/wheelhouse_rings.json"),
    ),
    (
        "wheelhouse_scout.jpg",
        include_bytes!("../../sample_frames/wheelhouse_scout.jpg"),
    ),
    (
        "wheelhouse_scout.json",
        include_bytes!("../../sample_frames/wheelhouse_scout.json"),
    ),
    (
        "ferry_case.json",
        include_bytes!("../../sample_frames/ferry_case.json"),
    ),
    (
        "estuary_dusk.exr",
        include_bytes!("../../sample_frames/estuary_dusk.exr"),
    ),
    (
        "estuary_dusk.json",
        include_bytes!("../../sample_frames/estuary_dusk.json"),
    ),
];

/// What the program opens on: the places in [`SAMPLES`] of a frame and of the look on it.
pub const OPENING: [usize; 2] = [0, 1];
