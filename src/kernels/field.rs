//! Placed glass and openings: every pixel times what it sees of them.

use crate::frame::Frame;
use crate::optics::field::{Table, View};
use rayon::prelude::*;

/// Difference from the exact field that the tables allow, in transmission.
pub const TOLERANCE: f64 = 1e-3;

/// A field's table and the picture that it lies over.
#[derive(Debug, Clone, Copy)]
pub struct Params<'a> {
    /// The table.
    pub table: &'a Table,
    /// The part of the field that the picture shows.
    pub view: View,
}

/// Multiplies the frame by the field, in place.
pub fn cpu(frame: &mut Frame, params: &Params<'_>) {
    let (width, height) = (frame.width(), frame.height());
    let lookup = Lookup::new(params, width, height);
    let [r, g, b] = frame.planes_mut();
    let rows = r
        .par_chunks_mut(width)
        .zip(g.par_chunks_mut(width))
        .zip(b.par_chunks_mut(width));
    rows.enumerate().for_each_init(
        || (vec![0.0; width], vec![0.0; lookup.columns()]),
        |(seen, nodes), (y, ((r, g), b))| {
            lookup.row(y, seen, nodes);
            for (((r, g), b), t) in r.iter_mut().zip(g.iter_mut()).zip(b.iter_mut()).zip(&*seen) {
                *r *= t;
                *g *= t;
                *b *= t;
            }
        },
    );
}

/// A table made ready for a picture's size: positions are in table steps.
enum Lookup<'a> {
    Across {
        values: &'a [f32],
        origin: f64,
        per_column: f64,
        per_row: f64,
    },
    Grid {
        values: &'a [f32],
        columns: Vec<Cubic>,
        across: usize,
        rows: Vec<Cubic>,
    },
}

/// Four neighbouring nodes, the first of them and their weights.
#[derive(Clone, Copy)]
struct Cubic {
    first: usize,
    weights: [f32; 4],
}

impl<'a> Lookup<'a> {
    fn new(params: &Params<'a>, width: usize, height: usize) -> Self {
        let view = params.view;
        match params.table {
            Table::Across {
                along,
                start_mm,
                step_mm,
                values,
            } => {
                let step = step_mm.max(f64::MIN_POSITIVE);
                let per_column = view.width_mm / width as f64 * along[0] / step;
                let per_row = -view.height_mm / height as f64 * along[1] / step;
                let (w, h) = (width as f64, height as f64);
                let corner = per_column * (0.5 - w / 2.0) + per_row * (0.5 - h / 2.0);
                Self::Across {
                    values,
                    origin: corner - start_mm / step,
                    per_column,
                    per_row,
                }
            }
            Table::Grid {
                columns,
                rows,
                values,
            } => Self::Grid {
                values,
                columns: (0..width).map(|x| Cubic::at(x, width, *columns)).collect(),
                across: *columns,
                rows: (0..height).map(|y| Cubic::at(y, height, *rows)).collect(),
            },
        }
    }

    const fn columns(&self) -> usize {
        match self {
            Self::Across { .. } => 0,
            Self::Grid { across, .. } => *across,
        }
    }

    fn row(&self, y: usize, seen: &mut [f32], nodes: &mut [f32]) {
        match self {
            Self::Across {
                values,
                origin,
                per_column,
                per_row,
            } => {
                let start = per_row.mul_add(y as f64, *origin);
                for (x, t) in seen.iter_mut().enumerate() {
                    *t = linear(values, per_column.mul_add(x as f64, start));
                }
            }
            Self::Grid {
                values,
                columns,
                across,
                rows,
            } => {
                let Cubic { first, weights } = rows[y];
                nodes.fill(0.0);
                for (j, w) in weights.into_iter().enumerate() {
                    let line = &values[(first + j) * across..][..*across];
                    nodes.iter_mut().zip(line).for_each(|(n, v)| *n += w * v);
                }
                for (t, c) in seen.iter_mut().zip(columns) {
                    let four = &nodes[c.first..c.first + 4];
                    let sum: f32 = four.iter().zip(c.weights).map(|(v, w)| v * w).sum();
                    *t = sum.clamp(0.0, 1.0);
                }
            }
        }
    }
}

fn linear(values: &[f32], at: f64) -> f32 {
    let last = values.len() - 1;
    let at = at.clamp(0.0, last as f64);
    let low = (at as usize).min(last.saturating_sub(1));
    let t = (at - low as f64) as f32;
    values[low] + t * (values[(low + 1).min(last)] - values[low])
}

impl Cubic {
    /// Catmull–Rom weights of pixel `i` of `pixels` over `nodes` nodes, one of them beyond each end.
    fn at(i: usize, pixels: usize, nodes: usize) -> Self {
        let cells = (nodes - 3) as f64;
        let at = (i as f64 + 0.5) / pixels as f64 * cells;
        let first = (at as usize).min(nodes - 4);
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
