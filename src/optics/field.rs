//! Placed glass and openings as one smooth field over the picture: the law, and the table a kernel runs.

use super::pupil::{Aperture, Plane, Pupil};
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

/// A field made ready for a kernel.
#[derive(Debug, Clone, PartialEq)]
pub enum Table {
    /// It changes in one direction only: values at even steps along it.
    Across {
        /// Unit vector along which it changes (picture, x right and y up).
        along: [f64; 2],
        /// Position of the first value on the sensor, mm from the axis along `along`.
        start_mm: f64,
        /// Distance between values, mm.
        step_mm: f64,
        /// Transmissions, 0 to 1; linear between them.
        values: Vec<f32>,
    },
    /// Values on a grid over the picture, cubic (Catmull–Rom) between them. Node (i, j) of
    /// `columns × rows` lies at ((i − 1)/(columns − 3), (j − 1)/(rows − 3)) of the picture from its
    /// top left: one node beyond each border, so that no pixel needs another rule.
    Grid {
        /// Nodes across.
        columns: usize,
        /// Nodes down.
        rows: usize,
        /// Transmissions, rows from the top.
        values: Vec<f32>,
    },
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

    /// The four corners, mm from the centre.
    #[must_use]
    pub fn corners(&self) -> [[f64; 2]; 4] {
        let (x, y) = (self.width_mm / 2.0, self.height_mm / 2.0);
        [[-x, y], [x, y], [-x, -y], [x, -y]]
    }
}

/// Values of a table along one direction; a test holds it to the tolerance of its kernel at f/16.
const ALONG: usize = 2048;

impl Field {
    /// Transmission seen at a point of the picture, mm from its centre.
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
        self.planes.iter().all(|p| p.ramp.peak() <= 0.0) && !self.clips(view)
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

    /// The field as a table for pictures of `view`.
    #[must_use]
    pub fn table(&self, view: &View) -> Table {
        let along = self.planes.first().map_or([0.0, 1.0], |p| p.toward_dense);
        let turned_alike = self
            .planes
            .iter()
            .all(|p| (p.toward_dense[0] * along[1] - p.toward_dense[1] * along[0]).abs() < 1e-12);
        if turned_alike && !self.clips(view) {
            self.across(view, along)
        } else {
            self.grid(view)
        }
    }

    fn across(&self, view: &View, along: [f64; 2]) -> Table {
        let reach = view.corners().map(|c| c[0] * along[0] + c[1] * along[1]);
        let end = reach.iter().copied().fold(0.0, f64::max);
        let step_mm = 2.0 * end / (ALONG - 1) as f64;
        let values = (0..ALONG)
            .into_par_iter()
            .map(|i| {
                let s = step_mm.mul_add(i as f64, -end);
                self.at(view, s * along[0], s * along[1]) as f32
            })
            .collect();
        Table::Across {
            along,
            start_mm: -end,
            step_mm,
            values,
        }
    }

    fn grid(&self, view: &View) -> Table {
        // A thirty-second of the narrowest edge between nodes keeps cubic interpolation within 1e-3.
        let narrowest = self
            .planes
            .iter()
            .map(|p| p.depth_mm)
            .chain(self.apertures.iter().map(|a| a.depth_mm))
            .map(|z| 2.0 * self.pupil.footprint_radius(z).abs() * view.focal_mm / z)
            .fold(f64::INFINITY, f64::min);
        let nodes = |side: f64| (32.0 * side / narrowest).clamp(64.0, 1200.0).round() as usize;
        let (columns, rows) = (nodes(view.width_mm) + 3, nodes(view.height_mm) + 3);
        let values = (0..rows * columns)
            .into_par_iter()
            .with_min_len(256)
            .map(|i| {
                let x = ((i % columns) as f64 - 1.0) / (columns - 3) as f64 - 0.5;
                let y = 0.5 - ((i / columns) as f64 - 1.0) / (rows - 3) as f64;
                self.at(view, x * view.width_mm, y * view.height_mm) as f32
            })
            .collect();
        Table::Grid {
            columns,
            rows,
            values,
        }
    }
}
