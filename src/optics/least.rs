//! Least squares for sums of Gaussians: widths and weights together, relative to a profile.
//!
//! Method: Levenberg–Marquardt on ln σ and the weights, the weights solved anew after every step with
//! their sum held exactly (Golub and Pereyra, *SIAM J. Numer. Anal.* 10 (1973), for the separation;
//! Lawson's reweighting to press the largest error). From memory of standard texts; the tests compare
//! with profiles in closed form.

use super::mixture::Gaussian;
use std::f64::consts::PI;

/// What is to be matched at one radius, for unit light in all.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sample {
    pub(super) radius: f64,
    pub(super) density: f64,
    /// Light within the radius; None where it need not be looked at.
    pub(super) enclosed: Option<f64>,
    /// How much a relative error of the density counts.
    pub(super) weight: f64,
}

/// How much an error of the enclosed light counts beside a relative error of the density.
const ENCLOSED: f64 = 2.5;
/// How much the sum of weights counts within a step (after it, the sum is exact).
const FLUX: f64 = 100.0;
/// Keeps weights from growing against each other.
const RIDGE: f64 = 1e-3;

/// Fits unit-sum Gaussians to the samples, from `start`; `rounds` of reweighting press the largest
/// relative error down.
pub(super) fn fit(
    samples: &[Sample],
    start: &[f64],
    widest: f64,
    steps: usize,
    rounds: usize,
) -> Vec<Gaussian> {
    let mut problem = Problem::new(samples, widest);
    let mut logs: Vec<f64> = start.iter().map(|s| s.ln()).collect();
    let mut weights = problem.weights(&problem.units(&logs));
    problem.descend(&mut logs, &mut weights, steps);
    let mut best = (
        problem.worst(&logs, &weights),
        logs.clone(),
        weights.clone(),
    );
    for _ in 0..rounds {
        problem.reweight(&logs, &weights);
        problem.descend(&mut logs, &mut weights, steps / 4);
        let worst = problem.worst(&logs, &weights);
        if worst < best.0 {
            best = (worst, logs.clone(), weights.clone());
        }
    }
    let (_, logs, weights) = best;
    let mut out: Vec<Gaussian> = logs
        .iter()
        .zip(weights)
        .map(|(log, weight)| Gaussian {
            weight,
            sigma: log.exp(),
        })
        .collect();
    out.sort_by(|a, b| a.sigma.total_cmp(&b.sigma));
    out
}

/// A unit Gaussian at a sample.
#[derive(Debug, Clone, Copy)]
struct Unit {
    /// Its density relative to the sample's.
    density: f64,
    /// Half the square of the radius in its widths.
    half: f64,
    /// Its light within the radius.
    enclosed: f64,
}

/// Unit Gaussians at all samples: worked out once for each set of widths, since that is most of a step's time.
struct Units {
    count: usize,
    all: Vec<Unit>,
}

impl Units {
    /// Sample by sample.
    fn samples(&self) -> impl Iterator<Item = &[Unit]> {
        self.all.chunks_exact(self.count.max(1))
    }
}

struct Problem<'a> {
    samples: &'a [Sample],
    /// Reweighted weights.
    stress: Vec<f64>,
    widest: f64,
}

/// Normal equations of a linear least-squares problem, rows added one at a time.
struct Normal {
    n: usize,
    matrix: Vec<f64>,
    right: Vec<f64>,
    cost: f64,
}

impl Normal {
    fn new(n: usize) -> Self {
        Self {
            n,
            matrix: vec![0.0; n * n],
            right: vec![0.0; n],
            cost: 0.0,
        }
    }

    fn row(&mut self, row: &[f64], value: f64) {
        for (i, &a) in row.iter().enumerate() {
            self.right[i] += a * value;
            let into = &mut self.matrix[i * self.n..i * self.n + i + 1];
            for (m, &b) in into.iter_mut().zip(row) {
                *m += a * b;
            }
        }
        self.cost += value * value;
    }

