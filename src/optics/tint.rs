//! Coloured density: what a dye spread unevenly over a glass does to working light.
//!
//! Where a part w of a dye of spectral density D(λ) is met, 10^−D(λ)·w passes: colour fades with
//! density, never with a mixture of clear and coloured. A pixel sees the pupil's mean T(λ) of that,
//! over every glass at once. Behind uniform glass τ, which a plan applies first as the matrix M(τ),
//! what is left to do is M(τT)·M(τ)⁻¹; and since M is linear in the spectrum
//! ([`crate::colour::glass`]), that is ΣT(λ)·W(λ) with one constant matrix for each wavelength of
//! the table, ΣW(λ) = 1.
//!
//! A mean over the pupil for each of 81 wavelengths is more than is needed, since T depends on
//! wavelength through the dyes' densities alone:
//! - exactly: wavelengths of equal density are one; and for dyes that are multiples of one S(λ), T is
//!   a function of S whose n-th derivative is below aⁿ, a = ln 10·ΣD. Interpolated at n Chebyshev
//!   nodes it errs by at most 2(a/4)ⁿ/n! (the interpolation remainder), which is kept under 1e-12;
//! - fitted: a handful of wavelengths from which all the others follow linearly for every mixture of
//!   the dyes, found by elimination with full pivoting (the discrete empirical interpolation of Barrault
//!   et al., C. R. Acad. Sci. 339, 2004): clear and full density come out exactly, all between to 3e-5.
//!
//! ```
//! use foreglass::colour::{Spectrum, illuminant};
//! use foreglass::optics::tint::{Dye, Tint};
//! let scene = illuminant::d55();
//! let tint = Tint::new(&Spectrum::constant(0.5), &scene, illuminant::white(&scene), false);
//! // A neutral dye of density 0.3 passes half, and grey stays grey.
//! let half = tint.matrix(&Spectrum::constant(0.5));
//! assert!(half.apply([0.2; 3]).iter().all(|v| (v - 0.1).abs() < 1e-12));
//! ```

use crate::colour::glass::{WORST_CONDITION, glass_matrix, scene_condition};
use crate::colour::{Matrix3, Spectrum, Xyz, observer};
use std::f64::consts::{LN_10, PI};
use std::sync::Arc;

/// The nine elements of a matrix, row by row.
pub type Nine = [f64; 9];

/// The colour of a glass whose dye is spread unevenly.
#[derive(Debug, Clone, PartialEq)]
pub struct Dye {
    /// Its spectral density where all of it is met.
    pub density: Spectrum,
    /// What it does to working light.
    pub tint: Tint,
}

/// What transmittances at the wavelengths of a [`Spectrum`] do to working light that has already
/// passed all uniform glass: ΣT(λ)·W(λ).
#[derive(Debug, Clone, PartialEq)]
pub struct Tint {
    basis: Arc<[Nine]>,
}

/// One term of what a pupil's mean is summed up from: what passes where every dye has the density
/// told here, times a matrix.
#[derive(Debug, Clone, PartialEq)]
pub struct Node {
    /// Density of each dye, in the order in which they were given.
    pub densities: Vec<f64>,
    /// The matrix, row by row.
    pub weight: Nine,
}

/// Above this condition number of the uniform glass's matrix its inverse would cost pictures their
/// accuracy; colour is then placed as if the uniform glass were not there.
const WORST_GLASS: f64 = 1e4;
/// Error of the exact nodes, of the transmittance at any wavelength.
const EXACT: f64 = 1e-12;
/// Error of the fitted nodes.
const FITTED: f64 = 3e-5;
/// Mixtures of the dyes that the fitted nodes are found from.
const MIXTURES: usize = 256;

