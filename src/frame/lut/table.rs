//! Tables of one and of three dimensions, and how they are read between their nodes.

use super::bits::between_halves;

/// A curve for each channel.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table1 {
    /// Entries, evenly from 0 to 1; or one for each half-precision number, by its bits.
    pub(super) entries: Vec<[f32; 3]>,
    pub(super) half_domain: bool,
    /// Whether the middle channel is set so that the hue stays.
    pub(super) keeps_hue: bool,
}

impl Table1 {
    #[inline]
    fn channel(&self, c: usize, v: f32) -> f32 {
        let (below, above, part) = if self.half_domain {
            let (below, above, part) = between_halves(v);
            (usize::from(below), usize::from(above), part)
        } else {
            let (i, part) = cell(v, self.entries.len());
            (i, i + 1, part)
        };
        let (a, b) = (self.entries[below][c], self.entries[above][c]);
        a + part * (b - a)
    }

    #[inline]
    pub(super) fn at(&self, rgb: [f32; 3]) -> [f32; 3] {
        let mut out = [0, 1, 2].map(|c| self.channel(c, rgb[c]));
        if self.keeps_hue {
            // dw3 of the Common LUT Format: the middle channel keeps its place between the other two.
            let [low, middle, high] = ordered(rgb);
            let chroma = rgb[high] - rgb[low];
            let place = if chroma > 0.0 {
                (rgb[middle] - rgb[low]) / chroma
            } else {
                0.0
            };
            out[middle] = out[low] + place * (out[high] - out[low]);
        }
        out
    }
}

/// Channels from the lowest to the highest; of equal ones the earlier is the lower.
fn ordered(v: [f32; 3]) -> [usize; 3] {
    let mut order = [0, 1, 2];
    for (i, j) in [(0, 1), (1, 2), (0, 1)] {
        if v[order[i]] > v[order[j]] {
            order.swap(i, j);
        }
    }
    order
}

/// A table over all three channels.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table3 {
    /// Nodes along a side, two at least.
    pub(super) side: usize,
    /// Blue runs fastest.
    pub(super) nodes: Vec<[f32; 3]>,
    pub(super) tetrahedral: bool,
}

impl Table3 {
    #[inline]
    pub(super) fn at(&self, rgb: [f32; 3]) -> [f32; 3] {
        let n = self.side;
        let strides = [n * n, n, 1];
        let mut start = 0;
        let mut part = [0.0_f32; 3];
        for c in 0..3 {
            let (i, f) = cell(rgb[c], n);
            start += i * strides[c];
            part[c] = f;
        }
        if self.tetrahedral {
            self.over_tetrahedra(start, strides, part)
        } else {
            self.over_cubes(start, strides, part)
        }
    }

    /// From the node nearest to black to the one nearest to white by way of the greatest part first:
    /// the cube's six tetrahedra share that diagonal.
    #[inline]
    fn over_tetrahedra(&self, start: usize, strides: [usize; 3], part: [f32; 3]) -> [f32; 3] {
        let [low, middle, high] = ordered(part);
        let corners = [
            start,
            start + strides[high],
            start + strides[high] + strides[middle],
            start + strides[high] + strides[middle] + strides[low],
        ];
        let weights = [
            1.0 - part[high],
            part[high] - part[middle],
            part[middle] - part[low],
            part[low],
        ];
        let mut out = [0.0; 3];
        for (corner, weight) in corners.into_iter().zip(weights) {
            let node = &self.nodes[corner];
            for c in 0..3 {
                out[c] += weight * node[c];
            }
        }
        out
    }

    #[inline]
    fn over_cubes(&self, start: usize, [r, g, b]: [usize; 3], part: [f32; 3]) -> [f32; 3] {
        let along = |i: usize, step: usize, f: f32| mix(self.nodes[i], self.nodes[i + step], f);
        let face = |i: usize| mix(along(i, b, part[2]), along(i + g, b, part[2]), part[1]);
        mix(face(start), face(start + r), part[0])
    }
}

#[inline]
fn mix(a: [f32; 3], b: [f32; 3], f: f32) -> [f32; 3] {
    [0, 1, 2].map(|c| a[c] + f * (b[c] - a[c]))
}

/// The cell of a table of `count` entries from 0 to 1, two at least, and the place in it. Outside it is
/// held at the ends; NaN is taken for 0.
#[inline]
fn cell(v: f32, count: usize) -> (usize, f32) {
    let top = (count - 1) as f32;
    // In this order NaN becomes 0.
    let at = (v * top).max(0.0).min(top);
    let i = (at as usize).min(count - 2);
    (i, at - i as f32)
}
