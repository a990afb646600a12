//! Symmetric positive systems, small and dense: Cholesky's factor and what follows from it.

/// A lower triangular factor: A = L Lᵀ, rows one after another.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    rows: Vec<Vec<f64>>,
}

impl Factor {
    /// The factor of a symmetric positive matrix, of which only the lower half is read. Where rounding has
    /// left a pivot at nothing or below, a small one is put there.
    pub(super) fn of(mut rows: Vec<Vec<f64>>) -> Self {
        for i in 0..rows.len() {
            let (above, rest) = rows.split_at_mut(i);
            let row = &mut rest[0];
            for (j, other) in above.iter().enumerate() {
                let sum: f64 = row.iter().zip(other).take(j).map(|(a, b)| a * b).sum();
                row[j] = (row[j] - sum) / other[j];
            }
            let sum: f64 = row[..i].iter().map(|a| a * a).sum();
            row[i] = (row[i] - sum).max(1e-12).sqrt();
        }
        Self { rows }
    }

    /// x of A x = b.
    pub(super) fn solve(&self, b: &[f64]) -> Vec<f64> {
        let mut x = self.forward(b);
        for i in (0..x.len()).rev() {
            x[i] /= self.rows[i][i];
            for j in 0..i {
                x[j] -= self.rows[i][j] * x[i];
            }
        }
        x
    }

    /// y of L y = b.
    fn forward(&self, b: &[f64]) -> Vec<f64> {
        let mut y: Vec<f64> = Vec::with_capacity(b.len());
        for (row, b) in self.rows.iter().zip(b) {
            let sum: f64 = row.iter().zip(&y).map(|(l, y)| l * y).sum();
            let pivot = row[y.len()];
            y.push((b - sum) / pivot);
        }
        y
    }

    /// L z.
    pub(super) fn times(&self, z: &[f64]) -> Vec<f64> {
        let row = |(i, row): (usize, &Vec<f64>)| dot(&row[..=i], &z[..=i]);
        self.rows.iter().enumerate().map(row).collect()
    }

    /// Lᵀ a.
    pub(super) fn transposed_times(&self, a: &[f64]) -> Vec<f64> {
        let mut out = vec![0.0; a.len()];
        for (i, (row, a)) in self.rows.iter().zip(a).enumerate() {
            for (o, l) in out.iter_mut().zip(&row[..=i]) {
                *o += l * a;
            }
        }
        out
    }

    /// How likely `b` is of a normal law with this covariance: the logarithm of its density, less a
    /// constant.
    pub(super) fn log_density(&self, b: &[f64]) -> f64 {
        let y = self.forward(b);
        let spread: f64 = self.rows.iter().enumerate().map(|(i, r)| r[i].ln()).sum();
        -0.5 * dot(&y, &y) - spread
    }
}

/// The sum of products.
pub(super) fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_system_comes_back() {
        let a = [[4.0, 2.0, 0.6], [2.0, 5.0, 1.5], [0.6, 1.5, 3.0]];
        let factor = Factor::of(a.iter().map(|r| r.to_vec()).collect());
        let x = [1.0, -2.0, 0.5];
        let b: Vec<f64> = a.iter().map(|r| dot(r, &x)).collect();
        for (found, x) in factor.solve(&b).iter().zip(x) {
            assert!((found - x).abs() < 1e-12, "{found}, not {x}");
        }
        let back = factor.times(&factor.transposed_times(&x));
        for (found, b) in back.iter().zip(&b) {
            assert!((found - b).abs() < 1e-12, "L Lᵀ = A: {found}, not {b}");
        }
        // ln of exp(−xᵀA⁻¹x/2)/√|A| by Cramer's rule.
        let det: f64 = 4.0 * (15.0 - 2.25) - 2.0 * (6.0 - 0.9) + 0.6 * (3.0 - 3.0);
        let wanted = -0.5 * dot(&factor.solve(&x), &x) - 0.5 * det.ln();
        assert!((factor.log_density(&x) - wanted).abs() < 1e-12, "density");
    }
}
