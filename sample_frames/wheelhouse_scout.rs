//! Makes `wheelhouse_scout.jpg`: what a phone would make of the wheelhouse.
//!
//! `cargo run --example wheelhouse_scout -- sample_frames/wheelhouse.exr sample_frames/wheelhouse_scout.jpg`
//!
//! A camera model of a few lines, each a thing that a phone does to light. It knows nothing of how the program
//! undoes such things: exposure by the mean of the picture, a small sensor's noise, a well that is full at
//! white, channel by channel, a picture curve with a toe and a shoulder, eight bits, JPEG, EXIF. Not
//! modelled: the phone's colour matrix (its channels are sRGB's), local tone mapping, sharpening, noise
//! reduction, lens flare.

use foreglass::colour::primaries::Space;
use foreglass::colour::transfer::Curve;
use foreglass::frame::{Encoding, Frame, read};
use image::codecs::jpeg::JpegEncoder;
use image::{ExtendedColorType, ImageEncoder as _};
use std::path::Path;

/// What the exposure brings the mean light, clipped at white, to: phones expose for the room.
const MEAN: f64 = 0.24;
/// Electrons at white, and those that reading adds: a small sensor at its base index.
const FULL_WELL: f64 = 5_000.0;
const READ_NOISE: f64 = 3.0;
/// The picture curve: d(x) = (1 + KNEE)·x^GAMMA / (x^GAMMA + KNEE). A toe of slope GAMMA in the logarithm,
/// a shoulder that reaches white with a slope of its own.
const GAMMA: f64 = 1.35;
const KNEE: f64 = 0.9;
/// Quality of the JPEG, per cent.
const QUALITY: u8 = 88;

fn main() -> Result<(), Box<dyn std::error::Error>> {
    let arguments: Vec<String> = std::env::args().skip(1).collect();
    let [scene, photo] = arguments.as_slice() else {
        return Err("two arguments: the scene's EXR, and the JPEG to write".into());
    };
    let scene = read(Path::new(scene), Encoding::Auto)?.frame;
    let codes = photograph(&scene);
    let mut file = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut file, QUALITY);
    encoder.set_exif_metadata(exif())?;
    let (width, height) = (scene.width() as u32, scene.height() as u32);
    encoder.write_image(&codes, width, height, ExtendedColorType::Rgb8)?;
    std::fs::write(photo, file)?;
    Ok(())
}

/// The codes of the photo, red, green, blue.
fn photograph(scene: &Frame) -> Vec<u8> {
    let to_phone = Space::Srgb
        .to_working()
        .inverse()
        .unwrap_or(Space::Srgb.to_working());
    let light: Vec<[f64; 3]> = (0..scene.width() * scene.height())
        .map(|i| {
            let [r, g, b] = scene.planes();
            to_phone.apply([r[i], g[i], b[i]].map(f64::from))
        })
        .collect();
    let gain = exposure(&light);
    let mut dice = Dice(0x00F0_4E61);
    light
        .into_iter()
        .flat_map(|pixel| pixel.map(|v| gain * v))
        .map(|v| {
            // Photons come one by one; the well holds no more than it holds.
            let electrons = v.max(0.0) * FULL_WELL;
            let noise = (electrons + READ_NOISE * READ_NOISE).sqrt() * dice.normal();
            let read = ((electrons + noise) / FULL_WELL).clamp(0.0, 1.0);
            let raised = read.powf(GAMMA);
            let shown = (1.0 + KNEE) * raised / (raised + KNEE);
            (255.0 * Curve::Srgb.encode64(shown)).round() as u8
        })
        .collect()
}

/// The factor that brings the mean light, clipped at white, to [`MEAN`].
fn exposure(light: &[[f64; 3]]) -> f64 {
    let mean = |gain: f64| {
        let sum: f64 = light
            .iter()
            .map(|[_, g, _]| (gain * g).clamp(0.0, 1.0))
            .sum();
        sum / light.len() as f64
    };
    let (mut low, mut high) = (1e-3_f64, 1e3_f64);
    for _ in 0..60 {
        let middle = (low * high).sqrt();
        if mean(middle) < MEAN {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

/// Random numbers, the same on every run.
struct Dice(u64);

impl Dice {
    /// Even in (0, 1].
    fn even(&mut self) -> f64 {
        // SplitMix64 (public domain), from memory.
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^= z >> 31;
        ((z >> 11) as f64 + 1.0) / (1_u64 << 53) as f64
    }

    /// Of mean 0 and variance 1.
    fn normal(&mut self) -> f64 {
        let radius = (-2.0 * self.even().ln()).sqrt();
        radius * (std::f64::consts::TAU * self.even()).cos()
    }
}

/// An EXIF block (little-endian TIFF): 1/60 s, f/1.8, ISO 64, 6.8 mm, which is 37 mm in 36 × 24 terms.
fn exif() -> Vec<u8> {
    const ENTRIES: u16 = 5;
    let mut block = b"II\x2A\0\x08\0\0\0".to_vec();
    // The first directory holds but the way to the camera's.
    block.extend(1_u16.to_le_bytes());
    block.extend(entry(34_665, 4, 26));
    block.extend(0_u32.to_le_bytes());
    let ratios = 26 + 2 + 12 * u32::from(ENTRIES) + 4;
    block.extend(ENTRIES.to_le_bytes());
    block.extend(entry(33_434, 5, ratios));
    block.extend(entry(33_437, 5, ratios + 8));
    block.extend(entry(34_855, 3, 64));
    block.extend(entry(37_386, 5, ratios + 16));
    block.extend(entry(41_989, 3, 37));
    block.extend(0_u32.to_le_bytes());
    for (over, under) in [(1_u32, 60_u32), (18, 10), (68, 10)] {
        block.extend(over.to_le_bytes());
        block.extend(under.to_le_bytes());
    }
    block
}

/// An entry of a directory: its tag, its type, one value.
fn entry(tag: u16, kind: u16, value: u32) -> [u8; 12] {
    let mut bytes = [0; 12];
    bytes[..2].copy_from_slice(&tag.to_le_bytes());
    bytes[2..4].copy_from_slice(&kind.to_le_bytes());
    bytes[4..8].copy_from_slice(&1_u32.to_le_bytes());
    bytes[8..].copy_from_slice(&value.to_le_bytes());
    bytes
}
