//! The orders of a net as rows of values over frequency, one value for every wavelength of a channel's
//! band: a net's transform is `Σ w C(λu) C(λv) − b⁴` over the band, C the self-correlation of one axis.

use super::band;
use super::net;
use std::sync::OnceLock;

/// All orders: `Σ weight · C(λu) · C(λv)` over the band, less b⁴.
///
/// One row of values, a wavelength each, for every step of u; rows are made when they are first asked
/// for, a block at a time.
#[derive(Debug)]
pub(super) struct Pairs {
    law: net::Law,
    per_step: f64,
    /// Wavelength, µm, and the root of its weight.
    colours: Vec<(f64, f64)>,
    blocks: Vec<OnceLock<Vec<f32>>>,
    /// The row past the last block, where C is b².
    far: Vec<f32>,
    /// b⁴ of the same scale.
    even: f32,
}

impl Pairs {
    /// Rows of a block, which also holds the first row of the next.
    const BLOCK: usize = 256;
    /// Values worked on together.
    const LANES: usize = 8;
    /// Pitches from which orders are let go.
    const LAST: f64 = 96.0;
    /// Samples of the band are taken together up to this weight.
    const LEAST: f64 = 5e-5;
    /// And no more than so many.
    const MOST: usize = 4;

    pub(super) fn new(law: net::Law, channel: usize, scale: f64) -> Self {
        let mut colours: Vec<(f64, f64)> = Vec::new();
        let (mut um, mut all, mut count) = (0.0, 0.0, 0);
        for &(lambda, w) in &band::colours()[channel] {
            um += w * lambda;
            all += w;
            count += 1;
            if all >= Self::LEAST || count == Self::MOST {
                colours.push((um / all, (scale * all).sqrt()));
                (um, all, count) = (0.0, 0.0, 0);
            }
        }
        if all > 0.0 {
            colours.push((um / all, (scale * all).sqrt()));
        }
        let shortest = colours.first().map_or(0.4, |c| c.0);
        let longest = colours.last().map_or(0.7, |c| c.0);
        let step = law.finest() / 64.0 / longest;
        let rows = law.reach().min(Self::LAST * law.pitch()) / shortest / step;
        let blocks = (rows / Self::BLOCK as f64).ceil() as usize;
        colours.resize(colours.len().next_multiple_of(Self::LANES), (1.0, 0.0));
        let b2 = law.open() * law.open();
        Self {
            far: colours.iter().map(|c| (c.1 * b2) as f32).collect(),
            even: (scale * b2 * b2) as f32,
            law,
            per_step: 1.0 / step,
            colours,
            blocks: (0..blocks).map(|_| OnceLock::new()).collect(),
        }
    }

    pub(super) fn at(&self, u: f32, v: f32) -> f32 {
        self.row(u).times(&self.row(v)) - self.even
    }

    fn row(&self, u: f32) -> Row<'_> {
        let place = f64::from(u.abs()) * self.per_step;
        let i = place as usize;
        let Some(block) = self.blocks.get(i / Self::BLOCK) else {
            return Row {
                low: &self.far,
                high: &self.far,
                part: 0.0,
            };
        };
        let values = block.get_or_init(|| self.block(i / Self::BLOCK));
        let (lanes, first) = (self.colours.len(), i % Self::BLOCK);
        let here = &values[first * lanes..(first + 2) * lanes];
        let (low, high) = here.split_at(lanes);
        Row {
            low,
            high,
            part: (place - i as f64) as f32,
        }
    }

    fn block(&self, index: usize) -> Vec<f32> {
        let b2 = self.law.open() * self.law.open();
        let rows = index * Self::BLOCK..=(index + 1) * Self::BLOCK;
        let row = |i: usize| {
            let u = i as f64 / self.per_step;
            let colours = self.colours.iter();
            colours.map(move |&(um, root)| (root * (b2 + self.law.excess(um * u))) as f32)
        };
        rows.flat_map(row).collect()
    }
}

/// The values between two rows.
struct Row<'a> {
    low: &'a [f32],
    high: &'a [f32],
    part: f32,
}

impl Row<'_> {
    fn times(&self, other: &Self) -> f32 {
        let mut sums = [0.0; Pairs::LANES];
        let rows = self.low.chunks_exact(Pairs::LANES);
        let rows = rows.zip(self.high.chunks_exact(Pairs::LANES));
        let others = other.low.chunks_exact(Pairs::LANES);
        let others = others.zip(other.high.chunks_exact(Pairs::LANES));
        for ((a, b), (c, d)) in rows.zip(others) {
            for i in 0..Pairs::LANES {
                let one = a[i] + self.part * (b[i] - a[i]);
                let two = c[i] + other.part * (d[i] - c[i]);
                sums[i] += one * two;
            }
        }
        sums.iter().sum()
    }
}