impl Tint {
    /// Behind uniform glass of transmittance `uniform`, under the light `scene`, seen by a camera
    /// whose white is `balance`; `through`: balanced through the uniform glass (placed colour is
    /// never balanced away).
    #[must_use]
    pub fn new(uniform: &Spectrum, scene: &Spectrum, balance: Xyz, through: bool) -> Self {
        if scene_condition(scene) >= WORST_CONDITION {
            return Self::of_luminance(scene);
        }
        let of = |tau: &Spectrum| glass_matrix(tau, scene, balance, false);
        let clear = Spectrum::constant(1.0);
        let sound = |tau: &Spectrum| of(tau).condition() < WORST_GLASS;
        let uniform = if sound(uniform) { uniform } else { &clear };
        let (matrix, rebalanced) = (of(uniform), glass_matrix(uniform, scene, balance, through));
        let (Some(back), Some(again)) = (matrix.inverse(), rebalanced.inverse()) else {
            return Self::of_luminance(scene);
        };
        // R·M(τ) is the matrix applied first: R M(τδ) (R M(τ))⁻¹.
        let rebalance = rebalanced * back;
        let basis = (0..Spectrum::COUNT).map(|k| {
            let mut line = [0.0; Spectrum::COUNT];
            line[k] = uniform.samples()[k];
            nine(&(rebalance * of(&Spectrum::from_samples(line)) * again))
        });
        Self {
            basis: basis.collect(),
        }
    }

    /// What is left to say of colour under a light of one line or two: its loss of luminance.
    fn of_luminance(scene: &Spectrum) -> Self {
        let whole = observer::integrate(scene).luminance();
        let basis = (0..Spectrum::COUNT).map(|k| {
            let mut line = [0.0; Spectrum::COUNT];
            line[k] = scene.samples()[k];
            let part = observer::integrate(&Spectrum::from_samples(line)).luminance() / whole;
            nine(&Matrix3::diagonal(
                [if part.is_finite() { part } else { 0.0 }; 3],
            ))
        });
        Self {
            basis: basis.collect(),
        }
    }

    /// The matrix of a transmittance that is the same over the whole pupil.
    #[must_use]
    pub fn matrix(&self, tau: &Spectrum) -> Matrix3 {
        matrix(&self.weighed(tau.samples()))
    }

    fn weighed(&self, weights: &[f64]) -> Nine {
        let mut sum = [0.0; 9];
        for (w, b) in weights.iter().zip(self.basis.iter()) {
            add(&mut sum, *w, b);
        }
        sum
    }

    /// The nodes that a pupil's mean is exactly the sum of. `dyes` are the spectral densities of
    /// glasses whose parts run from 0 to 1.
    #[must_use]
    pub fn exact(&self, dyes: &[&Spectrum]) -> Vec<Node> {
        let mut distinct: Vec<Node> = Vec::new();
        for (k, basis) in self.basis.iter().enumerate() {
            let densities: Vec<f64> = dyes.iter().map(|d| d.samples()[k]).collect();
            match distinct.iter_mut().find(|n| n.densities == densities) {
                Some(node) => add(&mut node.weight, 1.0, basis),
                None => distinct.push(Node {
                    densities,
                    weight: *basis,
                }),
            }
        }
        match self.chebyshev(dyes) {
            Some(nodes) if nodes.len() < distinct.len() => nodes,
            _ => distinct,
        }
    }

    /// Nodes for dyes that are multiples of one; None for others.
    fn chebyshev(&self, dyes: &[&Spectrum]) -> Option<Vec<Node>> {
        let peak = |d: &Spectrum| d.samples().iter().copied().fold(0.0, f64::max);
        let shape = dyes.iter().find(|d| peak(d) > 0.0)?;
        let shape = shape.scaled(1.0 / peak(shape));
        let peaks: Vec<f64> = dyes.iter().map(|d| peak(d)).collect();
        let alike = dyes.iter().zip(&peaks).all(|(dye, peak)| {
            let pairs = dye.samples().iter().zip(shape.samples());
            pairs.into_iter().all(|(d, s)| (d - peak * s).abs() < 1e-14)
        });
        if !alike || shape.samples().iter().any(|s| *s < 0.0) {
            return None;
        }
        let a = LN_10 * peaks.iter().sum::<f64>();
        let mut remainder = 2.0;
        let count = (1..=64).find(|&n| {
            remainder *= a / 4.0 / f64::from(n);
            remainder < EXACT
        })?;
        // First-kind nodes on 0 to 1, with their barycentric weights.
        let angle = |j: i32| PI * (f64::from(j) + 0.5) / f64::from(count);
        let at: Vec<f64> = (0..count).map(|j| 0.5 - 0.5 * angle(j).cos()).collect();
        let barycentric = |j: i32| {
            if j % 2 == 0 {
                angle(j).sin()
            } else {
                -angle(j).sin()
            }
        };
        let nodes = (0..count).zip(&at).map(|(j, x)| {
            let share = shape.map(|s| {
                let whole: f64 = (0..count)
                    .zip(&at)
                    .map(|(i, xi)| barycentric(i) / apart(s, *xi))
                    .sum();
                barycentric(j) / apart(s, *x) / whole
            });
            Node {
                densities: peaks.iter().map(|p| p * x).collect(),
                weight: self.weighed(share.samples()),
            }
        });
        Some(nodes.collect())
    }

