//! Which level is told for which clipped area.

use super::parts::{Part, Parts};
use crate::frame::Disc;
use crate::frame::restore::{Area, Ask, Hue, Pin};
use crate::units::{Fraction, Stops};
use std::collections::BTreeMap;

/// Who told a level.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum LevelFrom {
    /// A metered point, by its place in [`Ask::pins`].
    Pin(usize),
    /// An area, by its place in [`Ask::areas`].
    Area(usize),
    /// [`Ask::clipped`].
    General,
}

/// A mean level to be met.
#[derive(Debug, Clone, Copy)]
pub(super) struct Goal {
    pub(super) from: LevelFrom,
    pub(super) stops: f64,
    pub(super) over: Over,
}

/// Which light it is the mean of.
#[derive(Debug, Clone, Copy)]
pub(super) enum Over {
    /// All of the clipped area.
    Whole,
    /// What of it lies in a rectangle: left, top, right, bottom in pixels, the last two beyond it.
    Within([usize; 4]),
    /// All light in a disc, clipped or not.
    Disc(Disc),
}

/// What is asked of one clipped area.
#[derive(Debug, Clone, Default)]
pub(super) struct Asked {
    /// None leaves it as it is.
    pub(super) goals: Vec<Goal>,
    pub(super) hue: Hue,
}

/// What an area of the recipe holds.
struct Held {
    area: usize,
    /// In pixels.
    sides: [usize; 4],
    /// Clipped pixels in all.
    all: usize,
    /// And in each clipped area.
    parts: BTreeMap<usize, usize>,
}

/// The levels that are told.
pub(in crate::frame::restore) struct Levels {
    pins: Vec<(usize, Pin)>,
    areas: Vec<Area>,
    general: Option<Stops>,
    hue: Hue,
}

impl Levels {
    pub(in crate::frame::restore) fn of(ask: &Ask, on_clipped: &[bool]) -> Self {
        let pins = ask.pins.iter().copied().enumerate().zip(on_clipped);
        Self {
            pins: pins.filter(|(_, on)| **on).map(|(pin, _)| pin).collect(),
            areas: ask.areas.clone(),
            general: ask.clipped,
            hue: ask.hue,
        }
    }

    pub(in crate::frame::restore) fn is_empty(&self) -> bool {
        self.pins.is_empty() && self.areas.is_empty() && self.general.is_none()
    }

    /// What is asked of every clipped area, and the areas of the recipe that hold none.
    ///
    /// A pin goes before an area of the recipe, and that before the general level. An area of the recipe
    /// tells of a clipped area that lies in it by half or more, or that makes up half or more of the
    /// clipped light in it: what it only grazes is not meant. Of two that overlap the one with less clipped
    /// light goes first; where they lie apart, both tell of their own part.
    pub(super) fn asked(
        &self,
        parts: &Parts,
        width: usize,
        height: usize,
    ) -> (Vec<Asked>, Vec<usize>) {
        let nothing = Asked {
            goals: Vec::new(),
            hue: self.hue,
        };
        let mut asked = vec![nothing; parts.parts.len()];
        let mut empty = Vec::new();
        let mut areas: Vec<Held> = Vec::new();
        for (n, area) in self.areas.iter().enumerate() {
            let sides = pixels(area.sides, width, height);
            let parts = within(parts, sides);
            let all = parts.values().sum();
            if all == 0 {
                empty.push(n);
            } else {
                areas.push(Held {
                    area: n,
                    sides,
                    all,
                    parts,
                });
            }
        }
        areas.sort_by_key(|held| (held.all, held.area));
        for held in &areas {
            let area = self.areas[held.area];
            for (&part, &count) in &held.parts {
                let meant = 2 * count >= parts.parts[part].pixels || 2 * count >= held.all;
                let apart = asked[part].goals.iter().all(|goal| match goal.over {
                    Over::Within(other) => !overlap(held.sides, other),
                    Over::Whole | Over::Disc(_) => true,
                });
                if meant && apart {
                    asked[part].goals.push(Goal {
                        from: LevelFrom::Area(held.area),
                        stops: area.stops.get(),
                        over: Over::Within(held.sides),
                    });
                    asked[part].hue = area.hue.unwrap_or(self.hue);
                }
            }
        }
        for (part, goals) in self.pinned(parts, width, height) {
            asked[part].goals = goals;
        }
        if let Some(stops) = self.general {
            for asked in asked.iter_mut().filter(|a| a.goals.is_empty()) {
                asked.goals.push(Goal {
                    from: LevelFrom::General,
                    stops: stops.get(),
                    over: Over::Whole,
                });
            }
        }
        (asked, empty)
    }

