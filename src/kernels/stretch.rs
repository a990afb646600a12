//! Scattered light of a wide lens: halos that stretch towards the corners.
//!
//! Glass scatters alike everywhere in direction cosines ([`crate::optics::cosines`]), not on the sensor.
//! The light of the frame is laid out on square cells of cosines, each pixel with its share of solid
//! angle, scattered there by the kernel that the law asks for, and read back; light that goes straight on
//! stays in the frame's own pixels. Laying out and reading back go through cubic B-splines, whose blur is
//! taken out of the Gaussians beforehand. Where every halo is wide the cells are coarse: the frame is
//! averaged over blocks first, so that the stretch costs less than the scatter saves.
//!
//! An even field stays even: what is laid out is divided by what a field of 1 lays out.

// What its shader is told.
pub mod twin;

use super::pyramid::decimate::mean;
use super::scatter::Border;
use super::{oriented, scatter};
use crate::frame::{Frame, mirrored};
use crate::optics::cosines::Cells;
use crate::optics::field::View;
use crate::optics::mixture::{Gaussian, Mixture};
use crate::optics::response::Response;
use crate::watch::{Cancelled, Watch};
use rayon::prelude::*;

/// Root-mean-square difference of the scattered light from the exact law's, relative.
pub const TOLERANCE: f64 = 1e-2;

/// Blocks are at most this fraction of the narrowest Gaussian's σ.
const BLOCKS_PER_SIGMA: f64 = 3.0;
/// Greatest block, pixels a side.
const GREATEST_BLOCK: usize = 16;
/// Variance of a cubic B-spline, in squares of its step.
const SPLINE: f64 = 1.0 / 3.0;

/// Pixels that are laid out past what the cells' corners need: what splines reach.
const BEYOND: usize = 4;

pub use twin::SHADER;

/// What scatters.
#[derive(Debug, Clone, Copy)]
pub enum Law<'a> {
    /// Mixtures, σ in radians.
    Round(&'a [Mixture; 3]),
    /// A transform.
    Oriented(&'a Response),
}

impl Law<'_> {
    /// Each channel's light that goes straight on, and its veil.
    fn straight_and_veil(&self) -> [[f64; 3]; 2] {
        let channels = [0, 1, 2];
        match self {
            Self::Round(mixtures) => [
                mixtures.each_ref().map(|m| m.direct),
                mixtures.each_ref().map(|m| m.veil),
            ],
            Self::Oriented(response) => [
                channels.map(|c| response.direct(c)),
                channels.map(|c| response.veil(c)),
            ],
        }
    }
}

/// What is scattered, and how.
#[derive(Debug, Clone, Copy)]
pub struct Params<'a> {
    /// The law.
    pub law: Law<'a>,
    /// The part of the field that the picture shows.
    pub view: View,
    /// The world beyond the frame.
    pub border: Border,
}

/// Buffers of the kernels that do the scattering.
#[derive(Debug, Default)]
pub struct Scratch {
    scatter: scatter::Scratch,
    oriented: oriented::Scratch,
}

impl Scratch {
    /// Bytes held.
    #[must_use]
    pub fn bytes(&self) -> usize {
        self.scatter.bytes() + self.oriented.bytes()
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
    let size = [frame.width(), frame.height()];
    let block = block(params, size);
    let small = blocks(frame, block);
    let small_size = [small.width(), small.height()];
    let cells = cells(params, size, block);
    let mut laid = lay_out(&small, &cells, params.border);
    watch.check()?;
    let means = [0, 1, 2].map(|c: usize| mean(&frame.planes()[c]));
    scattered(&mut laid, params, &cells, block, scratch, watch)?;
    let [direct, veil] = params.law.straight_and_veil();
    let back = read_back(&laid, &cells, small_size);
    watch.check()?;
    let adds: [f32; 3] = std::array::from_fn(|c| {
        let around = match params.border {
            Border::Mirror => means[c],
            Border::Level(levels) => 0.5 * (means[c] + f64::from(levels[c])),
        };
        (veil[c] * around) as f32
    });
    merge(frame, &back, block, direct.map(|v| v as f32), adds);
    Ok(())
}

/// Scatters what is laid out.
fn scattered(
    laid: &mut Frame,
    params: &Params<'_>,
    cells: &Cells,
    block: usize,
    scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    match params.law {
        Law::Round(mixtures) => {
            let params = round(mixtures, cells, block, params.border);
            scatter::cpu(laid, &params, &mut scratch.scatter, watch)
        }
        Law::Oriented(response) => {
            let params = bare(response, cells, params.border);
            oriented::cpu(laid, &params, &mut scratch.oriented, watch)
        }
    }
}

/// The scatter of what is laid out, from a transform: what is scattered alone.
fn bare<'a>(response: &'a Response, cells: &Cells, border: Border) -> oriented::Params<'a> {
    oriented::Params {
        response,
        per_pixel: cells.per_radian(),
        border,
        whole: false,
    }
}

