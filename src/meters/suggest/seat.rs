//! A piece of the kit in a free stage: what it passes across its edge, and where it may be slid and
//! turned to.

use crate::glass::Piece;
use crate::optics::field::View;
use crate::optics::pupil::{Plane, Ramp, Shape};
use crate::recipe::kit::{Fits, Kit};
use crate::recipe::{Recipe, RecipeError, RigDoc, STAGES, StageDoc};
use crate::rig::camera::Compensate;
use crate::rig::coverage::LINE_BELOW;
use crate::rig::size::Size;
use crate::rig::{Mount, Mounted, Setup};
use crate::units::{Degrees, Density, Millimetres, Stops};

/// Values of a profile: so many keep a straight line between them within 1e-3 of it.
const VALUES: usize = 257;
/// What a line that shows costs, in parts of the stops that it divides.
const LINE: f64 = 0.15;

/// Alike pieces of the kit that change across themselves and are neutral.
#[derive(Debug, Clone)]
pub(super) struct Stock {
    pub(super) piece: Piece,
    pub(super) size: Size,
    pub(super) count: usize,
}

/// What of a kit a search may use: neutral placed glass for trays, less what stands in the rig.
pub(super) fn stock(kit: &Kit, standing: &[Mounted]) -> Result<Vec<Stock>, RecipeError> {
    let mut stock: Vec<Stock> = Vec::new();
    for row in &kit.rows {
        let (piece, Fits::Tray(size)) = (row.piece()?, row.fits()) else {
            continue;
        };
        let law = piece.law();
        if law.ramp.is_none() || law.dye.is_some() || law.scatter.is_some() {
            continue;
        }
        let count = row.count as usize;
        match stock.iter_mut().find(|s| s.is(piece.name(), size)) {
            Some(same) => same.count += count,
            None => stock.push(Stock { piece, size, count }),
        }
    }
    for glass in standing {
        if let Mount::Tray { size, .. } = glass.mount
            && let Some(same) = stock.iter_mut().find(|s| s.is(glass.piece.name(), size))
        {
            same.count = same.count.saturating_sub(1);
        }
    }
    stock.retain(|s| s.count > 0);
    Ok(stock)
}

impl Stock {
    fn is(&self, name: &str, size: Size) -> bool {
        self.piece.name() == name && self.size == size
    }

    /// It, in a stage.
    pub(super) fn document(&self, slide: f64, turn: f64) -> StageDoc {
        StageDoc {
            size: self.size,
            slide_mm: Millimetres::clamped(slide),
            turn_deg: Degrees::clamped(turn),
            ..StageDoc::holding(&self.piece)
        }
    }
}

/// Stages that hold nothing, from 0.
pub(super) fn free(rig: &RigDoc) -> Vec<usize> {
    let empty = |i: &usize| rig.stages.get(*i).is_none_or(Option::is_none);
    (0..STAGES).filter(empty).collect()
}

/// A piece of the kit in a free stage.
#[derive(Debug)]
pub(super) struct Seat {
    /// Which of the stock.
    pub(super) stock: usize,
    /// Which stage, from 0.
    pub(super) stage: usize,
    /// The glass there, neither slid nor turned.
    mounted: Mounted,
    profile: Profile,
    /// Density before the footprint evens it out.
    sharp: Profile,
    ramp: Ramp,
    /// Distance from the pupil, and the radius of the footprint there.
    depth: f64,
    radius: f64,
    sides: [f64; 2],
    round: bool,
    /// What it takes evenly, and what compensation gives back of that, in stops.
    even: f64,
    compensated: bool,
    /// How far the lines of its edge lie from the middle, and what they cost where they show.
    line_at: f64,
    line: f64,
}

/// Part of the light that passes against distance across an edge.
#[derive(Debug)]
struct Profile {
    start: f64,
    per_mm: f64,
    passed: Vec<f64>,
}

impl Profile {
    fn new(from: f64, to: f64, passed: impl Fn(f64) -> f64) -> Self {
        let step = (to - from) / (VALUES - 1) as f64;
        Self {
            start: from,
            per_mm: 1.0 / step,
            passed: (0..VALUES)
                .map(|i| passed(step.mul_add(i as f64, from)))
                .collect(),
        }
    }

    fn at(&self, mm: f64) -> f64 {
        let last = VALUES - 1;
        let place = ((mm - self.start) * self.per_mm).clamp(0.0, last as f64);
        let i = (place as usize).min(last - 1);
        let part = place - i as f64;
        self.passed[i] + part * (self.passed[i + 1] - self.passed[i])
    }
}

