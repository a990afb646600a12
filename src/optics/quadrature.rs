//! Gauss–Legendre nodes and weights.
//!
//! Source: Newton's method on the Legendre polynomial; Abramowitz and Stegun 25.4.29–30.
//!
//! ```
//! // n = 2: nodes ±1/√3, weights 1 (Abramowitz and Stegun, table 25.4).
//! let rule = foreglass::optics::quadrature::gauss_legendre::<2>();
//! assert!((rule[1].0 - 0.577_350_269_189_626).abs() < 1e-15 && (rule[1].1 - 1.0).abs() < 1e-15);
//! ```

/// `N` nodes on (−1, 1), ascending, each with its weight; exact for polynomials below degree 2N.
#[must_use]
pub fn gauss_legendre<const N: usize>() -> [(f64, f64); N] {
    std::array::from_fn(|i| {
        let n = N as f64;
        let mut x = -(std::f64::consts::PI * (i as f64 + 0.75) / (n + 0.5)).cos();
        let mut slope = 1.0;
        for _ in 0..20 {
            let (mut p, mut before) = (1.0, 0.0);
            for k in 0..N {
                let k = k as f64;
                (p, before) = (((2.0 * k + 1.0) * x * p - k * before) / (k + 1.0), p);
            }
            slope = n * (x * p - before) / (x * x - 1.0);
            let step = p / slope;
            x -= step;
            if step.abs() < 1e-16 {
                break;
            }
        }
        (x, 2.0 / ((1.0 - x * x) * slope * slope))
    })
}
