//! The halo of specks: the law of one speck averaged over a spread of sizes and over a channel's band.
//!
//! Everything hangs on λν/d and θd/λ alone, so one set of tables per spread serves every size. With
//! `v = ν/d` (cycles per radian and µm) and `z = θ·d` (µm), λ in µm, for ln d normal about ln d̄ with
//! standard deviation `spread`, the weight being area covered (each size keeps its own unit of flux):
//!
//! - transfer: mean of `overlap(λv)`; density: mean of `J₁²(πz/λ) / (π z²)`, times d̄² per steradian;
//! - enclosed: mean of `1 − J₀² − J₁²`.
//!
//! The mean over sizes is a convolution in the logarithm. Where the specks cover a part c of the area
//! and overlap ([`overlap`]), the transfer is taken through that law wavelength by wavelength before the
//! band's mean, and the density and the enclosed light gain the Hankel transforms of the difference.
//! Without coverage the law is the one of specks by themselves, to the bit.
//!
//! Tables are good to 1e-9 of the centre's value (transfer, enclosed) and to 1e-8 relative (density); with
//! overlap to 1e-8 and, relative, 1e-7: the tests hold them to plain quadrature.
//! A spread under [`LEAST_SPREAD`] is taken as one size, summed over the band without a table.

use super::band::colours;
use super::hankel::{Grid, Hankel};
use super::memo::Memo;
use super::overlap::Overlap;
use super::quadrature::gauss_legendre;
use super::table::Table;
use super::{airy, overlap};
use std::f64::consts::PI;
use std::sync::Arc;

/// Spreads of ln d below this are one size: they would move the law by less than 2e-3.
pub(super) const LEAST_SPREAD: f64 = 0.02;

/// Spreads above this are held to it: a median and a spread would mean little.
pub(super) const MOST_SPREAD: f64 = 1.5;

/// How far the normal distribution is followed, in standard deviations.
const REACH: f64 = 9.0;

/// How many halos are remembered.
const REMEMBERED: usize = 64;

static HALOS: Memo<(u64, u64), Halo> = Memo::new(REMEMBERED);

/// The halo of one spread of sizes at one coverage, in all three channels.
#[derive(Debug)]
pub(super) struct Halo {
    spread: f64,
    coverage: f64,
    tables: Option<[Channel; 3]>,
}

#[derive(Debug)]
struct Channel {
    transfer: Table,
    /// `z² · density`.
    radial: Table,
    outside: Table,
}

impl Halo {
    /// The tables of a spread and a coverage, made once and remembered.
    pub(super) fn of(spread: f64, coverage: f64) -> Arc<Self> {
        let spread = if spread >= LEAST_SPREAD {
            spread.min(MOST_SPREAD)
        } else {
            0.0
        };
        let coverage = coverage.clamp(0.0, overlap::MOST_COVERAGE);
        let key = (spread.to_bits(), coverage.to_bits());
        HALOS.get(key, || Self::build(spread, coverage))
    }

    fn build(spread: f64, coverage: f64) -> Self {
        let mut out = Self {
            spread,
            coverage,
            tables: None,
        };
        if spread <= 0.0 {
            return out;
        }
        let [transfer, radial, outside] = Sizes::new(spread).tables(coverage);
        out.tables = Some([0, 1, 2].map(|channel| {
            let band: Vec<(f64, f64)> = colours()[channel]
                .iter()
                .map(|&(lambda, w)| (lambda.ln(), w))
                .collect();
            let inverse: Vec<(f64, f64)> = band.iter().map(|&(l, w)| (-l, w)).collect();
            Channel {
                transfer: transfer.averaged(&band),
                radial: radial.averaged(&inverse),
                outside: outside.averaged(&inverse),
            }
        }));
        out
    }

    /// The transfer function at `v` cycles per radian and µm.
    pub(super) fn transfer(&self, channel: usize, v: f64) -> f64 {
        let v = v.abs();
        let Some(tables) = &self.tables else {
            return band_mean(channel, |lambda| {
                overlap::transfer(self.coverage, airy::overlap(lambda * v))
            });
        };
        let table = &tables[channel].transfer;
        let y = v.ln();
        if y <= table.low() {
            return band_mean(channel, |lambda| {
                let less = first_fall(self.spread, lambda * v);
                1.0 + less + overlap::excess(self.coverage, less)
            });
        }
        if y >= table.high() { 0.0 } else { table.at(y) }
    }

    /// Light per unit of solid angle over d̄², at `z` µm.
    pub(super) fn density(&self, channel: usize, z: f64) -> f64 {
        let Some(tables) = &self.tables else {
            return band_mean(channel, |lambda| {
                overlap::density(self.coverage, z / lambda) / (lambda * lambda)
            });
        };
        let table = &tables[channel].radial;
        let z = z.max(table.low().exp());
        radial(table, z) / (z * z)
    }

