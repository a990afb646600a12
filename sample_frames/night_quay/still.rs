//! The camera, the picture it takes, the picture's figures and its file.

use std::io::{self, Write};
use std::path::Path;

use exr::image::Blocks;
use exr::meta::attribute::Chromaticities;
use exr::prelude::{
    Compression, Encoding, Image, Layer, LayerAttributes, LineOrder, SpecificChannels, Vec2,
    WritableImage as _, f16,
};
use rayon::prelude::{
    IndexedParallelIterator as _, IntoParallelIterator as _, ParallelIterator as _,
};

use crate::maths::{Dice, V3, hash, v};

/// Sensor of the planned camera, mm.
const SENSOR: (f32, f32) = (24.89, 14.0);

/// The camera that takes a picture.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Camera {
    /// Focal length, mm.
    pub(crate) focal: f32,
    pub(crate) eye: V3,
    /// Where lines that run along +z run to, as parts of the picture.
    pub(crate) vanish: (f32, f32),
}

/// What to render and where to, from the command line.
#[derive(Debug)]
pub(crate) struct Job {
    path: String,
    height: usize,
    most: u32,
    window: [f32; 4],
}

impl Job {
    /// The file to write, then the height in pixels, the most samples a pixel, and a part of the picture.
    pub(crate) fn from_arguments(
        height: usize,
        most: u32,
    ) -> Result<Self, Box<dyn std::error::Error>> {
        let arguments: Vec<String> = std::env::args().skip(1).collect();
        let Some(path) = arguments.first() else {
            return Err("give the file to write".into());
        };
        let mut window = [0.0, 0.0, 1.0, 1.0];
        if let Some(part) = arguments.get(3) {
            for (side, text) in window.iter_mut().zip(part.split(',')) {
                *side = text.parse::<f32>()?;
            }
        }
        Ok(Self {
            path: path.clone(),
            height: arguments.get(1).map_or(Ok(height), |s| s.parse())?,
            most: arguments.get(2).map_or(Ok(most), |s| s.parse())?,
            window,
        })
    }

    /// Renders, writes the file with `bits` of mantissa, and prints its figures and those of `spots`.
    pub(crate) fn run(
        &self,
        camera: Camera,
        light: &(impl Fn(V3, V3, &mut Dice) -> V3 + Sync),
        bits: u32,
        spots: &[(&str, f32, f32)],
    ) -> Result<(), Box<dyn std::error::Error>> {
        let mut picture = take(camera, light, self.height, self.window, self.most);
        picture.rounded(bits);
        picture.write(Path::new(&self.path))?;
        let mut out = io::stdout().lock();
        picture.report(&mut out)?;
        for (name, u, w) in spots {
            picture.spot(&mut out, name, *u, *w)?;
        }
        writeln!(out, "{} × {} pixels", picture.width, picture.height)?;
        Ok(())
    }
}

/// Scene-linear light, rows from the top.
#[derive(Debug)]
pub(crate) struct Still {
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) pixels: Vec<V3>,
}

/// Takes the picture of what `light` says arrives at a point from a direction: `window` is the part to
/// render, as x0, y0, x1, y1 in 0..1, `most` the most samples a pixel.
fn take(
    camera: Camera,
    light: &(impl Fn(V3, V3, &mut Dice) -> V3 + Sync),
    height: usize,
    window: [f32; 4],
    most: u32,
) -> Still {
    let whole = (height as f32 * 16.0 / 9.0, height as f32);
    let width = ((window[2] - window[0]) * whole.0).round() as usize;
    let rows = ((window[3] - window[1]) * whole.1).round() as usize;
    let (x0, y0) = ((window[0] * whole.0).round(), (window[1] * whole.1).round());
    let pixels = (0..width * rows)
        .into_par_iter()
        .with_min_len(64)
        .map(|i| {
            let (x, y) = ((i % width) as f32 + x0, (i / width) as f32 + y0);
            pixel(camera, light, (x, y), whole, most)
        })
        .collect();
    Still {
        width,
        height: rows,
        pixels,
    }
}

/// One pixel: samples until its mean is steady, at most `most`.
fn pixel(
    camera: Camera,
    light: &impl Fn(V3, V3, &mut Dice) -> V3,
    (x, y): (f32, f32),
    whole: (f32, f32),
    most: u32,
) -> V3 {
    let seed = hash(x as u32 ^ hash(y as u32));
    let (mut sum, mut mean, mut spread) = (V3::ZERO, 0.0_f32, 0.0_f32);
    let mut n = 0;
    while n < most {
        let mut dice = Dice::new(seed, n);
        let (a, b) = dice.pair();
        let d = camera.direction((x + a) / whole.0, (y + b) / whole.1);
        let c = light(camera.eye, d, &mut dice);
        sum += c;
        n += 1;
        // Welford's running variance of what the eye would see of it.
        let seen = c.luma().min(4.0);
        let step = seen - mean;
        mean += step / n as f32;
        spread += step * (seen - mean);
        if n >= 8 && n % 4 == 0 {
            let error = (spread / (n * (n - 1)) as f32).sqrt();
            if error < 0.018 * (mean + 0.004) {
                break;
            }
        }
    }
    sum / n as f32
}