/// The cells under a frame of `size`.
fn cells(params: &Params<'_>, size: [usize; 2], block: usize) -> Cells {
    let pixels = size.map(|side| side as f64 / block as f64);
    let cells = Cells::of(&params.view, pixels, size[0].div_ceil(block));
    // The frame's edges touch the rectangle's: what is read back there reaches a little beyond.
    match params.border {
        Border::Mirror => cells,
        Border::Level(_) => cells.wider(4),
    }
}

/// The scatter of what is laid out: the Gaussians alone, less what laying out and reading back blur.
fn round(mixtures: &[Mixture; 3], cells: &Cells, block: usize, border: Border) -> scatter::Params {
    // Laid out, read back and, from blocks, averaged and drawn out again.
    let passes = if block > 1 { 3.0 } else { 2.0 };
    let averaged = if block > 1 { 1.0 / 12.0 } else { 0.0 };
    let blur = passes * SPLINE + averaged;
    let bare = |m: &Mixture| {
        let scaled = m.scaled(cells.per_radian());
        Mixture {
            direct: 0.0,
            veil: 0.0,
            gaussians: scaled.gaussians.iter().map(|g| sharper(g, blur)).collect(),
        }
    };
    scatter::Params {
        channels: mixtures.each_ref().map(bare),
        border,
    }
}

fn sharper(g: &Gaussian, blur: f64) -> Gaussian {
    let square = g.sigma * g.sigma - blur;
    Gaussian {
        weight: g.weight,
        sigma: square.max(0.04).sqrt(),
    }
}

/// The side of a block, a power of two: as large as the narrowest halo allows.
fn block(params: &Params<'_>, size: [usize; 2]) -> usize {
    let Law::Round(mixtures) = params.law else {
        return 1;
    };
    let narrowest = mixtures
        .iter()
        .flat_map(|m| &m.gaussians)
        .map(|g| g.sigma)
        .fold(f64::INFINITY, f64::min);
    let pixels = narrowest * params.view.focal_mm * size[0] as f64 / params.view.width_mm;
    let mut block = 1;
    while block < GREATEST_BLOCK
        && (2 * block) as f64 * BLOCKS_PER_SIGMA <= pixels
        && size.iter().all(|side| side / (2 * block) >= 16)
    {
        block *= 2;
    }
    block
}

/// The frame averaged over blocks from its top left, mirrored where a block hangs over its edge.
fn blocks(frame: &Frame, block: usize) -> Frame {
    if block == 1 {
        return frame.clone();
    }
    let (width, height) = (frame.width(), frame.height());
    let [across, down] = [width.div_ceil(block), height.div_ceil(block)];
    let scale = 1.0 / (block * block) as f32;
    let planes = [0, 1, 2].map(|c: usize| {
        let plane = &frame.planes()[c];
        let mut out = vec![0.0; across * down];
        out.par_chunks_mut(across).enumerate().for_each(|(j, row)| {
            for y in j * block..(j + 1) * block {
                let line = &plane[mirrored(y as isize, height) * width..][..width];
                for (i, sum) in row.iter_mut().enumerate() {
                    let first = i * block;
                    *sum += match line.get(first..first + block) {
                        Some(few) => few.iter().sum::<f32>(),
                        None => (first..first + block)
                            .map(|x| line[mirrored(x as isize, width)])
                            .sum(),
                    };
                }
            }
            row.iter_mut().for_each(|sum| *sum *= scale);
        });
        out
    });
    Frame::from_planes(across, down, planes)
}