    /// Solves with the diagonal multiplied by 1 + damping. None where the matrix is not definite.
    fn solve(&self, damping: f64, right: &[f64]) -> Option<Vec<f64>> {
        let n = self.n;
        let mut l = self.matrix.clone();
        for i in 0..n {
            l[i * n + i] = l[i * n + i] * (1.0 + damping) + 1e-14;
            for j in 0..=i {
                let (above, own) = l.split_at(i * n);
                let pivot = if j < i {
                    &above[j * n..j * n + j]
                } else {
                    &own[..j]
                };
                let left = own[j] - dot(&own[..j], pivot);
                let a = i * n;
                let b = j * n;
                if i > j {
                    l[a + j] = left / l[b + j];
                } else if left > 0.0 && left.is_finite() {
                    l[a + i] = left.sqrt();
                } else {
                    return None;
                }
            }
        }
        let mut x = right.to_vec();
        for i in 0..n {
            let done = dot(&l[i * n..i * n + i], &x[..i]);
            x[i] = (x[i] - done) / l[i * n + i];
        }
        for i in (0..n).rev() {
            let done: f64 = (i + 1..n).map(|k| l[k * n + i] * x[k]).sum();
            x[i] = (x[i] - done) / l[i * n + i];
        }
        Some(x)
    }
}

/// A product of two rows, in four sums that a processor adds side by side.
fn dot(a: &[f64], b: &[f64]) -> f64 {
    let (fours, others) = (a.chunks_exact(4).zip(b.chunks_exact(4)), a.len() / 4 * 4);
    let mut sums = [0.0; 4];
    for (a, b) in fours {
        for (sum, (a, b)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum += a * b;
        }
    }
    let rest: f64 = a[others..]
        .iter()
        .zip(&b[others..])
        .map(|(a, b)| a * b)
        .sum();
    (sums[0] + sums[1]) + (sums[2] + sums[3]) + rest
}

impl<'a> Problem<'a> {
    fn new(samples: &'a [Sample], widest: f64) -> Self {
        Self {
            samples,
            stress: samples.iter().map(|s| s.weight).collect(),
            widest: widest.ln(),
        }
    }

    /// Unit Gaussians of these widths at every sample.
    fn units(&self, logs: &[f64]) -> Units {
        let widths = logs.iter().map(|log| ((-log).exp(), (-2.0 * log).exp()));
        let widths: Vec<(f64, f64)> = widths.collect();
        let at = |s: &Sample| {
            let (radius, scale) = (s.radius, 1.0 / (2.0 * PI * s.density));
            let unit = move |&(inverse, square): &(f64, f64)| {
                let t = radius * inverse;
                let half = 0.5 * t * t;
                let fall = (-half).exp();
                Unit {
                    density: fall * square * scale,
                    half,
                    enclosed: 1.0 - fall,
                }
            };
            widths.iter().map(unit).collect::<Vec<Unit>>()
        };
        Units {
            count: logs.len(),
            all: self.samples.iter().flat_map(at).collect(),
        }
    }

    /// The best weights for given widths, of unit sum.
    fn weights(&self, units: &Units) -> Vec<f64> {
        let n = units.count;
        let mut normal = Normal::new(n);
        let mut row = vec![0.0; n];
        let mut inside = vec![0.0; n];
        let samples = self.samples.iter().zip(&self.stress);
        for ((s, &stress), units) in samples.zip(units.samples()) {
            for (k, unit) in units.iter().enumerate() {
                row[k] = stress * unit.density;
                inside[k] = ENCLOSED * unit.enclosed;
            }
            normal.row(&row, stress);
            if let Some(enclosed) = s.enclosed {
                normal.row(&inside, ENCLOSED * enclosed);
            }
        }
        for k in 0..n {
            normal.matrix[k * n + k] += RIDGE * RIDGE;
        }
        let even = || vec![1.0 / n as f64; n];
        let Some(free) = normal.solve(0.0, &normal.right) else {
            return even();
        };
        let Some(pull) = normal.solve(0.0, &vec![1.0; n]) else {
            return even();
        };
        let (sum, give): (f64, f64) = (free.iter().sum(), pull.iter().sum());
        free.iter()
            .zip(pull)
            .map(|(f, p)| f + (1.0 - sum) * p / give)
            .collect()
    }

