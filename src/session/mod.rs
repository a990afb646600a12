//! The open document: a still, one look, what was done to it, and the work that is under way.
//!
//! A [`Session`] has no widgets. It owns the [`Recipe`] that is being worked on and its history, the
//! still, and the threads that read, render and write; the face above it asks for changes, calls
//! [`Session::poll`] when it is woken, and shows what the accessors give. Nothing here waits: no call
//! on a session reads a file or computes a picture.

// Advice on glass from a kit.
mod advice;
// Changes to the light path, as functions on a recipe.
pub mod edit;
// The look that is being worked on.
mod document;
// What the threads report, and how it is taken in.
mod events;
// The planned picture in the still, and the orders for it.
mod planned;
// Reading and writing files, each on a thread of its own.
mod files;
// What was done, and undoing it.
mod history;
// The still at the sizes in which it is worked on.
mod ladder;
// What a light path holds, told for whoever shows it.
pub mod path;
// The thread that makes pictures: the newest order wins.
mod render;
// What is asked of files.
mod requests;
// What a rig costs, covers and warns of.
mod report;
// What the scopes show.
mod scopes;
// A picture ready to be shown.
mod shown;
// A picture's codes, a size at a time.
mod sizes;
// The still that is open.
mod still;

pub use advice::Advice;
pub use files::{Exported, What, recipe as read_recipe};
pub use ladder::Detail;
pub use path::{Held, Setting, Wanted};
pub use render::Ran;
pub use report::{PlaceReport, Report};
pub use scopes::{Aid, Scope, Scopes, Viewing, Wants};
pub use shown::{Codes, Shown};
pub use sizes::{Mip, fitting};
pub use still::StillInfo;

use crate::frame::restore::Ask;
use crate::recipe::{Framing, FramingError, Recipe};
use crate::rig::Setup;
use events::{Event, Teller, WriteFault};
use history::History;
use render::Renderer;
use std::path::PathBuf;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, sync_channel};
use still::Open;

/// Called from other threads when there is something to poll.
pub type Waker = Arc<dyn Fn() + Send + Sync>;

/// Reports that may lie unread before the threads wait.
const UNREAD: usize = 64;

/// Something to tell the person at the window, in a sentence.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Notice {
    /// Whether it went wrong.
    pub problem: bool,
    /// The sentence.
    pub text: String,
}

/// Something that would replace a file, and waits for a word.
#[derive(Debug, Clone)]
enum Retry {
    Save(PathBuf),
    Export(PathBuf, What),
}

/// Something that is being read for a look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Ticket {
    number: u64,
    /// The look that was open then.
    document: u64,
}

/// A recipe that is being read, to take the look's place.
struct Asked {
    ticket: u64,
    name: String,
    /// The look as it stood when it was given up.
    over: Box<Recipe>,
}

/// The open document and everything under way.
pub struct Session {
    history: History,
    saved: Recipe,
    file: Option<PathBuf>,
    setup: Setup,
    /// What the look asks of the still's light.
    light: Ask,
    /// The planned picture's place in the still that is open.
    framing: Option<Result<Framing, FramingError>>,
    held: Vec<Held>,
    still: Option<Open>,
    detail: Detail,
    bare: Option<Arc<Shown>>,
    glass: Option<Arc<Shown>>,
    ran: Option<Ran>,
    report: Option<Report>,
    ordered: u64,
    /// The order whose picture is shown; 0 where none is.
    pictured: u64,
    rendering: bool,
    renderer: Option<Renderer>,
    tickets: u64,
    reading: Option<(u64, String)>,
    reading_recipe: Option<Asked>,
    reading_option: Option<(Ticket, String)>,
    /// Which look is open: another one for each that takes its place.
    document: u64,
    saving: bool,
    /// What is to be saved after that: of which look, where, and whether a file that is there may go.
    save_next: Option<(u64, PathBuf, bool)>,
    export: Option<Exported>,
    desk: advice::Desk,
    retry: Option<Retry>,
    metered: [Option<Arc<Shown>>; 2],
    wants: Wants,
    looked: Arc<shown::Looked>,
    scopes: Option<Arc<Scopes>>,
    aid: Option<Arc<Aid>>,
    notices: Vec<Notice>,
    events: Receiver<Event>,
    teller: Teller,
}

