//! Density that changes across a glass.

/// Density against distance across the edge, in millimetres on the glass.
///
/// Piecewise linear, constant beyond its ends; zero distance is where the density is half its peak,
/// positive towards the dense end (of a stripe: its middle). Two knots at one distance are a jump.
#[derive(Debug, Clone, PartialEq)]
pub struct Ramp {
    /// Distance in mm and density, distances ascending.
    knots: Vec<(f64, f64)>,
    /// Length over which the edge itself changes, mm; 0 is a hard edge.
    length: f64,
    /// What the density is for.
    shape: Shape,
}

/// What a changing density is for, which decides how it is spoken of and how it counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shape {
    /// One edge between a clear and a dense side.
    Edge,
    /// A dense band with a clear side above and below.
    Stripe,
    /// No clear side in use: it changes over all of the glass, and counts on the axis.
    Attenuator,
}

impl Shape {
    /// What [`Ramp::length`] is the length of, in a sentence.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Edge => "edge",
            Self::Stripe => "flank",
            Self::Attenuator => "ramp from end to end",
        }
    }
}

impl Ramp {
    /// From clear to `peak` density, linear over `length` mm about zero (0: a hard edge).
    #[must_use]
    pub fn linear(peak: f64, length: f64) -> Self {
        let half = length / 2.0;
        Self {
            knots: vec![(-half, 0.0), (half, peak)],
            length,
            shape: Shape::Edge,
        }
    }

    /// From clear to `peak` at once, then falling to `far` over `fade` mm.
    #[must_use]
    pub fn reverse(peak: f64, far: f64, fade: f64) -> Self {
        Self {
            knots: vec![(0.0, 0.0), (0.0, peak), (fade, far)],
            length: 0.0,
            shape: Shape::Edge,
        }
    }

    /// A band of `peak` density across the middle, `width` mm wide where the density is half of it,
    /// linear over `flank` mm (at most `width`) at either side.
    #[must_use]
    pub fn stripe(peak: f64, width: f64, flank: f64) -> Self {
        let (inner, outer) = ((width - flank) / 2.0, f64::midpoint(width, flank));
        Self {
            knots: vec![(-outer, 0.0), (-inner, peak), (inner, peak), (outer, 0.0)],
            length: flank,
            shape: Shape::Stripe,
        }
    }

    /// From clear to `peak` density, linear over all of a glass `length` mm long.
    #[must_use]
    pub fn attenuator(peak: f64, length: f64) -> Self {
        Self {
            shape: Shape::Attenuator,
            ..Self::linear(peak, length)
        }
    }

    /// The same ramp with every density times `factor`.
    #[must_use]
    pub fn scaled(&self, factor: f64) -> Self {
        Self {
            knots: self.knots.iter().map(|k| (k.0, factor * k.1)).collect(),
            ..*self
        }
    }

    /// The ramp as it comes on a glass `length` mm long: an attenuator reaches from end to end of
    /// it, all else keeps its size.
    #[must_use]
    pub fn on_glass(self, length: f64) -> Self {
        match self.shape {
            Shape::Attenuator => Self::attenuator(self.peak(), length),
            Shape::Edge | Shape::Stripe => self,
        }
    }

    /// Density at a distance across the edge; in the middle of a jump, half of it.
    #[must_use]
    pub fn density(&self, mm: f64) -> f64 {
        let next = self.knots.partition_point(|k| k.0 < mm);
        if self.knots.get(next).is_some_and(|k| k.0 <= mm) {
            return (self.side(mm, false) + self.side(mm, true)) / 2.0;
        }
        self.before(next, mm)
    }

    /// What the density is for.
    #[must_use]
    pub const fn shape(&self) -> Shape {
        self.shape
    }

    /// Width on the glass over which the density changes at all, mm: of a stripe all of it.
    #[must_use]
    pub fn width(&self) -> f64 {
        let [first, last] = self.ends();
        last - first
    }

    /// The distances at which the density begins to change and has changed, mm.
    #[must_use]
    pub fn ends(&self) -> [f64; 2] {
        match (self.knots.first(), self.knots.last()) {
            (Some(first), Some(last)) => [first.0, last.0],
            _ => [0.0; 2],
        }
    }

    /// Length of the edge on the glass in mm, 0 for a hard one; of a stripe, of either flank.
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
        self.before(
            knots.partition_point(|k| if above { k.0 <= mm } else { k.0 < mm }),
            mm,
        )
    }

    /// Density at a distance that lies between knot `next` and the one before it.
    fn before(&self, next: usize, mm: f64) -> f64 {
        let knots = &self.knots;
        match (next.checked_sub(1).map(|i| knots[i]), knots.get(next)) {
            (None, Some(first)) => first.1,
            (Some(last), None) => last.1,
            (Some(a), Some(b)) => a.1 + (b.1 - a.1) * (mm - a.0) / (b.0 - a.0),
            (None, None) => 0.0,
        }
    }
}
