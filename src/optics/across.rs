//! What light across lines need for one spread of widths or angles, tabulated over a logarithm.
//! The formulae stand in [`super::lines`].

use super::band::colours;
use super::memo::Memo;
use super::normal::upper;
use super::table::Table;
use std::f64::consts::{FRAC_PI_2, PI};
use std::sync::Arc;

/// How far the normal distribution is followed, in standard deviations.
const REACH: f64 = 9.0;
/// How many spreads are remembered.
const REMEMBERED: usize = 64;

/// What one spread needs, for a median of one.
#[derive(Debug)]
pub(super) enum Tables {
    Groove(Box<[Groove; 3]>),
    /// The transform over ln φν.
    Rib(Table),
}

/// One channel of a groove's law.
#[derive(Debug)]
pub(super) struct Groove {
    /// The transform over ln(ν/w).
    pub(super) transfer: Table,
    /// Near no frequency it is 1 − slope · ν/w.
    pub(super) slope: f64,
    /// Part of the light outside ±θ over ln(θw).
    pub(super) outside: Table,
}

static TABLES: Memo<(bool, u64), Tables> = Memo::new(REMEMBERED);

impl Tables {
    /// Made once and remembered.
    pub(super) fn of(groove: bool, spread: f64) -> Arc<Self> {
        TABLES.get((groove, spread.to_bits()), || {
            if groove {
                Self::groove(spread)
            } else {
                Self::Rib(rib(spread))
            }
        })
    }

    fn groove(spread: f64) -> Self {
        let step = step(spread);
        // The band is 0.7 wide in ln λ; past these ends the triangle is a line, or nothing.
        let start = -(REACH + spread) * spread - 1.0 - 8.0 * step;
        let end = REACH * spread + 1.0 + 8.0 * step;
        let count = ((end - start) / step).ceil() as usize;
        let values = (0..count).map(|i| triangle((start + i as f64 * step).exp(), spread));
        let transfer = Table::new(start, step, values.collect());
        let fade = fade(spread);
        let outside = smeared(spread, [1e-4_f64.ln(), 1e4_f64.ln()], |x| {
            let mean = 1.0 / (PI * PI * x);
            let kept = kept(PI * x, fade);
            if kept < 1e-17 {
                mean
            } else if kept < 1.0 {
                mean + kept * (beyond(x) - mean)
            } else {
                beyond(x)
            }
        });
        let channels = [0, 1, 2].map(|channel| {
            let band: Vec<(f64, f64)> = colours()[channel]
                .iter()
                .map(|&(um, w)| (um.ln(), w))
                .collect();
            let inverse: Vec<(f64, f64)> = band.iter().map(|&(l, w)| (-l, w)).collect();
            let mean: f64 = colours()[channel].iter().map(|&(um, w)| um * w).sum();
            Groove {
                transfer: transfer.averaged(&band),
                slope: mean * (0.5 * spread * spread).exp(),
                outside: outside.averaged(&inverse),
            }
        });
        Self::Groove(Box::new(channels))
    }
}

/// Step of a table over a logarithm that a normal distribution of `spread` has smoothed.
fn step(spread: f64) -> f64 {
    (spread / 10.0).min(0.015)
}

/// Where, in radians of phase, sizes have averaged the oscillation away.
fn fade(spread: f64) -> f64 {
    (10.0 / spread).max(100.0)
}

/// The part of an oscillation at `phase` radians that is kept, so that no step need resolve what the
/// average leaves nothing of.
fn kept(phase: f64, fade: f64) -> f64 {
    0.5 * libm::erfc((phase / fade).ln() / 0.085)
}

/// The transform of ribs over ln φν.
fn rib(spread: f64) -> Table {
    let fade = fade(spread);
    let start = 1e-3_f64.ln() - 3.0 * spread * spread;
    let end = (REACH * spread).max((fade / PI).ln() + 8.0 * spread);
    smeared(spread, [start, end], |x| {
        let phase = 2.0 * PI * x;
        let kept = kept(phase, fade);
        if kept < 1e-17 {
            0.0
        } else {
            kept * phase.sin() / phase
        }
    })
}

/// `E f(x e^{−st})` over a normal t, tabulated over ln x.
fn smeared(spread: f64, [start, end]: [f64; 2], f: impl Fn(f64) -> f64) -> Table {
    let step = step(spread);
    let reach = (REACH * spread / step).ceil() as usize;
    let count = ((end - start) / step).ceil() as usize;
    let place = |i: usize| (start + (i as f64 - reach as f64) * step).exp();
    let single: Vec<f64> = (0..count + 2 * reach).map(|i| f(place(i))).collect();
    let normal = |k: usize| {
        let t = (k as f64 - reach as f64) * step / spread;
        step * (-0.5 * t * t).exp() / (spread * (2.0 * PI).sqrt())
    };
    let kernel: Vec<f64> = (0..=2 * reach).map(normal).collect();
    let values = single
        .windows(kernel.len())
        .map(|near| near.iter().zip(&kernel).map(|(v, k)| v * k).sum())
        .collect();
    Table::new(start, step, values)
}

/// Part of a sinc² outside ±x of its zeros: 1 − (2/π)[Si(2πx) − sin²(πx)/(πx)].
pub(super) fn beyond(x: f64) -> f64 {
    let u = PI * x;
    let sin = u.sin();
    (FRAC_PI_2 - sine_integral(2.0 * u) + sin * sin / u) / FRAC_PI_2
}

/// Si(x) for x > 0, to 1e-8.
pub(super) fn sine_integral(x: f64) -> f64 {
    let square = x * x;
    if x < 20.0 {
        let (mut term, mut sum, mut k) = (x, x, 1.0);
        while k < 100.0 {
            term *= -square / ((k + 1.0) * (k + 2.0));
            k += 2.0;
            sum += term / k;
        }
        return sum;
    }
    let (mut f, mut g, mut term) = (0.0, 0.0, 1.0);
    for n in 0..10 {
        let n = f64::from(n);
        f += term;
        g += term * (2.0 * n + 1.0);
        term *= -(2.0 * n + 1.0) * (2.0 * n + 2.0) / square;
    }
    FRAC_PI_2 - x.cos() * f / x - x.sin() * g / square
}

/// Mean of max(0, 1 − q e^{−s t}) over a normal t.
fn triangle(q: f64, spread: f64) -> f64 {
    let a = q.ln() / spread;
    upper(a) - q * (0.5 * spread * spread).exp() * upper(a + spread)
}
