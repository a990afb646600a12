//! Hankel transforms between geometric grids.
//!
//! A Hankel transform is a convolution in the logarithms of its two arguments, and a convolution is a
//! product of Fourier transforms: that of `x^s J(x)` is a ratio of Γ functions. The function must be
//! smooth in its logarithm; the transform then keeps its relative precision over many decades.
//!
//! Sources: J. D. Talman, *J. Comput. Phys.* 29 (1978); A. J. S. Hamilton, *MNRAS* 312 (2000), appendix
//! B (from memory); Mellin transforms of Bessel functions, DLMF 10.22.43; Stirling's series, DLMF
//! 5.11.1. Compared with plain quadrature in the tests of the halo.

use rustdct::rustfft::num_complex::Complex;
use rustdct::rustfft::{Fft, FftPlanner};
use std::f64::consts::PI;
use std::sync::Arc;

/// How far to the left of the samples the function is followed, in ln q.
const LEFT: f64 = 70.0;

/// Coefficients below this part of the largest are noise.
const NOISE: f64 = 1e-15;

/// Where a function of ln q is sampled, and its transform asked for in ln z. The function vanishes as q does, and
/// after the last sample it is nothing.
pub(super) struct Grid {
    /// ln q of the first of `count` samples.
    pub(super) start: f64,
    /// Step in ln q and in ln z.
    pub(super) step: f64,
    /// Samples from `start` on.
    pub(super) count: usize,
    /// ln z of the first of `wanted` answers.
    pub(super) first: f64,
    /// How many answers.
    pub(super) wanted: usize,
}

impl Grid {
    /// How far to the left of the samples the function is followed.
    fn extra(&self) -> usize {
        (LEFT / self.step) as usize
    }

    fn origin(&self) -> f64 {
        self.start - self.extra() as f64 * self.step
    }

    /// ln q of the places to the left of `start`, which come before the samples.
    pub(super) fn before(&self) -> impl Iterator<Item = f64> {
        let (origin, step) = (self.origin(), self.step);
        (0..self.extra()).map(move |i| origin + i as f64 * step)
    }
}

/// Tilts of the function: the first keeps the precision far out, the second near the centre.
const TILTS: [f64; 2] = [-0.5, 1.0];

/// Transforms on one grid, made ready: all that does not hang on the function.
pub(super) struct Hankel {
    fft: Arc<dyn Fft<f64>>,
    /// `e^{tilt·x}` for each tilt at each place of the function.
    tilted: [Vec<f64>; 2],
    /// `e^{tilt·y}` for each tilt at each answer.
    straight: [Vec<f64>; 2],
    /// What the transform of the tilted function is multiplied by: J₀ for each tilt, J₁ for the first.
    kernels: [Vec<Complex<f64>>; 3],
    /// Answers from here on are taken from the first tilt.
    split: usize,
}

impl std::fmt::Debug for Hankel {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Hankel over {} places", self.fft.len())
    }
}

impl Hankel {
    pub(super) fn new(grid: &Grid) -> Self {
        let all = grid.extra() + grid.count;
        let length = all.max(grid.wanted).next_power_of_two();
        let place = |i: usize| match i.checked_sub(grid.extra()) {
            Some(i) => grid.start + i as f64 * grid.step,
            None => grid.origin() + i as f64 * grid.step,
        };
        let answer = |i: usize| grid.first + i as f64 * grid.step;
        let shift = grid.origin() + grid.first;
        let kernel = |tilt: f64, kernel: fn(Complex<f64>) -> Complex<f64>, power: f64| {
            let at = |k: usize| {
                let omega = 2.0 * PI * k as f64 / (length as f64 * grid.step);
                let turn = Complex::new(0.0, -omega * shift).exp();
                kernel(Complex::new(power - tilt, omega)) * turn / length as f64
            };
            (0..length / 2).map(at).collect()
        };
        let [far, near] = TILTS;
        Self {
            fft: FftPlanner::new().plan_fft_forward(length),
            tilted: TILTS.map(|tilt| (0..all).map(|i| (tilt * place(i)).exp()).collect()),
            straight: TILTS.map(|tilt| {
                let power = |i: usize| (tilt * answer(i)).exp();
                (0..grid.wanted).map(power).collect()
            }),
            kernels: [
                kernel(far, j0, 2.0),
                kernel(near, j0, 2.0),
                kernel(far, j1, 1.0),
            ],
            split: (-grid.first / grid.step).max(0.0) as usize,
        }
    }

    /// `z²·2π ∫ f(q) J₀(2πqz) q dq` and `2πz ∫ f(q) J₁(2πqz) dq` at every answer, of `f` of these values, from the
    /// first place [`Grid::before`] the samples on.
    pub(super) fn transforms(
        &self,
        f: impl Fn(f64) -> f64,
        values: &[f64],
    ) -> (Vec<f64>, Vec<f64>) {
        let values: Vec<f64> = values.iter().map(|v| f(*v)).collect();
        let [far, near] = self.tilted.each_ref().map(|tilt| {
            let tilted = values.iter().zip(tilt).map(|(v, t)| v * t);
            self.forward(tilted)
        });
        let [far_out, near_out] = self.straight.each_ref();
        let near = self.back(&near, &self.kernels[1], near_out);
        let enclosed = self.back(&far, &self.kernels[2], far_out);
        let mut density = self.back(&far, &self.kernels[0], far_out);
        let split = self.split.min(density.len());
        density[..split].copy_from_slice(&near[..split]);
        (density, enclosed)
    }

