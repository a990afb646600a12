//! A curve as a table, for taking millions of samples through it without a power for each.
//!
//! 256 entries an octave of light, straight between them and to black. Between neighbours a curve of
//! exponent γ departs from its chord by at most γ(1−γ)/8·2⁻¹⁶ of its value, 5e-7: a thirtieth of a
//! 16-bit code (tested against the curve itself).

use crate::colour::transfer::Curve;

const STEP_BITS: u32 = 23 - 8;
const PART: u32 = (1 << STEP_BITS) - 1;
const PART_SCALE: f32 = 1.0 / (1 << STEP_BITS) as f32;
/// Samples that go through a table together: looking up is the one step that is not done for several at once.
const RUN: usize = 64;
/// Where a transfer curve's table begins, in octaves under light 1.
const LOW_EXPONENT: i32 = -40;

/// A curve from light 0 to `top`, straight from 0 to `low`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Table {
    /// Where a cell begins, and how far it rises.
    cells: Vec<[f32; 2]>,
    low: f32,
    top: f32,
    low_slope: f32,
}

impl Table {
    /// The table of `curve`; 0 < `low` <= `top`, both ordinary numbers.
    pub(super) fn new(low: f32, top: f32, curve: impl Fn(f64) -> f64) -> Self {
        let cells = (top.to_bits() - low.to_bits()) >> STEP_BITS;
        let start = |cell: u32| f32::from_bits(low.to_bits() + (cell << STEP_BITS));
        let value = |light: f32| curve(f64::from(light)) as f32;
        let mut entries: Vec<f32> = (0..=cells).map(|cell| value(start(cell))).collect();
        // The last cell ends beyond the top: its far end is where the line through the top leads.
        let (from, to, at_start) = (start(cells), start(cells + 1), value(start(cells)));
        let rise = if top > from {
            (value(top) - at_start) / (top - from)
        } else {
            0.0
        };
        entries.push(at_start + rise * (to - from));
        let low_slope = entries[0] / low;
        let cells = entries.windows(2).map(|ends| [ends[0], ends[1] - ends[0]]);
        Self {
            cells: cells.collect(),
            low,
            top,
            low_slope,
        }
    }

    /// Where it ends.
    pub(super) const fn top(&self) -> f32 {
        self.top
    }

    /// The curve, and its end for all light beyond; below zero straight on, NaN gives NaN.
    #[inline]
    pub(super) fn at(&self, light: f32) -> f32 {
        if light > self.low {
            let offset = light.min(self.top).to_bits() - self.low.to_bits();
            let [from, rise] = self.cells[(offset >> STEP_BITS) as usize];
            from + (offset & PART) as f32 * PART_SCALE * rise
        } else {
            light * self.low_slope
        }
    }
}

impl Table {
    /// [`Table::at`] of every sample, in place; the very same numbers, several times as fast.
    #[inline(always)]
    pub(super) fn run(&self, samples: &mut [f32]) {
        let mut cells = [0_u32; RUN];
        let mut parts = [0.0_f32; RUN];
        let mut ends = [[0.0_f32; 2]; RUN];
        let first = self.low.to_bits();
        for samples in samples.chunks_mut(RUN) {
            let places = cells.iter_mut().zip(&mut parts);
            for (light, (cell, part)) in samples.iter().zip(places) {
                let offset = light
                    .max(self.low)
                    .min(self.top)
                    .to_bits()
                    .wrapping_sub(first);
                *cell = offset >> STEP_BITS;
                *part = (offset & PART).cast_signed() as f32 * PART_SCALE;
            }
            for (ends, cell) in ends.iter_mut().zip(&cells[..samples.len()]) {
                *ends = self.cells[*cell as usize];
            }
            for ((light, [from, rise]), part) in samples.iter_mut().zip(&ends).zip(&parts) {
                let beyond = from + part * rise;
                let under = *light * self.low_slope;
                *light = if *light > self.low { beyond } else { under };
            }
        }
    }
}

/// Light to codes of 0 to 1, clipped there.
pub(super) struct EncodeTable(Table);

impl EncodeTable {
    pub(super) fn new(curve: Curve) -> Self {
        // The light of code 1, where the curve is clipped.
        let top = curve.decode64(1.0) as f32;
        let low = (LOW_EXPONENT as f32).exp2();
        Self(Table::new(low, top, |light| {
            // At the top itself the code is 1 to the last digit.
            if light >= f64::from(top) {
                1.0
            } else {
                curve.encode64(light)
            }
        }))
    }

    /// Codes in the place of light; below zero and NaN give 0, beyond the curve's end 1.
    #[inline(always)]
    pub(super) fn run(&self, samples: &mut [f32]) {
        for light in &mut *samples {
            *light = light.max(0.0);
        }
        self.0.run(samples);
    }
}

/// Light to codes of 0 to 255, clipped there and rounded to the nearest: exactly the curve's, in double precision.
///
/// An octave of light is cut into 128 cells, in none of which more than one code begins (tested). A cell holds the code that
/// it begins with and how far from its end the next one begins, so that adding light's place in the cell carries into
/// the code.
pub(super) struct ByteTable {
    cells: Box<[u32; Self::CELLS]>,
    low: f32,
    top: f32,
}

