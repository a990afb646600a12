//! Scattered light that has a direction: streaks, nets, and whatever is fused with them.
//!
//! `out = direct·I + scattered ∗ I + veil·mean`, the frame mirrored at its edges (the edge pixel
//! repeated) or in an even field. No pyramid of round Gaussians holds a streak, so that this kernel
//! works on the frame's cosines: a mirrored frame is a sum of cosines, a law multiplies each by its even
//! part and turns it into a sine by the part that is odd in either axis,
//! `E cos a cos b − O sin a sin b` with E and O the half sum and half difference of the transform at
//! (a, b) and (a, −b). It is exact at every turn but for single precision; scattered light is seen
//! through [`crate::optics::pixel`]'s aperture.
//!
//! ```
//! use foreglass::frame::Frame;
//! use foreglass::kernels::oriented::{Params, Scratch, cpu};
//! use foreglass::kernels::scatter::Border;
//! use foreglass::kernels::watch::Watch;
//! use foreglass::optics::lines::{Form, Lines};
//! use foreglass::optics::response::Response;
//! use foreglass::optics::scatter::{Lobe, Profile, Scatter};
//! use foreglass::units::{Degrees, Micrometres};
//! let form = Form::Groove { width: Micrometres::clamped(30.0), spread: 0.3 };
//! let lines = Lines { turn: Degrees::clamped(30.0), form, waver: Degrees::clamped(0.0) };
//! let lobe = Lobe::grey(0.2, Profile::Lines(lines) );
//! let glass = Scatter { direct: [0.7; 3], lobes: vec![lobe], veil: [0.0; 3], absorbed: [0.1; 3] };
//! let response = Response::of(&[glass]);
//! let params = Params { response: &response, per_pixel: 4000.0, border: Border::Mirror, whole: true };
//! let mut frame = Frame::from_planes(64, 48, [vec![2.0; 64 * 48], vec![2.0; 64 * 48], vec![2.0; 64 * 48]]);
//! cpu(&mut frame, &params, &mut Scratch::default(), &Watch::default())?;
//! assert!((frame.pixel(10, 47)[1] - 1.8).abs() < 2e-5); // an even field keeps its level
//! # Ok::<(), foreglass::kernels::watch::Cancelled>(())
//! ```

use super::dct;
use super::scatter::Border;
use super::watch::{Cancelled, Watch};
use crate::frame::Frame;
use crate::optics::pixel;
use crate::optics::response::Response;
use rayon::prelude::*;
use rustdct::{DctPlanner, TransformType2And3};
use std::fmt;
use std::sync::Arc;

/// Root-mean-square difference of the scattered light from the exact law's, relative.
pub const TOLERANCE: f64 = 1e-3;

/// What is scattered, and how.
#[derive(Debug, Clone, Copy)]
pub struct Params<'a> {
    /// The transform.
    pub response: &'a Response,
    /// Pixels per radian.
    pub per_pixel: f64,
    /// The world beyond the frame.
    pub border: Border,
    /// Whether light that goes straight on and the veil are in the result, and the aperture is taken;
    /// without, the scattered light alone is left, as exact as the frame is sampled.
    pub whole: bool,
}

/// Buffers and plans, kept from one call to the next.
#[derive(Default)]
pub struct Scratch {
    planner: Option<DctPlanner<f32>>,
    turned: Vec<f32>,
    sines: Vec<f32>,
}

impl fmt::Debug for Scratch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "Scratch of {} bytes", self.bytes())
    }
}

impl Scratch {
    /// Bytes held in buffers.
    #[must_use]
    pub fn bytes(&self) -> usize {
        (self.turned.capacity() + self.sines.capacity()) * size_of::<f32>()
    }
}

/// Scatters the light of `frame`, in place.
///
/// # Errors
/// [`Cancelled`], soon after `watch` was; the frame is then in no particular state.
pub fn cpu(
    frame: &mut Frame,
    params: &Params<'_>,
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    watch.check()?;
    let (width, height) = (frame.width(), frame.height());
    if width == 0 || height == 0 {
        return Ok(());
    }
    for (channel, plane) in frame.planes_mut().into_iter().enumerate() {
        let straight = params.response.direct(channel) as f32;
        let (direct, veil) = if params.whole {
            (straight, params.response.veil(channel))
        } else {
            (0.0, 0.0)
        };
        let mean = mean(plane);
        let scattered = match params.border {
            Border::Mirror => {
                let light = plane.to_vec();
                let out = scattered(light, [width, height], channel, params, scratch, watch)?;
                (out, width, 0, (veil * mean) as f32)
            }
            Border::Level(levels) => {
                let level = levels[channel];
                // What differs from the field is scattered into the dark, the field into itself. Light
                // that goes past a margin of half the frame comes back as if mirrored there.
                let margin = [width, height].map(|side| side / 2);
                let wide = width + 2 * margin[0];
                let mut large = vec![0.0; wide * (height + 2 * margin[1])];
                let rows = large.chunks_mut(wide).skip(margin[1]);
                for (row, into) in plane.chunks(width).zip(rows) {
                    let into = &mut into[margin[0]..margin[0] + width];
                    into.iter_mut().zip(row).for_each(|(a, b)| *a = b - level);
                }
                let size = [wide, height + 2 * margin[1]];
                let out = scattered(large, size, channel, params, scratch, watch)?;
                let itself = params.response.at(channel, [0.0; 2]) - straight;
                let veiled = veil * 0.5 * (mean + f64::from(level));
                let add = level.mul_add(itself, veiled as f32);
                (out, wide, margin[1] * wide + margin[0], add)
            }
        };
        let (light, stride, first, add) = scattered;
        plane
            .par_chunks_mut(width)
            .zip(light[first..].par_chunks(stride))
            .for_each(|(row, light)| {
                for (out, light) in row.iter_mut().zip(light) {
                    *out = direct.mul_add(*out, light + add);
                }
            });
        watch.set_progress((channel + 1) as f32 / 3.0);
    }
    Ok(())
}

