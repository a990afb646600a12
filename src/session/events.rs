//! What the threads report, and how a session takes it in.

use super::files::{self, Loaded, Source};
use super::ladder::Ladder;
use super::{Advice, Aid, Ran, Report, Retry, Scopes, Session, Shown, Ticket, Waker, Wanted, What};
use crate::frame::ReadAs;
use crate::recipe::kit::Kit;
use crate::recipe::{InputLut, Recipe};
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::SyncSender;

/// What a thread reports.
pub(super) enum Event {
    Still {
        ticket: u64,
        source: Source,
        asked: ReadAs,
        result: Result<Loaded, String>,
    },
    Recipe {
        ticket: u64,
        path: PathBuf,
        result: Result<Box<Recipe>, String>,
    },
    Text {
        ticket: Ticket,
        wanted: Wanted,
        result: Result<String, String>,
    },
    Lut {
        ticket: Ticket,
        result: Result<InputLut, String>,
    },
    Kit {
        ticket: Ticket,
        path: PathBuf,
        result: Result<Kit, String>,
    },
    Advice {
        ticket: u64,
        result: Result<Arc<Advice>, String>,
    },
    Saved {
        document: u64,
        path: PathBuf,
        recipe: Box<Recipe>,
        result: Result<(), WriteFault>,
    },
    Exported {
        path: PathBuf,
        what: What,
        result: Result<(), WriteFault>,
    },
    Report {
        number: u64,
        report: Box<Report>,
    },
    Picture {
        number: u64,
        cut: Arc<Ladder>,
        shown: Arc<Shown>,
        ran: Ran,
        last: bool,
    },
    /// The light of a picture that was shown from the window's own device.
    Lit,
    Bare {
        shown: Arc<Shown>,
    },
    Scopes {
        number: u64,
        scopes: Arc<Scopes>,
    },
    Aid {
        number: u64,
        aid: Arc<Aid>,
    },
    Broken {
        number: u64,
        text: String,
    },
}

/// Why a file was not written.
pub(super) enum WriteFault {
    /// There is a file of that name, and nobody said that it may go.
    Exists,
    Other(String),
}

impl From<String> for WriteFault {
    fn from(sentence: String) -> Self {
        Self::Other(sentence)
    }
}

/// How a thread reports: an event, and a nudge to whoever polls.
#[derive(Clone)]
pub(super) struct Teller {
    pub(super) events: SyncSender<Event>,
    pub(super) waker: Waker,
}

impl Teller {
    /// Reports; a session that has gone away is no longer interested.
    pub(super) fn tell(&self, event: Event) {
        if self.events.send(event).is_ok() {
            (self.waker)();
        }
    }
}

impl Session {
    /// Takes in what the threads have reported. True when there is something new to show.
    pub fn poll(&mut self) -> bool {
        let mut news = false;
        while let Ok(event) = self.events.try_recv() {
            self.take(event);
            news = true;
        }
        news
    }

