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
//! What the cosines are multiplied by is kept for the next picture of the same size through the same
//! glass, where it takes no more than [`KEPT_BYTES`]: frames up to 5 megapixels through a law that is even
//! and half of that through one that is not.
//!
//! ```
//! use foreglass::frame::Frame;
//! use foreglass::kernels::oriented::{Params, Scratch, cpu};
//! use foreglass::kernels::scatter::Border;
//! use foreglass::watch::Watch;
//! use foreglass::optics::lines::{Form, Lines};
//! use foreglass::optics::response::Response;
//! use foreglass::optics::scatter::{Lobe, Profile, Scatter};
//! use foreglass::units::{Degrees, Micrometres};
//! let form = Form::Groove { width: Micrometres::clamped(30.0), spread: 0.3 };
//! let [turn, waver] = [30.0, 0.0].map(Degrees::clamped);
//! let lines = Lines { turn, form, waver, pitch: Micrometres::clamped(1000.0) };
//! let lobe = Lobe::grey(0.2, Profile::Lines(lines));
//! let glass = Scatter { direct: [0.7; 3], lobes: vec![lobe], veil: [0.0; 3], absorbed: [0.1; 3] };
//! let response = Response::of(&[glass]);
//! let params = Params { response: &response, per_pixel: 4000.0, border: Border::Mirror, whole: true };
//! let mut frame = Frame::from_planes(64, 48, [vec![2.0; 64 * 48], vec![2.0; 64 * 48], vec![2.0; 64 * 48]]);
//! cpu(&mut frame, &params, &mut Scratch::default(), &Watch::default())?;
//! assert!((frame.pixel(10, 47)[1] - 1.8).abs() < 2e-5); // an even field keeps its level
//! # Ok::<(), foreglass::watch::Cancelled>(())
//! ```

// What its shader is told.
pub mod twin;
// Transforms of one length, as the shader does them.
mod transform;

use super::dct;
use super::pyramid::decimate::mean;
use super::scatter::Border;
use crate::frame::Frame;
use crate::optics::pixel;
use crate::optics::response::Response;
use crate::watch::{Cancelled, Watch};
use rayon::prelude::*;
use rustdct::{DctPlanner, TransformType2And3};
use std::fmt;
use std::sync::Arc;
pub use twin::SHADER;

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

/// Most that is kept of a response between calls.
pub const KEPT_BYTES: usize = 64 << 20;

/// Buffers and plans, kept from one call to the next.
#[derive(Default)]
pub struct Scratch {
    planner: Option<DctPlanner<f32>>,
    turned: Vec<f32>,
    sines: Vec<f32>,
    kept: Option<Kept>,
}

/// The factors of every channel's cosines, and what they belong to.
struct Kept {
    response: Response,
    per_pixel: f64,
    whole: bool,
    size: [usize; 2],
    /// A column after another; of a law that is not even, each its cosines' and then its sines'.
    factors: [Vec<f32>; 3],
}

