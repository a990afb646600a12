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

use std::io::{self, Write as _};
use std::path::Path;

/// Mantissa bits kept of a half float's ten: steps of at most 1.6 %.
const BITS: u32 = 6;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let Some(path) = arguments.first() else {
        return Err("give the file to write".into());
    };
    let height = arguments.get(1).map_or(Ok(1080), |s| s.parse::<usize>())?;
    let most = arguments.get(2).map_or(Ok(24), |s| s.parse::<u32>())?;
    let mut window = [0.0, 0.0, 1.0, 1.0];
    if let Some(part) = arguments.get(3) {
        for (side, text) in window.iter_mut().zip(part.split(',')) {
            *side = text.parse::<f32>()?;
        }
    }
    let scene = trace::Scene {
        place: place::Place::new(),
        lamps: light::lamps(),
    };
    let mut picture = still::take(&scene, height, window, most);
    picture.rounded(BITS);
    picture.write(Path::new(path))?;
    let mut out = io::stdout().lock();
    picture.report(&mut out)?;
    for (name, u, w) in still::SPOTS {
        picture.spot(&mut out, name, u, w)?;
    }
    writeln!(out, "{} × {} pixels", picture.width, picture.height)?;
    Ok(())
}