impl Seat {
    pub(super) fn new(
        recipe: &Recipe,
        base: &Setup,
        view: &View,
        (index, stock): (usize, &Stock),
        stage: usize,
    ) -> Result<Option<Self>, RecipeError> {
        let mut alone = RigDoc::default();
        alone.stages[stage] = Some(StageDoc {
            gap_mm: None,
            ..stock.document(0.0, 0.0)
        });
        let Some(mounted) = alone.mounted()?.pop() else {
            return Ok(None);
        };
        let setup = with(base, [mounted.clone()]);
        let Some(plane) = mounted.plane(&setup) else {
            return Ok(None);
        };
        let (pupil, depth, ramp) = (setup.pupil(), plane.depth_mm, plane.ramp.clone());
        let radius = pupil.footprint_radius(depth).abs();
        let ends = |reach: f64| {
            let [low, high] = ramp.ends();
            (low - reach, high + reach)
        };
        // A pixel that looks along the axis, through the edge slid by −mm.
        let seen = |mm: f64| {
            let plane = Plane {
                slide_mm: -mm,
                ..plane.clone()
            };
            pupil.seen(&[&plane], &[], [0.0; 2])
        };
        let (low, high) = ends(radius.max(1e-3));
        let (sharp_low, sharp_high) = ends(1e-3);
        let passes = |mm: f64| Density::clamped(ramp.density(mm)).transmittance();
        let even = mounted.piece.law().flat_loss(&base.scene()).get();
        let compensated = recipe.exposure.compensate != Compensate::None;
        let part = setup
            .edge_width_mm(&mounted)
            .map_or(1.0, |mm| mm / view.height_mm);
        let peak = Stops::from(Density::clamped(ramp.peak())).get();
        Ok(Some(Self {
            stock: index,
            stage,
            profile: Profile::new(low, high, seen),
            sharp: Profile::new(sharp_low, sharp_high, passes),
            depth,
            radius,
            sides: stock.size.sides_mm(),
            round: stock.size.is_round(),
            even,
            compensated,
            line_at: match ramp.shape() {
                Shape::Edge | Shape::Attenuator => 0.0,
                Shape::Stripe => (ramp.width() - ramp.length()) / 2.0,
            },
            line: match ramp.shape() {
                Shape::Edge | Shape::Stripe => LINE * peak * (1.0 - part / LINE_BELOW).max(0.0),
                Shape::Attenuator => 0.0,
            },
            mounted,
            ramp,
        }))
    }

    /// The same glass, slid and turned.
    pub(super) fn placed(&self, at: At) -> Mounted {
        let mut mounted = self.mounted.clone();
        mounted.turn = Degrees::clamped(at.turn);
        if let Mount::Tray { slide, .. } = &mut mounted.mount {
            *slide = Millimetres::clamped(at.slide);
        }
        mounted
    }

    /// How far it may be slid at a turn and still cover the picture, and no further than makes a
    /// difference; None where it does not cover at all.
    pub(super) fn range(&self, view: &View, turn: f64) -> Option<[f64; 2]> {
        let up = up(turn);
        let reach = |along: [f64; 2]| self.reach(view, along);
        let (tall, wide) = (reach(up), reach([up[1], -up[0]]));
        if self.round {
            let corner = 0.5 * view.width_mm.hypot(view.height_mm) / view.focal_mm * self.depth;
            return (corner + self.radius < self.sides[0] / 2.0).then_some([0.0; 2]);
        }
        let free = self.sides[1] / 2.0 - tall - self.radius - 1e-6;
        if free <= 0.0 || wide + self.radius + 1e-6 >= self.sides[0] / 2.0 {
            return None;
        }
        let [first, last] = self.ramp.ends();
        let low = (-tall - self.radius - last).min(0.0);
        let high = (tall + self.radius - first).max(0.0);
        Some([low.max(-free), high.min(free)])
    }

    /// How far the picture's corners reach on the glass along a direction.
    fn reach(&self, view: &View, along: [f64; 2]) -> f64 {
        self.depth * view.reach(along)
    }

    /// What a line that shows costs.
    pub(super) fn line(&self, view: &View, at: At) -> f64 {
        let reach = self.reach(view, up(at.turn));
        let crosses = |line: f64| (at.slide + line).abs() < reach;
        if self.line > 0.0 && (crosses(self.line_at) || crosses(-self.line_at)) {
            self.line
        } else {
            0.0
        }
    }

    /// Whether it is the same upside down.
    pub(super) fn symmetric(&self) -> bool {
        self.ramp.shape() == Shape::Stripe
    }

    /// What changes evenly over the picture, in stops: faces and compensation.
    pub(super) fn even(&self, at: At) -> f64 {
        if !self.compensated {
            -self.even
        } else if self.ramp.shape() == Shape::Attenuator {
            Stops::from(Density::clamped(self.ramp.density(-at.slide))).get()
        } else {
            0.0
        }
    }

    /// Height of a direction across the edge, on the glass.
    fn height(&self, at: At, up: [f64; 2], direction: [f64; 2]) -> f64 {
        self.depth * (direction[0] * up[0] + direction[1] * up[1]) - at.slide
    }

    /// Part of the light that a direction passes through the placed density, apart from all other glass.
    pub(super) fn passed(&self, at: At) -> impl Fn([f64; 2]) -> f64 + '_ {
        let up = up(at.turn);
        move |direction| self.profile.at(self.height(at, up, direction))
    }

    /// The same through a single point of the pupil, in parts of its radius.
    pub(super) fn ray(&self, at: At) -> impl Fn([f64; 2], [f64; 2]) -> f64 + '_ {
        let up = up(at.turn);
        move |direction, point| {
            let off = self.radius * (point[0] * up[0] + point[1] * up[1]);
            self.sharp.at(self.height(at, up, direction) + off)
        }
    }
}

/// Where a piece stands in its stage: millimetres towards its dense side, degrees counter-clockwise.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct At {
    pub(super) slide: f64,
    pub(super) turn: f64,
}

fn up(turn: f64) -> [f64; 2] {
    let (sin, cos) = turn.to_radians().sin_cos();
    [-sin, cos]
}

/// A rig with more glass in it.
pub(super) fn with(base: &Setup, more: impl IntoIterator<Item = Mounted>) -> Setup {
    let mut setup = base.clone();
    setup.glass.extend(more);
    setup.glass.sort_by_key(|g| g.place);
    setup
}
