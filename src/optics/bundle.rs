//! The mean transmittance of one bundle of rays through several glasses and openings at once.
//!
//! Everything is carried back to the pupil's own plane, where a glass's edges are straight lines, a tray's
//! sides lines and a ring a circle. Along a chord of the pupil the transmittance is piecewise an
//! exponential of a line, so that the inner integral is exact. Across the chords its course only changes
//! where two of those outlines meet inside the pupil, or where one of them turns round: there the outer
//! integral is split, and every part runs through `u = m + h sin φ`, which makes the square roots at the
//! ends of circles smooth, by Gauss's rule in φ.
//!
//! Nothing is halved until it agrees, so that nothing can slip between nodes, and every pixel costs about
//! the same.
//!
//! Source: derived; held to counts of rays in `tests/it/clear/rays.rs`.

use super::pupil::Plane;
use super::quadrature::gauss_legendre;
use super::ramp::Ramp;
use std::f64::consts::{FRAC_PI_2, LN_10, PI};
use std::sync::LazyLock;

/// How many nodes each part of the outer integral has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Care {
    /// To about 1e-6.
    Exact,
    /// For tables: to about 1e-4.
    Table,
}

static EXACT: LazyLock<[(f64, f64); 20]> = LazyLock::new(gauss_legendre::<20>);
static TABLE: LazyLock<[(f64, f64); 9]> = LazyLock::new(gauss_legendre::<9>);
static ONE_WAY: LazyLock<[(f64, f64); 16]> = LazyLock::new(gauss_legendre::<16>);

impl Care {
    fn rule(self) -> &'static [(f64, f64)] {
        match self {
            Self::Exact => &*EXACT,
            Self::Table => &*TABLE,
        }
    }
}

/// A glass along one bundle: distance across its edge = at + along·v + across·u.
#[derive(Debug)]
pub(super) struct Height<'a, const N: usize> {
    ramp: &'a Ramp,
    /// Its density at each wavelength, in parts of the ramp's.
    factors: [f64; N],
    at: f64,
    along: f64,
    across: f64,
}

/// What an opening leaves of the pupil, in the pupil's own plane (u, v).
#[derive(Debug, Clone, Copy)]
pub(super) enum Clip {
    /// The inside of a circle.
    Circle {
        /// Its centre.
        centre: [f64; 2],
        /// Its radius.
        radius: f64,
    },
    /// Between two parallel lines: `low ≤ normal · p ≤ high`.
    Strip {
        /// Unit vector across the lines.
        normal: [f64; 2],
        /// The nearer line.
        low: f64,
        /// The further line.
        high: f64,
    },
}

impl<'a, const N: usize> Height<'a, N> {
    /// `shrink` is the bundle's diameter on the glass over the pupil's; `direction` the chief ray's
    /// tangents.
    pub(super) fn new(
        plane: &'a Plane,
        factors: [f64; N],
        shrink: f64,
        direction: [f64; 2],
        [outer, inner]: [[f64; 2]; 2],
    ) -> Self {
        let n = plane.toward_dense;
        Self {
            ramp: &plane.ramp,
            factors,
            at: plane.depth_mm * dot(n, direction) - plane.slide_mm,
            along: shrink * dot(n, inner),
            across: shrink * dot(n, outer),
        }
    }

    fn kinks_at(&self, u: f64, limits: [f64; 2], into: &mut Vec<f64>) {
        if self.along.abs() > 1e-12 {
            let at = self.at + self.across * u;
            into.extend(
                self.ramp
                    .kinks()
                    .map(|h| (h - at) / self.along)
                    .filter(|v| *v > limits[0] && *v < limits[1]),
            );
        }
    }

    fn density(&self, u: f64, v: f64) -> f64 {
        self.ramp
            .density(self.at + self.across * u + self.along * v)
    }
}

