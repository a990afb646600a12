//! Renders `estuary_dusk.exr`: the quay at dusk under a bright sky, the horizon low, on a 25 mm lens.
//!
//! `cargo run --release --no-default-features --example estuary_dusk -- sample_frames/estuary_dusk.exr`
//!
//! Arguments as for `night_quay`, whose place this is. The picture is invented; it is for planning glass
//! on, not for measuring glass by.

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

#[path = "estuary_dusk/dusk.rs"]
mod dusk;

use maths::v;

/// Mantissa bits kept of a half float's ten: steps of at most 1.6 %.
const BITS: u32 = 6;

/// Places worth a reading in the whole picture: name, and where.
const SPOTS: [(&str, f32, f32); 6] = [
    ("sky, top", 0.30, 0.05),
    ("sky, middle", 0.30, 0.35),
    ("sky, over the far bank", 0.20, 0.66),
    ("ferry's side", 0.36, 0.71),
    ("water", 0.12, 0.85),
    ("face", 0.568, 0.69),
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let job = still::Job::from_arguments(720, 32)?;
    let camera = still::Camera {
        focal: 25.0,
        eye: v(0.0, 1.5, -1.7),
        vanish: (0.52, 0.72),
    };
    let place = place::Place::new();
    job.run(
        camera,
        &|o, d, dice: &mut _| dusk::light(&place, o, d, dice),
        BITS,
        &SPOTS,
    )
}
