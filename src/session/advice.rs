//! Advice on glass: which of the kit holds a region back, and which stage suits which glass; worked out
//! on a thread of its own.

use super::files::{self, name_of};
use super::ladder::{Detail, Ladder};
use super::{Event, Session, Teller};
use crate::engine::Watch;
use crate::meters::suggest::{Answer, Ask, Places, places, suggest};
use crate::recipe::kit::Kit;
use crate::recipe::{Framing, Recipe};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// What was asked, for which look, and the answer.
#[derive(Debug, Clone)]
pub struct Advice {
    /// What was asked.
    pub ask: Ask,
    /// Glass that would do it.
    pub answer: Answer,
    /// Which stage for which glass that the look has.
    pub places: Places,
    recipe: Recipe,
}

/// The kit that is chosen from, and how a search stands.
#[derive(Debug, Default)]
pub(super) struct Desk {
    kit: Arc<Kit>,
    file: Option<PathBuf>,
    under_way: Option<(u64, Watch)>,
    advice: Option<Arc<Advice>>,
}

impl Session {
    /// The kit that glass is chosen from.
    #[must_use]
    pub fn kit(&self) -> &Kit {
        &self.desk.kit
    }

    /// The kit's file; None for the built-in one.
    #[must_use]
    pub fn kit_file(&self) -> Option<&Path> {
        self.desk.file.as_deref()
    }

    /// Reads a kit, to choose from it.
    pub fn open_kit(&mut self, path: &Path) {
        let name = name_of(path);
        let ticket = self.ticket();
        match files::read_kit(self.teller.clone(), ticket, path.to_path_buf()) {
            Ok(()) => self.reading_option = Some((ticket, name)),
            Err(e) => self.complain(format!("{name} cannot be read: {e}.")),
        }
    }

    /// Goes back to the built-in kit.
    pub fn use_default_kit(&mut self) {
        self.desk.kit = Arc::default();
        self.desk.file = None;
    }

    /// Searches the kit for glass that brings a region to a level. A search that is under way is given up.
    pub fn seek(&mut self, ask: Ask) {
        self.cancel_seek();
        let (Some(open), Some(Ok(framing))) = (&self.still, &self.framing) else {
            self.complain("There is no picture to search on: open a still first.".to_owned());
            return;
        };
        self.tickets += 1;
        let watch = Watch::default();
        let job = Job {
            ticket: self.tickets,
            watch: watch.clone(),
            ladder: Arc::clone(&open.ladder),
            framing: framing.clone(),
            recipe: self.recipe().clone(),
            kit: Arc::clone(&self.desk.kit),
            ask,
        };
        match start(self.teller.clone(), job) {
            Ok(()) => self.desk.under_way = Some((self.tickets, watch)),
            Err(e) => self.complain(format!("The search cannot begin: {e}.")),
        }
    }

    /// Gives up the search that is under way.
    pub fn cancel_seek(&mut self) {
        if let Some((_, watch)) = self.desk.under_way.take() {
            watch.cancel();
        }
    }

    /// Whether a search is under way.
    #[must_use]
    pub const fn is_seeking(&self) -> bool {
        self.desk.under_way.is_some()
    }

    /// The last answer.
    #[must_use]
    pub const fn advice(&self) -> Option<&Arc<Advice>> {
        self.desk.advice.as_ref()
    }

    /// Whether the look is still the one that the last answer is for, or that with one of its options.
    #[must_use]
    pub fn advice_holds(&self) -> bool {
        let Some(advice) = self.advice() else {
            return false;
        };
        let (now, then) = (self.recipe(), &advice.recipe);
        let rigs = advice.answer.options.iter().map(|o| &o.rig);
        let known = rigs
            .chain([&then.rig, &advice.places.rig])
            .any(|rig| *rig == now.rig);
        known && now.is_but_for_its_rig(then)
    }

    /// Which of the answer's options stands in the rig.
    #[must_use]
    pub fn option_in_use(&self) -> Option<usize> {
        let options = &self.advice()?.answer.options;
        options.iter().position(|o| o.rig == self.recipe().rig)
    }

    /// Puts the glass of one of the answer's options into the rig, in place of another option's.
    pub fn use_option(&mut self, index: usize) {
        let rig = self
            .advice()
            .and_then(|a| Some(a.answer.options.get(index)?.rig.clone()));
        self.use_rig("Glass for the region", rig);
    }

    /// Puts the look's own glass into the order that was found best.
    pub fn use_order(&mut self) {
        let rig = self.advice().map(|a| a.places.rig.clone());
        self.use_rig("Order of the glass", rig);
    }

    fn use_rig(&mut self, label: &str, rig: Option<crate::recipe::RigDoc>) {
        if let Some(rig) = rig {
            self.change(label, None, |recipe| {
                recipe.rig = rig;
                Ok(())
            });
        }
    }

    pub(super) fn take_kit(&mut self, path: PathBuf, result: Result<Kit, String>) {
        match result {
            Ok(kit) => {
                self.say(format!("Choosing from {}.", name_of(&path)));
                self.desk.kit = Arc::new(kit);
                self.desk.file = Some(path);
            }
            Err(e) => self.complain(format!("{}: {e}", name_of(&path))),
        }
    }

    pub(super) fn take_advice(&mut self, ticket: u64, result: Result<Arc<Advice>, String>) {
        if self.desk.under_way.as_ref().is_none_or(|w| w.0 != ticket) {
            return;
        }
        self.desk.under_way = None;
        match result {
            Ok(advice) => self.desk.advice = Some(advice),
            Err(e) => self.complain(format!("No glass was found: {e}")),
        }
    }
}

/// A search to be made.
struct Job {
    ticket: u64,
    watch: Watch,
    ladder: Arc<Ladder>,
    framing: Framing,
    recipe: Recipe,
    kit: Arc<Kit>,
    ask: Ask,
}

fn start(teller: Teller, job: Job) -> std::io::Result<()> {
    let ticket = job.ticket;
    let search = move || {
        let advice = advise(job).map_err(|e| files::sentence(&e))?;
        Ok(Arc::new(advice))
    };
    files::thread("advice", teller, search, move |result| Event::Advice {
        ticket,
        result,
    })
}

fn advise(job: Job) -> Result<Advice, String> {
    let Job {
        watch,
        ladder,
        framing,
        recipe,
        kit,
        ask,
        ..
    } = job;
    // Another lens may have been set, and its picture not be cut yet.
    let light = recipe.frame.ask();
    let ladder = if ladder.is_cut_as(&light, &framing) {
        ladder
    } else {
        Arc::new(ladder.recut(&light, framing.clone()))
    };
    // The search reduces the picture further.
    let picture = ladder.at(Detail::Preview);
    let answer =
        suggest(&picture, &framing, &recipe, &kit, &ask, &watch).map_err(|e| e.to_string())?;
    let places = places(&recipe, &framing.view()).map_err(|e| e.to_string())?;
    Ok(Advice {
        ask,
        answer,
        places,
        recipe,
    })
}
