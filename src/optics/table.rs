//! A smooth function of a logarithm, tabulated.

/// Points of the interpolating polynomial.
const POINTS: usize = 8;

/// Equally spaced values, read back through the polynomial of eight neighbours.
#[derive(Debug, Clone)]
pub(super) struct Table {
    start: f64,
    step: f64,
    values: Vec<f64>,
}

/// Weights of eight equally spaced values at `t` steps past the first of them.
pub(super) fn lagrange(t: f64) -> [f64; POINTS] {
    // (−1)^{7−k} / (k! (7−k)!)
    const SCALE: [f64; POINTS] = [
        -1.0 / 5040.0,
        1.0 / 720.0,
        -1.0 / 240.0,
        1.0 / 144.0,
        -1.0 / 144.0,
        1.0 / 240.0,
        -1.0 / 720.0,
        1.0 / 5040.0,
    ];
    let mut below = [1.0; POINTS];
    for k in 1..POINTS {
        below[k] = below[k - 1] * (t - (k - 1) as f64);
    }
    let mut out = [0.0; POINTS];
    let mut above = 1.0;
    for k in (0..POINTS).rev() {
        out[k] = below[k] * above * SCALE[k];
        above *= t - k as f64;
    }
    out
}

impl Table {
    /// Values at `start`, `start + step`, …; at least eight.
    pub(super) fn new(start: f64, step: f64, values: Vec<f64>) -> Self {
        debug_assert!(values.len() >= POINTS, "a table has eight values or more");
        Self {
            start,
            step,
            values,
        }
    }

    /// First abscissa at which all eight neighbours exist around the point.
    pub(super) fn low(&self) -> f64 {
        self.start + 3.0 * self.step
    }

    /// Last such abscissa.
    pub(super) fn high(&self) -> f64 {
        self.start + (self.values.len() as f64 - 5.0) * self.step
    }

    /// The value at `x`, which is held to `low..=high`.
    pub(super) fn at(&self, x: f64) -> f64 {
        let place = ((x - self.start) / self.step).clamp(3.0, self.values.len() as f64 - 5.0);
        let first = (place as usize - 3).min(self.values.len() - POINTS);
        let weights = lagrange(place - first as f64);
        let near = &self.values[first..first + POINTS];
        weights.iter().zip(near).map(|(w, v)| w * v).sum()
    }

    /// `Σ weight · self(x + shift)` as a table of its own: narrower by the spread of the shifts.
    pub(super) fn averaged(&self, shifts: &[(f64, f64)]) -> Self {
        let whole = |shift: f64| (shift / self.step).floor();
        let (mut least, mut most) = (f64::INFINITY, f64::NEG_INFINITY);
        for &(shift, _) in shifts {
            least = least.min(whole(shift));
            most = most.max(whole(shift));
        }
        // One kernel for all shifts: each is eight taps at its own place.
        let mut kernel = vec![0.0; (most - least) as usize + POINTS];
        for &(shift, weight) in shifts {
            let place = whole(shift);
            let taps = lagrange(shift / self.step - place + 3.0);
            let at = (place - least) as usize;
            for (k, tap) in kernel[at..at + POINTS].iter_mut().zip(taps) {
                *k += weight * tap;
            }
        }
        // Tap by tap, so that several places are summed at once.
        let mut values = vec![0.0; (self.values.len() + 1).saturating_sub(kernel.len())];
        for (first, tap) in kernel.iter().enumerate() {
            for (sum, value) in values.iter_mut().zip(&self.values[first..]) {
                *sum += value * tap;
            }
        }
        Self::new(self.start - (least - 3.0) * self.step, self.step, values)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reads_back_a_smooth_function_and_its_average() {
        let f = |x: f64| (-0.5 * x * x).exp();
        let table = Table::new(
            -6.0,
            0.1,
            (0..121).map(|i| f(-6.0 + 0.1 * f64::from(i))).collect(),
        );
        let shifts = [(0.213, 0.25), (-0.77, 0.75)];
        let averaged = table.averaged(&shifts);
        for i in 0..400 {
            let x = -4.0 + 0.02 * f64::from(i);
            assert!(
                (table.at(x) - f(x)).abs() < 2e-9,
                "at {x}: {}",
                table.at(x) - f(x)
            );
            let want: f64 = shifts.iter().map(|(s, w)| w * f(x + s)).sum();
            assert!((averaged.at(x) - want).abs() < 4e-9, "average at {x}");
        }
    }
}
