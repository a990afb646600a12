//! Placed glass and openings: every pixel times what it sees of them.

use super::matrix;
use super::pyramid::design::DECIMATION;
use super::shader::{Constant, GROUP_SIZE, PIXELS, Shader, uniform};
use crate::frame::Frame;
use crate::optics::field::{Fit, Table, View};
use crate::optics::tiles::{Tiles, Value};
use rayon::prelude::*;
use std::borrow::Cow;

/// Difference from the exact field that the tables allow, in transmission or in any element of a
/// matrix.
pub const TOLERANCE: f64 = 1e-3;

/// Pixels whose centre lies on the border of two tiles belong to the right and the lower one, as they do
/// for the shader, which tells tiles in whole numbers: so much is added to a place, in parts of the picture.
const ON_BORDER: f64 = 1e-10;

/// A field's table and the picture that it lies over.
#[derive(Debug, Clone, Copy)]
pub struct Params<'a> {
    /// The table.
    pub fit: &'a Fit,
    /// The part of the field that the picture shows.
    pub view: View,
}

/// Samples across and down of the first coarser level that one workgroup makes with the picture: an invocation has a
/// column of the picture, two on either side being a neighbour's, and goes down it.
pub const MADE: [usize; 2] = [GROUP_SIZE as usize / 2 - 2, 8];

/// The same on graphics hardware: `shaders/field.wgsl`.
pub const SHADER: Shader = Shader {
    name: "field",
    source: include_str!("../../shaders/field.wgsl"),
    before: PIXELS,
    constants: &[
        ("NEAR", Constant::F32(DECIMATION[0] as f32)),
        ("NEXT", Constant::F32(DECIMATION[1] as f32)),
        ("FAR", Constant::F32(DECIMATION[2] as f32)),
        ("MADE_DOWN", Constant::U32(MADE[1] as u32)),
    ],
    uniforms: &[FieldRows::LAYOUT],
};

uniform! {
    /// What the shader is told.
    pub struct FieldRows {
        /// Samples across and down.
        pub size: [u32; 2],
        /// Samples from one row to the next.
        pub stride: u32,
        /// The first of these rows, counted from the picture's top.
        pub first_row: u32,
        /// The picture's size.
        pub whole: [u32; 2],
        /// First tiles across and down.
        pub roots: [u32; 2],
        /// Place of the last value of a table along one direction.
        pub last: u32,
        /// Samples from one row of a coarser level to the next, where one is made beside.
        pub coarse_stride: u32,
        /// Its first row that is bound.
        pub coarse_row: u32,
        /// Partial sums of each channel.
        pub count: u32,
        /// Samples of it that are written, across and down.
        pub coarse_size: [u32; 2],
        /// Where these partial sums begin.
        pub sums: u32,
        /// The first row that is bound of what is read then.
        pub from_row: u32,
        /// The same of what is written.
        pub to_row: u32,
        /// Nothing.
        pub unused: u32,
        /// Nothing.
        pub padding: [u32; 2],
        /// Uniform colour that comes before: the rows of its matrix, each with a word of padding.
        pub before: [[f32; 4]; 3],
    }
}

impl FieldRows {
    /// A picture's size and the uniform colour that comes before.
    #[must_use]
    pub fn of(whole: [u32; 2], before: &matrix::Params) -> Self {
        Self {
            size: whole,
            stride: 0,
            first_row: 0,
            whole,
            roots: [0; 2],
            last: 0,
            coarse_stride: 0,
            coarse_row: 0,
            count: 0,
            coarse_size: [0; 2],
            sums: 0,
            from_row: 0,
            to_row: 0,
            unused: 0,
            padding: [0; 2],
            before: before.padded(),
        }
    }
}

/// A field's table as the shader reads it.
#[derive(Debug, Clone)]
pub struct Laid<'a> {
    /// The shader's entry point, and the one that makes a coarser level too.
    pub entries: [&'static str; 2],
    /// Transmissions, or matrices of nine.
    pub values: &'a [f32],
    /// Places along one direction, or a tree of tiles.
    pub table: Cow<'a, [u32]>,
    /// First tiles across and down; nothing for a table along one direction.
    pub roots: [u32; 2],
    /// Place of the last value of a table along one direction.
    pub last: u32,
}

impl<'a> Params<'a> {
    /// The table for a picture `width` by `height`.
    #[must_use]
    pub fn laid(&self, width: usize, height: usize) -> Laid<'a> {
        match self.fit {
            Fit::Neutral(table) => {
                let entries = [
                    ["across_neutral", "across_neutral_halved"],
                    ["tiles_neutral", "tiles_neutral_halved"],
                ];
                laid(table, self.view, [width, height], entries, |v| v)
            }
            Fit::Coloured(table) => {
                let entries = [
                    ["across_coloured", "across_coloured_halved"],
                    ["tiles_coloured", "tiles_coloured_halved"],
                ];
                laid(table, self.view, [width, height], entries, |v| {
                    v.as_flattened()
                })
            }
        }
    }
}

fn laid<'a, V: Held>(
    table: &'a Table<V>,
    view: View,
    [width, height]: [usize; 2],
    [across, tiles]: [[&'static str; 2]; 2],
    flat: impl Fn(&'a [V]) -> &'a [f32],
) -> Laid<'a> {
    match Lookup::new(table, view, width, height) {
        Lookup::Tiles { tiles: t, .. } => Laid {
            entries: tiles,
            values: flat(&t.values),
            table: Cow::Borrowed(&t.tree),
            roots: t.roots.map(|n| n as u32),
            last: 0,
        },
        Lookup::Across {
            values,
            origin,
            per_column,
            per_row,
        } => {
            // Whole steps apart from what is left: together they are as exact as f64.
            let columns = (0..width).map(|x| per_column * x as f64);
            let rows = (0..height).map(|y| per_row.mul_add(y as f64, origin));
            let split = |at: f64| {
                let steps = at.floor().clamp(-1e9, 1e9);
                [steps as i32 as u32, ((at - steps) as f32).to_bits()]
            };
            Laid {
                entries: across,
                values: flat(values),
                table: columns.chain(rows).flat_map(split).collect(),
                roots: [0, 0],
                last: (values.len() - 1) as u32,
            }
        }
    }
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
                    let tile = tiles.tile([middle + ON_BORDER, down + ON_BORDER]);
                    let right = tile.from[0] + tile.side[0] - ON_BORDER;
                    let end = (right * *width as f64 - 0.5).ceil();
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
