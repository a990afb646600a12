//! What the search looks at: the region's light in cells, and points of the rest of the picture.

use super::super::Region;
use crate::colour::primaries::luminance;
use crate::frame::{Frame, to_width};
use crate::optics::field::View;
use crate::units::Stops;

/// Width at which pictures are made for the search: a level over a region needs no more.
const WIDTH: usize = 256;
/// The plastic number's powers: steps of the sequence whose points lie evenly over a square, and over
/// any line across it (R2, Roberts 2018: 1/ρ and 1/ρ², ρ³ = ρ + 1).
const STEPS: [f64; 2] = [0.754_877_666_246_693, 0.569_840_290_998_053];
/// Points tried before a region that leaves no rest is believed.
const TRIED: usize = 20_000;

/// How finely the picture is looked at.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fineness {
    /// Cells along each side of the region, at most.
    cells: usize,
    /// Points of the rest.
    points: usize,
}

/// For the search over everything.
pub(super) const COARSE: Fineness = Fineness {
    cells: 6,
    points: 96,
};
/// For what it found.
pub(super) const FINE: Fineness = Fineness {
    cells: 20,
    points: 600,
};
/// For what is told: an edge along the region's border takes a few hundredths of it.
pub(super) const LAST: Fineness = Fineness {
    cells: 64,
    points: 4000,
};

/// The region and the rest of a picture, as directions of view (tangents, x right and y up).
#[derive(Debug, Clone)]
pub(super) struct Sight {
    /// Of each cell of the region: where, and its part of the region's light.
    pub(super) region: Vec<([f64; 2], f64)>,
    /// Points outside it.
    pub(super) rest: Vec<[f64; 2]>,
}

/// A frame small enough, with the region's light as it was metered.
#[derive(Debug)]
pub(super) struct Scene {
    pub(super) frame: Frame,
    /// Columns and rows of the region.
    cells: [std::ops::Range<usize>; 2],
    region: Region,
}

/// Where the region's level is from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Metered {
    /// It was told.
    Told,
    /// The frame's own light.
    Frame,
}

/// A place of the frame, in 0..1 from its top left, as a direction of view.
fn seen_at(view: &View, [x, y]: [f64; 2]) -> [f64; 2] {
    view.direction((x - 0.5) * view.width_mm, (0.5 - y) * view.height_mm)
}

impl Scene {
    /// The frame, reduced; the light of the region scaled to `level` where one is given.
    pub(super) fn new(frame: &Frame, region: Region, level: Option<Stops>) -> Self {
        let small = to_width(frame, WIDTH.min(frame.width()));
        let mut scene = Self {
            cells: [0..0, 0..0],
            frame: small.unwrap_or_else(|_| frame.clone()),
            region,
        };
        scene.cells = region.cells(scene.frame.width(), scene.frame.height());
        if let Some(level) = level {
            scene.set(f64::from(Frame::KEY) * level.factor());
        }
        scene
    }

    /// Makes the region's mean light `wanted`: scaled, or even where it has none.
    fn set(&mut self, wanted: f64) {
        let now = self.light(&self.frame);
        let [columns, rows] = self.cells.clone();
        let width = self.frame.width();
        for plane in self.frame.planes_mut() {
            for y in rows.clone() {
                for light in &mut plane[y * width..][columns.clone()] {
                    *light = if now > 0.0 {
                        (f64::from(*light) * wanted / now) as f32
                    } else {
                        wanted as f32
                    };
                }
            }
        }
    }

    /// Mean luminance of the region in a picture of the scene.
    pub(super) fn light(&self, picture: &Frame) -> f64 {
        self.mean(picture, &self.cells)
    }

    /// Level of the region in a picture of the scene.
    pub(super) fn level(&self, picture: &Frame) -> Stops {
        let light = self.light(picture).max(0.0);
        Stops::clamped((light / f64::from(Frame::KEY)).log2())
    }

    fn mean(&self, picture: &Frame, [columns, rows]: &[std::ops::Range<usize>; 2]) -> f64 {
        let light = rows.clone().flat_map(|y| {
            let pixel = move |x| f64::from(luminance(picture.pixel(x, y)));
            columns.clone().map(pixel)
        });
        light.sum::<f64>() / (columns.len() * rows.len()) as f64
    }

    /// The picture of the rig as it stands, looked at.
    pub(super) fn sight(&self, picture: &Frame, view: &View, fineness: Fineness) -> Sight {
        let split = |range: &std::ops::Range<usize>| {
            let count = fineness.cells.min(range.len());
            let border = |i: usize| range.start + i * range.len() / count;
            (0..count)
                .map(|i| border(i)..border(i + 1))
                .collect::<Vec<_>>()
        };
        let (width, height) = (self.frame.width() as f64, self.frame.height() as f64);
        let middle = |r: &std::ops::Range<usize>, side: f64| (r.start + r.end) as f64 / 2.0 / side;
        let columns = split(&self.cells[0]);
        let mut region = Vec::with_capacity(fineness.cells * fineness.cells);
        for row in split(&self.cells[1]) {
            for column in &columns {
                let at = seen_at(view, [middle(column, width), middle(&row, height)]);
                let light = self.mean(picture, &[column.clone(), row.clone()]).max(0.0);
                region.push((at, light * (column.len() * row.len()) as f64));
            }
        }
        let sum: f64 = region.iter().map(|c| c.1).sum();
        for cell in &mut region {
            cell.1 /= sum.max(f64::MIN_POSITIVE);
        }
        let [x0, y0, x1, y1] = self.region.sides;
        let rest = (1..=TRIED)
            .map(|i| STEPS.map(|step| (0.5 + step * i as f64).fract()))
            .filter(|[x, y]| !((x0..=x1).contains(x) && (y0..=y1).contains(y)))
            .take(fineness.points)
            .map(|at| seen_at(view, at))
            .collect();
        Sight { region, rest }
    }
}
