//! Which stage for which glass of a recipe, and why.
//!
//! Every order of what stands in the three stages is tried. What is computed counts first: glass that
//! does not cover, the worst corner's vignette, an edge that shows as a line or is so wide that it reads
//! as an even loss. Then the trade's custom (common practice, no source): diffusion stands behind placed
//! density, which tames what would flare it, and behind the shade; a polariser stands at either end of the stages,
//! where a hand reaches it to turn. Then what is least moved. Uniform glass may stand anywhere: all colour of a
//! stack multiplies before any scatter, so that its order never changes the picture, a fact of the model.

use crate::optics::field::View;
use crate::optics::pupil::Shape;
use crate::recipe::{Recipe, RecipeError, RigDoc, STAGES, StageDoc};
use crate::rig::coverage::{EVEN_ABOVE, LINE_BELOW};
use crate::rig::{Mount, Mounted, Place, Setup};
use crate::units::Stops;

/// Orders of three things.
const ORDERS: [[usize; STAGES]; 6] = [
    [0, 1, 2],
    [0, 2, 1],
    [1, 0, 2],
    [1, 2, 0],
    [2, 0, 1],
    [2, 1, 0],
];
/// Differences of a corner's loss that count, stops.
const SEEN: f64 = 0.05;

/// Where a reason is from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ground {
    /// It was worked out for this rig.
    Computed,
    /// It follows from the model, for every rig.
    Model,
    /// The trade does it so: common practice, no source.
    Custom,
}

impl Ground {
    /// Its word in reports.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Computed => "computed",
            Self::Model => "model",
            Self::Custom => "custom",
        }
    }
}

/// A piece of the recipe's glass, and where it should stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// What it is called.
    pub glass: String,
    /// Where it stands.
    pub now: Place,
    /// Where it should.
    pub best: Place,
    /// Why, each in a sentence, what was computed first.
    pub reasons: Vec<(Ground, String)>,
}

/// The order of a recipe's glass.
#[derive(Debug, Clone, PartialEq)]
pub struct Places {
    /// What stands in stages, from the lens outward.
    pub glass: Vec<Standing>,
    /// Whether it stands well as it is.
    pub well: bool,
    /// The same, and what another order changes, in a sentence or two.
    pub text: String,
    /// The rig in the best order.
    pub rig: RigDoc,
}

/// One order, weighed: what counts more stands further up.
struct Tried {
    rig: RigDoc,
    setup: Setup,
    uncovered: usize,
    /// Worst corner, stops; infinite where it is black.
    corner: f64,
    lines: usize,
    even: usize,
    customs: usize,
    moved: usize,
}

/// Which stage for which glass, for pictures of `view`.
///
/// # Errors
/// [`RecipeError`] for a recipe that cannot be used.
pub fn places(recipe: &Recipe, view: &View) -> Result<Places, RecipeError> {
    let mut stages = recipe.rig.stages.clone();
    stages.resize(STAGES, None);
    let mut all = Vec::new();
    for order in ORDERS {
        let tried = Tried::new(recipe, &stages, order, view)?;
        if !all.iter().any(|t: &Tried| t.rig == tried.rig) {
            all.push(tried);
        }
    }
    let now = all.remove(0);
    let best = all.into_iter().fold(None, |best: Option<Tried>, one| {
        let bar = best.as_ref().unwrap_or(&now);
        if one.key() < bar.key() {
            Some(one)
        } else {
            best
        }
    });
    let well = best.is_none();
    let text = text(&now, best.as_ref());
    let better = best.as_ref().unwrap_or(&now);
    let mut left: Vec<&Mounted> = better.in_stages().collect();
    let glass = now
        .in_stages()
        .map(|g| {
            let alike = |b: &&Mounted| b.piece == g.piece && b.turn == g.turn && b.mount == g.mount;
            // One that can stay stays: alike glass is not told to change places with itself.
            let stays = left.iter().position(|b| alike(b) && b.place == g.place);
            let at = stays.or_else(|| left.iter().position(alike));
            let moved = at.map_or(g, |at| left.remove(at));
            Standing {
                glass: g.piece.name().to_owned(),
                now: g.place,
                best: moved.place,
                reasons: reasons(&better.setup, moved, view),
            }
        })
        .collect();
    Ok(Places {
        glass,
        well,
        text,
        rig: better.rig.clone(),
    })
}

impl Tried {
    fn new(
        recipe: &Recipe,
        stages: &[Option<StageDoc>],
        order: [usize; STAGES],
        view: &View,
    ) -> Result<Self, RecipeError> {
        let mut tried = recipe.clone();
        // The gap is the stage's own, and stays when the glass is moved.
        tried.rig.stages = order
            .iter()
            .zip(stages)
            .map(|(from, stage)| {
                let gap_mm = stage.as_ref().and_then(|s| s.gap_mm);
                let glass = stages[*from].clone();
                glass.map(|g| StageDoc { gap_mm, ..g })
            })
            .collect();
        let setup = tried.setup()?;
        let parts: Vec<f64> = setup
            .glass
            .iter()
            .filter_map(|g| part(&setup, g, view))
            .collect();
        let corner = setup
            .vignette(view)
            .corner
            .map_or(f64::INFINITY, Stops::get);
        Ok(Self {
            uncovered: setup
                .glass
                .iter()
                .filter(|g| !setup.covers(g, view))
                .count(),
            corner,
            lines: parts.iter().filter(|p| **p < LINE_BELOW).count(),
            even: parts.iter().filter(|p| **p > EVEN_ABOVE).count(),
            customs: customs(&setup),
            moved: order
                .iter()
                .enumerate()
                .filter(|(i, from)| i != *from && stages[**from].is_some())
                .count(),
            rig: tried.rig,
            setup,
        })
    }