    /// What pins ask of the clipped areas that they lie on.
    ///
    /// A pin tells the mean of its disc where most of that lies on the area, else (a lamp smaller than the
    /// meter's spot) the mean of the area itself. Pins nearer to each other than their discs' radius count
    /// as one that reads their mean.
    fn pinned(&self, parts: &Parts, width: usize, height: usize) -> BTreeMap<usize, Vec<Goal>> {
        let mut goals: BTreeMap<usize, Vec<(Goal, Disc, f64)>> = BTreeMap::new();
        for (n, pin) in &self.pins {
            let (mut held, mut all) = (BTreeMap::<usize, usize>::new(), 0_usize);
            for i in pin.disc.pixels(width, height) {
                all += 1;
                if let Some(part) = parts.at(i % width, i / width) {
                    *held.entry(part).or_default() += 1;
                }
            }
            let most = held.iter().max_by_key(|(_, count)| **count);
            let Some((&most, _)) = most else { continue };
            for (&part, &count) in &held {
                let covers = 2 * count > all;
                let small = 2 * count >= parts.parts[part].pixels;
                if !(covers || small || part == most) {
                    continue;
                }
                let goal = Goal {
                    from: LevelFrom::Pin(*n),
                    stops: pin.stops.get(),
                    over: if covers {
                        Over::Disc(pin.disc)
                    } else {
                        Over::Whole
                    },
                };
                let there = goals.entry(part).or_default();
                let beside = there.iter_mut().find(|(other, disc, _)| {
                    let down = (disc.y - pin.disc.y) * height as f64 / width as f64;
                    let near = (disc.x - pin.disc.x).hypot(down) < disc.radius.max(pin.disc.radius);
                    near || matches!((other.over, goal.over), (Over::Whole, Over::Whole))
                });
                match beside {
                    Some((other, _, count)) => {
                        other.stops = (other.stops * *count + goal.stops) / (*count + 1.0);
                        *count += 1.0;
                    }
                    None => there.push((goal, pin.disc, 1.0)),
                }
            }
        }
        let bare = |(goal, _, _): (Goal, Disc, f64)| goal;
        goals
            .into_iter()
            .map(|(part, goals)| (part, goals.into_iter().map(bare).collect()))
            .collect()
    }
}

/// The pixels whose centres lie in a rectangle.
fn pixels(sides: [Fraction; 4], width: usize, height: usize) -> [usize; 4] {
    let of = |side: Fraction, n: usize| (side.get() * n as f64 - 0.5).ceil().max(0.0) as usize;
    let [left, top, right, bottom] = sides;
    [
        of(left, width),
        of(top, height),
        of(right, width),
        of(bottom, height),
    ]
}

/// How many pixels of each clipped area lie in a rectangle.
fn within(parts: &Parts, [left, top, right, bottom]: [usize; 4]) -> BTreeMap<usize, usize> {
    let mut held = BTreeMap::new();
    for run in &parts.runs {
        if (top..bottom).contains(&(run.y as usize)) {
            let from = left.max(run.from as usize);
            let to = right.min(run.to as usize);
            if from < to {
                *held.entry(run.part as usize).or_default() += to - from;
            }
        }
    }
    held
}

const fn overlap(a: [usize; 4], b: [usize; 4]) -> bool {
    a[0] < b[2] && b[0] < a[2] && a[1] < b[3] && b[1] < a[3]
}

/// The sides of an area in 0..1 of the frame.
pub(super) fn sides(part: &Part, width: usize, height: usize) -> [f64; 4] {
    let [left, top, right, bottom] = part.sides.map(f64::from);
    let (w, h) = (width as f64, height as f64);
    [left / w, top / h, right / w, bottom / h]
}
