//! Which placed glass of a kit brings a region of the picture to a level, where it goes, and what it
//! costs the rest.
//!
//! A score tells what a director of photography weighs, in stops, the smaller the better:
//!
//! - what is left: |level reached − target|, measured on a rendered picture, diffusion and all;
//! - overshoot: mean over the rest of the picture of what the added density takes from it. A stop too
//!   much there is as bad as a stop too little in the region;
//! - half of the unevenness: RMS over the region of the added loss about its mean. A window that is
//!   darker on one side reads as glass, but half of it hides in what the window shows;
//! - a line: 0.15 of the stops that an edge divides, as the edge's width falls from 6 % of the picture's
//!   height (where `rig` begins to warn) to nothing, where it crosses the picture at all;
//! - 0.05 for each piece, which has to be carried, cleaned and kept free of flare.
//!
//! The weights are our own choice. One piece and two are tried, of neutral glass that the kit has in a size
//! for trays, in stages that are free; all glass that the recipe has stays where it is. Rings are left
//! out: what is screwed in cannot slide. A piece of the kit that stands in the rig already is taken.
//!
//! The search goes from everything in steps, on means over the footprint tabulated across each edge, to
//! the best slides and turns, two edges averaged over the pupil together, then to marks that a hand can
//! set. The best are rendered; where diffusion or the rig's own placed glass moves the level, they are
//! set once more against that.
//!
//! ```
//! use foreglass::engine::Watch;
//! use foreglass::frame::Frame;
//! use foreglass::meters::{Region, suggest::{Ask, suggest}};
//! use foreglass::recipe::{Recipe, kit::Kit};
//! use foreglass::units::Stops;
//! // A sky two stops over key above an even foreground, to come down to key.
//! let light: Vec<f32> = (0..32 * 18).map(|i| if i < 32 * 9 { 0.72 } else { 0.18 }).collect();
//! let frame = Frame::from_planes(32, 18, [light.clone(), light.clone(), light]);
//! let ask = Ask { region: Region::new([0.0, 0.0, 1.0, 0.5]).unwrap(), target: Stops::ZERO, level: None };
//! let recipe = Recipe::default();
//! let framing = recipe.unframed([32, 18]);
//! let answer = suggest(&frame, &framing, &recipe, &Kit::default(), &ask, &Watch::default())?;
//! assert!((answer.bare.score.residual.get() - 2.0).abs() < 1e-3);
//! let best = &answer.options[0];
//! assert!(best.score.total() < answer.bare.score.total() && best.score.residual.get().abs() < 0.3);
//! # Ok::<(), foreglass::meters::suggest::SuggestError>(())
//! ```

// Everything, in steps.
mod coarse;
// The best of what was found, on rendered pictures.
mod finish;
// What a layout does.
mod measure;
// Which stage for which glass of the recipe.
mod places;
// To the best slides and turns.
mod refine;
// The region and the rest.
mod scene;
// A piece in a stage.
mod seat;
// What is said of it.
mod words;

pub use places::{Ground, Places, Standing, places};
pub use scene::Metered;

use super::Region;
use crate::engine::{self, Cancelled, Choice, Engine, EngineError, Watch};
use crate::frame::Frame;
use crate::recipe::kit::Kit;
use crate::recipe::{Framing, Recipe, RecipeError, RigDoc};
use crate::rig::size::Size;
use crate::rig::{Place, Setup};
use crate::units::{Degrees, Millimetres, Stops};
use measure::{Parts, Search};
use rayon::prelude::*;
use scene::{COARSE, FINE, LAST, Scene};
use seat::Seat;

/// What is wanted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ask {
    /// The part of the frame that is to come down, in 0..1 of the frame as it came.
    pub region: Region,
    /// The level it is to have through glass, after compensation.
    pub target: Stops,
    /// What it meters bare, where the frame does not tell.
    pub level: Option<Stops>,
}

/// What can be done, and what leaving it alone gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Answer {
    /// What the region meters without any glass.
    pub metered: Stops,
    /// Where that is from.
    pub metered_by: Metered,
    /// The rig as it stands.
    pub bare: Bare,
    /// Layouts that are better than leaving it alone, best first.
    pub options: Vec<Suggestion>,
    /// Why there are none, in a sentence.
    pub nothing: Option<String>,
}

/// What leaving the rig alone gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Bare {
    /// The region's level.
    pub level: Stops,
    /// Its score: all of it is what is left.
    pub score: Score,
    /// The same in a sentence.
    pub text: String,
}

/// A layout of glass added to a rig.
#[derive(Debug, Clone, PartialEq)]
pub struct Suggestion {
    /// The whole rig with the glass in it.
    pub rig: RigDoc,
    /// The region's level through it.
    pub level: Stops,
    /// What it is worth.
    pub score: Score,
    /// The added glass, from the lens outward.
    pub glass: Vec<Added>,
    /// Where an edge may show, in a sentence.
    pub line: Option<String>,
}