/// First of four neighbours and their weights.
fn spline(at: f64) -> (isize, [f32; 4]) {
    let low = at.floor();
    let t = (at - low) as f32;
    let u = 1.0 - t;
    let weights = [
        u * u * u / 6.0,
        (3.0 * t * t * t - 6.0 * t * t + 4.0) / 6.0,
        (3.0 * u * u * u - 6.0 * u * u + 4.0) / 6.0,
        t * t * t / 6.0,
    ];
    (low as isize - 1, weights)
}

/// The frame's light on the cells: each pixel spread over sixteen of them by its solid angle.
fn lay_out(frame: &Frame, cells: &Cells, border: Border) -> Frame {
    let size = [frame.width(), frame.height()];
    let [across, down] = cells.count();
    let [beyond_x, beyond_y] = cells.margin().map(|m| (m + BEYOND) as isize);
    // Three channels and what a field of 1 gives, cell by cell.
    let rows: Vec<isize> = (-beyond_y..size[1] as isize + beyond_y).collect();
    let parts = rayon::current_num_threads() * 2;
    let strips: Vec<(usize, Vec<[f32; 4]>)> = rows
        .par_chunks(rows.len().div_ceil(parts).max(1))
        .map(|rows| strip(frame, cells, border, rows, beyond_x))
        .collect();
    let mut sums = vec![[0.0_f32; 4]; across * down];
    for (first, strip) in strips {
        for (sum, add) in sums[first..].iter_mut().zip(strip) {
            *sum = std::array::from_fn(|i| sum[i] + add[i]);
        }
    }
    let planes = [0, 1, 2].map(|c: usize| {
        let light = |s: &[f32; 4]| if s[3] > 1e-6 { s[c] / s[3] } else { 0.0 };
        sums.iter().map(light).collect()
    });
    Frame::from_planes(across, down, planes)
}

/// Some rows of pixels laid out: the index of the first cell, and cells from there on.
fn strip(
    frame: &Frame,
    cells: &Cells,
    border: Border,
    rows: &[isize],
    beyond: isize,
) -> (usize, Vec<[f32; 4]>) {
    let (width, height) = (frame.width(), frame.height());
    let [across, down] = cells.count();
    let columns = -beyond..width as isize + beyond;
    // Rows bow away from the axis: the strip's cells lie between its ends' and its middle's.
    let reach = rows.first().into_iter().chain(rows.last()).flat_map(|&y| {
        let xs = [-beyond, width as isize / 2, width as isize + beyond];
        xs.map(|x| cells.place(x as f64, y as f64)[1])
    });
    let (low, high) = reach.fold((f64::INFINITY, f64::NEG_INFINITY), |(a, b), v| {
        (a.min(v), b.max(v))
    });
    let first = (low.floor() as isize - 2).clamp(0, down as isize) as usize;
    let last = (high.ceil() as isize + 3).clamp(first as isize, down as isize) as usize;
    let mut out = vec![[0.0; 4]; (last - first) * across];
    let planes = frame.planes();
    for &y in rows {
        for x in columns.clone() {
            let ([i, j], area) = cells.place_and_area(x as f64, y as f64);
            if i < -2.0 || j < -2.0 || i > across as f64 + 1.0 || j > down as f64 + 1.0 {
                continue;
            }
            let inside = (0..width as isize).contains(&x) && (0..height as isize).contains(&y);
            let at = if inside {
                y as usize * width + x as usize
            } else {
                mirrored(y, height) * width + mirrored(x, width)
            };
            let light = match border {
                Border::Level(levels) if !inside => levels,
                _ => [planes[0][at], planes[1][at], planes[2][at]],
            };
            let area = area as f32;
            let light = [light[0] * area, light[1] * area, light[2] * area, area];
            spread(&mut out, [across, first, last], [i, j], light);
        }
    }
    (first * across, out)
}