    pub(super) fn take(&mut self, event: Event) {
        match event {
            Event::Still {
                ticket,
                source,
                asked,
                result,
            } => {
                if self.reading.as_ref().is_some_and(|(t, _)| *t == ticket) {
                    self.reading = None;
                    self.take_still(source, asked, result);
                }
            }
            Event::Recipe {
                ticket,
                path,
                result,
            } => {
                if let Some(asked) = self.reading_recipe.take_if(|a| a.ticket == ticket) {
                    self.take_recipe(&asked.over, path, result);
                }
            }
            Event::Text {
                ticket,
                wanted,
                result,
            } => {
                if self.has_read(ticket) {
                    match result {
                        Ok(text) => self.take_text(wanted, text),
                        Err(e) => self.complain(e),
                    }
                }
            }
            Event::Lut { ticket, result } => {
                if self.has_read(ticket) {
                    match result {
                        Ok(lut) => self.take_lut(lut),
                        Err(e) => self.complain(e),
                    }
                }
            }
            Event::Kit {
                ticket,
                path,
                result,
            } => {
                // A kit is for every look.
                let _of_this_look = self.has_read(ticket);
                self.take_kit(path, result);
            }
            Event::Advice { ticket, result } => self.take_advice(ticket, result),
            Event::Saved {
                document,
                path,
                recipe,
                result,
            } => self.take_saved(document, path, *recipe, result),
            Event::Exported { path, what, result } => {
                self.export = None;
                match result {
                    Ok(()) => self.say(format!("Exported {}.", files::name_of(&path))),
                    Err(WriteFault::Exists) => {
                        self.retry = Some(Retry::Export(path, what));
                    }
                    Err(WriteFault::Other(e)) => self.complain(format!("Not exported: {e}")),
                }
            }
            Event::Report { number, report } if self.is_of_now(number) => {
                self.report = Some(*report);
            }
            Event::Picture {
                number,
                cut,
                shown,
                ran,
                last,
            } if self.is_newer(number, &cut) => {
                self.pictured = number;
                self.take_cut(cut);
                if shown.metered {
                    self.metered[1] = Some(Arc::clone(&shown));
                }
                self.glass = Some(shown);
                self.ran = Some(ran);
                if number == self.ordered {
                    self.rendering = !last;
                }
            }
            Event::Bare { shown } => {
                if self
                    .still
                    .as_ref()
                    .is_some_and(|s| s.ladder.id() == shown.ladder)
                {
                    self.bare = Some(shown);
                }
            }
            Event::Scopes { number, scopes } if self.is_of_now(number) && self.wants.scopes => {
                self.scopes = Some(scopes);
            }
            Event::Aid { number, aid } if self.is_of_now(number) && aid.view == self.wants.view => {
                self.aid = Some(aid);
            }
            Event::Broken { number, text } if number == self.ordered => {
                self.rendering = false;
                self.complain(text);
            }
            // It is in the picture already: the window need only look.
            Event::Lit => {}
            // From an order before the one whose picture is shown, or no longer looked at.
            Event::Report { .. }
            | Event::Picture { .. }
            | Event::Scopes { .. }
            | Event::Aid { .. }
            | Event::Broken { .. } => {}
        }
    }

    /// A recipe that was read takes the place of the look, unless that is no longer the one that was given up for it.
    fn take_recipe(&mut self, over: &Recipe, path: PathBuf, result: Result<Box<Recipe>, String>) {
        let name = files::name_of(&path);
        match result {
            Ok(recipe) if self.recipe() == over => self.replace(*recipe, Some(path)),
            Ok(_) => self.complain(format!(
                "{name} was read, but the look has been changed meanwhile, and stays. Open it again to take it."
            )),
            Err(e) => self.complain(format!("{name}: {e}")),
        }
    }

    /// Something was read: whether for the look that is open.
    fn has_read(&mut self, ticket: Ticket) -> bool {
        let _last = self.reading_option.take_if(|(asked, _)| *asked == ticket);
        ticket.document == self.document
    }

    /// A look was written; by now another one may be open, to which that file does not belong.
    fn take_saved(
        &mut self,
        document: u64,
        path: PathBuf,
        recipe: Recipe,
        result: Result<(), WriteFault>,
    ) {
        self.saving = false;
        let next = self.save_next.take();
        let is_open = document == self.document;
        let name = files::name_of(&path);
        match result {
            Ok(()) => {
                self.say(format!("Saved {name}."));
                if is_open {
                    self.saved = recipe;
                    self.file = Some(path);
                }
                if let Some((document, path, may_replace)) = next
                    && document == self.document
                {
                    self.save(&path, may_replace);
                }
            }
            Err(WriteFault::Exists) if is_open => self.retry = Some(Retry::Save(path)),
            Err(WriteFault::Exists) => {
                self.complain(format!("Not saved: there is a file called {name}."));
            }
            Err(WriteFault::Other(e)) => self.complain(format!("Not saved: {e}")),
        }
    }

    /// Whether a picture is newer than the one that is shown. Of an order that has been superseded it is shown too: a
    /// hand on a strength may order faster than pictures are made, and each of them would come too late.
    fn is_newer(&self, number: u64, cut: &Ladder) -> bool {
        let still = self.still.as_ref().map(|open| open.ladder.still());
        let waits = self.rendering && number > self.pictured && still == Some(cut.still());
        number == self.ordered || waits
    }

    /// Whether what comes after a picture is of the one that is shown, or of the last order.
    fn is_of_now(&self, number: u64) -> bool {
        number == self.ordered || self.rendering && number == self.pictured
    }
}