    /// The worst corner's loss in steps that are seen; a black one is the worst.
    fn seen_corner(&self) -> u64 {
        (self.corner / SEEN).round().min(1e6) as u64
    }

    /// What counts, the most first.
    fn key(&self) -> (usize, u64, usize, usize, usize, usize) {
        (
            self.uncovered,
            self.seen_corner(),
            self.lines,
            self.even,
            self.customs,
            self.moved,
        )
    }

    fn in_stages(&self) -> impl Iterator<Item = &Mounted> {
        self.setup
            .glass
            .iter()
            .filter(|g| matches!(g.place, Place::Stage(_)))
    }
}

/// An edge's width in parts of the picture's height; None for glass without one.
fn part(setup: &Setup, glass: &Mounted, view: &View) -> Option<f64> {
    let edged = glass.shape().is_some_and(|s| s != Shape::Attenuator);
    let width = setup.edge_width_mm(glass).filter(|_| edged)?;
    Some(width / view.height_mm)
}

/// What stands against custom: diffusion in front of placed density, a polariser shut in between others.
fn customs(setup: &Setup) -> usize {
    let in_stage = |g: &&Mounted| matches!(g.place, Place::Stage(_));
    let stages: Vec<&Mounted> = setup.glass.iter().filter(in_stage).collect();
    let flared = stages.iter().enumerate().flat_map(|(i, behind)| {
        let front = stages[i + 1..].iter();
        front.filter(|f| f.piece.law().scatter.is_some() && behind.shape().is_some())
    });
    let shut_in = stages
        .windows(3)
        .filter(|three| three[1].piece.law().polarises.is_some());
    flared.count() + shut_in.count()
}

fn text(now: &Tried, best: Option<&Tried>) -> String {
    if now.in_stages().next().is_none() {
        return "No stage holds glass yet.".to_owned();
    }
    let Some(best) = best else {
        return "It stands well as it is: no other order of the stages does better.".to_owned();
    };
    let order: Vec<String> = best
        .in_stages()
        .map(|g| {
            format!(
                "{} in {}",
                g.piece.name(),
                g.place.to_string().to_lowercase()
            )
        })
        .collect();
    let mut changes = Vec::new();
    if best.uncovered == 0 && now.uncovered > 0 {
        changes.push("all of it covers the corners".to_owned());
    } else if best.uncovered < now.uncovered {
        let (then, before) = (best.uncovered, now.uncovered);
        changes.push(format!(
            "{then} instead of {before} pieces end in the corners"
        ));
    }
    if now.corner.is_infinite() && best.corner.is_finite() {
        changes.push("the corners are no longer black".to_owned());
    } else if now.seen_corner() != best.seen_corner() {
        changes.push(format!(
            "the worst corner loses {:.2} stop instead of {:.2}",
            best.corner, now.corner
        ));
    }
    let counts = [
        (best.lines, now.lines, "shows as a line"),
        (best.even, now.even, "is wider than the picture is high"),
    ];
    for (then, before, what) in counts {
        if then == 0 && before > 0 {
            changes.push(format!("no edge {what} any more"));
        } else if then < before {
            changes.push(format!("one edge less {what}"));
        } else if then > before {
            changes.push(format!("one edge more {what}"));
        }
    }
    if best.customs < now.customs {
        changes.push("it is how the trade stands them (common practice, no source)".to_owned());
    }
    format!(
        "Better from the lens outward: {}: {}.",
        order.join(", "),
        changes.join("; ")
    )
}

/// Why a piece stands where it does in a rig.
fn reasons(setup: &Setup, glass: &Mounted, view: &View) -> Vec<(Ground, String)> {
    let mut why = Vec::new();
    let mut computed = |text: String| why.push((Ground::Computed, text));
    if !setup.covers(glass, view) {
        computed(
            "It does not cover the corners there: a larger glass or a longer lens does.".to_owned(),
        );
    }
    if let Some(part) = part(setup, glass, view) {
        let width = setup.edge_width_mm(glass).unwrap_or(0.0);
        let word = glass.shape().map_or("edge", Shape::word);
        computed(format!(
            "Its {word} is {width:.1} mm wide on the sensor there, {:.0} % of the picture's height; nearer \
             the lens it is softer, further out harder.",
            100.0 * part
        ));
    }
    if let (Some(_), Mount::Tray { size, .. }) = (glass.shape(), glass.mount) {
        if size.is_round() {
            computed("It is round: it turns there and cannot slide.".to_owned());
        } else {
            let reach = setup.slide_range_mm(glass, view)[1];
            computed(format!(
                "It slides there by {reach:.0} mm either way and covers; only rectangular glass slides."
            ));
        }
    }
    if glass.turn.get().rem_euclid(90.0) != 0.0 {
        let turn = glass.turn.get();
        computed(format!(
            "It is turned {turn:.0}°: the stage has to be one that turns."
        ));
    }
    let law = glass.piece.law();
    if law.scatter.is_some() {
        why.push((
            Ground::Custom,
            "Diffusion stands behind grads, which tame what would flare it, and where the shade keeps \
             stray light off (common practice, no source)."
                .to_owned(),
        ));
    } else if law.polarises.is_some() {
        why.push((
            Ground::Custom,
            "A polariser stands where a hand can turn it while the picture is watched: at either end of \
             the stages, in one that turns (common practice, no source)."
                .to_owned(),
        ));
    } else if law.ramp.is_none() {
        why.push((
            Ground::Model,
            "It is the same all over: its place in the stack never changes the picture, only what it \
             covers."
                .to_owned(),
        ));
    }
    why
}