impl ByteTable {
    /// Cells of 32 octaves: a power of two, so that a place needs no check. sRGB fills 13 of them.
    const CELLS: usize = 32 << 7;
    /// Bits of a place in a cell.
    const PLACE: u32 = 23 - 7;

    pub(super) fn new(curve: Curve) -> Self {
        let top = curve.decode64(1.0) as f32;
        let code = |light: u32| (255.0 * curve.encode64(f64::from(f32::from_bits(light)))).round();
        // Of the lights between, in order, the first that has a code.
        let starts = (1..=255_u8).map(|wanted| {
            let (mut under, mut beyond) = (0, top.to_bits());
            while beyond - under > 1 {
                let middle = under.midpoint(beyond);
                if code(middle) < f64::from(wanted) {
                    under = middle;
                } else {
                    beyond = middle;
                }
            }
            beyond
        });
        let mut starts = starts.peekable();
        // A whole octave under the first.
        let low = starts.peek().map_or(0, |first| first >> 23 << 23);
        let (mut first, mut begun) = (low, 0);
        let cells = Box::new(std::array::from_fn(|_| {
            while starts.next_if(|start| *start <= first).is_some() {
                begun += 1;
            }
            let next = first + (1 << Self::PLACE);
            let carry = starts.peek().map_or(0, |start| next.saturating_sub(*start));
            first = next;
            (begun << Self::PLACE) + carry
        }));
        Self {
            cells,
            low: f32::from_bits(low),
            top,
        }
    }

    /// Codes of light; of NaN and of light below zero 0.
    #[inline(always)]
    pub(super) fn run(&self, light: &[f32], codes: &mut [u32]) {
        let first = self.low.to_bits();
        for (code, light) in codes.iter_mut().zip(light) {
            let light = light.max(self.low).min(self.top);
            *code = light.to_bits().wrapping_sub(first);
        }
        for code in codes {
            let cell = (*code >> Self::PLACE) as usize % Self::CELLS;
            let place = *code % (1 << Self::PLACE);
            *code = (self.cells[cell] + place) >> Self::PLACE;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_table_is_the_curve() {
        for curve in [Curve::Linear, Curve::Srgb, Curve::Pq] {
            let table = EncodeTable::new(curve);
            let code = |light: f32| {
                // In a run of its own, and in a longer one at an odd place.
                let (mut one, mut many) = ([light], [light; 67]);
                table.run(&mut one);
                table.run(&mut many);
                assert!(
                    many.iter().all(|v| v.to_bits() == one[0].to_bits()),
                    "{light}"
                );
                let single = table.0.at(light.max(0.0));
                assert!(single.to_bits() == one[0].to_bits(), "{light}");
                one[0]
            };
            let mut worst = 0.0_f64;
            for i in 0..100_000_u32 {
                // Even in the logarithm, from 2^-40 to 2^7.
                let light = (f64::from(i) / 100_000.0 * 47.0 - 40.0).exp2() as f32;
                let exact = curve.encode64(f64::from(light)).clamp(0.0, 1.0);
                worst = worst.max((f64::from(code(light)) - exact).abs());
            }
            assert!(
                worst * 65_535.0 < 0.1,
                "{curve:?}: {} of a 16-bit code",
                worst * 65_535.0
            );
            assert!(code(-1.0).abs() <= 0.0, "clipped below");
            assert!(code(f32::NAN).abs() <= 0.0, "NaN is black");
            assert!((code(1e9) - 1.0).abs() < 1e-6, "clipped above");
        }
    }

    #[test]
    fn bytes_are_the_curves_rounded() {
        // The extremes of what is written: a straight curve's codes lie densest at its end, PQ's reach furthest down.
        for curve in [Curve::Linear, Curve::Srgb, Curve::Pq] {
            let table = ByteTable::new(curve);
            let code = |light: f32| {
                let (mut one, mut many) = ([0], [0; 67]);
                table.run(&[light], &mut one);
                table.run(&[light; 67], &mut many);
                assert!(many.iter().all(|v| *v == one[0]), "{light}");
                one[0]
            };
            let exact = |light: f32| {
                let value = 255.0 * curve.encode64(f64::from(light));
                value.round().clamp(0.0, 255.0) as u32
            };
            for i in 0..100_000_u32 {
                let light = (f64::from(i) / 100_000.0 * 47.0 - 40.0).exp2() as f32;
                assert_eq!(code(light), exact(light), "{curve:?} {light}");
            }
            // Where each code begins, and beside it.
            for k in 1..=255 {
                let edge = curve.decode64((f64::from(k) - 0.5) / 255.0) as f32;
                for beside in -2..=2 {
                    let light = f32::from_bits(edge.to_bits().wrapping_add_signed(beside));
                    assert_eq!(code(light), exact(light), "{curve:?} {k} {beside}");
                }
            }
            for dark in [-1.0, f32::NEG_INFINITY, f32::NAN, 0.0, -0.0] {
                assert_eq!(code(dark), 0, "{dark}");
            }
            for bright in [f32::INFINITY, f32::MAX, 1e9] {
                assert_eq!(code(bright), 255, "{bright}");
            }
        }
    }
}