/// Adds a pixel's light to the sixteen cells around its place, of rows `first..last`.
fn spread(
    out: &mut [[f32; 4]],
    [across, first, last]: [usize; 3],
    [i, j]: [f64; 2],
    light: [f32; 4],
) {
    let ((i, wx), (j, wy)) = (spline(i), spline(j));
    let add = |cell: &mut [f32; 4], w: f32| {
        for (sum, light) in cell.iter_mut().zip(light) {
            *sum += light * w;
        }
    };
    for (row, wy) in (j..).zip(wy) {
        if row < first as isize || row >= last as isize {
            continue;
        }
        let line = &mut out[(row as usize - first) * across..][..across];
        if let Some(four) = usize::try_from(i).ok().and_then(|i| line.get_mut(i..i + 4)) {
            four.iter_mut()
                .zip(wx)
                .for_each(|(cell, wx)| add(cell, wx * wy));
            continue;
        }
        for (column, wx) in (i..).zip(wx) {
            let cell = usize::try_from(column).ok().and_then(|i| line.get_mut(i));
            if let Some(cell) = cell {
                add(cell, wx * wy);
            }
        }
    }
}

/// The cells' light at the frame's pixels.
fn read_back(laid: &Frame, cells: &Cells, [width, height]: [usize; 2]) -> Frame {
    let [across, down] = cells.count();
    let mut planes = [0, 1, 2].map(|_: usize| vec![0.0; width * height]);
    let [r, g, b] = &mut planes;
    let rows = r
        .par_chunks_mut(width)
        .zip(g.par_chunks_mut(width))
        .zip(b.par_chunks_mut(width));
    rows.enumerate().for_each(|(y, ((r, g), b))| {
        let pixels = r.iter_mut().zip(g.iter_mut()).zip(b.iter_mut());
        for (x, ((r, g), b)) in pixels.enumerate() {
            let [i, j] = cells.place(x as f64, y as f64);
            let ((i, wx), (j, wy)) = (spline(i), spline(j));
            let mut sums = [0.0; 3];
            let columns = usize::try_from(i).ok().filter(|i| i + 4 <= across);
            for (row, wy) in (j..).zip(wy) {
                let start = mirrored(row, down) * across;
                if let Some(i) = columns {
                    for (sum, plane) in sums.iter_mut().zip(laid.planes()) {
                        let four = &plane[start + i..start + i + 4];
                        let line: f32 = four.iter().zip(wx).map(|(v, w)| v * w).sum();
                        *sum += wy * line;
                    }
                    continue;
                }
                for (column, wx) in (i..).zip(wx) {
                    let at = start + mirrored(column, across);
                    for (sum, plane) in sums.iter_mut().zip(laid.planes()) {
                        *sum += wx * wy * plane[at];
                    }
                }
            }
            [*r, *g, *b] = sums;
        }
    });
    Frame::from_planes(width, height, planes)
}

/// `direct · frame + scattered + add`, the scattered light drawn out from blocks to pixels.
fn merge(frame: &mut Frame, back: &Frame, block: usize, direct: [f32; 3], adds: [f32; 3]) {
    let (width, (across, down)) = (frame.width(), (back.width(), back.height()));
    let place = |i: usize| spline((i as f64 + 0.5) / block as f64 - 0.5);
    let columns: Vec<(isize, [f32; 4])> = (0..width).map(place).collect();
    for (c, plane) in frame.planes_mut().into_iter().enumerate() {
        let (direct, add, light) = (direct[c], adds[c], &back.planes()[c]);
        plane.par_chunks_mut(width).enumerate().for_each_init(
            || vec![0.0; across],
            |line, (y, row)| {
                if block == 1 {
                    let light = &light[y * width..][..width];
                    for (out, light) in row.iter_mut().zip(light) {
                        *out = direct.mul_add(*out, light + add);
                    }
                    return;
                }
                let (j, weights) = place(y);
                line.fill(0.0);
                for (dj, w) in weights.into_iter().enumerate() {
                    let from = &light[mirrored(j + dj as isize, down) * across..][..across];
                    line.iter_mut().zip(from).for_each(|(a, b)| *a += w * b);
                }
                for (out, (i, weights)) in row.iter_mut().zip(&columns) {
                    let light: f32 = match usize::try_from(*i).ok().and_then(|i| line.get(i..i + 4))
                    {
                        Some(four) => four.iter().zip(weights).map(|(v, w)| v * w).sum(),
                        None => (*i..)
                            .zip(weights)
                            .map(|(i, w)| w * line[mirrored(i, across)])
                            .sum(),
                    };
                    *out = direct.mul_add(*out, light + add);
                }
            },
        );
    }
}
