//! Renders `night_quay.exr`: a night quay by an estuary, a ferry at her berth, a passenger waiting.
//!
//! `cargo run --release --no-default-features --example night_quay -- sample_frames/night_quay.exr`
//!
//! A second argument gives the height in pixels (1080), a third the most samples a pixel (24), and
//! a fourth a part of the picture as `x0,y0,x1,y1` in 0..1. The picture is invented; it is for
//! showing and trying the program, not for measuring glass by. The same arguments give the same
//! file.

#[path = "night_quay/maths.rs"]
mod maths;

#[path = "night_quay/figure.rs"]
mod figure;

#[path = "night_quay/ferry.rs"]
mod ferry;

#[path = "night_quay/place.rs"]
mod place;

#[path = "night_quay/light.rs"]
mod light;

#[path = "night_quay/look.rs"]
mod look;

#[path = "night_quay/trace.rs"]
mod trace;

#[path = "night_quay/still.rs"]
mod still;

use maths::v;

/// Mantissa bits kept of a half float's ten: steps of at most 1.6 %.
const BITS: u32 = 6;

/// Places worth a reading in the whole picture: name, and where.
const SPOTS: [(&str, f32, f32); 9] = [
    ("face, forehead, lit", 0.661, 0.300),
    ("face, cheek by the mouth, lit", 0.666, 0.385),
    ("face, jaw, shadow side", 0.712, 0.372),
    ("coat, chest", 0.720, 0.650),
    ("bollard, front", 0.207, 0.660),
    ("paving, lit wet", 0.420, 0.860),
    ("sky, top", 0.300, 0.030),
    ("nearest lamp", 0.369, 0.053),
    ("floodlight", 0.745, 0.117),
];

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let job = still::Job::from_arguments(1080, 24)?;
    let scene = trace::Scene {
        place: place::Place::new(),
        lamps: light::lamps(),
    };
    let camera = still::Camera {
        focal: 50.0,
        eye: v(0.0, 1.5, 0.0),
        vanish: (0.56, 0.42),
    };
    job.run(
        camera,
        &|o, d, dice: &mut _| scene.light(o, d, dice),
        BITS,
        &SPOTS,
    )
}