    /// Part of the light inside `z` µm.
    pub(super) fn enclosed(&self, channel: usize, z: f64) -> f64 {
        let Some(tables) = &self.tables else {
            return band_mean(channel, |lambda| {
                overlap::enclosed(self.coverage, z / lambda)
            });
        };
        let table = &tables[channel];
        let y = z.ln();
        let low = table.outside.low().max(table.radial.low());
        if y <= low {
            let edge = low.exp();
            return PI * radial(&table.radial, edge) * (z / edge) * (z / edge);
        }
        let high = table.outside.high();
        if y > high {
            return 1.0 - table.outside.at(high) * (high - y).exp();
        }
        1.0 - table.outside.at(y)
    }
}

fn band_mean(channel: usize, f: impl Fn(f64) -> f64) -> f64 {
    colours()[channel]
        .iter()
        .map(|&(lambda, w)| w * f(lambda))
        .sum()
}

/// `z² · density`, which falls as 1/z past the table.
fn radial(table: &Table, z: f64) -> f64 {
    let (y, high) = (z.ln(), table.high());
    if y > high {
        table.at(high) * (high - y).exp()
    } else {
        table.at(y)
    }
}

/// The mean common area less 1 at small q = λν/d̄, from the mean 1/d and 1/d³.
fn first_fall(spread: f64, q: f64) -> f64 {
    let s = spread * spread;
    let (one, three) = ((0.5 * s).exp(), (4.5 * s).exp());
    q * (2.0 / (3.0 * PI) * three * q * q - 4.0 / PI * one)
}

/// What hangs on the spread of sizes alone, for one wavelength of 1 µm.
#[derive(Debug)]
struct One {
    /// Specks by themselves: transfer, `z² · density`, light outside.
    specks: [Vec<f64>; 3],
    /// The mean common area less 1, from far below the first of the transfer on.
    less: Vec<f64>,
    hankel: Hankel,
}

/// Tables for one wavelength of 1 µm, in ln(λν/d) and ln(θd/λ).
struct Sizes {
    spread: f64,
    step: f64,
    /// First ln(θd/λ).
    inner: f64,
    /// First ln(λν/d), a whole number of steps from the other.
    low: f64,
}

impl Sizes {
    fn new(spread: f64) -> Self {
        let step = (spread / 10.0).min(0.015);
        let inner = (1e-4_f64).ln() - 2.0 * spread * spread;
        let low = -inner - ((7.0 + 5.0 * spread - inner) / step).ceil() * step;
        Self {
            spread,
            step,
            inner,
            low,
        }
    }

    /// Transfer; z² · density; light outside.
    fn tables(&self, coverage: f64) -> [Table; 3] {
        // Coverage is what a strength changes; most of the work hangs on the spread alone.
        static MADE: Memo<u64, One> = Memo::new(16);
        let one = MADE.get(self.spread.to_bits(), || self.one());
        let [mut transfer, mut radial, mut outside] = one.specks.clone();
        if coverage > 0.0 {
            let overlap = Overlap::new(coverage);
            let excess = |less| overlap.excess(less);
            let (density, enclosed) = one.hankel.transforms(excess, &one.less);
            let sums = radial.iter_mut().zip(density);
            sums.for_each(|(all, more)| *all += more);
            let sums = outside.iter_mut().zip(enclosed);
            sums.for_each(|(all, more)| *all -= more);
            transfer.iter_mut().for_each(|g| *g = overlap.transfer(*g));
        }
        let table = |start, values| Table::new(start, self.step, values);
        [
            table(self.low, transfer),
            table(self.inner, radial),
            table(self.inner, outside),
        ]
    }

    /// What specks by themselves make, and what is ready for those that overlap.
    fn one(&self) -> One {
        let transfer = self.transfer();
        let (radial, outside) = self.radial();
        let grid = Grid {
            start: self.low,
            step: self.step,
            count: transfer.len(),
            first: self.inner,
            wanted: radial.len(),
        };
        let before = grid.before().map(|x| first_fall(self.spread, x.exp()));
        One {
            less: before.chain(transfer.iter().map(|g| g - 1.0)).collect(),
            hankel: Hankel::new(&grid),
            specks: [transfer, radial, outside],
        }
    }

    fn normal(&self, x: f64) -> f64 {
        let t = x / self.spread;
        (-0.5 * t * t).exp() / (self.spread * (2.0 * PI).sqrt())
    }