/// The mean over a pupil of `radius` of what `heights` and `clips` let pass.
pub(super) fn mean<const N: usize>(
    heights: &[Height<'_, N>],
    clips: &[Clip],
    radius: f64,
    care: Care,
) -> [f64; N] {
    if clips.is_empty() && heights.iter().all(|h| h.across.abs() < 1e-12) {
        return one_way(heights, radius);
    }
    if heights.is_empty()
        && let [clip] = clips
        && let Some(part) = clip.alone(radius)
    {
        return [part; N];
    }
    let breaks = breaks(heights, clips, radius);
    let (mut kinks, mut sum) = (Vec::new(), [0.0; N]);
    for ends in breaks.windows(2) {
        let (middle, half) = (f64::midpoint(ends[0], ends[1]), 0.5 * (ends[1] - ends[0]));
        if half < 1e-12 * radius {
            continue;
        }
        for &(x, w) in care.rule() {
            let (sin, cos) = (FRAC_PI_2 * x).sin_cos();
            let u = middle + half * sin;
            if let Some(limits) = chord(clips, u, radius) {
                let light = along(heights, u, limits, &mut kinks);
                add(&mut sum, FRAC_PI_2 * w * half * cos, &light);
            }
        }
    }
    let area = PI * radius * radius;
    sum.map(|s| (s / area).clamp(0.0, 1.0))
}

/// What is left of the pupil's chord at `u`; None when nothing is.
fn chord(clips: &[Clip], u: f64, radius: f64) -> Option<[f64; 2]> {
    let half = (radius * radius - u * u).max(0.0).sqrt();
    let mut left = [-half, half];
    for clip in clips {
        let [from, to] = match *clip {
            Clip::Circle { centre, radius } => {
                let across = u - centre[0];
                let reach = radius * radius - across * across;
                if reach <= 0.0 {
                    return None;
                }
                [centre[1] - reach.sqrt(), centre[1] + reach.sqrt()]
            }
            Clip::Strip { normal, low, high } => {
                let at = normal[0] * u;
                if normal[1].abs() < 1e-12 {
                    if at <= low || at >= high {
                        return None;
                    }
                    continue;
                }
                let (a, b) = ((low - at) / normal[1], (high - at) / normal[1]);
                [a.min(b), a.max(b)]
            }
        };
        left = [left[0].max(from), left[1].min(to)];
    }
    (left[1] > left[0]).then_some(left)
}

/// Where the course of the chords' integral changes, ascending.
fn breaks<const N: usize>(heights: &[Height<'_, N>], clips: &[Clip], radius: f64) -> Vec<f64> {
    let outlines = outlines(heights, clips, radius);
    let mut at = vec![-radius, radius];
    let inside = 1.0 + 1e-12;
    for (i, a) in outlines.iter().enumerate() {
        // A circle that ends inside the pupil.
        if let Outline::Circle([x, y], r) = *a {
            at.extend([x - r, x + r].into_iter().filter(|u| u.hypot(y) < radius));
        }
        let rim = Outline::Circle([0.0; 2], radius);
        for b in outlines[i + 1..].iter().chain([&rim]) {
            let meet = a.meet(b).into_iter().flatten();
            at.extend(
                meet.filter(|p| p[0].hypot(p[1]) <= inside * radius)
                    .map(|p| p[0].clamp(-radius, radius)),
            );
        }
    }
    at.sort_by(f64::total_cmp);
    at
}

/// A line `n · p = d` or a circle in the pupil's plane.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Outline {
    Line([f64; 2], f64),
    Circle([f64; 2], f64),
}

/// Every outline that crosses the pupil.
fn outlines<const N: usize>(
    heights: &[Height<'_, N>],
    clips: &[Clip],
    radius: f64,
) -> Vec<Outline> {
    let mut all = Vec::new();
    let mut line = |n: [f64; 2], d: f64| {
        let new = Outline::Line(n, d);
        // A hard edge has two kinks in one place.
        if d.abs() < radius && all.last() != Some(&new) {
            all.push(new);
        }
    };
    for h in heights {
        let slope = h.across.hypot(h.along);
        if slope > 1e-12 {
            for kink in h.ramp.kinks() {
                line([h.across / slope, h.along / slope], (kink - h.at) / slope);
            }
        }
    }
    for clip in clips {
        if let Clip::Strip { normal, low, high } = *clip {
            line(normal, low);
            line(normal, high);
        }
    }
    let circles = clips.iter().filter_map(|c| match *c {
        Clip::Circle { centre, radius } => Some(Outline::Circle(centre, radius)),
        Clip::Strip { .. } => None,
    });
    all.into_iter().chain(circles).collect()
}

impl Outline {
    /// Where two outlines meet.
    fn meet(&self, other: &Self) -> [Option<[f64; 2]>; 2] {
        match (*self, *other) {
            (Self::Line(n, d), Self::Line(m, e)) => {
                let det = n[0] * m[1] - n[1] * m[0];
                if det.abs() < 1e-12 {
                    return [None; 2];
                }
                let p = [(d * m[1] - e * n[1]) / det, (n[0] * e - m[0] * d) / det];
                [Some(p), None]
            }
            (Self::Line(n, d), Self::Circle(c, r)) | (Self::Circle(c, r), Self::Line(n, d)) => {
                let away = d - dot(n, c);
                let reach = r * r - away * away;
                if reach < 0.0 {
                    return [None; 2];
                }
                let root = reach.sqrt();
                let foot = [c[0] + away * n[0], c[1] + away * n[1]];
                [root, -root].map(|t| Some([foot[0] - t * n[1], foot[1] + t * n[0]]))
            }
            (Self::Circle(c, r), Self::Circle(k, s)) => {
                let (x, y) = (k[0] - c[0], k[1] - c[1]);
                let apart = x.hypot(y);
                if apart <= 0.0 {
                    return [None; 2];
                }
                // Both lie on the line that the two circles share.
                let n = [x / apart, y / apart];
                let along = 0.5 * (apart + (r - s) * (r + s) / apart);
                Self::Line(n, dot(n, c) + along).meet(&Self::Circle(c, r))
            }
        }
    }
}

impl Clip {
    /// The part of the pupil that this opening alone leaves, where that has a closed form.
    fn alone(&self, radius: f64) -> Option<f64> {
        match *self {
            Self::Circle { centre, radius: r } => {
                Some(common(radius, r, centre[0].hypot(centre[1])))
            }
            Self::Strip { low, high, .. } => {
                let part = above(low / radius) - above(high / radius);
                Some(part.clamp(0.0, 1.0))
            }
        }
    }
}

/// The part of a disc above a chord at `u` of its radius: F(u) = (acos u − u√(1−u²))/π.
#[must_use]
pub fn above(u: f64) -> f64 {
    let u = u.clamp(-1.0, 1.0);
    (u.acos() - u * (1.0 - u * u).sqrt()) / PI
}

/// The part of a disc of `radius` that lies inside one of radius `other` whose centre is `apart` away:
/// the two segments on the chord that they share.
fn common(radius: f64, other: f64, apart: f64) -> f64 {
    if apart >= radius + other {
        return 0.0;
    }
    if apart <= (radius - other).abs() {
        return (other / radius).powi(2).min(1.0);
    }
    let near = 0.5 * (apart + (radius - other) * (radius + other) / apart);
    let half = (radius * radius - near * near).max(0.0).sqrt();
    let segment = |r: f64, d: f64| {
        let x = 2.0 * half.atan2(d);
        // x − sin x, which a ring much wider than the pupil would cancel away.
        let rest = if x < 0.05 {
            x * x * x / 6.0 * (1.0 - x * x / 20.0 * (1.0 - x * x / 42.0))
        } else {
            x - x.sin()
        };
        0.5 * r * r * rest
    };
    (segment(radius, near) + segment(other, apart - near)) / (PI * radius * radius)
}

fn add<const N: usize>(sum: &mut [f64; N], weight: f64, of: &[f64; N]) {
    sum.iter_mut().zip(of).for_each(|(s, v)| *s += weight * v);
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
    limits: [f64; 2],
    kinks: &mut Vec<f64>,
) {
    kinks.clear();
    kinks.push(limits[0]);
    for h in heights {
        h.kinks_at(u, limits, kinks);
    }
    kinks.push(limits[1]);
    kinks.sort_by(f64::total_cmp);
}

/// ∫ transmittance dv over one chord, exactly: each piece is an exponential of a line.
fn along<const N: usize>(
    heights: &[Height<'_, N>],
    u: f64,
    limits: [f64; 2],
    kinks: &mut Vec<f64>,
) -> [f64; N] {
    if heights.is_empty() {
        return [limits[1] - limits[0]; N];
    }
    split(heights, u, limits, kinks);
    let mut sum = [0.0; N];
    for piece in kinks.windows(2) {
        let width = piece[1] - piece[0];
        if width <= 0.0 {
            continue;
        }
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
    split(heights, 0.0, [-radius, radius], &mut kinks);
    let mut sum = [0.0; N];
    for piece in kinks.windows(2) {
        let (a, b) = ((piece[0] / radius).asin(), (piece[1] / radius).asin());
        let (half, middle) = ((b - a) / 2.0, f64::midpoint(a, b));
        if half <= 0.0 {
            continue;
        }
        // The chord's length is 2R cos φ and dv = R cos φ dφ: smooth to its ends.
        let near = density(heights, 0.0, radius * (middle - 0.5 * half).sin());
        let far = density(heights, 0.0, radius * (middle + 0.5 * half).sin());
        let level = near.iter().zip(&far).all(|(a, b)| (a - b).abs() <= 0.0);
        let mut part = [0.0; N];
        if level {
            // Even glass: ∫ cos² is half the angle and a quarter of the change of sin 2φ.
            let area = 0.5 * (b - a) + 0.25 * ((2.0 * b).sin() - (2.0 * a).sin());
            add(&mut sum, area, &near.map(|d| (-LN_10 * d).exp()));
            continue;
        }
        for &(x, w) in ONE_WAY.iter() {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_wide_ring_cuts_a_small_pupil_like_a_straight_edge() {
        // As the ring grows the overlap goes to the disc above a chord: its edge is flat to r²/R.
        let part = common(0.05, 5e4, 5e4 - 0.025);
        let u = 0.5_f64;
        let kept = 1.0 - (u.acos() - u * (1.0 - u * u).sqrt()) / PI;
        assert!((part - kept).abs() < 1e-5, "{part} against {kept}");
    }
}
