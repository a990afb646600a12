//! Scattered light: the frame convolved with a mixture of Gaussians, mirrored at its borders.

use super::watch::{Cancelled, Watch};
use crate::frame::Frame;
use crate::optics::mixture::Mixture;
use rustdct::DctPlanner;

/// Buffers kept between calls.
#[derive(Debug, Default)]
pub struct Scratch;

/// What lies outside the frame.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Border {
    /// The frame, mirrored.
    Mirror,
    /// Even light.
    Level([f32; 3]),
}

impl From<Option<[f64; 3]>> for Border {
    fn from(outside: Option<[f64; 3]>) -> Self {
        outside.map_or(Self::Mirror, |o| Self::Level(o.map(|v| v as f32)))
    }
}

/// A mixture per channel, sigmas in pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct Params {
    /// Red, green, blue.
    pub channels: [Mixture; 3],
    /// Outside the frame.
    pub border: Border,
}

/// Convolves in place, by the cosine transform.
///
/// # Errors
/// [`Cancelled`].
pub fn cpu(
    frame: &mut Frame,
    params: &Params,
    _scratch: &mut Scratch,
    watch: &Watch,
) -> Result<(), Cancelled> {
    let (w, h) = (frame.width(), frame.height());
    let mut planner = DctPlanner::<f32>::new();
    let (dx, dy) = (planner.plan_dct2(w), planner.plan_dct2(h));
    let (ix, iy) = (planner.plan_dct3(w), planner.plan_dct3(h));
    for (plane, mix) in frame.planes_mut().into_iter().zip(&params.channels) {
        watch.check()?;
        let mut t = vec![0.0; w * h];
        plane.chunks_mut(w).for_each(|row| dx.process_dct2(row));
        transpose(plane, &mut t, w, h);
        for (x, column) in t.chunks_mut(h).enumerate() {
            dy.process_dct2(column);
            for (y, v) in column.iter_mut().enumerate() {
                let nu = (x as f64 / (2 * w) as f64).hypot(y as f64 / (2 * h) as f64);
                let mut k = mix.direct;
                for g in &mix.gaussians {
                    let a = std::f64::consts::PI * g.sigma * nu;
                    k += g.weight * (-2.0 * a * a).exp();
                }
                if x + y == 0 {
                    k += mix.veil;
                }
                *v *= (k * 4.0 / (w * h) as f64) as f32;
            }
            iy.process_dct3(column);
        }
        transpose(&t, plane, h, w);
        plane.chunks_mut(w).for_each(|row| ix.process_dct3(row));
    }
    Ok(())
}

fn transpose(from: &[f32], to: &mut [f32], w: usize, h: usize) {
    for y in 0..h {
        for x in 0..w {
            to[x * h + y] = from[y * w + x];
        }
    }
}