impl Camera {
    /// The direction seen at a point of the picture, 0..1 from its top left.
    fn direction(self, u: f32, w: f32) -> V3 {
        let at = |u: f32, w: f32| {
            (
                (u - 0.5) * SENSOR.0 / self.focal,
                (0.5 - w) * SENSOR.1 / self.focal,
            )
        };
        let (vx, vy) = at(self.vanish.0, self.vanish.1);
        let ahead = v(-vx, -vy, 1.0).unit();
        let right = v(0.0, 1.0, 0.0).cross(ahead).unit();
        let up = ahead.cross(right);
        let (x, y) = at(u, w);
        (ahead + right * x + up * y).unit()
    }
}

/// Keeps `bits` of a half float's mantissa, rounding to nearest: the picture's own grain is wider
/// than a step, and the file packs better.
fn coarse(x: f32, bits: u32) -> f32 {
    let drop = 10 - bits;
    let half = u32::from(f16::from_f32(x.clamp(0.0, 60_000.0)).to_bits());
    let kept = ((half + (1 << (drop - 1))) >> drop) << drop;
    f16::from_bits(u16::try_from(kept).unwrap_or(0x7bff)).to_f32()
}

impl Still {
    /// Rounds every pixel to what the file will hold.
    fn rounded(&mut self, bits: u32) {
        for p in &mut self.pixels {
            *p = v(coarse(p.x, bits), coarse(p.y, bits), coarse(p.z, bits));
        }
    }

    /// Writes half-float `ACEScg` (AP1, white D60 as in the ACES documents), PIZ-compressed.
    fn write(&self, path: &Path) -> exr::error::UnitResult {
        let width = self.width;
        let channels = SpecificChannels::rgb(|at: Vec2<usize>| {
            let p = self.pixels[at.1 * width + at.0];
            (f16::from_f32(p.x), f16::from_f32(p.y), f16::from_f32(p.z))
        });
        let encoding = Encoding {
            compression: Compression::PIZ,
            blocks: Blocks::ScanLines,
            line_order: LineOrder::Increasing,
        };
        let mut image = Image::from_layer(Layer::new(
            (self.width, self.height),
            LayerAttributes::default(),
            encoding,
            channels,
        ));
        image.attributes.chromaticities = Some(Chromaticities {
            red: Vec2(0.713, 0.293),
            green: Vec2(0.165, 0.830),
            blue: Vec2(0.128, 0.044),
            white: Vec2(0.321_68, 0.337_67),
        });
        image.write().to_file(path)
    }

    /// Prints what can be measured: levels in stops against key (0.18), shares of the picture.
    fn report(&self, out: &mut impl Write) -> io::Result<()> {
        let stops = |y: f32| (y.max(1e-9) / 0.18).log2();
        let mut luma: Vec<f32> = self.pixels.iter().map(|p| p.luma()).collect();
        let bad = self
            .pixels
            .iter()
            .filter(|p| ![p.x, p.y, p.z].iter().all(|c| c.is_finite() && *c >= 0.0))
            .count();
        let mean_stops = luma.iter().map(|y| stops(*y)).sum::<f32>() / luma.len() as f32;
        let clipped = luma.iter().map(|y| y.min(1.0)).sum::<f32>() / luma.len() as f32;
        let over = |k: f32| luma.iter().filter(|y| **y >= k * 0.18).count();
        writeln!(out, "negative or non-finite pixels: {bad}")?;
        writeln!(
            out,
            "mean of stops: {mean_stops:.2}; mean clipped at 1: {:.2}",
            stops(clipped)
        )?;
        for k in [2.0, 8.0, 64.0, 500.0, 2000.0] {
            writeln!(out, "pixels at {k} times key or more: {}", over(k))?;
        }
        luma.sort_unstable_by(f32::total_cmp);
        for share in [0.0, 0.001, 0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99, 1.0] {
            let i = ((luma.len() - 1) as f32 * share) as usize;
            writeln!(
                out,
                "share {share}: {:.2} stops ({:.5})",
                stops(luma[i]),
                luma[i]
            )?;
        }
        Ok(())
    }

    /// Prints the mean level about a point of the picture.
    fn spot(&self, out: &mut impl Write, name: &str, u: f32, w: f32) -> io::Result<()> {
        let r = 0.005 * self.width as f32;
        let (cx, cy) = (u * self.width as f32, w * self.height as f32);
        let (mut sum, mut n) = (0.0, 0.0);
        for (i, p) in self.pixels.iter().enumerate() {
            let (x, y) = (
                (i % self.width) as f32 + 0.5 - cx,
                (i / self.width) as f32 + 0.5 - cy,
            );
            if x * x + y * y <= r * r {
                sum += p.luma();
                n += 1.0;
            }
        }
        let mean: f32 = sum / f32::max(n, 1.0);
        writeln!(
            out,
            "{name} at {u:.3}, {w:.3}: {:.2} stops",
            (mean.max(1e-9) / 0.18).log2()
        )
    }
}
