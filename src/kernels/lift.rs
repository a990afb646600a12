//! Light added evenly over the picture.

use super::shader::{PIXELS, Shader, uniform};
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

impl From<[f64; 3]> for Params {
    fn from(light: [f64; 3]) -> Self {
        Self {
            light: light.map(|v| v as f32),
        }
    }
}

/// The same on graphics hardware: `shaders/lift.wgsl`.
pub const SHADER: Shader = Shader {
    name: "lift",
    source: include_str!("../../shaders/lift.wgsl"),
    before: PIXELS,
    constants: &[],
    uniforms: &[LiftLight::LAYOUT],
};

uniform! {
    /// What the shader is told.
    pub struct LiftLight {
        /// Samples across and down.
        pub size: [u32; 2],
        /// Samples from one row to the next.
        pub stride: u32,
        /// Nothing.
        pub unused: u32,
        /// Light added, and a word of padding.
        pub light: [f32; 4],
    }
}

impl Params {
    /// For `size` samples in rows `stride` apart.
    #[must_use]
    pub fn uniform(&self, size: [u32; 2], stride: u32) -> LiftLight {
        let [r, g, b] = self.light;
        LiftLight {
            size,
            stride,
            unused: 0,
            light: [r, g, b, 0.0],
        }
    }
}

/// Adds the light in place.
pub fn cpu(frame: &mut Frame, params: &Params) {
    for (plane, light) in frame.planes_mut().into_iter().zip(params.light) {
        plane
            .par_chunks_mut(RUN)
            .for_each(|run| run.iter_mut().for_each(|v| *v += light));
    }
}
