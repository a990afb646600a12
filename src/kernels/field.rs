//! Placed glass and openings: every pixel times what it sees of them.

use crate::frame::Frame;
use crate::optics::field::{Fit, Table, View};
use rayon::prelude::*;

/// Difference from the exact field that the tables allow, in transmission or in any element of a
/// matrix.
pub const TOLERANCE: f64 = 1e-3;

/// A field's table and the picture that it lies over.
#[derive(Debug, Clone, Copy)]
pub struct Params<'a> {
    /// The table.
    pub fit: &'a Fit,
    /// The part of the field that the picture shows.
    pub view: View,
}

/// Multiplies the frame by the field, in place: each channel by a transmission, or each pixel by a
/// matrix.
pub fn cpu(frame: &mut Frame, params: &Params<'_>) {
    match params.fit {
        Fit::Neutral(table) => run(frame, table, params.view, |seen: &[f32], [r, g, b]| {
            for (((r, g), b), t) in r.iter_mut().zip(g).zip(b).zip(seen) {
                *r *= t;
                *g *= t;
                *b *= t;
            }
        }),
        Fit::Coloured(table) => run(frame, table, params.view, |seen: &[[f32; 9]], [r, g, b]| {
            for (((r, g), b), m) in r.iter_mut().zip(g).zip(b).zip(seen) {
                let p = [*r, *g, *b];
                *r = m[0] * p[0] + m[1] * p[1] + m[2] * p[2];
                *g = m[3] * p[0] + m[4] * p[1] + m[5] * p[2];
                *b = m[6] * p[0] + m[7] * p[1] + m[8] * p[2];
            }
        }),
    }
}

fn run<V: Value>(
    frame: &mut Frame,
    table: &Table<V>,
    view: View,
    multiply: impl Fn(&[V], [&mut [f32]; 3]) + Sync,
) {
    let (width, height) = (frame.width(), frame.height());
    let lookup = Lookup::new(table, view, width, height);
    let [r, g, b] = frame.planes_mut();
    let rows = r
        .par_chunks_mut(width)
        .zip(g.par_chunks_mut(width))
        .zip(b.par_chunks_mut(width));
    rows.enumerate().for_each_init(
        || (vec![V::NONE; width], vec![V::NONE; lookup.columns()]),
        |(seen, nodes), (y, ((r, g), b))| {
            lookup.row(y, seen, nodes);
            multiply(seen, [r, g, b]);
        },
    );
}

/// What a table holds.
trait Value: Copy + Send + Sync {
    /// Nothing passes.
    const NONE: Self;
    /// This, and `weight` of another.
    fn and(self, weight: f32, of: Self) -> Self;
    /// On the way to another.
    fn toward(self, other: Self, part: f32) -> Self;
    /// What interpolation may have carried past black or clear, held there.
    fn held(self) -> Self;
}

impl Value for f32 {
    const NONE: Self = 0.0;
    fn and(self, weight: f32, of: Self) -> Self {
        self + weight * of
    }
    fn toward(self, other: Self, part: f32) -> Self {
        self + part * (other - self)
    }
    fn held(self) -> Self {
        self.clamp(0.0, 1.0)
    }
}

impl Value for [f32; 9] {
    const NONE: Self = [0.0; 9];
    fn and(self, weight: f32, of: Self) -> Self {
        std::array::from_fn(|i| self[i] + weight * of[i])
    }
    fn toward(self, other: Self, part: f32) -> Self {
        std::array::from_fn(|i| self[i] + part * (other[i] - self[i]))
    }
    fn held(self) -> Self {
        // Beside an opening's edge all elements go to nothing together.
        if self[0] + self[4] + self[8] > 0.0 {
            self
        } else {
            Self::NONE
        }
    }
}

/// A table made ready for a picture's size: positions are in table steps.
enum Lookup<'a, V> {
    Across {
        values: &'a [V],
        origin: f64,
        per_column: f64,
        per_row: f64,
    },
    Grid {
        values: &'a [V],
        columns: Vec<Cubic>,
        across: usize,
        rows: Vec<Cubic>,
    },
}

/// Four neighbouring nodes, the first of them and their weights.
#[derive(Clone, Copy)]
pub(super) struct Cubic {
    pub(super) first: usize,
    pub(super) weights: [f32; 4],
}

impl<'a, V: Value> Lookup<'a, V> {
    fn new(table: &'a Table<V>, view: View, width: usize, height: usize) -> Self {
        match table {
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

    fn row(&self, y: usize, seen: &mut [V], nodes: &mut [V]) {
        match self {
            Self::Across {
                values,
                origin,
                per_column,
                per_row,
            } => {
                let start = per_row.mul_add(y as f64, *origin);
                if per_column.abs() <= 0.0 {
                    // Across the picture all is one.
                    return seen.fill(linear(values, start));
                }
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
                nodes.fill(V::NONE);
                for (j, w) in weights.into_iter().enumerate() {
                    let line = &values[(first + j) * across..][..*across];
                    for (n, v) in nodes.iter_mut().zip(line) {
                        *n = n.and(w, *v);
                    }
                }
                for (t, c) in seen.iter_mut().zip(columns) {
                    let four = &nodes[c.first..c.first + 4];
                    let sum = four
                        .iter()
                        .zip(c.weights)
                        .fold(V::NONE, |s, (v, w)| s.and(w, *v));
                    *t = sum.held();
                }
            }
        }
    }
}

fn linear<V: Value>(values: &[V], at: f64) -> V {
    let last = values.len() - 1;
    let at = at.clamp(0.0, last as f64);
    let low = (at as usize).min(last.saturating_sub(1));
    let t = (at - low as f64) as f32;
    values[low].toward(values[(low + 1).min(last)], t)
}

impl Cubic {
    /// Catmull–Rom weights of pixel `i` of `pixels` over `nodes` nodes, one of them beyond each end.
    pub(super) fn at(i: usize, pixels: usize, nodes: usize) -> Self {
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
