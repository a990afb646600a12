//! Light added evenly over the picture.

use crate::frame::Frame;
use rayon::prelude::*;

/// Relative difference from f64 that f32 rounding allows.
pub const TOLERANCE: f64 = 1e-6;

const RUN: usize = 4096;

/// Light added, per channel.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Params {
    /// Working light.
    pub light: [f32; 3],
}

/// Adds the light in place.
pub fn cpu(frame: &mut Frame, params: &Params) {
    for (plane, light) in frame.planes_mut().into_iter().zip(params.light) {
        plane
            .par_chunks_mut(RUN)
            .for_each(|run| run.iter_mut().for_each(|v| *v += light));
    }
}