    /// `∫ overlap(eˣ) normal(y − x) dx`, x < 0, by panels of Gauss's rule; the last panel takes
    /// x = −s², which makes the (1 − q)^{3/2} at the end smooth.
    fn transfer(&self) -> Vec<f64> {
        const ORDER: usize = 12;
        let rule = gauss_legendre::<ORDER>();
        let width = (self.spread).min(0.5);
        let start = self.low;
        let panels = ((REACH * self.spread - start) / width).ceil() as usize;
        let mut samples = Vec::with_capacity(panels * ORDER);
        for panel in (1..panels).rev() {
            for (node, weight) in &rule {
                let x = -width * (panel as f64 + 0.5 - 0.5 * node);
                samples.push((x, 0.5 * width * weight * airy::overlap(x.exp())));
            }
        }
        let root = width.sqrt();
        for (node, weight) in rule.iter().rev() {
            let s = 0.5 * root * (1.0 + node);
            samples.push((-s * s, root * weight * s * airy::overlap((-s * s).exp())));
        }
        let end = REACH * self.spread + 16.0 * self.step;
        let count = ((end - start) / self.step).ceil() as usize + 1;
        (0..count)
            .map(|i| {
                let y = start + i as f64 * self.step;
                let reach = REACH * self.spread;
                let first = samples.partition_point(|&(x, _)| x < y - reach);
                samples[first..]
                    .iter()
                    .take_while(|&&(x, _)| x <= y + reach)
                    .map(|&(x, g)| g * self.normal(y - x))
                    .sum()
            })
            .collect()
    }

