//! The best of what was found: refined, set to marks, rendered, and told apart.

use super::coarse::Found;
use super::measure::{Care, Layout, Search};
use super::refine::Task;
use super::{Added, Score, Suggestion, words};
use crate::engine::EngineError;
use crate::recipe::{Recipe, RigDoc, STAGES};
use crate::rig::{Place, Setup};
use crate::units::{Degrees, Millimetres, Stops};
use rayon::prelude::*;

/// Layouts refined, how many of them of the same glass, how many are gone into, are rendered, and are told.
const REFINED: usize = 36;
const ALIKE: usize = 3;
const CLOSE: usize = 8;
const RENDERED: usize = 6;
const TOLD: usize = 5;
/// A rendered level that is this far from the modelled one is worth setting the glass once more, stops.
const OFF: f64 = 0.02;

/// At most five layouts of different glass, best first, each better than leaving it alone.
pub(super) fn options(
    search: &Search<'_>,
    recipe: &Recipe,
    target: Stops,
    found: Vec<Found>,
    level_of: &dyn Fn(&Setup) -> Result<Stops, EngineError>,
) -> Result<Vec<Suggestion>, EngineError> {
    let task = |care, bias| Task { search, care, bias };
    let mut seeds: Vec<Found> = Vec::new();
    for one in found {
        let alike = seeds
            .iter()
            .filter(|s| glass(search, &s.layout) == glass(search, &one.layout));
        if alike.count() < ALIKE && seeds.len() < REFINED {
            seeds.push(one);
        }
    }
    let refined: Vec<(f64, Layout)> = seeds
        .into_par_iter()
        .map(|one| task(Care::Quick, 0.0).best(&one.layout))
        .collect();
    let close: Vec<(f64, Layout)> = distinct(search, refined, |one| (one.0, &one.1))
        .into_par_iter()
        .take(CLOSE)
        .map(|(_, layout)| {
            let task = task(Care::Rays, 0.0);
            task.settable(&task.best(&layout).1)
        })
        .collect();
    let close = distinct(search, close, |one| (one.0, &one.1));
    let mut told = Vec::new();
    for (_, layout) in close.into_iter().take(RENDERED) {
        told.push(rendered(search, recipe, target, layout, level_of)?);
    }
    told.retain(|(_, s)| s.score.total().get() < search.over.abs());
    let mut told = distinct(search, told, |(layout, s)| (s.score.total().get(), layout));
    told.truncate(TOLD);
    Ok(told.into_iter().map(|(_, suggestion)| suggestion).collect())
}

/// The glass of a layout, wherever it stands.
fn glass(search: &Search<'_>, layout: &Layout) -> Vec<usize> {
    let mut stock: Vec<usize> = layout.iter().map(|(s, _)| search.seats[*s].stock).collect();
    stock.sort_unstable();
    stock
}

/// The best of each choice of glass, best first; more glass that does no better is no other choice.
fn distinct<T>(search: &Search<'_>, mut all: Vec<T>, of: impl Fn(&T) -> (f64, &Layout)) -> Vec<T> {
    all.sort_by(|a, b| of(a).0.total_cmp(&of(b).0));
    let mut kept: Vec<Vec<usize>> = Vec::new();
    all.retain(|one| {
        let own = glass(search, of(one).1);
        let idle = |less: &Vec<usize>| {
            *less == own || (less.len() < own.len() && less.iter().all(|s| own.contains(s)))
        };
        let other = !kept.iter().any(idle);
        if other {
            kept.push(own);
        }
        other
    });
    all
}

/// A layout measured on a picture; where that is not what the model said, set once more against it.
fn rendered(
    search: &Search<'_>,
    recipe: &Recipe,
    target: Stops,
    mut layout: Layout,
    level_of: &dyn Fn(&Setup) -> Result<Stops, EngineError>,
) -> Result<(Layout, Suggestion), EngineError> {
    let mut level = level_of(&search.setup(&layout))?;
    let parts = search.measure(&layout, &search.fine, Care::Rays);
    let residual = level.get() - target.get();
    let bias = residual - (search.over + parts.change);
    if bias.abs() > OFF {
        let task = Task {
            search,
            care: Care::Rays,
            bias,
        };
        let (_, again) = task.settable(&task.best(&layout).1);
        let reached = level_of(&search.setup(&again))?;
        let score = |layout: &Layout, level: Stops| {
            let parts = search.measure(layout, &search.fine, Care::Rays);
            parts.score(level.get() - target.get())
        };
        if score(&again, reached) < score(&layout, level) {
            (layout, level) = (again, reached);
        }
    }
    layout.sort_by_key(|(seat, _)| search.seats[*seat].stage);
    let parts = search.measure(&layout, &search.last, Care::Rays);
    let suggestion = Suggestion {
        rig: rig(search, recipe, &layout),
        level,
        score: Score::of(&parts, level.get() - target.get()),
        glass: layout.iter().map(|one| added(search, one)).collect(),
        line: words::line(search, &layout),
    };
    Ok((layout, suggestion))
}

/// The recipe's rig with a layout in it.
fn rig(search: &Search<'_>, recipe: &Recipe, layout: &Layout) -> RigDoc {
    let mut rig = recipe.rig.clone();
    rig.stages.resize(STAGES, None);
    for (seat, at) in layout {
        let seat = &search.seats[*seat];
        rig.stages[seat.stage] = Some(search.stock[seat.stock].document(at.slide, at.turn));
    }
    rig
}

fn added(search: &Search<'_>, (seat, at): &(usize, super::seat::At)) -> Added {
    let seat = &search.seats[*seat];
    let stock = &search.stock[seat.stock];
    Added {
        place: Place::Stage(seat.stage + 1),
        name: stock.piece.name().to_owned(),
        size: stock.size,
        slide: Millimetres::clamped(at.slide),
        turn: Degrees::clamped(at.turn),
        words: words::stands(&seat.placed(*at)),
    }
}