    fn normal(&self, (logs, units): (&[f64], &Units), weights: &[f64]) -> Normal {
        let n = logs.len();
        let mut normal = Normal::new(2 * n);
        let mut row = vec![0.0; 2 * n];
        let mut inside = vec![0.0; 2 * n];
        let samples = self.samples.iter().zip(&self.stress);
        for ((s, &stress), units) in samples.zip(units.samples()) {
            let (mut density, mut enclosed) = (1.0, s.enclosed.unwrap_or(0.0));
            for (k, unit) in units.iter().enumerate() {
                let (unit, half, in_it) = (unit.density, unit.half, unit.enclosed);
                row[k] = stress * weights[k] * unit * (2.0 * half - 2.0);
                row[n + k] = stress * unit;
                inside[k] = -ENCLOSED * weights[k] * 2.0 * half * (1.0 - in_it);
                inside[n + k] = ENCLOSED * in_it;
                density -= weights[k] * unit;
                enclosed -= weights[k] * in_it;
            }
            normal.row(&row, stress * density);
            if s.enclosed.is_some() {
                normal.row(&inside, ENCLOSED * enclosed);
            }
        }
        row.fill(0.0);
        row[n..].fill(FLUX);
        normal.row(&row, FLUX * (1.0 - weights.iter().sum::<f64>()));
        for k in 0..n {
            row.fill(0.0);
            row[n + k] = RIDGE;
            normal.row(&row, -RIDGE * weights[k]);
            let over = logs[k] - self.widest;
            if over > 0.0 {
                row.fill(0.0);
                row[k] = 1.0;
                normal.row(&row, -over);
            }
        }
        normal
    }

    fn descend(&self, logs: &mut Vec<f64>, weights: &mut Vec<f64>, steps: usize) {
        let n = logs.len();
        let mut damping = 1e-3;
        let mut here = self.normal((logs, &self.units(logs)), weights);
        for _ in 0..steps {
            let Some(step) = here.solve(damping, &here.right) else {
                damping *= 10.0;
                continue;
            };
            let moved: Vec<f64> = logs
                .iter()
                .zip(&step)
                .map(|(l, d)| l + d.clamp(-0.7, 0.7))
                .collect();
            let units = self.units(&moved);
            let mut there_weights = self.weights(&units);
            let mut there = self.normal((&moved, &units), &there_weights);
            if there.cost >= here.cost {
                // The exact weights may be worse where the sum binds: try the step's own.
                let own: Vec<f64> = weights.iter().zip(&step[n..]).map(|(w, d)| w + d).collect();
                let sum: f64 = own.iter().sum();
                there_weights = own.iter().map(|w| w / sum).collect();
                there = self.normal((&moved, &units), &there_weights);
            }
            if there.cost < here.cost {
                let gain = (here.cost - there.cost) / here.cost;
                *logs = moved;
                *weights = there_weights;
                here = there;
                damping = (damping * 0.2).max(1e-9);
                if gain < 2e-3 {
                    break;
                }
            } else {
                damping *= 4.0;
                if damping > 1e6 {
                    break;
                }
            }
        }
    }

    fn errors(&self, logs: &[f64], weights: &[f64]) -> Vec<f64> {
        let units = self.units(logs);
        let error = |(s, units): (&Sample, &[Unit])| {
            let got: f64 = units.iter().zip(weights).map(|(u, w)| w * u.density).sum();
            s.weight * (got - 1.0).abs()
        };
        self.samples
            .iter()
            .zip(units.samples())
            .map(error)
            .collect()
    }

    fn worst(&self, logs: &[f64], weights: &[f64]) -> f64 {
        self.errors(logs, weights).into_iter().fold(0.0, f64::max)
    }

    fn reweight(&mut self, logs: &[f64], weights: &[f64]) {
        let errors = self.errors(logs, weights);
        let mean = errors.iter().sum::<f64>() / errors.len() as f64 + 1e-12;
        for (stress, error) in self.stress.iter_mut().zip(errors) {
            *stress *= (0.3 + error / mean).sqrt();
        }
        let power = |v: f64| v * v;
        let want: f64 = self.samples.iter().map(|s| power(s.weight)).sum();
        let have: f64 = self.stress.iter().map(|&s| power(s)).sum();
        let scale = (want / have).sqrt();
        self.stress.iter_mut().for_each(|s| *s *= scale);
    }
}
