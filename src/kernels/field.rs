//! Placed glass and openings: every pixel times what it sees of them.

use crate::frame::Frame;
use crate::optics::field::{Fit, Table, View};
use crate::optics::tiles::{Tiles, Value};
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

fn run<V: Held>(
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
        || vec![V::NONE; width],
        |seen, (y, ((r, g), b))| {
            lookup.row(y, seen);
            multiply(seen, [r, g, b]);
        },
    );
}

/// What a table holds.
trait Held: Value {
    /// What interpolation may have carried past black or clear, held there.
    fn held(self) -> Self;
}

impl Held for f32 {
    fn held(self) -> Self {
        self.clamp(0.0, 1.0)
    }
}

impl Held for [f32; 9] {
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
    Tiles {
        tiles: &'a Tiles<V>,
        width: usize,
        height: usize,
    },
}

impl<'a, V: Held> Lookup<'a, V> {
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
            Table::Tiles(tiles) => Self::Tiles {
                tiles,
                width,
                height,
            },
        }
    }

    fn row(&self, y: usize, seen: &mut [V]) {
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
            Self::Tiles {
                tiles,
                width,
                height,
            } => {
                let across = 1.0 / *width as f64;
                let down = (y as f64 + 0.5) / *height as f64;
                let mut x = 0;
                while x < seen.len() {
                    let middle = (x as f64 + 0.5) * across;
                    let tile = tiles.tile([middle, down]);
                    let end = ((tile.from[0] + tile.side[0]) * *width as f64 - 0.5).ceil();
                    let end = (end as usize).clamp(x + 1, seen.len());
                    let line = tiles.row(&tile, ((down - tile.from[1]) / tile.side[1]) as f32);
                    let start = ((middle - tile.from[0]) / tile.side[0]) as f32;
                    let step = (across / tile.side[0]) as f32;
                    cubic(&line, start, step, &mut seen[x..end]);
                    x = end;
                }
            }
        }
    }
}

/// Values at even steps along the cubic through four even nodes, 0 at the first and 1 at the last.
fn cubic<V: Held>(nodes: &[V; 4], start: f32, step: f32, seen: &mut [V]) {
    let sum = |w: [f32; 4]| {
        let pairs = nodes.iter().zip(w);
        pairs.fold(V::NONE, |sum, (v, w)| sum.and(w, *v))
    };
    let [first, second, third] = [
        sum([-5.5, 9.0, -4.5, 1.0]),
        sum([9.0, -22.5, 18.0, -4.5]),
        sum([-4.5, 13.5, -13.5, 4.5]),
    ];
    for (i, v) in seen.iter_mut().enumerate() {
        let t = step.mul_add(i as f32, start);
        let bend = second.and(t, third);
        *v = nodes[0].and(t, first.and(t, bend)).held();
    }
}

fn linear<V: Held>(values: &[V], at: f64) -> V {
    let last = values.len() - 1;
    let at = at.clamp(0.0, last as f64);
    let low = (at as usize).min(last.saturating_sub(1));
    let t = (at - low as f64) as f32;
    let (low, high) = (values[low], values[(low + 1).min(last)]);
    // One step on the way from the one to the other.
    low.and(t, high.and(-1.0, low))
}
