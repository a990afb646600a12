//! Scenes of more light than a file holds, and the files that a camera would make of them.

use super::jpeg;
use crate::colour::srgb_code;
use foreglass::colour::primaries::Space;
use foreglass::frame::{Encoding, Frame, Still, read_bytes};

pub(super) const W: usize = 320;
pub(super) const H: usize = 200;
/// A key of 0.18 at this many stops over gives this light.
pub(super) fn light(stops: f64) -> f64 {
    0.18 * stops.exp2()
}

/// Light in the channels of sRGB at a place in pixels.
pub(super) type Scene = fn(f64, f64) -> [f64; 3];

/// The wheelhouse by night with a hard mullioned window, four stops over key.
pub(super) fn window(x: f64, y: f64) -> [f64; 3] {
    let inside = (91.3..203.4).contains(&x) && (37.2..150.6).contains(&y);
    let bar = |v: f64, pitch: f64| v.rem_euclid(pitch) < 4.0;
    if inside && !bar(x - 91.3, 37.1) && !bar(y - 37.2, 38.2) {
        return [light(4.0); 3];
    }
    let (a, b) = ((x / 7.0).sin(), (y / 5.0).sin());
    [0.06 + 0.03 * a * b, 0.04 + 0.02 * a, 0.02]
}

/// A lamp on the quay, nine stops over, hardly larger than a few pixels, with the glow of a lens.
pub(super) fn lamp(x: f64, y: f64) -> [f64; 3] {
    let r2 = (x - 150.3).powi(2) + (y - 90.8).powi(2);
    let b = light(9.0) * (-r2 / 60.0).exp() + 0.5 * (-r2 / 3200.0).exp();
    [b + 0.02, b + 0.025, 0.95 * b + 0.03]
}

/// A sky over the estuary that runs smoothly into the sun.
pub(super) fn sky(x: f64, y: f64) -> [f64; 3] {
    let r2 = (x - 200.0).powi(2) + (y - 60.0).powi(2);
    let sky = 0.3 + 0.3 * (1.0 - y / 200.0);
    let b = sky + 6.0 * (-r2 / 1250.0).exp() + 1.2 * (-r2 / 9800.0).exp();
    let water = if y > 150.0 { 0.3 } else { 1.0 };
    [water * b, water * 0.95 * b, water * 0.85 * b]
}

/// A tungsten lamp: orange, with a glow that the file still holds.
pub(super) fn orange(x: f64, y: f64) -> [f64; 3] {
    let r2 = (x - 150.3).powi(2) + (y - 90.8).powi(2);
    let b = 90.0 * (-r2 / 200.0).exp() + 0.6 * (-r2 / 5000.0).exp();
    [b + 0.01, 0.45 * b + 0.01, 0.12 * b + 0.01]
}

/// The mean over 4 × 4 places of every pixel, rows from the top, red, green, blue.
pub(super) fn pixels(scene: Scene, (w, h): (usize, usize)) -> Vec<[f64; 3]> {
    let at = |i: usize| {
        let mut sum = [0.0; 3];
        for k in 0..16 {
            let (dx, dy) = ((k % 4) as f64, (k / 4) as f64);
            let (x, y) = ((i % w) as f64, (i / w) as f64);
            let there = scene(x + (dx + 0.5) / 4.0, y + (dy + 0.5) / 4.0);
            sum.iter_mut().zip(there).for_each(|(s, v)| *s += v / 16.0);
        }
        sum
    };
    (0..w * h).map(at).collect()
}

/// The frame that no camera clips.
pub(super) fn truth(pixels: &[[f64; 3]], (w, h): (usize, usize)) -> Frame {
    let matrix = Space::Srgb.to_working();
    let lit: Vec<[f64; 3]> = pixels.iter().map(|p| matrix.apply(*p)).collect();
    let plane = |c: usize| lit.iter().map(|p| p[c] as f32).collect();
    Frame::from_planes(w, h, [plane(0), plane(1), plane(2)])
}

pub(super) fn codes(pixels: &[[f64; 3]]) -> Vec<u8> {
    pixels.iter().flatten().map(|v| srgb_code(*v)).collect()
}

/// A kind of file.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum File {
    Png,
    /// Quality, and colour at half size.
    Jpeg(u32, bool),
}

pub(super) const FILES: [File; 4] = [
    File::Png,
    File::Jpeg(90, false),
    File::Jpeg(90, true),
    File::Jpeg(75, true),
];

pub(super) fn still(codes: &[u8], (w, h): (usize, usize), file: File) -> Still {
    let bytes = match file {
        File::Png => crate::frame::png8((w as u32, h as u32), codes),
        File::Jpeg(quality, half) => jpeg::encode(codes, (w, h), quality, half),
    };
    read_bytes("scene", &bytes, Encoding::Auto).unwrap()
}

/// The channels that really are clipped, as a still tells them.
pub(super) fn mask(codes: &[u8]) -> Vec<u8> {
    codes
        .chunks_exact(3)
        .map(|p| (0..3).map(|c| u8::from(p[c] == 255) << c).sum())
        .collect()
}

/// What a still tells.
pub(super) fn found(still: &Still) -> Vec<u8> {
    let all = still.frame.width() * still.frame.height();
    still
        .native
        .clipped
        .as_ref()
        .map_or_else(|| vec![0; all], |c| c.channels.clone())
}