    /// `J₁²(πeˣ)/π` and `J₀² + J₁²`, each averaged over the sizes. Past a hundred radians, and past ten
    /// over the spread, the average leaves nothing of the oscillation: it is faded out there so that the
    /// step need not resolve it.
    fn radial(&self) -> (Vec<f64>, Vec<f64>) {
        let reach = (REACH * self.spread / self.step).ceil() as usize;
        let start = self.inner;
        let count = ((1e5_f64.ln() - start) / self.step).ceil() as usize;
        let fade = (10.0 / self.spread).max(100.0);
        let single: Vec<(f64, f64)> = (0..count + 2 * reach)
            .map(|i| {
                let u = PI * (start + (i as f64 - reach as f64) * self.step).exp();
                let kept = 0.5 * libm::erfc((u / fade).ln() / 0.085);
                let smooth = if kept < 1.0 {
                    airy::smooth(u)
                } else {
                    (0.0, 0.0)
                };
                if kept < 1e-17 {
                    return (smooth.0 / PI, smooth.1);
                }
                let (j0, j1) = (libm::j0(u), libm::j1(u));
                let (one, both) = (j1 * j1, j0 * j0 + j1 * j1);
                let faded = |exact: f64, mean: f64| mean + kept * (exact - mean);
                (faded(one, smooth.0) / PI, faded(both, smooth.1))
            })
            .collect();
        let kernel: Vec<f64> = (0..=2 * reach)
            .map(|k| self.step * self.normal((k as f64 - reach as f64) * self.step))
            .collect();
        single
            .windows(kernel.len())
            .map(|near| {
                near.iter()
                    .zip(&kernel)
                    .fold((0.0, 0.0), |sum, (m, k)| (sum.0 + m.0 * k, sum.1 + m.1 * k))
            })
            .unzip()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Mean over sizes and band by a plain fine sum, independent of the tables.
    fn plain(n: u32, spread: f64, channel: usize, f: impl Fn(f64) -> f64) -> f64 {
        let mut total = 0.0;
        let mut weight = 0.0;
        for i in 0..=n {
            let t = -8.0 + 16.0 * f64::from(i) / f64::from(n);
            let w = (-0.5 * t * t).exp();
            weight += w;
            let shrink = (-t * spread).exp(); // 1/d
            total += w * band_mean(channel, |lambda| f(lambda * shrink));
        }
        total / weight
    }

    #[test]
    fn tables_hold_to_plain_quadrature() {
        for (spread, channel) in [(0.02, 1), (0.25, 0), (0.6, 2)] {
            let halo = Halo::build(spread, 0.0);
            for v in [1e-4, 0.01, 0.3, 1.2, 1.8, 2.4, 6.0] {
                let want = plain(8000, spread, channel, |t| airy::overlap(t * v));
                let got = halo.transfer(channel, v);
                assert!(
                    (got - want).abs() < 1e-9,
                    "T {spread} {v}: {:e}",
                    got - want
                );
            }
            for z in [1e-4, 0.02, 0.2, 0.55, 1.0, 3.0, 40.0] {
                // Far out the rings pass quickly: more nodes.
                let n = if z > 5.0 { 40_000 } else { 8000 };
                let want = plain(n, spread, channel, |t| {
                    airy::intensity(PI * z / t) * 0.25 * PI / (t * t)
                });
                let got = halo.density(channel, z);
                assert!(
                    (got / want - 1.0).abs() < 1e-8,
                    "p {spread} {z}: {:e}",
                    got / want - 1.0
                );
                let want = plain(n, spread, channel, |t| airy::enclosed(PI * z / t));
                let got = halo.enclosed(channel, z);
                assert!(
                    (got - want).abs() < 1e-9,
                    "E {spread} {z}: {:e}",
                    got - want
                );
            }
        }
    }

    #[test]
    fn one_size_is_the_end_of_the_row() {
        let (one, least) = (Halo::of(0.0, 0.2), Halo::of(LEAST_SPREAD, 0.2));
        for v in [0.2, 0.9, 1.7] {
            let gap = one.transfer(1, v) - least.transfer(1, v);
            assert!(gap.abs() < 2e-3, "transfer at {v} moves by {gap}");
        }
    }

    /// `∫ H f(2πqz) dq` over a fine sum of the mean common area, size by size: no tables, no FFT.
    #[test]
    fn crowded_tables_hold_to_plain_quadrature() {
        let cases = [
            (0.1, 0.3, 1),
            (0.25, 0.1, 0),
            (0.45, 0.4, 1),
            (0.6, 0.25, 2),
        ];
        for (spread, coverage, channel) in cases {
            let halo = Halo::build(spread, coverage);
            let sizes: Vec<(f64, f64)> = (0..=600)
                .map(|i| -8.0 + 16.0 * f64::from(i) / 600.0)
                .map(|t| ((-t * spread).exp(), (-0.5 * t * t).exp()))
                .collect();
            let all: f64 = sizes.iter().map(|s| s.1).sum();
            let mean = |q: f64| -> f64 {
                let sum = sizes
                    .iter()
                    .map(|(shrink, w)| w * airy::overlap(q * shrink));
                sum.sum::<f64>() / all
            };
            for v in [1e-4, 0.01, 0.3, 1.2, 2.4] {
                let want = band_mean(channel, |lambda| {
                    overlap::transfer(coverage, mean(lambda * v))
                });
                let got = halo.transfer(channel, v);
                assert!(
                    (got - want).abs() < 1e-8,
                    "T {spread} {v}: {:e}",
                    got - want
                );
            }
            // Simpson's rule in w, q = end·w³.
            let (n, end) = (12_000, (7.0 * spread).exp());
            let nodes: Vec<(f64, f64, f64)> = (1..n)
                .map(|i| {
                    let w = f64::from(i) / f64::from(n);
                    let weight = if i % 2 == 1 { 4.0 } else { 2.0 };
                    let q = end * w * w * w;
                    let dq = weight * end * w * w / f64::from(n);
                    (q, dq, overlap::transfer(coverage, mean(q)))
                })
                .collect();
            for z in [0.02, 0.2, 0.55, 1.0, 3.0] {
                let want = band_mean(channel, |lambda| {
                    let k = 2.0 * PI * z / lambda;
                    let sum: f64 = nodes
                        .iter()
                        .map(|(q, w, h)| w * h * q * libm::j0(k * q))
                        .sum();
                    2.0 * PI * sum / (lambda * lambda)
                });
                let got = halo.density(channel, z);
                assert!(
                    (got / want - 1.0).abs() < 1e-7,
                    "p {spread} {z}: {:e}",
                    got / want - 1.0
                );
                let want = band_mean(channel, |lambda| {
                    let k = 2.0 * PI * z / lambda;
                    k * nodes
                        .iter()
                        .map(|(q, w, h)| w * h * libm::j1(k * q))
                        .sum::<f64>()
                });
                let got = halo.enclosed(channel, z);
                assert!(
                    (got - want).abs() < 1e-8,
                    "E {spread} {z}: {:e}",
                    got - want
                );
            }
            // Far out, the tail of specks by themselves times μ/c: the slope at no shift.
            let (far, one) = (halo.density(channel, 3e4), Halo::build(spread, 0.0));
            let want = -(1.0 - coverage).ln() / coverage * one.density(channel, 3e4);
            assert!(
                (far / want - 1.0).abs() < 1e-6,
                "tail: {}",
                far / want - 1.0
            );
        }
    }

    /// As c falls the law becomes that of specks by themselves; at 0 it is it, to the bit.
    #[test]
    fn without_coverage_it_is_the_law_of_one_speck() {
        let (none, few) = (Halo::build(0.4, 0.0), Halo::build(0.4, 1e-6));
        for x in [1e-3, 0.1, 0.7, 2.0, 30.0] {
            let gap = [
                none.transfer(0, x) - few.transfer(0, x),
                none.density(0, x) / few.density(0, x) - 1.0,
                none.enclosed(0, x) - few.enclosed(0, x),
            ];
            assert!(gap.iter().all(|g| g.abs() < 2e-6), "at {x}: {gap:?}");
        }
    }
}