impl std::fmt::Debug for Session {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Session")
            .field("name", &self.recipe().name)
            .field("still", &self.still.as_ref().map(|s| s.source.name()))
            .field("rendering", &self.rendering)
            .finish_non_exhaustive()
    }
}

impl Session {
    /// A session with a new look and no still.
    #[must_use]
    pub fn new(waker: Waker) -> Self {
        let (sender, events) = sync_channel(UNREAD);
        let teller = Teller {
            events: sender,
            waker,
        };
        let recipe = Recipe::default();
        #[expect(clippy::expect_used, reason = "a test makes the setup of the defaults")]
        let setup = recipe.setup().expect("the defaults are in range");
        let mut session = Self {
            saved: recipe.clone(),
            held: path::held(&recipe),
            history: History::new(recipe),
            file: None,
            setup,
            light: Ask::default(),
            framing: None,
            still: None,
            detail: Detail::Preview,
            bare: None,
            glass: None,
            ran: None,
            report: None,
            ordered: 0,
            pictured: 0,
            rendering: false,
            renderer: None,
            tickets: 0,
            reading: None,
            reading_recipe: None,
            reading_option: None,
            document: 0,
            saving: false,
            save_next: None,
            export: None,
            desk: advice::Desk::default(),
            retry: None,
            metered: [None, None],
            wants: Wants::default(),
            looked: Arc::default(),
            scopes: None,
            aid: None,
            notices: Vec::new(),
            events,
            teller,
        };
        match Renderer::start(session.teller.clone(), Arc::clone(&session.looked)) {
            Ok(renderer) => session.renderer = Some(renderer),
            Err(e) => session.complain(format!("The picture cannot be made: {e}.")),
        }
        session.order();
        session
    }

    /// The still without glass, at the finest size there is yet.
    #[must_use]
    pub const fn bare(&self) -> Option<&Arc<Shown>> {
        self.bare.as_ref()
    }

    /// The still through the glass; the previous one until the next is ready.
    #[must_use]
    pub const fn glass(&self) -> Option<&Arc<Shown>> {
        self.glass.as_ref()
    }

    /// The bare light to be metered.
    #[must_use]
    pub fn metered_bare(&self) -> Option<&Arc<Shown>> {
        self.metered[0].as_ref()
    }

    /// The light through the glass to be metered.
    #[must_use]
    pub fn metered_glass(&self) -> Option<&Arc<Shown>> {
        self.metered[1].as_ref()
    }

    /// Who worked the picture through the glass out.
    #[must_use]
    pub const fn ran(&self) -> Option<&Ran> {
        self.ran.as_ref()
    }

    /// Losses, coverage, advisories; of the last look for which they are ready.
    #[must_use]
    pub const fn report(&self) -> Option<&Report> {
        self.report.as_ref()
    }

    /// How fine a picture is wanted. The finest is only worth its time when someone looks closely.
    pub fn set_detail(&mut self, detail: Detail) {
        if self.detail != detail {
            self.detail = detail;
            let finer = self.still.as_ref().is_some_and(|s| s.ladder.has(detail));
            if detail == Detail::Full && finer {
                self.order();
            }
        }
    }

    /// Whether a picture is being made.
    #[must_use]
    pub const fn is_rendering(&self) -> bool {
        self.rendering
    }

    /// The name of the file that is being read.
    #[must_use]
    pub fn reading(&self) -> Option<&str> {
        let still = self.reading.as_ref().map(|(_, name)| name);
        let recipe = self.reading_recipe.as_ref().map(|asked| &asked.name);
        let option = self.reading_option.as_ref().map(|(_, name)| name);
        still.or(recipe).or(option).map(String::as_str)
    }

    /// Whether the look is being written.
    #[must_use]
    pub const fn is_saving(&self) -> bool {
        self.saving
    }

    /// Whether anything is being written: the look, or an export.
    #[must_use]
    pub const fn is_writing(&self) -> bool {
        self.saving || self.export.is_some()
    }

    /// The export that is under way.
    #[must_use]
    pub const fn exporting(&self) -> Option<&Exported> {
        self.export.as_ref()
    }

    /// What happened since this was last called, in sentences.
    pub fn take_notices(&mut self) -> Vec<Notice> {
        std::mem::take(&mut self.notices)
    }

    fn say(&mut self, text: String) {
        self.notices.push(Notice {
            problem: false,
            text,
        });
    }

    fn complain(&mut self, text: String) {
        self.notices.push(Notice {
            problem: true,
            text,
        });
    }
}
