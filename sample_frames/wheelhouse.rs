//! Renders `wheelhouse.exr`: inside the ferry's wheelhouse at first light, a window four stops over.
//!
//! `cargo run --release --no-default-features --example wheelhouse -- sample_frames/wheelhouse.exr`
//!
//! Arguments as for `night_quay`. The picture is invented; it is for planning glass on, not for measuring
//! glass by.

#[path = "night_quay/maths.rs"]
mod maths;

#[path = "night_quay/figure.rs"]
mod figure;

#[path = "night_quay/ferry.rs"]
#[expect(dead_code, reason = "shared with another picture")]
mod ferry;

#[path = "night_quay/place.rs"]
#[expect(dead_code, reason = "shared with another picture")]
mod place;

#[path = "night_quay/light.rs"]
#[expect(dead_code, reason = "shared with another picture")]
mod light;

#[path = "night_quay/look.rs"]
mod look;

#[path = "night_quay/still.rs"]
mod still;

#[path = "wheelhouse/room.rs"]
mod room;

#[path = "wheelhouse/daylight.rs"]
mod daylight;

use maths::v;

/// Mantissa bits kept of a half float's ten: steps of at most 1.6 %.
const BITS: u32 = 6;

/// Places worth a reading in the whole picture: name, and where.
const SPOTS: [(&str, f32, f32); 7] = [
    ("window, sky", 0.20, 0.33),
    ("window, water", 0.30, 0.60),
    ("face, cheek, window side", 0.572, 0.43),
    ("coat, shoulder", 0.62, 0.60),
    ("wall, right", 0.90, 0.30),
    ("console", 0.20, 0.86),
    ("chart lamp", 0.862, 0.508),
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let job = still::Job::from_arguments(720, 32)?;
    let camera = still::Camera {
        focal: 32.0,
        eye: v(0.0, 1.5, 0.0),
        vanish: (0.5, 0.5),
    };
    job.run(
        camera,
        &|o, d, dice: &mut _| daylight::light(o, d, dice),
        BITS,
        &SPOTS,
    )
}