/// The light of a mirrored plane that is scattered, the veil left out.
fn scattered(
    mut plane: Vec<f32>,
    [width, height]: [usize; 2],
    channel: usize,
    params: &Params<'_>,
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<Vec<f32>, Cancelled> {
    let planner = scratch.planner.get_or_insert_with(DctPlanner::new);
    let (across, down) = (planner.plan_dct2(width), planner.plan_dct2(height));
    let turned = &mut scratch.turned;
    turned.resize(width * height, 0.0);
    dct::lines(&mut plane, across.as_ref(), dct::cosines);
    watch.check()?;
    dct::transpose(&plane, turned, width, height);
    dct::lines(turned, down.as_ref(), dct::cosines);
    watch.check()?;
    let response = params.response;
    let gains = Gains::new(params, channel, [width, height]);
    if response.is_even() {
        turned
            .par_chunks_mut(height)
            .enumerate()
            .for_each(|(kx, column)| gains.even(kx, column));
        back(
            &mut plane,
            turned,
            [&across, &down],
            dct::from_cosines,
            watch,
        )?;
        return Ok(plane);
    }
    // The sine of order k stands at k − 1, and order 0 has none: the odd part moves up and left.
    let sines = &mut scratch.sines;
    sines.resize(width * height, 0.0);
    let (first, rest) = turned.split_at_mut(height);
    let (body, last) = sines.split_at_mut(height * (width - 1));
    gains.even(0, first);
    let columns = rest.par_chunks_mut(height).zip(body.par_chunks_mut(height));
    columns
        .enumerate()
        .for_each(|(i, (column, sines))| gains.both(i + 1, column, sines));
    last.fill(0.0);
    back(
        &mut plane,
        turned,
        [&across, &down],
        dct::from_cosines,
        watch,
    )?;
    back(turned, sines, [&across, &down], dct::from_sines, watch)?;
    plane
        .par_iter_mut()
        .with_min_len(1 << 14)
        .zip(&*turned)
        .for_each(|(out, sine)| *out += sine);
    Ok(plane)
}

type Plan = Arc<dyn TransformType2And3<f32>>;

/// Coefficients in columns to a plane in rows; the columns are used up.
fn back(
    plane: &mut [f32],
    columns: &mut [f32],
    [across, down]: [&Plan; 2],
    transform: dct::Transform<f32>,
    watch: &Watch,
) -> Result<(), Cancelled> {
    watch.check()?;
    dct::lines(columns, down.as_ref(), transform);
    watch.check()?;
    dct::transpose(columns, plane, down.len(), across.len());
    dct::lines(plane, across.as_ref(), transform);
    watch.check()
}

/// What each cosine of a plane is multiplied by.
struct Gains<'a> {
    response: &'a Response,
    channel: usize,
    direct: f32,
    /// Cycles per radian of the lowest cosine across and down.
    steps: [f32; 2],
    /// The aperture, scaled to undo the transforms' lengths: across and down.
    aperture: [Vec<f32>; 2],
}

impl<'a> Gains<'a> {
    fn new(params: &Params<'a>, channel: usize, size: [usize; 2]) -> Self {
        let response = params.response;
        let aperture = size.map(|side| {
            let scale = 2.0 / side as f64;
            let seen = |k: usize| {
                let aperture = if params.whole {
                    pixel::aperture(0.5 * k as f64 / side as f64)
                } else {
                    1.0
                };
                (scale * aperture) as f32
            };
            (0..side).map(seen).collect()
        });
        Self {
            response,
            channel,
            direct: response.direct(channel) as f32,
            steps: size.map(|side| (0.5 * params.per_pixel / side as f64) as f32),
            aperture,
        }
    }

    fn at(&self, nx: f32, ny: f32) -> f32 {
        self.response.at(self.channel, [nx, ny]) - self.direct
    }

    /// A column of a law that is even, or the column of order 0, where every law is.
    fn even(&self, kx: usize, column: &mut [f32]) {
        let (nx, seen) = (kx as f32 * self.steps[0], self.aperture[0][kx]);
        for (ky, (value, down)) in column.iter_mut().zip(&self.aperture[1]).enumerate() {
            *value *= self.at(nx, ky as f32 * self.steps[1]) * seen * down;
        }
    }

    /// A column, and the column of sines that it leaves.
    fn both(&self, kx: usize, column: &mut [f32], sines: &mut [f32]) {
        let (nx, seen) = (kx as f32 * self.steps[0], self.aperture[0][kx]);
        for (ky, (value, down)) in column.iter_mut().zip(&self.aperture[1]).enumerate() {
            let ny = ky as f32 * self.steps[1];
            // Rows run down, the law's y runs up: what is odd changes sign.
            let (a, b) = (self.at(nx, ny), self.at(nx, -ny));
            let light = 0.5 * *value * seen * down;
            if ky > 0 {
                sines[ky - 1] = (a - b) * light;
            }
            *value = (a + b) * light;
        }
        if let Some(last) = sines.last_mut() {
            *last = 0.0;
        }
    }
}

fn mean(plane: &[f32]) -> f64 {
    let parts: Vec<f64> = plane
        .par_chunks(1 << 16)
        .map(|part| part.iter().map(|&v| f64::from(v)).sum())
        .collect();
    parts.iter().sum::<f64>() / plane.len() as f64
}
