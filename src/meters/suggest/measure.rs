//! What glass in its place does to the region and to the rest, and what that is worth.

use super::scene::Sight;
use super::seat::{At, Seat, Stock, with};
use crate::optics::field::View;
use crate::rig::{Place, Setup};
use std::sync::LazyLock;

/// Stops that a piece is worth: it is carried, cleaned, and adds two faces.
const PIECE: f64 = 0.05;
/// What unevenness over the region counts for.
const UNEVEN: f64 = 0.5;
/// Rays through the pupil where two edges are averaged together.
const RAYS: usize = 48;

/// Points spread evenly over a unit disc: a sunflower's (Vogel 1979).
static DISC: LazyLock<Vec<[f64; 2]>> = LazyLock::new(|| {
    let golden = std::f64::consts::PI * (3.0 - 5.0_f64.sqrt());
    let point = |i: usize| {
        let r = ((i as f64 + 0.5) / RAYS as f64).sqrt();
        let (sin, cos) = (golden * i as f64).sin_cos();
        [r * cos, r * sin]
    };
    (0..RAYS).map(point).collect()
});

/// What added glass does, in stops.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Parts {
    /// How far the region's level changes.
    pub(super) change: f64,
    /// Mean loss of the rest of the picture.
    pub(super) overshoot: f64,
    /// RMS of the loss over the region about its mean.
    pub(super) uneven: f64,
    /// What lines cost that show.
    pub(super) line: f64,
    /// How many pieces.
    pub(super) pieces: usize,
}

impl Parts {
    /// The score at a residual: see [`super`].
    pub(super) fn score(&self, residual: f64) -> f64 {
        let pieces = PIECE * self.pieces as f64;
        residual.abs() + self.overshoot + UNEVEN * self.uneven + self.line + pieces
    }
}

/// Pieces in their stages: of each its seat, and where it stands there.
pub(super) type Layout = Vec<(usize, At)>;

/// How light through two pieces is worked out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Care {
    /// The product of their means.
    Quick,
    /// The mean of their product, over some rays.
    Rays,
}

/// All that a search looks at.
#[derive(Debug)]
pub(super) struct Search<'a> {
    pub(super) base: &'a Setup,
    pub(super) view: View,
    pub(super) stock: Vec<Stock>,
    pub(super) seats: Vec<Seat>,
    pub(super) coarse: Sight,
    pub(super) fine: Sight,
    pub(super) last: Sight,
    /// How far the region is over its target as the rig stands, stops.
    pub(super) over: f64,
}

impl Search<'_> {
    /// What a layout does to a sight.
    pub(super) fn measure(&self, layout: &[(usize, At)], sight: &Sight, care: Care) -> Parts {
        let one = |(seat, at): &(usize, At)| self.seats[*seat].passed(*at);
        match layout {
            [] => self.of(layout, sight, |_| 1.0),
            [a, b] if care == Care::Rays && !self.apart(layout) => {
                let ray = |(seat, at): &(usize, At)| self.seats[*seat].ray(*at);
                let (a, b) = (ray(a), ray(b));
                self.of(layout, sight, |d| {
                    let both = DISC.iter().map(|p| a(d, *p) * b(d, *p));
                    both.sum::<f64>() / RAYS as f64
                })
            }
            all => {
                let through: Vec<_> = all.iter().map(one).collect();
                self.of(layout, sight, |d| through.iter().map(|t| t(d)).product())
            }
        }
    }

    fn of(&self, layout: &[(usize, At)], sight: &Sight, seen: impl Fn([f64; 2]) -> f64) -> Parts {
        let loss = |passed: f64| -passed.max(1e-12).log2();
        let (mut light, mut sum, mut squares) = (0.0, 0.0, 0.0);
        for (at, part) in &sight.region {
            let passed = seen(*at);
            let lost = loss(passed);
            light += part * passed;
            sum += lost;
            squares += lost * lost;
        }
        let count = sight.region.len() as f64;
        let mean = sum / count;
        let rest: f64 = sight.rest.iter().map(|at| loss(seen(*at))).sum();
        let each = |f: &dyn Fn(&Seat, At) -> f64| -> f64 {
            layout.iter().map(|(s, at)| f(&self.seats[*s], *at)).sum()
        };
        Parts {
            change: each(&Seat::even) - loss(light),
            overshoot: rest / sight.rest.len().max(1) as f64,
            uneven: (squares / count - mean * mean).max(0.0).sqrt(),
            line: each(&|seat, at| seat.line(&self.view, at)),
            pieces: layout.len(),
        }
    }

    /// The whole rig with a layout in it.
    pub(super) fn setup(&self, layout: &[(usize, At)]) -> Setup {
        let glass = layout.iter().map(|(s, at)| self.seats[*s].placed(*at));
        with(self.base, glass)
    }

    /// Whether scattering glass stands between the pieces: light is then averaged over the pupil at each.
    pub(super) fn apart(&self, layout: &[(usize, At)]) -> bool {
        let stages = || layout.iter().map(|(s, _)| self.seats[*s].stage + 1);
        let (first, last) = (stages().min().unwrap_or(0), stages().max().unwrap_or(0));
        self.base.glass.iter().any(|g| {
            let Place::Stage(n) = g.place else {
                return false;
            };
            g.piece.law().scatter.is_some() && first < n && n < last
        })
    }
}
