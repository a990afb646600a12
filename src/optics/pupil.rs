//! What a pixel sees of glass that is not the same everywhere.
//!
//! A pixel looks through the whole entrance pupil. On a glass a distance z in front of it the bundle
//! of rays from a subject at distance s has the diameter D(1 − z/s), centred where the chief ray
//! crosses; the pixel's transmission is the mean of LINEAR transmittance over that disc. Several
//! glasses with no scatter between them are averaged together, as the mean of their product: each
//! point of the pupil meets each glass at its own height.
//!
//! The inner integral runs along the first glass's gradient, where every transmittance is a piecewise
//! exponential, so that it is exact; apertures only shorten its limits. The outer one is Gaussian, halved where it must be.
//!
//! Sources, all derived: a hard edge at u half-diameters above the centre leaves
//! F(u) = (acos u − u√(1−u²))/π above it; a long density ramp of slope k gains 2I₁(kR)/(kR); a ring
//! leaves the overlap of two circles. `tests/checks/grad_geometry.csv`, `tests/checks/vignette.csv`.
//!
//! ```
//! use foreglass::optics::pupil::{Plane, Pupil, Ramp};
//! let pupil = Pupil { diameter_mm: 10.0, subject_mm: f64::INFINITY };
//! let grad = Plane { ramp: Ramp::linear(20.0, 0.0), dye: None, toward_dense: [0.0, 1.0], slide_mm: 0.0, depth_mm: 80.0 };
//! // u = 0.25: the chief ray passes 1.25 mm below the edge.
//! let seen = pupil.seen(&[&grad], &[], [0.0, -1.25 / 80.0]);
//! assert!((seen - (1.0 - 0.342_519)).abs() < 1e-6);
//! ```

use super::quadrature::gauss_legendre;
pub use super::ramp::{Ramp, Shape};
pub use super::tint::Dye;
use std::f64::consts::{FRAC_PI_2, LN_10, PI};
use std::sync::LazyLock;

/// The entrance pupil, and the distance of what it looks at.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Pupil {
    /// Its diameter, focal length over stop, in mm.
    pub diameter_mm: f64,
    /// Distance of the subject from it in mm; infinite for a far one.
    pub subject_mm: f64,
}

/// A glass whose density changes across it, where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct Plane {
    /// Its density across the edge.
    pub ramp: Ramp,
    /// Its colour, when it has one: the ramp then tells what part of the dye is there.
    pub dye: Option<Dye>,
    /// Unit vector across the edge, towards the dense end, as seen in the picture (x right, y up).
    pub toward_dense: [f64; 2],
    /// How far the edge is slid from the axis, towards the dense end, mm.
    pub slide_mm: f64,
    /// Distance in front of the entrance pupil, mm.
    pub depth_mm: f64,
}

/// An opening that light has to pass, where it stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Aperture {
    /// Its outline.
    pub outline: Outline,
    /// Its centre, mm from the axis.
    pub centre_mm: [f64; 2],
    /// Distance in front of the entrance pupil, mm.
    pub depth_mm: f64,
}

/// The outline of an opening.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Outline {
    /// A round one.
    Circle {
        /// Its radius, mm.
        radius_mm: f64,
    },
    /// A rectangular one.
    Rectangle {
        /// Half its sides, mm: across and up before it is turned.
        half_mm: [f64; 2],
        /// Unit vector along its first side, as seen in the picture.
        along: [f64; 2],
    },
}

static OUTER: LazyLock<[(f64, f64); 12]> = LazyLock::new(gauss_legendre::<12>);
static INNER: LazyLock<[(f64, f64); 16]> = LazyLock::new(gauss_legendre::<16>);

impl Plane {
    /// Greatest density anywhere on it, at any wavelength.
    #[must_use]
    pub fn peak_density(&self) -> f64 {
        let dye = self.dye.as_ref().map(|d| d.density.samples());
        let darkest = dye.map_or(1.0, |d| d.iter().copied().fold(0.0, f64::max));
        darkest * self.ramp.peak()
    }
}

impl Pupil {
    /// Radius of the ray bundle on a glass `depth_mm` in front of the pupil, mm.
    #[must_use]
    pub fn footprint_radius(&self, depth_mm: f64) -> f64 {
        self.diameter_mm / 2.0 * self.shrink(depth_mm)
    }

