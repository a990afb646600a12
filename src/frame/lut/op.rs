//! The operations that a LUT is made of.

use super::cdl::Cdl;
use super::curve::Curve;
use super::table::{Table1, Table3};
use crate::frame::matrix::{Rows, mul};

/// One operation on triples. Numbers between operations are 0 to 1, whatever bits the file tells them in.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Op {
    /// A matrix, and what is added after it.
    Matrix(Rows, [f32; 3]),
    /// A factor and what is added, then held between two ends, which may be infinite.
    Range {
        scale: f32,
        add: f32,
        low: f32,
        high: f32,
    },
    Table1(Table1),
    Table3(Table3),
    Curves([Curve; 3]),
    Cdl(Cdl),
}

impl Op {
    /// Channels scaled so that `low` comes out as 0 and `high` as 1.
    pub(super) fn domain(low: [f32; 3], high: [f32; 3]) -> Self {
        let scale = [0, 1, 2].map(|c| 1.0 / (f64::from(high[c]) - f64::from(low[c])));
        let add = [0, 1, 2].map(|c| (-f64::from(low[c]) * scale[c]) as f32);
        let [r, g, b] = scale.map(|s| s as f32);
        Self::Matrix([[r, 0.0, 0.0], [0.0, g, 0.0], [0.0, 0.0, b]], add)
    }

    /// Every triple through it.
    pub(super) fn apply(&self, pixels: &mut [[f32; 3]]) {
        match self {
            Self::Matrix(rows, add) => each(pixels, |p| {
                let [r, g, b] = mul(rows, p);
                [r + add[0], g + add[1], b + add[2]]
            }),
            Self::Range {
                scale,
                add,
                low,
                high,
            } => each(pixels, |p| {
                p.map(|v| (v * scale + add).max(*low).min(*high))
            }),
            Self::Table1(table) => each(pixels, |p| table.at(p)),
            Self::Table3(table) => each(pixels, |p| table.at(p)),
            Self::Curves([r, g, b]) => each(pixels, |p| [r.at(p[0]), g.at(p[1]), b.at(p[2])]),
            Self::Cdl(cdl) => each(pixels, |p| cdl.at(p)),
        }
    }
}

#[inline]
fn each(pixels: &mut [[f32; 3]], f: impl Fn([f32; 3]) -> [f32; 3]) {
    for p in pixels {
        *p = f(*p);
    }
}
