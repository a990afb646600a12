//! Hankel transforms between geometric grids.
//!
//! A Hankel transform is a convolution in the logarithms of its two arguments, and a convolution is a
//! product of Fourier transforms: that of `x^s J(x)` is a ratio of Γ functions. The function must be
//! smooth in its logarithm; the transform then keeps its relative precision over many decades.
//!
//! Sources: J. D. Talman, *J. Comput. Phys.* 29 (1978); A. J. S. Hamilton, *MNRAS* 312 (2000), appendix
//! B (from memory); Mellin transforms of Bessel functions, DLMF 10.22.43; Stirling's series, DLMF
//! 5.11.1. Compared with plain quadrature in the tests of the halo.

use rustdct::rustfft::FftPlanner;
use rustdct::rustfft::num_complex::Complex;
use std::f64::consts::PI;

/// How far to the left of the samples the function is followed, in ln q.
const LEFT: f64 = 70.0;

/// Coefficients below this part of the largest are noise.
const NOISE: f64 = 1e-15;

/// A function of ln q: its values from `start` on at equal steps, nothing after the last of them, and
/// a rule for what lies before the first, where it must vanish as q does.
pub(super) struct Samples<F> {
    /// First abscissa, ln q.
    pub(super) start: f64,
    /// Step in ln q, and of the answer in ln z.
    pub(super) step: f64,
    /// The values.
    pub(super) values: Vec<f64>,
    /// The value at a smaller ln q.
    pub(super) before: F,
}

impl<F: Fn(f64) -> f64> Samples<F> {
    /// `z²·2π ∫ f(q) J₀(2πqz) q dq` and `2πz ∫ f(q) J₁(2πqz) dq` at `count` points from ln z = `first` on.
    pub(super) fn transforms(&self, first: f64, count: usize) -> (Vec<f64>, Vec<f64>) {
        let extra = (LEFT / self.step) as usize;
        let all = extra + self.values.len();
        let length = all.max(count).next_power_of_two();
        let origin = self.start - extra as f64 * self.step;
        let mut f: Vec<(f64, f64)> = (0..extra)
            .map(|i| origin + i as f64 * self.step)
            .map(|x| (x, (self.before)(x)))
            .collect();
        let place = |i: usize| self.start + i as f64 * self.step;
        f.extend(self.values.iter().enumerate().map(|(i, v)| (place(i), *v)));
        let run = |tilt: f64, kernel: fn(Complex<f64>) -> Complex<f64>, first_power: f64| {
            let problem = Tilted {
                f: &f,
                tilt,
                step: self.step,
                length,
                shift: origin + first,
            };
            let out = problem.against(|omega| kernel(Complex::new(first_power - tilt, omega)));
            let at = |i: usize| first + i as f64 * self.step;
            let straight = out.iter().take(count).enumerate();
            straight
                .map(|(i, g)| g * (tilt * at(i)).exp())
                .collect::<Vec<f64>>()
        };
        // One tilt keeps the precision far out, the other near the centre.
        let (far, near) = (run(-0.5, j0, 2.0), run(1.0, j0, 2.0));
        let split = (-first / self.step).max(0.0) as usize;
        let density = near
            .iter()
            .take(split)
            .chain(far.iter().skip(split))
            .copied()
            .collect();
        (density, run(-0.5, j1, 1.0))
    }
}

/// `f(x)·e^{tilt·x}` on a periodic grid.
struct Tilted<'a> {
    f: &'a [(f64, f64)],
    tilt: f64,
    step: f64,
    length: usize,
    /// First ln q plus first ln z.
    shift: f64,
}

impl Tilted<'_> {
    /// Convolved with what has the transform `kernel(ω)`.
    fn against(&self, kernel: impl Fn(f64) -> Complex<f64>) -> Vec<f64> {
        let mut line: Vec<Complex<f64>> = self
            .f
            .iter()
            .map(|&(x, v)| Complex::new(v * (self.tilt * x).exp(), 0.0))
            .collect();
        line.resize(self.length, Complex::new(0.0, 0.0));
        let fft = FftPlanner::new().plan_fft_forward(self.length);
        fft.process(&mut line);
        let floor = NOISE * line.iter().map(|c| c.norm()).fold(0.0, f64::max);
        let period = self.length as f64 * self.step;
        let scale = 1.0 / self.length as f64;
        let half = self.length / 2;
        line[half] = Complex::new(0.0, 0.0);
        for k in 0..half {
            let omega = 2.0 * PI * k as f64 / period;
            let value = if line[k].norm() > floor {
                let turn = Complex::new(0.0, -omega * self.shift).exp();
                line[k] * kernel(omega) * turn * scale
            } else {
                Complex::new(0.0, 0.0)
            };
            line[k] = value;
            if k > 0 {
                // The function is real.
                line[self.length - k] = value.conj();
            }
        }
        fft.process(&mut line);
        line.iter().map(|c| c.re).collect()
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
        let values = (0..400)
            .map(|i| wide((start + f64::from(i) * step).exp()))
            .collect();
        let samples = Samples {
            start,
            step,
            values,
            before: |x: f64| wide(x.exp()),
        };
        let (density, enclosed) = samples.transforms(-3.0, 230);
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
