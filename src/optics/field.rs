//! Placed glass and openings as one smooth field over the picture: the law, and the table a kernel runs.
//!
//! Where no glass has a colour the field is a transmission; where one has, it is a matrix on working
//! light ([`super::tint`]).

use super::pupil::{Aperture, Care, Dye, Plane, Pupil};
use super::tiles::{Inside, Tiles, Value};
use super::tint::{Nine, Node};
use crate::colour::Spectrum;
use crate::units::Degrees;
use rayon::prelude::*;

/// What every pixel sees through several placed glasses and openings at once, exactly.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// The entrance pupil.
    pub pupil: Pupil,
    /// Glass that changes across itself.
    pub planes: Vec<Plane>,
    /// Openings that light has to pass.
    pub apertures: Vec<Aperture>,
}

/// The part of the field of view that a picture shows: its size on the sensor and the focal length.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct View {
    /// Focal length, mm.
    pub focal_mm: f64,
    /// Width on the sensor, mm.
    pub width_mm: f64,
    /// Height on the sensor, mm.
    pub height_mm: f64,
}

/// A field with colour in it, as a sum: neutral fields, each times a matrix.
#[derive(Debug, Clone, PartialEq)]
pub struct Coloured {
    field: Field,
    terms: Vec<Terms>,
    care: Care,
}

/// Terms that are worked out together: they share the pupil's geometry. Places left over have no
/// weight.
#[derive(Debug, Clone, PartialEq)]
struct Terms {
    /// For each plane, its density in parts of its ramp's.
    factors: Vec<[f64; TOGETHER]>,
    weights: [Nine; TOGETHER],
}

/// As many as one dye of ordinary density needs.
const TOGETHER: usize = 6;

/// A field made ready for a kernel.
#[derive(Debug, Clone, PartialEq)]
pub enum Fit {
    /// Transmissions, 0 to 1.
    Neutral(Table<f32>),
    /// Matrices on working light, row by row.
    Coloured(Table<[f32; 9]>),
}

/// Values over the picture.
#[derive(Debug, Clone, PartialEq)]
pub enum Table<V> {
    /// It changes in one direction only: values at even steps along it.
    Across {
        /// Unit vector along which it changes (picture, x right and y up).
        along: [f64; 2],
        /// Position of the first value on the sensor, mm from the axis along `along`.
        start_mm: f64,
        /// Distance between values, mm.
        step_mm: f64,
        /// Values; linear between them.
        values: Vec<V>,
    },
    /// It changes in more than one: tiles over the picture.
    Tiles(Tiles<V>),
}

impl View {
    /// Tangents of the field angle seen at a point of the picture, given from its centre in mm.
    #[must_use]
    pub fn direction(&self, x_mm: f64, y_mm: f64) -> [f64; 2] {
        [x_mm / self.focal_mm, y_mm / self.focal_mm]
    }

    /// The field angle of the corners.
    #[must_use]
    pub fn widest_angle(&self) -> Degrees {
        let corner = 0.5 * self.width_mm.hypot(self.height_mm);
        Degrees::clamped((corner / self.focal_mm).atan().to_degrees())
    }

    /// How far the picture reaches along a unit vector, either way, in tangents of the field angle.
    #[must_use]
    pub fn reach(&self, along: [f64; 2]) -> f64 {
        let at = self.corners().map(|c| self.direction(c[0], c[1]));
        at.iter()
            .map(|d| (d[0] * along[0] + d[1] * along[1]).abs())
            .fold(0.0, f64::max)
    }

    /// The four corners, mm from the centre.
    #[must_use]
    pub fn corners(&self) -> [[f64; 2]; 4] {
        let (x, y) = (self.width_mm / 2.0, self.height_mm / 2.0);
        [[-x, y], [x, y], [-x, -y], [x, -y]]
    }
}

/// Fewest and most values of a table along one direction, and how many of them a hard edge's soft zone
/// has: so many keep straight lines between them within 4e-4.
const ALONG: [f64; 2] = [2048.0, 131_072.0];
const PER_EDGE: f64 = 80.0;