/// A piece of added glass.
#[derive(Debug, Clone, PartialEq)]
pub struct Added {
    /// The stage.
    pub place: Place,
    /// What it is called when it is ordered.
    pub name: String,
    /// Its size.
    pub size: Size,
    /// How far it is slid towards its dense side.
    pub slide: Millimetres,
    /// Turned counter-clockwise.
    pub turn: Degrees,
    /// The same in words.
    pub words: String,
}

/// What a layout is weighed by; see the module.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Score {
    /// Level reached less the target.
    pub residual: Stops,
    /// Mean loss of the rest of the picture.
    pub overshoot: Stops,
    /// RMS of the loss over the region about its mean.
    pub uneven: Stops,
    /// What lines cost that may show.
    pub line: Stops,
    total: Stops,
}

/// Why there is no answer.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum SuggestError {
    /// The recipe or the kit cannot be used.
    #[error(transparent)]
    Recipe(#[from] RecipeError),
    /// The planned picture shows nothing of the region.
    #[error("the region lies outside the planned picture")]
    Outside,
    /// There is no picture.
    #[error(transparent)]
    Engine(#[from] EngineError),
}

impl From<Cancelled> for SuggestError {
    fn from(cancelled: Cancelled) -> Self {
        Self::Engine(cancelled.into())
    }
}

impl Score {
    /// All of it, in stops; the smaller the better.
    #[must_use]
    pub const fn total(&self) -> Stops {
        self.total
    }

    fn of(parts: &Parts, residual: f64) -> Self {
        Self {
            residual: Stops::clamped(residual),
            overshoot: Stops::clamped(parts.overshoot),
            uneven: Stops::clamped(parts.uneven),
            line: Stops::clamped(parts.line),
            total: Stops::clamped(parts.score(residual)),
        }
    }
}

/// The best that a kit can do for a region of a frame, of which `picture` is the planned part by
/// `framing`, at any size.
///
/// # Errors
/// [`SuggestError`] for a recipe that cannot be used, a region that the picture does not show, and when the
/// work is cancelled.
pub fn suggest(
    picture: &Frame,
    framing: &Framing,
    recipe: &Recipe,
    kit: &Kit,
    ask: &Ask,
    watch: &Watch,
) -> Result<Answer, SuggestError> {
    let base = recipe.setup()?;
    let metered_by = if ask.level.is_some() {
        Metered::Told
    } else {
        Metered::Frame
    };
    let region = framing.region(ask.region.sides()).and_then(Region::new);
    let region = region.ok_or(SuggestError::Outside)?;
    let scene = Scene::new(picture, region, ask.level);
    let engine = Engine::default();
    let view = framing.view_at(scene.frame.width(), scene.frame.height());
    let through = |setup: &Setup| -> Result<Frame, EngineError> {
        let plan = engine::plan_over(setup, view);
        let (glass, _) = engine.render(scene.frame.clone(), &plan, Choice::Auto, watch)?;
        Ok(glass)
    };
    let standing = through(&base)?;
    let level = scene.level(&standing);
    let over = level.get() - ask.target.get();
    let nothing = Parts {
        change: 0.0,
        overshoot: 0.0,
        uneven: 0.0,
        line: 0.0,
        pieces: 0,
    };
    let mut answer = Answer {
        metered: scene.level(&scene.frame),
        metered_by,
        bare: Bare {
            level,
            score: Score::of(&nothing, over),
            text: words::bare(level, ask.target),
        },
        options: Vec::new(),
        nothing: None,
    };
    if over <= 0.0 {
        answer.nothing = Some(words::UNDER.to_owned());
        return Ok(answer);
    }
    let (free, stock) = (seat::free(&recipe.rig), seat::stock(kit, &base.glass)?);
    if free.is_empty() || stock.is_empty() {
        let why = if free.is_empty() {
            words::NO_STAGE
        } else {
            words::NO_GLASS
        };
        answer.nothing = Some(why.to_owned());
        return Ok(answer);
    }
    let view = framing.view();
    let pairs: Vec<(usize, usize)> = (0..stock.len())
        .flat_map(|s| free.iter().map(move |stage| (s, *stage)))
        .collect();
    let seats: Result<Vec<Option<Seat>>, RecipeError> = pairs
        .into_par_iter()
        .map(|(s, stage)| Seat::new(recipe, &base, &view, (s, &stock[s]), stage))
        .collect();
    let search = Search {
        seats: seats?.into_iter().flatten().collect(),
        coarse: scene.sight(&standing, &view, COARSE),
        fine: scene.sight(&standing, &view, FINE),
        last: scene.sight(&standing, &view, LAST),
        base: &base,
        view,
        stock,
        over,
    };
    if search.seats.is_empty() {
        answer.nothing = Some(words::NO_COVER.to_owned());
        return Ok(answer);
    }
    watch.check()?;
    let found = coarse::search(&search, answer.bare.score.total().get());
    watch.check()?;
    let level_of = |setup: &Setup| through(setup).map(|p| scene.level(&p));
    answer.options = finish::options(&search, recipe, ask.target, found, &level_of)?;
    if answer.options.is_empty() {
        answer.nothing = Some(words::NO_BETTER.to_owned());
    }
    Ok(answer)
}