    /// Part of the pupil's light that reaches the pixel looking along `direction` (tangents of the
    /// field angle, x right and y up) through all of `planes` and `apertures` at once: 0 to 1. Dyes
    /// are not looked at: what they do is the sum over [`super::tint::Tint::exact`]'s nodes.
    ///
    /// Error: 1e-9 for glasses turned alike without apertures, else about 2e-5.
    #[must_use]
    pub fn seen(&self, planes: &[&Plane], apertures: &[Aperture], direction: [f64; 2]) -> f64 {
        let once: Vec<(&Plane, [f64; 1])> = planes.iter().map(|p| (*p, [1.0])).collect();
        let [seen] = self.seen_each(&once, apertures, direction, Care::EXACT);
        seen
    }

    /// What [`Pupil::seen`] gives for `N` wavelengths at once: each plane's density is its ramp times
    /// the factor of that wavelength.
    pub(super) fn seen_each<const N: usize>(
        &self,
        planes: &[(&Plane, [f64; N])],
        apertures: &[Aperture],
        direction: [f64; 2],
        care: Care,
    ) -> [f64; N] {
        let radius = self.diameter_mm / 2.0;
        // A glass that is even over the whole footprint is a factor, and leaves the integral.
        let mut even = [1.0; N];
        let mut changing: Vec<(&Plane, [f64; N])> = Vec::with_capacity(planes.len());
        for (plane, factors) in planes {
            match self.even_density(plane, direction) {
                Some(density) => {
                    for (e, f) in even.iter_mut().zip(factors) {
                        *e *= (-LN_10 * (density * f)).exp();
                    }
                }
                None => changing.push((plane, *factors)),
            }
        }
        let inner = changing.first().map_or([0.0, 1.0], |p| p.0.toward_dense);
        let outer = [inner[1], -inner[0]];
        let heights: Vec<Height<'_, N>> = changing
            .iter()
            .map(|(p, factors)| self.height(p, *factors, direction, inner, outer))
            .collect();
        let clips: Vec<Aperture> = apertures
            .iter()
            .filter(|a| !self.clears(a, direction))
            .copied()
            .collect();
        if clips.is_empty() && heights.iter().all(|h| h.across.abs() < 1e-12) {
            let mean = one_way(&heights, radius);
            return std::array::from_fn(|n| even[n] * mean[n]);
        }
        let mut kinks = Vec::new();
        let mut chord = |angle: f64| {
            let (sin, cos) = angle.sin_cos();
            let (u, half) = (radius * sin, radius * cos);
            let limits = clips.iter().fold((-half, half), |limits, a| {
                self.clip(a, direction, inner, outer, u, limits)
            });
            if limits.1 <= limits.0 {
                [0.0; N]
            } else {
                along(&heights, u, limits, &mut kinks).map(|light| half * light)
            }
        };
        let area = PI * radius * radius;
        let (panel, tolerance) = (PI / f64::from(care.panels), care.tolerance * area);
        let mut sum = [0.0; N];
        for i in 0..care.panels {
            let a = panel.mul_add(f64::from(i), -FRAC_PI_2);
            let part = halving(&mut chord, a, a + panel, None, tolerance, care.deepest);
            add(&mut sum, 1.0, &part);
        }
        std::array::from_fn(|n| even[n] * (sum[n] / area).clamp(0.0, 1.0))
    }

    /// The density of a glass over the whole footprint of `direction`, where it is the same.
    fn even_density(&self, plane: &Plane, direction: [f64; 2]) -> Option<f64> {
        let middle = plane.depth_mm * dot(plane.toward_dense, direction) - plane.slide_mm;
        let reach = self.footprint_radius(plane.depth_mm).abs();
        let (low, high) = (middle - reach, middle + reach);
        let (below, above) = (plane.ramp.density(low), plane.ramp.density(high));
        let bends = plane.ramp.kinks().any(|k| (low..=high).contains(&k));
        (!bends && (above - below).abs() <= 0.0).then_some(below)
    }

    fn shrink(&self, depth_mm: f64) -> f64 {
        1.0 - depth_mm / self.subject_mm
    }

