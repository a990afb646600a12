//! Density that changes across a glass.

/// Density against distance across the edge, in millimetres on the glass.
///
/// Piecewise linear, constant beyond its ends; zero distance is where the density is half its peak,
/// positive towards the dense end. Two knots at one distance are a jump.
#[derive(Debug, Clone, PartialEq)]
pub struct Ramp {
    /// Distance in mm and density, distances ascending.
    knots: Vec<(f64, f64)>,
    /// Length over which the edge itself changes, mm; 0 is a hard edge.
    length: f64,
}

impl Ramp {
    /// From clear to `peak` density, linear over `length` mm about zero (0: a hard edge).
    #[must_use]
    pub fn linear(peak: f64, length: f64) -> Self {
        let half = length / 2.0;
        Self {
            knots: vec![(-half, 0.0), (half, peak)],
            length,
        }
    }

    /// From clear to `peak` at once, then falling to `far` over `fade` mm.
    #[must_use]
    pub fn reverse(peak: f64, far: f64, fade: f64) -> Self {
        Self {
            knots: vec![(0.0, 0.0), (0.0, peak), (fade, far)],
            length: 0.0,
        }
    }

    /// Density at a distance across the edge; in the middle of a jump, half of it.
    #[must_use]
    pub fn density(&self, mm: f64) -> f64 {
        (self.side(mm, false) + self.side(mm, true)) / 2.0
    }

    /// Length of the edge on the glass in mm, 0 for a hard one.
    #[must_use]
    pub const fn length(&self) -> f64 {
        self.length
    }

    /// Greatest density.
    #[must_use]
    pub fn peak(&self) -> f64 {
        self.knots.iter().map(|k| k.1).fold(0.0, f64::max)
    }

    /// The distances at which the density changes its course.
    pub fn kinks(&self) -> impl Iterator<Item = f64> + '_ {
        self.knots.iter().map(|k| k.0)
    }

    /// Limit of the density from below (`above` false) or from above.
    fn side(&self, mm: f64, above: bool) -> f64 {
        let knots = &self.knots;
        let next = knots.partition_point(|k| if above { k.0 <= mm } else { k.0 < mm });
        match (next.checked_sub(1).map(|i| knots[i]), knots.get(next)) {
            (None, Some(first)) => first.1,
            (Some(last), None) => last.1,
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (mm - a.0) / (b.0 - a.0),
            (None, None) => 0.0,
        }
    }
}
