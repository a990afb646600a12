//! Light refracted by lenslets: an even disc, over a log-normal spread of half-angles.
//!
//! With μ = ln φ̄ and s the spread, the closed forms are those of the log-normal's partial moments:
//! enclosed `Φ(a) + θ² e^{2s²−2μ} Φ̄(a + 2s)`, a = (ln θ − μ)/s, and density
//! `e^{2s²−2μ} Φ̄(a + 2s) / π`. The transform is the mean of 2J₁(x)/x, x = 2πφν: it hangs on φ̄ν alone,
//! so that one table per spread, over ln x̄, serves every half-angle; it is good to 1e-9 (the tests hold
//! it to plain sums).

use super::airy;
use super::memo::Memo;
use super::normal::upper;
use super::table::Table;
use std::f64::consts::PI;
use std::sync::Arc;

/// Spreads under this are held to it: an edge harder than it cannot be told from it.
const LEAST_SPREAD: f64 = 0.02;
/// Spreads above this are held to it: a median and a spread would mean little.
const MOST_SPREAD: f64 = 1.0;

/// A disc of median half-angle `exp(centre)`.
#[derive(Debug, Clone)]
pub(super) struct Disc {
    centre: f64,
    spread: f64,
    transform: Arc<Table>,
}

impl Disc {
    /// `angle` in radians.
    pub(super) fn new(angle: f64, spread: f64) -> Self {
        let spread = spread.clamp(LEAST_SPREAD, MOST_SPREAD);
        Self {
            centre: angle.abs().max(1e-12).ln(),
            spread,
            transform: transform(spread),
        }
    }

    pub(super) fn transfer(&self, nu: f64) -> f64 {
        let y = (2.0 * PI * nu.abs()).ln() + self.centre;
        if y <= self.transform.low() {
            // The mean of 1 − x²/8.
            return 1.0 - 0.125 * (2.0 * y + 2.0 * self.spread * self.spread).exp();
        }
        if y >= self.transform.high() {
            0.0
        } else {
            self.transform.at(y)
        }
    }

    pub(super) fn density(&self, theta: f64) -> f64 {
        self.inverse_square() * upper(self.place(theta) + 2.0 * self.spread) / PI
    }

    pub(super) fn encircled(&self, theta: f64) -> f64 {
        let a = self.place(theta);
        let inside = theta * theta * self.inverse_square() * upper(a + 2.0 * self.spread);
        (1.0 - upper(a) + inside).min(1.0)
    }

    fn place(&self, theta: f64) -> f64 {
        (theta.ln() - self.centre) / self.spread
    }

    /// Mean of φ⁻².
    fn inverse_square(&self) -> f64 {
        (2.0 * self.spread * self.spread - 2.0 * self.centre).exp()
    }
}

/// The mean of 2J₁(x)/x over ln x̄, made once per spread.
fn transform(spread: f64) -> Arc<Table> {
    static TABLES: Memo<u64, Table> = Memo::new(64);
    TABLES.get(spread.to_bits(), || averaged(spread))
}

/// Sums over nine standard deviations on steps of a fortieth of one.
///
/// The table ends where the mean has fallen under 1e-11: the rings cancel like a Gaussian in x·spread
/// where the spread is small, and more slowly where it is not, as the transform of a log-normal does.
fn averaged(spread: f64) -> Table {
    let step = spread / 40.0;
    let start = -7.0 - 2.0 * spread * spread;
    let end = (12.0 / spread).ln().max(4.0 + 5.0 * spread);
    let reach = 9 * 40;
    let count = ((end - start) / step).ceil() as usize;
    let single: Vec<f64> = (0..count + 2 * reach)
        .map(|i| airy::jinc((start + (i as f64 - reach as f64) * step).exp()))
        .collect();
    let mut weights: Vec<f64> = (0..=2 * reach)
        .map(|k| (k as f64 - reach as f64) / 40.0)
        .map(|t| (-0.5 * t * t).exp())
        .collect();
    let all: f64 = weights.iter().sum();
    weights.iter_mut().for_each(|w| *w /= all);
    let means = single
        .windows(weights.len())
        .map(|near| near.iter().zip(&weights).map(|(v, w)| v * w).sum());
    Table::new(start, step, means.collect())
}