    fn height<'a, const N: usize>(
        &self,
        plane: &'a Plane,
        factors: [f64; N],
        direction: [f64; 2],
        inner: [f64; 2],
        outer: [f64; 2],
    ) -> Height<'a, N> {
        let k = self.shrink(plane.depth_mm);
        let n = plane.toward_dense;
        Height {
            ramp: &plane.ramp,
            factors,
            at: plane.depth_mm * dot(n, direction) - plane.slide_mm,
            along: k * dot(n, inner),
            across: k * dot(n, outer),
        }
    }

    /// Whether the whole bundle of `direction` passes the aperture.
    fn clears(&self, a: &Aperture, direction: [f64; 2]) -> bool {
        let c = self.centre(a, direction);
        let r = self.footprint_radius(a.depth_mm).abs();
        match a.outline {
            Outline::Circle { radius_mm } => c[0].hypot(c[1]) + r <= radius_mm,
            Outline::Rectangle { half_mm, along } => {
                dot(c, along).abs() + r <= half_mm[0]
                    && dot(c, [-along[1], along[0]]).abs() + r <= half_mm[1]
            }
        }
    }

    /// Centre of the bundle on the aperture's plane, from the aperture's own centre.
    fn centre(&self, a: &Aperture, direction: [f64; 2]) -> [f64; 2] {
        [
            a.depth_mm * direction[0] - a.centre_mm[0],
            a.depth_mm * direction[1] - a.centre_mm[1],
        ]
    }

    /// The part of the chord at `u` that the aperture leaves of `limits`.
    fn clip(
        &self,
        a: &Aperture,
        direction: [f64; 2],
        inner: [f64; 2],
        outer: [f64; 2],
        u: f64,
        limits: (f64, f64),
    ) -> (f64, f64) {
        let k = self.shrink(a.depth_mm);
        let c = self.centre(a, direction);
        // On the aperture's plane the chord is c + k·(u·outer + v·inner).
        let start = [c[0] + k * u * outer[0], c[1] + k * u * outer[1]];
        let step = [k * inner[0], k * inner[1]];
        match a.outline {
            Outline::Circle { radius_mm } => {
                let b = dot(start, step);
                let q = dot(step, step);
                let root = b * b - q * (dot(start, start) - radius_mm * radius_mm);
                if root <= 0.0 {
                    return (0.0, 0.0);
                }
                let root = root.sqrt();
                (limits.0.max((-b - root) / q), limits.1.min((-b + root) / q))
            }
            Outline::Rectangle { half_mm, along } => {
                let across = [-along[1], along[0]];
                let limits = strip(dot(start, along), dot(step, along), half_mm[0], limits);
                strip(dot(start, across), dot(step, across), half_mm[1], limits)
            }
        }
    }
}

/// The part of `limits` where a point that starts at `at` and moves by `slope` is within `half` of zero.
fn strip(at: f64, slope: f64, half: f64, limits: (f64, f64)) -> (f64, f64) {
    if slope.abs() < 1e-12 {
        return if at.abs() < half { limits } else { (0.0, 0.0) };
    }
    let (p, q) = ((-half - at) / slope, (half - at) / slope);
    (limits.0.max(p.min(q)), limits.1.min(p.max(q)))
}

/// How far the outer integral goes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Care {
    /// Panels to begin with.
    panels: u32,
    /// Difference of two halves from their whole at which it stops, in parts of the pupil.
    tolerance: f64,
    /// Halvings where an outline or a kink ends within it.
    deepest: u32,
}

impl Care {
    /// Eight panels: a kink that only grazes the disc must not slip between nodes.
    pub(super) const EXACT: Self = Self {
        panels: 8,
        tolerance: 1e-6,
        deepest: 9,
    };
    /// For tables of many wavelengths, that are to be right to 1e-4.
    pub(super) const TABLE: Self = Self {
        panels: 8,
        tolerance: 1e-5,
        deepest: 6,
    };
}

/// ∫ f from `a` to `b`, halved until two halves agree with their whole to `tolerance`.
fn halving<const N: usize>(
    f: &mut impl FnMut(f64) -> [f64; N],
    a: f64,
    b: f64,
    whole: Option<[f64; N]>,
    tolerance: f64,
    deeper: u32,
) -> [f64; N] {
    let mut rule = |a: f64, b: f64| {
        let (half, middle) = ((b - a) / 2.0, f64::midpoint(a, b));
        let mut sum = [0.0; N];
        for &(x, w) in OUTER.iter() {
            add(&mut sum, w, &f(middle + half * x));
        }
        sum.map(|s| half * s)
    };
    let whole = whole.unwrap_or_else(|| rule(a, b));
    let middle = f64::midpoint(a, b);
    let (left, right) = (rule(a, middle), rule(middle, b));
    let both: [f64; N] = std::array::from_fn(|n| left[n] + right[n]);
    let agreed = both
        .iter()
        .zip(&whole)
        .all(|(b, w)| (b - w).abs() < tolerance);
    if deeper == 0 || agreed {
        return both;
    }
    let mut sum = halving(f, a, middle, Some(left), tolerance / 2.0, deeper - 1);
    let rest = halving(f, middle, b, Some(right), tolerance / 2.0, deeper - 1);
    add(&mut sum, 1.0, &rest);
    sum
}