    /// The transform of a tilted function, without what is noise in it.
    fn forward(&self, tilted: impl Iterator<Item = f64>) -> Vec<Complex<f64>> {
        let mut line: Vec<Complex<f64>> = tilted.map(|v| Complex::new(v, 0.0)).collect();
        line.resize(self.fft.len(), Complex::new(0.0, 0.0));
        self.fft.process(&mut line);
        let floor = NOISE * line.iter().map(|c| c.norm()).fold(0.0, f64::max);
        for value in &mut line {
            if value.norm() <= floor {
                *value = Complex::new(0.0, 0.0);
            }
        }
        line
    }

    /// Convolved with what has the transform `kernel`, and straight again.
    fn back(
        &self,
        transform: &[Complex<f64>],
        kernel: &[Complex<f64>],
        straight: &[f64],
    ) -> Vec<f64> {
        let length = self.fft.len();
        let mut line = vec![Complex::new(0.0, 0.0); length];
        for (k, (value, kernel)) in transform.iter().zip(kernel).enumerate() {
            let value = value * kernel;
            line[k] = value;
            if k > 0 {
                // The function is real.
                line[length - k] = value.conj();
            }
        }
        self.fft.process(&mut line);
        line.iter().zip(straight).map(|(c, s)| c.re * s).collect()
    }
}

/// `2π ∫ u^{s−1} J₀(2πu) du`, continued.
fn j0(s: Complex<f64>) -> Complex<f64> {
    ratio(s, s * 0.5, Complex::new(1.0, 0.0) - s * 0.5)
}

/// `2π ∫ u^{s−1} J₁(2πu) du`, continued.
fn j1(s: Complex<f64>) -> Complex<f64> {
    ratio(s, (s + 1.0) * 0.5, (Complex::new(3.0, 0.0) - s) * 0.5)
}

/// `π^{1−s} Γ(a)/Γ(b)`.
fn ratio(s: Complex<f64>, a: Complex<f64>, b: Complex<f64>) -> Complex<f64> {
    let power = (Complex::new(1.0, 0.0) - s) * PI.ln();
    (power + ln_gamma(a) - ln_gamma(b)).exp()
}

/// ln Γ up to a multiple of 2πi, by the recurrence and Stirling's series.
fn ln_gamma(z: Complex<f64>) -> Complex<f64> {
    let (mut z, mut product) = (z, Complex::new(1.0, 0.0));
    while z.re < 9.0 {
        product *= z;
        z += 1.0;
    }
    let s = (z * z).inv();
    let tail = [
        1.0 / 12.0,
        -1.0 / 360.0,
        1.0 / 1260.0,
        -1.0 / 1680.0,
        1.0 / 1188.0,
        -691.0 / 360_360.0,
        1.0 / 156.0,
    ];
    let series = tail
        .iter()
        .rev()
        .fold(Complex::new(0.0, 0.0), |sum, c| sum * s + c);
    (z - 0.5) * z.ln() - z + 0.5 * (2.0 * PI).ln() + series / z - product.ln()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Γ(1/2) = √π; |Γ(i)|² = π/sinh π; Γ(−1/2) = −2√π. Source: DLMF 5.4.
    #[test]
    fn gamma_has_its_known_values() {
        let gamma = |re: f64, im: f64| ln_gamma(Complex::new(re, im)).exp();
        assert!((gamma(0.5, 0.0).re - PI.sqrt()).abs() < 1e-13, "at 1/2");
        assert!(
            (gamma(-0.5, 0.0).re + 2.0 * PI.sqrt()).abs() < 1e-12,
            "at −1/2"
        );
        let want = PI / PI.sinh();
        assert!(
            (gamma(0.0, 1.0).norm_sqr() / want - 1.0).abs() < 1e-13,
            "at i"
        );
    }

    /// A Gaussian less a narrower one, whose transforms are known in closed form.
    #[test]
    fn gaussians_transform_into_gaussians() {
        // exp(−πq²) transforms into exp(−πz²), and of it 1 − exp(−πz²) lies inside z.
        let wide = |q: f64| (-PI * q * q).exp() - (-4.0 * PI * q * q).exp();
        let step = 0.02;
        let start = -4.0;
        let grid = Grid {
            start,
            step,
            count: 400,
            first: -3.0,
            wanted: 230,
        };
        let places = grid
            .before()
            .chain((0..400).map(|i| start + f64::from(i) * step));
        let values: Vec<f64> = places.map(f64::exp).collect();
        let (density, enclosed) = Hankel::new(&grid).transforms(wide, &values);
        for i in (0..230).step_by(17) {
            let z = (-3.0 + f64::from(i as u32) * step).exp();
            let (a, b) = (-PI * z * z, -0.25 * PI * z * z);
            let want = z * z * (a.exp() - 0.25 * b.exp());
            assert!(
                (density[i] - want).abs() < 1e-12,
                "density at {z}: {} {want}",
                density[i]
            );
            let want = b.exp() - a.exp();
            assert!(
                (enclosed[i] - want).abs() < 1e-12,
                "enclosed at {z}: {} {want}",
                enclosed[i]
            );
        }
    }
}