/// First tiles along the picture's longer side.
const ROOTS: f64 = 16.0;
/// Difference at a tile's middles at which it is cut: a bend elsewhere in it errs up to three times as much.
const CUT: f32 = 2.5e-4;

impl Field {
    /// Transmission seen at a point of the picture, mm from its centre, of a field without colour.
    #[must_use]
    pub fn at(&self, view: &View, x_mm: f64, y_mm: f64) -> f64 {
        let planes: Vec<&Plane> = self.planes.iter().collect();
        self.pupil
            .seen(&planes, &self.apertures, view.direction(x_mm, y_mm))
    }

    /// Whether no pixel of the picture is touched: openings that clear its corners (they are convex,
    /// so that they clear all of it) and no density anywhere.
    #[must_use]
    pub fn is_clear(&self, view: &View) -> bool {
        self.planes.iter().all(|p| p.peak_density() <= 0.0) && !self.clips(view)
    }

    /// Whether an opening touches the picture.
    #[must_use]
    pub fn clips(&self, view: &View) -> bool {
        view.corners().iter().any(|c| {
            let seen = self
                .pupil
                .seen(&[], &self.apertures, view.direction(c[0], c[1]));
            seen < 1.0 - 1e-12
        })
    }

    /// The field as exactly the sum of neutral ones; None when no glass has a colour.
    #[must_use]
    pub fn coloured(&self) -> Option<Coloured> {
        self.split(Care::Exact, |dye, densities| dye.tint.exact(densities))
    }

    /// The field as a sum of few neutral ones, to about 1e-4: what a table is made from; None when no
    /// glass has a colour.
    #[must_use]
    pub fn few(&self) -> Option<Coloured> {
        self.split(Care::Table, |dye, densities| dye.tint.fitted(densities))
    }

    fn split(
        &self,
        care: Care,
        nodes: impl Fn(&Dye, &[&Spectrum]) -> Vec<Node>,
    ) -> Option<Coloured> {
        let dye = self.planes.iter().find_map(|p| p.dye.as_ref())?;
        // A dye's ramp tells parts of it up to its peak: that peak goes to the density.
        let full = |p: &Plane| Some(p.dye.as_ref()?.density.scaled(p.ramp.peak()));
        let densities: Vec<Spectrum> = self.planes.iter().filter_map(full).collect();
        let densities: Vec<&Spectrum> = densities.iter().collect();
        let nodes = nodes(dye, &densities);
        let terms = nodes.chunks(TOGETHER).map(|few| {
            let mut dyes = 0..densities.len();
            let factors = self.planes.iter().map(|p| {
                // A neutral plane takes none of the nodes' densities.
                let Some(i) = p.dye.as_ref().and_then(|_| dyes.next()) else {
                    return [1.0; TOGETHER];
                };
                let peak = p.ramp.peak().max(f64::MIN_POSITIVE);
                std::array::from_fn(|n| few.get(n).map_or(0.0, |node| node.densities[i] / peak))
            });
            Terms {
                factors: factors.collect(),
                weights: std::array::from_fn(|n| few.get(n).map_or([0.0; 9], |node| node.weight)),
            }
        });
        Some(Coloured {
            terms: terms.collect(),
            field: self.clone(),
            care,
        })
    }

    /// The field as a table for pictures of `view`.
    #[must_use]
    pub fn fit(&self, view: &View) -> Fit {
        match self.few() {
            None => {
                let at = |x, y| self.at(view, x, y) as f32;
                Fit::Neutral(self.table(view, at))
            }
            Some(c) => {
                let at = |x, y| c.at(view, x, y).map(|v| v as f32);
                Fit::Coloured(self.table(view, at))
            }
        }
    }

