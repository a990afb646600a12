//! A 3×3 matrix in double precision, and no more of linear algebra than colour needs.
//!
//! ```
//! use foreglass::colour::Matrix3;
//! let m = Matrix3::from_rows([[2.0, 1.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 4.0]]);
//! let back = m.inverse().expect("its determinant is 8") * m;
//! assert!(back.largest_difference(&Matrix3::IDENTITY) < 1e-15, "M⁻¹ M = 1");
//! assert!(m.apply([1.0, 1.0, 1.0]) == [3.0, 1.0, 4.0], "rows times column");
//! ```

/// A 3×3 matrix, kept as rows; it acts on columns: `out[i] = Σ_j rows[i][j] · in[j]`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Matrix3([[f64; 3]; 3]);

impl Matrix3 {
    /// Leaves everything as it is.
    pub const IDENTITY: Self = Self::diagonal([1.0, 1.0, 1.0]);

    /// From three rows.
    #[must_use]
    pub const fn from_rows(rows: [[f64; 3]; 3]) -> Self {
        Self(rows)
    }

    /// From three columns.
    #[must_use]
    pub const fn from_columns([a, b, c]: [[f64; 3]; 3]) -> Self {
        Self([[a[0], b[0], c[0]], [a[1], b[1], c[1]], [a[2], b[2], c[2]]])
    }

    /// One factor for each channel.
    #[must_use]
    pub const fn diagonal(d: [f64; 3]) -> Self {
        Self([[d[0], 0.0, 0.0], [0.0, d[1], 0.0], [0.0, 0.0, d[2]]])
    }

    /// The rows.
    #[must_use]
    pub const fn rows(&self) -> [[f64; 3]; 3] {
        self.0
    }

    /// The rows in single precision, for pixel code.
    #[must_use]
    pub fn rows_f32(&self) -> [[f32; 3]; 3] {
        self.0.map(|row| row.map(|v| v as f32))
    }

    /// The matrix times a column.
    #[must_use]
    pub fn apply(&self, v: [f64; 3]) -> [f64; 3] {
        self.0
            .map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
    }

    /// Every element times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self(self.0.map(|row| row.map(|v| v * factor)))
    }

    /// Whether every element is a finite number.
    #[must_use]
    pub fn is_finite(&self) -> bool {
        self.0.iter().flatten().all(|v| v.is_finite())
    }

    /// The determinant.
    #[must_use]
    pub fn determinant(&self) -> f64 {
        let [a, b, c] = self.0;
        a[0] * (b[1] * c[2] - b[2] * c[1]) - a[1] * (b[0] * c[2] - b[2] * c[0])
            + a[2] * (b[0] * c[1] - b[1] * c[0])
    }

    /// The inverse (adjugate over determinant), or nothing when the matrix is singular, is so close
    /// to it that the inverse is no number, or holds what is not finite.
    #[must_use]
    pub fn inverse(&self) -> Option<Self> {
        let [a, b, c] = self.0;
        let d = self.determinant();
        // Compared with the product of the rows' lengths, so that the scale of the matrix is no
        // matter.
        let size: f64 = self
            .0
            .iter()
            .map(|r| (r[0] * r[0] + r[1] * r[1] + r[2] * r[2]).sqrt())
            .product();
        let minor = |p: [f64; 3], q: [f64; 3], i: usize, j: usize| (p[i] * q[j] - p[j] * q[i]) / d;
        let m = Self([
            [minor(b, c, 1, 2), minor(c, a, 1, 2), minor(a, b, 1, 2)],
            [minor(b, c, 2, 0), minor(c, a, 2, 0), minor(a, b, 2, 0)],
            [minor(b, c, 0, 1), minor(c, a, 0, 1), minor(a, b, 0, 1)],
        ]);
        (d.abs() > 1e-14 * size && m.is_finite()).then_some(m)
    }

    /// How much the matrix can magnify a relative error of what it is applied to: ‖M‖·‖M⁻¹‖ in the
    /// largest-row-sum norm. Infinite when it has no inverse.
    #[must_use]
    pub fn condition(&self) -> f64 {
        self.inverse()
            .map_or(f64::INFINITY, |inv| self.row_norm() * inv.row_norm())
    }

    fn row_norm(&self) -> f64 {
        self.0
            .iter()
            .map(|r| r.iter().map(|v| v.abs()).sum::<f64>())
            .fold(0.0, f64::max)
    }

    /// The largest difference of any element from the same element of `other`.
    #[must_use]
    pub fn largest_difference(&self, other: &Self) -> f64 {
        let pairs = self.0.iter().flatten().zip(other.0.iter().flatten());
        pairs.map(|(a, b)| (a - b).abs()).fold(0.0, f64::max)
    }
}

impl std::ops::Mul for Matrix3 {
    type Output = Self;

    /// The matrix that applies `other` first, then `self`.
    fn mul(self, other: Self) -> Self {
        let o = &other.0;
        Self(
            self.0
                .map(|r| std::array::from_fn(|j| r[0] * o[0][j] + r[1] * o[1][j] + r[2] * o[2][j])),
        )
    }
}
