//! What a pixel sees of glass that is not the same everywhere.
//!
//! A pixel looks through the whole entrance pupil. On a glass a distance z in front of it the bundle
//! of rays from a subject at distance s has the diameter D(1 − z/s), centred where the chief ray
//! crosses; the pixel's transmission is the mean of LINEAR transmittance over that disc. Several
//! glasses with no scatter between them are averaged together, as the mean of their product: each
//! point of the pupil meets each glass at its own height.
//!
//! The integral itself is [`super::bundle`]'s: exact along the first glass's gradient, by Gauss's rule
//! across it, split wherever two outlines meet.
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

pub(super) use super::bundle::Care;
pub use super::bundle::above;
use super::bundle::{self, Clip, Height};
pub use super::ramp::{Ramp, Shape};
use super::tiles::Inside;
pub use super::tint::Dye;
use std::f64::consts::LN_10;

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

/// Parts into which the zone of a hard edge, as wide as the footprint, is cut where it begins and ends: a
/// disc begins to pass an edge as the distance to the power 3/2, and a cubic through four nodes over such a
/// part errs by at most 5e-4 of the change.
const SHARP: f64 = 20.0;
/// Diameter of a bundle, in parts of the pupil's, below which it is a point.
const POINT: f64 = 1e-9;

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
    /// Error: 1e-9 for glasses turned alike without apertures, else about 1e-6.
    #[must_use]
    pub fn seen(&self, planes: &[&Plane], apertures: &[Aperture], direction: [f64; 2]) -> f64 {
        let once: Vec<(&Plane, [f64; 1])> = planes.iter().map(|p| (*p, [1.0])).collect();
        let [seen] = self.seen_each(&once, apertures, direction, Care::Exact);
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
        let axes = [[inner[1], -inner[0]], inner];
        let heights: Vec<Height<'_, N>> = changing
            .iter()
            .map(|(p, factors)| {
                let shrink = self.shrink(p.depth_mm);
                Height::new(p, *factors, shrink, direction, axes)
            })
            .collect();
        let mut clips = Vec::new();
        for a in apertures.iter().filter(|a| !self.clears(a, direction)) {
            if !self.clip(a, direction, axes, &mut clips) {
                return [0.0; N];
            }
        }
        let mean = bundle::mean(&heights, &clips, radius, care);
        std::array::from_fn(|n| even[n] * mean[n])
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

    /// What of a glass lies before the part of the picture whose corners look along `corners`: narrow
    /// things in mm on the glass.
    pub(super) fn meets(&self, plane: &Plane, corners: &[[f64; 2]; 4]) -> Inside {
        let heights = corners.map(|c| plane.depth_mm * dot(plane.toward_dense, c) - plane.slide_mm);
        let reach = self.footprint_radius(plane.depth_mm).abs();
        let [low, high] = ends(&heights);
        let kinks: Vec<f64> = plane.ramp.kinks().collect();
        let mut inside = Inside::Even;
        for (i, kink) in kinks.iter().enumerate() {
            // The borders of the zone in which the footprint meets it.
            let crosses = [kink - reach, kink + reach]
                .iter()
                .any(|border| (low..=high).contains(border));
            // A flank shorter than the footprint is as good as a jump.
            let near = |j: usize| kinks.get(j).is_some_and(|k| (k - kink).abs() < 2.0 * reach);
            let sharp = near(i + 1) || i.checked_sub(1).is_some_and(near);
            inside = inside.and(match (crosses, sharp) {
                (true, true) => Inside::Narrow(2.0 * reach / SHARP),
                (true, false) => Inside::Narrow(2.0 * reach),
                (false, _) => Inside::Even,
            });
        }
        let changes = plane.ramp.density(high + reach) - plane.ramp.density(low - reach);
        let bends = kinks
            .iter()
            .any(|k| (low - reach..=high + reach).contains(k));
        if bends || changes.abs() > 0.0 {
            inside = inside.and(Inside::Smooth);
        }
        inside
    }

    /// The same of an opening, which does not clear all of it.
    pub(super) fn meets_rim(&self, a: &Aperture, corners: &[[f64; 2]; 4]) -> Inside {
        let reach = self.footprint_radius(a.depth_mm).abs();
        let centres = corners.map(|c| self.centre(a, c));
        let crosses = |[low, high]: [f64; 2], border: f64| (low..=high).contains(&border);
        let crossed = match a.outline {
            Outline::Circle { radius_mm } => {
                let away = [0, 1].map(|i| ends(&centres.map(|c| c[i])));
                let nearest = away.map(|[low, high]| low.max(-high).max(0.0));
                let furthest = centres.map(|c| c[0].hypot(c[1]));
                let range = [nearest[0].hypot(nearest[1]), ends(&furthest)[1]];
                crosses(range, (radius_mm - reach).abs()) || crosses(range, radius_mm + reach)
            }
            Outline::Rectangle { half_mm, along } => {
                let sides = [along, [-along[1], along[0]]];
                sides.into_iter().zip(half_mm).any(|(side, half)| {
                    let range = ends(&centres.map(|c| dot(c, side)));
                    let borders = [half - reach, half + reach];
                    borders
                        .iter()
                        .any(|b| crosses(range, *b) || crosses(range, -b))
                })
            }
        };
        if crossed {
            Inside::Narrow(2.0 * reach / SHARP)
        } else {
            Inside::Smooth
        }
    }

    /// Whether nothing passes the aperture anywhere between two corners of a part of the picture. May
    /// say no where it does.
    pub(super) fn blocks(&self, a: &Aperture, low: [f64; 2], high: [f64; 2]) -> bool {
        let reach = self.footprint_radius(a.depth_mm).abs();
        let (low, high) = (self.centre(a, low), self.centre(a, high));
        match a.outline {
            Outline::Circle { radius_mm } => {
                let nearest = |i: usize| low[i].max(-high[i]).max(0.0);
                nearest(0).hypot(nearest(1)) >= radius_mm + reach
            }
            Outline::Rectangle { half_mm, along } => {
                let sides = [along, [-along[1], along[0]]];
                sides.into_iter().zip(half_mm).any(|(side, half)| {
                    let corners = [low, [low[0], high[1]], [high[0], low[1]], high];
                    let [nearest, furthest] = ends(&corners.map(|c| dot(c, side)));
                    nearest >= half + reach || -furthest >= half + reach
                })
            }
        }
    }

    fn shrink(&self, depth_mm: f64) -> f64 {
        1.0 - depth_mm / self.subject_mm
    }

    /// Whether the whole bundle of `direction` passes the aperture.
    pub(super) fn clears(&self, a: &Aperture, direction: [f64; 2]) -> bool {
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

    /// What the aperture leaves of the pupil, in the pupil's own plane; false when that is nothing.
    fn clip(
        &self,
        a: &Aperture,
        direction: [f64; 2],
        axes: [[f64; 2]; 2],
        into: &mut Vec<Clip>,
    ) -> bool {
        let k = self.shrink(a.depth_mm);
        let radius = self.diameter_mm / 2.0;
        // A pupil point p lies at c + k·p on the aperture's plane.
        let c = self.centre(a, direction);
        match a.outline {
            Outline::Circle { radius_mm } => {
                let away = c[0].hypot(c[1]);
                if away >= radius_mm + k.abs() * radius {
                    return false;
                }
                // Where the bundle is a point it is inside or out, and has no outline in the pupil.
                if k.abs() > POINT {
                    into.push(Clip::Circle {
                        centre: axes.map(|axis| -dot(c, axis) / k),
                        radius: radius_mm / k.abs(),
                    });
                }
                true
            }
            Outline::Rectangle { half_mm, along } => {
                let sides = [along, [-along[1], along[0]]];
                sides.into_iter().zip(half_mm).all(|(side, half)| {
                    let away = dot(c, side);
                    if away.abs() >= half + k.abs() * radius {
                        return false;
                    }
                    if away.abs() + k.abs() * radius > half && k.abs() > POINT {
                        let ends = [(-half - away) / k, (half - away) / k];
                        into.push(Clip::Strip {
                            normal: axes.map(|axis| dot(side, axis)),
                            low: ends[0].min(ends[1]),
                            high: ends[0].max(ends[1]),
                        });
                    }
                    true
                })
            }
        }
    }
}

fn dot(a: [f64; 2], b: [f64; 2]) -> f64 {
    a[0] * b[0] + a[1] * b[1]
}

/// The least and the greatest of some values.
fn ends(values: &[f64]) -> [f64; 2] {
    let least = values.iter().copied().fold(f64::INFINITY, f64::min);
    let most = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    [least, most]
}