impl Kept {
    /// Makes room for this response, unless it is the one that is there; None when it is too large.
    fn of<'a>(
        kept: &'a mut Option<Self>,
        params: &Params<'_>,
        size: [usize; 2],
        planes: usize,
    ) -> Option<&'a mut Self> {
        if 3 * planes * size[0] * size[1] * size_of::<f32>() > KEPT_BYTES {
            *kept = None;
        } else if !kept.as_ref().is_some_and(|k| k.serves(params, size)) {
            *kept = Some(Self {
                response: params.response.clone(),
                per_pixel: params.per_pixel,
                whole: params.whole,
                size,
                factors: std::array::from_fn(|_| Vec::new()),
            });
        }
        kept.as_mut()
    }

    fn serves(&self, params: &Params<'_>, size: [usize; 2]) -> bool {
        let alike = self.per_pixel.to_bits() == params.per_pixel.to_bits();
        self.size == size
            && self.whole == params.whole
            && alike
            && self.response == *params.response
    }
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
        let kept = self.kept.iter().flat_map(|k| &k.factors);
        let kept: usize = kept.map(Vec::capacity).sum();
        (self.turned.capacity() + self.sines.capacity() + kept) * size_of::<f32>()
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
                // What differs from the field is scattered into the dark, the field into itself.
                let (size, margin) = laid_out(params.border, [width, height]);
                let wide = size[0];
                let mut large = vec![0.0; wide * size[1]];
                let rows = large.chunks_mut(wide).skip(margin);
                for (row, into) in plane.chunks(width).zip(rows) {
                    let into = &mut into[margin..margin + width];
                    into.iter_mut().zip(row).for_each(|(a, b)| *a = b - level);
                }
                let out = scattered(large, size, channel, params, scratch, watch)?;
                let itself = params.response.at(channel, [0.0; 2]) - straight;
                let veiled = veil * 0.5 * (mean + f64::from(level));
                let add = level.mul_add(itself, veiled as f32);
                (out, wide, margin * wide + margin, add)
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
    let even = params.response.is_even();
    let gains = Gains::new(params, channel, [width, height], even);
    let part = if even { height } else { 2 * height };
    let kept = Kept::of(&mut scratch.kept, params, [width, height], part / height);
    let factors: Option<&[f32]> = kept.map(|kept| {
        let factors = &mut kept.factors[channel];
        if factors.len() != width * part {
            factors.resize(width * part, 0.0);
            let columns = factors.par_chunks_mut(part).enumerate();
            columns.for_each_init(Vec::new, |spare, (kx, into)| gains.column(kx, into, spare));
        }
        &**factors
    });
    watch.check()?;
    // The factors of one column, kept or made on the spot.
    let column = |kx: usize, own: &mut [Vec<f32>; 2], work: &mut dyn FnMut(&[f32])| match factors {
        Some(all) => work(&all[kx * part..(kx + 1) * part]),
        None => {
            let [made, spare] = own;
            made.resize(part, 0.0);
            gains.column(kx, made, spare);
            work(made);
        }
    };
    let own = || [Vec::new(), Vec::new()];
    if even {
        let columns = turned.par_chunks_mut(height).enumerate();
        columns.for_each_init(own, |own, (kx, values)| {
            column(kx, own, &mut |factors| times(values, factors));
        });
    } else {
        // The sine of order k stands at k − 1, and order 0 has none: the odd part moves up and left.
        let sines = &mut scratch.sines;
        sines.resize(width * height, 0.0);
        let (first, rest) = turned.split_at_mut(height);
        let (body, last) = sines.split_at_mut(height * (width - 1));
        column(0, &mut own(), &mut |factors| {
            times(first, &factors[..height]);
        });
        let columns = rest.par_chunks_mut(height).zip(body.par_chunks_mut(height));
        columns
            .enumerate()
            .for_each_init(own, |own, (i, (values, sines))| {
                column(i + 1, own, &mut |factors| {
                    let (cosines, odd) = factors.split_at(height);
                    let up = sines.iter_mut().zip(&values[1..]).zip(&odd[1..]);
                    up.for_each(|((sine, value), factor)| *sine = value * factor);
                    if let Some(last) = sines.last_mut() {
                        *last = 0.0;
                    }
                    times(values, cosines);
                });
            });
        last.fill(0.0);
    }
    let axes = [&across, &down];
    back(&mut plane, turned, axes, dct::from_cosines, watch)?;
    if !even {
        back(turned, &mut scratch.sines, axes, dct::from_sines, watch)?;
        plane
            .par_iter_mut()
            .with_min_len(1 << 14)
            .zip(&*turned)
            .for_each(|(out, sine)| *out += sine);
    }
    Ok(plane)
}

/// The size of what is transformed, and what lies on each side of the frame in it. Light that goes past a
/// margin of half the longer side comes back as if mirrored there.
fn laid_out(border: Border, size: [usize; 2]) -> ([usize; 2], usize) {
    match border {
        Border::Mirror => (size, 0),
        Border::Level(_) => {
            let margin = size[0].max(size[1]).div_ceil(2);
            (size.map(|side| friendly(side + 2 * margin)), margin)
        }
    }
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

fn times(values: &mut [f32], factors: &[f32]) {
    values.iter_mut().zip(factors).for_each(|(v, f)| *v *= f);
}

/// The least length from `least` up that transforms are quick at: no prime in it but 2, 3 and 5.
fn friendly(least: usize) -> usize {
    let smooth = |mut n: usize| {
        for prime in [2, 3, 5] {
            while n.is_multiple_of(prime) {
                n /= prime;
            }
        }
        n == 1
    };
    (least.max(1)..).find(|n| smooth(*n)).unwrap_or(least)
}

/// What each cosine of a plane is multiplied by.
struct Gains<'a> {
    response: &'a Response,
    channel: usize,
    direct: f32,
    even: bool,
    /// Cycles per radian of the lowest cosine across and down.
    steps: [f32; 2],
    /// The aperture, scaled to undo the transforms' lengths: across and down.
    aperture: [Vec<f32>; 2],
}

impl<'a> Gains<'a> {
    fn new(params: &Params<'a>, channel: usize, size: [usize; 2], even: bool) -> Self {
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
            response: params.response,
            channel,
            direct: params.response.direct(channel) as f32,
            even,
            steps: size.map(|side| (0.5 * params.per_pixel / side as f64) as f32),
            aperture,
        }
    }

    /// The factors of one column: of its cosines, and where the law is not even of the sines that it
    /// leaves.
    fn column(&self, kx: usize, out: &mut [f32], spare: &mut Vec<f32>) {
        let (nx, seen) = (kx as f32 * self.steps[0], self.aperture[0][kx]);
        let height = self.aperture[1].len();
        let (up, down) = out.split_at_mut(height);
        let mut fill = |step: f32, out: &mut [f32]| {
            self.response.column(self.channel, nx, step, out, spare);
        };
        fill(self.steps[1], up);
        if self.even {
            for (value, down) in up.iter_mut().zip(&self.aperture[1]) {
                *value = (*value - self.direct) * seen * down;
            }
            return;
        }
        // Rows run down, the law's y runs up: what is odd changes sign.
        fill(-self.steps[1], down);
        for ((a, b), aperture) in up.iter_mut().zip(down).zip(&self.aperture[1]) {
            let seen = 0.5 * seen * aperture;
            let (sum, gap) = (*a + *b - 2.0 * self.direct, *a - *b);
            *a = sum * seen;
            *b = gap * seen;
        }
    }
}