fn add<const N: usize>(sum: &mut [f64; N], weight: f64, of: &[f64; N]) {
    sum.iter_mut().zip(of).for_each(|(s, v)| *s += weight * v);
}

/// A ramp along one chord: distance across its edge = at + across·u + along·v.
struct Height<'a, const N: usize> {
    ramp: &'a Ramp,
    /// Its density at each wavelength, in parts of the ramp's.
    factors: [f64; N],
    at: f64,
    along: f64,
    across: f64,
}

impl<const N: usize> Height<'_, N> {
    fn kinks_at(&self, u: f64, limits: (f64, f64), into: &mut Vec<f64>) {
        if self.along.abs() > 1e-12 {
            let at = self.at + self.across * u;
            into.extend(
                self.ramp
                    .kinks()
                    .map(|h| (h - at) / self.along)
                    .filter(|v| *v > limits.0 && *v < limits.1),
            );
        }
    }

    fn density(&self, u: f64, v: f64) -> f64 {
        self.ramp
            .density(self.at + self.across * u + self.along * v)
    }
}

/// Density of all ramps together at a point of a chord, at each wavelength.
fn density<const N: usize>(heights: &[Height<'_, N>], u: f64, v: f64) -> [f64; N] {
    let mut sum = [0.0; N];
    for h in heights {
        add(&mut sum, h.density(u, v), &h.factors);
    }
    sum
}

/// Splits `limits` where any ramp changes its course.
fn split<const N: usize>(
    heights: &[Height<'_, N>],
    u: f64,
    limits: (f64, f64),
    kinks: &mut Vec<f64>,
) {
    kinks.clear();
    kinks.push(limits.0);
    for h in heights {
        h.kinks_at(u, limits, kinks);
    }
    kinks.push(limits.1);
    kinks.sort_by(f64::total_cmp);
}

/// ∫ transmittance dv over one chord, exactly: each piece is an exponential of a line.
fn along<const N: usize>(
    heights: &[Height<'_, N>],
    u: f64,
    limits: (f64, f64),
    kinks: &mut Vec<f64>,
) -> [f64; N] {
    split(heights, u, limits, kinks);
    let mut sum = [0.0; N];
    for piece in kinks.windows(2) {
        let width = piece[1] - piece[0];
        // Two inner points give the line without touching a jump at either end.
        let near = density(heights, u, piece[0] + 0.25 * width);
        let far = density(heights, u, piece[0] + 0.75 * width);
        for (sum, (near, far)) in sum.iter_mut().zip(near.iter().zip(&far)) {
            let (a, b) = (near * -LN_10, far * -LN_10);
            let (start, fall) = (a - (b - a) / 2.0, 2.0 * (b - a));
            let mean = if fall.abs() < 1e-9 {
                1.0 + fall / 2.0
            } else {
                fall.exp_m1() / fall
            };
            *sum += width * start.exp() * mean;
        }
    }
    sum
}

/// The mean over the disc when the transmittance changes in one direction only.
fn one_way<const N: usize>(heights: &[Height<'_, N>], radius: f64) -> [f64; N] {
    if heights.is_empty() {
        return [1.0; N];
    }
    let mut kinks = Vec::new();
    split(heights, 0.0, (-radius, radius), &mut kinks);
    let mut sum = [0.0; N];
    for piece in kinks.windows(2) {
        let (a, b) = ((piece[0] / radius).asin(), (piece[1] / radius).asin());
        let (half, middle) = ((b - a) / 2.0, f64::midpoint(a, b));
        // The chord's length is 2R cos φ and dv = R cos φ dφ: smooth to its ends.
        let mut part = [0.0; N];
        for &(x, w) in INNER.iter() {
            let (sin, cos) = (middle + half * x).sin_cos();
            let light = density(heights, 0.0, radius * sin).map(|d| (-LN_10 * d).exp());
            add(&mut part, w * cos * cos, &light);
        }
        add(&mut sum, half, &part);
    }
    sum.map(|s| 2.0 * s / PI)
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}