    /// Few nodes that a pupil's mean is the sum of to about 3e-5.
    #[must_use]
    pub fn fitted(&self, dyes: &[&Spectrum]) -> Vec<Node> {
        let mut residual = mixtures(dyes);
        let mut rows: Vec<usize> = Vec::new();
        let mut columns: Vec<Vec<f64>> = Vec::new();
        loop {
            // Clear glass and full density first, so that both come out exactly.
            let pivot = match columns.len() {
                n @ (0 | 1) => largest(&residual[n..=n]).map(|(_, row, value)| (n, row, value)),
                _ => largest(&residual),
            };
            let Some((mixture, row, value)) = pivot else {
                break;
            };
            let small = value.abs() < if columns.len() < 2 { 1e-12 } else { FITTED };
            if small || columns.len() == Spectrum::COUNT {
                break;
            }
            let column: Vec<f64> = residual[mixture].iter().map(|v| v / value).collect();
            for r in &mut residual {
                let height = r[row];
                r.iter_mut()
                    .zip(&column)
                    .for_each(|(r, c)| *r -= height * c);
            }
            rows.push(row);
            columns.push(column);
        }
        // Elimination gives every transmittance as Σ c·column with L·c = its values at the pivots, L
        // unit lower triangular; the weights of those values follow from the last one back.
        let mut weights: Vec<Nine> = columns.iter().map(|c| self.weighed(c)).collect();
        for m in (0..rows.len()).rev() {
            for p in m + 1..rows.len() {
                let later = weights[p];
                add(&mut weights[m], -columns[m][rows[p]], &later);
            }
        }
        let nodes = rows.iter().zip(weights).map(|(&row, weight)| Node {
            densities: dyes.iter().map(|d| d.samples()[row]).collect(),
            weight,
        });
        nodes.collect()
    }
}

/// Distance of a value from a node, never nothing: on a node, the node's own share is all there is.
fn apart(value: f64, node: f64) -> f64 {
    let d = value - node;
    if d.abs() < 1e-300 { 1e-300 } else { d }
}

/// Transmittances of mixtures of the dyes: none of them, all of them, and an even spread between.
fn mixtures(dyes: &[&Spectrum]) -> Vec<[f64; Spectrum::COUNT]> {
    const ROOTS: [f64; 8] = [2.0, 3.0, 5.0, 7.0, 11.0, 13.0, 17.0, 19.0];
    let part = |s: usize, i: usize| match s {
        0 => 0.0,
        1 => 1.0,
        _ => (s as f64 * ROOTS[i % ROOTS.len()].sqrt() * (1.0 + 0.1 * (i / ROOTS.len()) as f64))
            .fract(),
    };
    let mixture = |s: usize| {
        std::array::from_fn(|k| {
            let met = dyes
                .iter()
                .enumerate()
                .map(|(i, d)| part(s, i) * d.samples()[k]);
            (-LN_10 * met.sum::<f64>()).exp()
        })
    };
    (0..MIXTURES).map(mixture).collect()
}

/// The mixture and the wavelength of the largest value, and the value.
fn largest(of: &[[f64; Spectrum::COUNT]]) -> Option<(usize, usize, f64)> {
    let all = of.iter().enumerate();
    all.flat_map(|(s, row)| row.iter().enumerate().map(move |(k, v)| (s, k, *v)))
        .max_by(|a, b| a.2.abs().total_cmp(&b.2.abs()))
}

fn add(sum: &mut Nine, weight: f64, of: &Nine) {
    sum.iter_mut().zip(of).for_each(|(s, v)| *s += weight * v);
}

fn nine(m: &Matrix3) -> Nine {
    let r = m.rows();
    std::array::from_fn(|i| r[i / 3][i % 3])
}

/// The matrix of nine elements, row by row.
#[must_use]
pub fn matrix(of: &Nine) -> Matrix3 {
    let [a, b, c, d, e, f, g, h, i] = *of;
    Matrix3::from_rows([[a, b, c], [d, e, f], [g, h, i]])
}
