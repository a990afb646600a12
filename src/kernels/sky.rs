//! A polarised sky: every pixel above a line times what a polariser does to it.
//!
//! The law is worked out at nodes along each row, and runs through them as a cubic (Catmull–Rom); rows
//! below the line are left alone.

use super::shader::{Constant, PIXELS, Shader, uniform};
use crate::frame::Frame;
use crate::optics::field::View;
use crate::optics::sky::Sky;
use rayon::prelude::*;

/// Difference from the exact factor, which is 0 to 2, that the nodes allow.
pub const TOLERANCE: f64 = 2e-5;

/// Cells along a row; a node lies at each end of each, and one beyond either border.
const CELLS: usize = 96;
const NODES: usize = CELLS + 3;

/// The sky, and the picture that it stands over.
#[derive(Debug, Clone, Copy)]
pub struct Params<'a> {
    /// The law.
    pub sky: &'a Sky,
    /// The part of the field that the picture shows.
    pub view: View,
}

/// The same on graphics hardware: `shaders/sky.wgsl`.
pub const SHADER: Shader = Shader {
    name: "sky",
    source: include_str!("../../shaders/sky.wgsl"),
    before: PIXELS,
    constants: &[
        ("CELLS", Constant::U32(CELLS as u32)),
        ("NODES", Constant::U32(NODES as u32)),
    ],
    uniforms: &[SkyRows::LAYOUT],
};

uniform! {
    /// What the shader is told.
    pub struct SkyRows {
        /// Samples across and down.
        pub size: [u32; 2],
        /// Samples from one row to the next.
        pub stride: u32,
        /// The first of these rows, counted from the picture's top.
        pub first_row: u32,
        /// Rows that the sky reaches down to.
        pub rows: u32,
        /// Nothing.
        pub unused: u32,
    }
}

impl Params<'_> {
    /// The nodes of all rows that are sky, from the top of a picture `height` rows high: what the shader
    /// reads. The law is in double precision, which shaders lack.
    #[must_use]
    pub fn table(&self, height: usize) -> Vec<f32> {
        let down = |row: usize| (row as f64 + 0.5) / height as f64;
        let rows = (0..height)
            .position(|row| self.sky.part(down(row)) <= 0.0)
            .unwrap_or(height);
        let mut table = vec![0.0; rows * NODES];
        table
            .par_chunks_exact_mut(NODES)
            .enumerate()
            .for_each(|(row, into)| into.copy_from_slice(&nodes(self, down(row))));
        table
    }

    /// Rows that a table is for.
    #[must_use]
    pub const fn rows(table: &[f32]) -> usize {
        table.len() / NODES
    }
}

/// Multiplies the frame by the sky's factor, in place.
pub fn cpu(frame: &mut Frame, params: &Params<'_>) {
    let (width, height) = (frame.width(), frame.height());
    let weights: Vec<_> = (0..width).map(|x| Cubic::at(x, width)).collect();
    let [r, g, b] = frame.planes_mut();
    let rows = r
        .par_chunks_mut(width)
        .zip(g.par_chunks_mut(width))
        .zip(b.par_chunks_mut(width));
    rows.enumerate().for_each(|(row, ((r, g), b))| {
        let down = (row as f64 + 0.5) / height as f64;
        if params.sky.part(down) <= 0.0 {
            return;
        }
        let nodes = nodes(params, down);
        let pixels = r.iter_mut().zip(g).zip(b).zip(&weights);
        for (((r, g), b), Cubic { first, weights }) in pixels {
            let four = nodes[*first..].iter().zip(weights);
            let factor: f32 = four.map(|(v, w)| v * w).sum();
            *r *= factor;
            *g *= factor;
            *b *= factor;
        }
    });
}

/// The factor at a row's nodes.
fn nodes(params: &Params<'_>, down: f64) -> [f32; NODES] {
    let view = &params.view;
    let y_mm = (0.5 - down) * view.height_mm;
    std::array::from_fn(|i| {
        let across = (i as f64 - 1.0) / CELLS as f64 - 0.5;
        params.sky.at(view, across * view.width_mm, y_mm) as f32
    })
}

/// Four neighbouring nodes, the first of them and their weights.
struct Cubic {
    first: usize,
    weights: [f32; 4],
}

impl Cubic {
    /// Catmull–Rom weights of pixel `i` of `pixels` over the nodes, one of them beyond each end.
    fn at(i: usize, pixels: usize) -> Self {
        let at = (i as f64 + 0.5) / pixels as f64 * CELLS as f64;
        let first = (at as usize).min(CELLS - 1);
        let t = (at - first as f64) as f32;
        let (t2, t3) = (t * t, t * t * t);
        let weights = [
            0.5 * (2.0 * t2 - t3 - t),
            0.5 * (3.0 * t3 - 5.0 * t2) + 1.0,
            0.5 * (4.0 * t2 - 3.0 * t3 + t),
            0.5 * (t3 - t2),
        ];
        Self { first, weights }
    }
}