    fn table<V: Value>(&self, view: &View, at: impl Fn(f64, f64) -> V + Sync) -> Table<V> {
        let along = self.planes.first().map_or([0.0, 1.0], |p| p.toward_dense);
        let turned_alike = self
            .planes
            .iter()
            .all(|p| (p.toward_dense[0] * along[1] - p.toward_dense[1] * along[0]).abs() < 1e-12);
        if turned_alike && !self.clips(view) {
            return self.across(view, along, at);
        }
        let place = |[u, v]: [f64; 2]| [(u - 0.5) * view.width_mm, (0.5 - v) * view.height_mm];
        let long = view.width_mm.max(view.height_mm);
        let roots = [view.width_mm, view.height_mm];
        let roots = roots.map(|mm| (ROOTS * mm / long).round().max(1.0) as usize);
        Table::Tiles(Tiles::grow(
            roots,
            CUT,
            |at_part| {
                let [x, y] = place(at_part);
                at(x, y)
            },
            |from, side| {
                let [left, top] = place(from);
                let [right, bottom] = place([from[0] + side[0], from[1] + side[1]]);
                match self.inside(view, [left, bottom], [right, top]) {
                    // The zone's width against the tile's longer side, whatever the picture's shape.
                    Inside::Narrow(mm) => {
                        Inside::Narrow(mm * side[0].max(side[1]) / (right - left).max(top - bottom))
                    }
                    other => other,
                }
            },
        ))
    }

    /// What the part of the picture from `low` to `high`, mm from its centre, has in it.
    fn inside(&self, view: &View, low: [f64; 2], high: [f64; 2]) -> Inside {
        let corners =
            [low, [low[0], high[1]], [high[0], low[1]], high].map(|c| view.direction(c[0], c[1]));
        let mut inside = Inside::Even;
        let on_sensor = |inside: Inside, depth_mm: f64| match inside {
            Inside::Narrow(mm) => Inside::Narrow(mm * view.focal_mm / depth_mm),
            other => other,
        };
        for plane in &self.planes {
            let met = self.pupil.meets(plane, &corners);
            inside = inside.and(on_sensor(met, plane.depth_mm));
        }
        for aperture in &self.apertures {
            // Openings are convex: what clears the corners clears all between them.
            if corners.iter().all(|c| self.pupil.clears(aperture, *c)) {
                continue;
            }
            if self.pupil.blocks(aperture, corners[0], corners[3]) {
                return Inside::Even;
            }
            let met = self.pupil.meets_rim(aperture, &corners);
            inside = inside.and(on_sensor(met, aperture.depth_mm));
        }
        inside
    }

    fn across<V: Send>(
        &self,
        view: &View,
        along: [f64; 2],
        at: impl Fn(f64, f64) -> V + Sync,
    ) -> Table<V> {
        let reach = view.corners().map(|c| c[0] * along[0] + c[1] * along[1]);
        let end = reach.iter().copied().fold(0.0, f64::max);
        let narrowest = self
            .planes
            .iter()
            .map(|p| self.pupil.footprint_radius(p.depth_mm) * view.focal_mm / p.depth_mm)
            .fold(f64::INFINITY, |least, radius| least.min(2.0 * radius.abs()));
        let count = (PER_EDGE * 2.0 * end / narrowest).clamp(ALONG[0], ALONG[1]) as usize;
        let step_mm = 2.0 * end / (count - 1) as f64;
        let values = (0..count)
            .into_par_iter()
            .with_min_len(256)
            .map(|i| {
                let s = step_mm.mul_add(i as f64, -end);
                at(s * along[0], s * along[1])
            })
            .collect();
        Table::Across {
            along,
            start_mm: -end,
            step_mm,
            values,
        }
    }
}

impl Coloured {
    /// The matrix on working light at a point of the picture, mm from its centre, row by row.
    #[must_use]
    pub fn at(&self, view: &View, x_mm: f64, y_mm: f64) -> Nine {
        let Field {
            pupil,
            planes,
            apertures,
        } = &self.field;
        let direction = view.direction(x_mm, y_mm);
        let mut sum = [0.0; 9];
        for Terms { factors, weights } in &self.terms {
            let planes: Vec<_> = planes.iter().zip(factors.iter().copied()).collect();
            let seen = pupil.seen_each(&planes, apertures, direction, self.care);
            for (seen, weight) in seen.iter().zip(weights) {
                sum.iter_mut().zip(weight).for_each(|(s, w)| *s += seen * w);
            }
        }
        sum
    }
}
