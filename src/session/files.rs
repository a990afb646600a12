//! Reading and writing files, each on a thread of its own, told back as events.

use super::ladder::{Ladder, Plain};
use super::{Event, Teller, Ticket, Wanted, WriteFault};
use crate::engine::{self, Choice, Engine, Watch};
use crate::frame::{self, Exif, Frame, Output, save_atomically};
use crate::handover::{DPI, sheet_of, today, write_sheet};
use crate::recipe::kit::Kit;
use crate::recipe::{Framing, Recipe, input_lut_from, option_text};
use crate::rig::Setup;
use std::borrow::Cow;
use std::io::{Read as _, Write as _};
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Longest recipe that is read into memory; the parser has its own, smaller limit.
const LONGEST_RECIPE: u64 = 17 << 20;

/// The light's part of an export's progress; the rest is the file's. At 12 megapixels on two cores one glass takes
/// about as long as a file does.
const LIGHT: f32 = 0.5;

/// Where a still comes from.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Source {
    File(PathBuf),
    Bytes { name: String, bytes: Arc<[u8]> },
}

/// A still that was read and made ready.
pub(super) struct Loaded {
    pub(super) plain: Arc<Plain>,
    pub(super) ladder: Arc<Ladder>,
    pub(super) how: String,
    pub(super) exif: Exif,
}

/// An export under way.
#[derive(Debug, Clone)]
pub struct Exported {
    /// The file that it goes to.
    pub path: PathBuf,
    /// Its progress, and the way to stop it.
    pub watch: Watch,
}

/// What is exported.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum What {
    /// The still through the glass.
    Glass(Output),
    /// The still without the glass.
    Bare(Output),
    /// The reference sheet.
    Sheet,
}

/// An export to be made.
pub(super) struct Export {
    pub(super) target: Exported,
    /// The still as it was decoded.
    pub(super) still: Arc<Plain>,
    pub(super) exif: Exif,
    pub(super) frame_name: String,
    pub(super) recipe: Recipe,
    pub(super) setup: Setup,
    pub(super) what: What,
    pub(super) may_replace: bool,
}

impl Source {
    pub(super) fn name(&self) -> String {
        match self {
            Self::File(path) => name_of(path),
            Self::Bytes { name, .. } => name.clone(),
        }
    }

    pub(super) fn path(&self) -> Option<&Path> {
        match self {
            Self::File(path) => Some(path),
            Self::Bytes { .. } => None,
        }
    }
}

/// The last part of a path, for sentences.
pub(super) fn name_of(path: &Path) -> String {
    path.file_name()
        .unwrap_or(path.as_os_str())
        .to_string_lossy()
        .into_owned()
}

/// Works on a thread of its own, and reports what came of it: of a panic too, or somebody would wait for ever.
pub(super) fn thread<T, E: From<String>>(
    name: &str,
    teller: Teller,
    work: impl FnOnce() -> Result<T, E> + Send + 'static,
    event: impl FnOnce(Result<T, E>) -> Event + Send + 'static,
) -> std::io::Result<()> {
    let work = move || {
        let broken = |_| Err(E::from("Something in the program went wrong.".to_owned()));
        let result = catch_unwind(AssertUnwindSafe(work)).unwrap_or_else(broken);
        teller.tell(event(result));
    };
    // Left to itself: what it has to say comes as an event.
    std::thread::Builder::new()
        .name(name.to_owned())
        .spawn(work)
        .map(drop)
}

pub(super) fn read_still(
    teller: Teller,
    ticket: u64,
    source: Source,
    recipe: Recipe,
) -> std::io::Result<()> {
    let (asked, from) = (recipe.read_as(), source.clone());
    let read = move || {
        let asked = recipe.read_as();
        let read = match &from {
            Source::File(path) => frame::read(path, asked),
            Source::Bytes { name, bytes } => frame::read_bytes(name, bytes, asked),
        };
        let still = read.map_err(|e| sentence(&e.to_string()))?;
        // Cut as the look would have it now; one that cannot be framed is shown whole.
        let size = [still.frame.width(), still.frame.height()];
        let framing = recipe.framing(&still.exif, size);
        let framing = framing.unwrap_or_else(|_| recipe.unframed(size));
        let (how, exif) = (still.how.clone(), still.exif);
        let plain = Arc::new(Plain::of(still));
        let ladder = Ladder::new(Arc::clone(&plain), recipe.frame.ask(), framing);
        Ok(Loaded {
            plain,
            ladder: Arc::new(ladder),
            how,
            exif,
        })
    };
    thread("read still", teller, read, move |result| Event::Still {
        ticket,
        source,
        asked,
        result,
    })
}

pub(super) fn read_recipe(teller: Teller, ticket: u64, path: PathBuf) -> std::io::Result<()> {
    let from = path.clone();
    let read = move || recipe(&from).map(Box::new).map_err(|e| sentence(&e));
    thread("read recipe", teller, read, move |result| Event::Recipe {
        ticket,
        path,
        result,
    })
}

/// Reads a recipe; the error does not name the file.
///
/// # Errors
/// One clause: why it cannot be read, or what in it cannot be used.
pub fn recipe(path: &Path) -> Result<Recipe, String> {
    let text = text_of(path)?;
    let folder = path.parent().unwrap_or(Path::new(""));
    Recipe::parse_in(&text, folder).map_err(|e| e.to_string())
}

/// The text of a document's file, cut where it is longer than any document.
fn text_of(path: &Path) -> Result<String, String> {
    let mut text = String::new();
    let about = std::fs::metadata(path).map_err(|e| e.to_string())?;
    if !about.is_file() {
        return Err("this is not a file".to_owned());
    }
    std::fs::File::open(path)
        .and_then(|f| f.take(LONGEST_RECIPE).read_to_string(&mut text))
        .map_err(|e| e.to_string())?;
    Ok(text)
}

pub(super) fn read_option(
    teller: Teller,
    ticket: Ticket,
    wanted: Wanted,
    path: PathBuf,
) -> std::io::Result<()> {
    let read = move || option_text(&path).map_err(|e| sentence(&e));
    thread("read option", teller, read, move |result| Event::Text {
        ticket,
        wanted,
        result,
    })
}

pub(super) fn read_lut(teller: Teller, ticket: Ticket, path: PathBuf) -> std::io::Result<()> {
    let read = move || input_lut_from(&path).map_err(|e| sentence(&e));
    thread("read LUT", teller, read, move |result| Event::Lut {
        ticket,
        result,
    })
}

pub(super) fn read_kit(teller: Teller, ticket: Ticket, path: PathBuf) -> std::io::Result<()> {
    let from = path.clone();
    let read = move || {
        let text = text_of(&from).map_err(|e| sentence(&e))?;
        let folder = from.parent().unwrap_or(Path::new(""));
        Kit::parse_in(&text, folder).map_err(|e| sentence(&e.to_string()))
    };
    thread("read kit", teller, read, move |result| Event::Kit {
        ticket,
        path,
        result,
    })
}

pub(super) fn save(
    teller: Teller,
    document: u64,
    path: PathBuf,
    recipe: Recipe,
    may_replace: bool,
) -> std::io::Result<()> {
    let (json, to) = (recipe.to_json(), path.clone());
    let write = move || {
        let write = || {
            save_atomically(&to, |f| f.write_all(json.as_bytes()))
                .map_err(|e: std::io::Error| format!("{}: {e}", name_of(&to)))
        };
        unless_there(&to, may_replace, write)
    };
    thread("save recipe", teller, write, move |result| Event::Saved {
        document,
        path,
        recipe: Box::new(recipe),
        result,
    })
}

pub(super) fn export(teller: Teller, job: Export) -> std::io::Result<()> {
    let (path, what) = (job.target.path.clone(), job.what);
    let write = move || {
        let path = &job.target.path;
        unless_there(path, job.may_replace, || write_export(&job))
    };
    thread("export", teller, write, move |result| Event::Exported {
        path,
        what,
        result,
    })
}

/// Writes, unless there is a file of that name that may not be replaced.
fn unless_there(
    path: &Path,
    may_replace: bool,
    write: impl FnOnce() -> Result<(), String>,
) -> Result<(), WriteFault> {
    if !may_replace && path.try_exists().unwrap_or(false) {
        return Err(WriteFault::Exists);
    }
    write().map_err(|e| WriteFault::Other(sentence(&e)))
}

fn write_export(job: &Export) -> Result<(), String> {
    let path = &job.target.path;
    let watch = &job.target.watch;
    match job.what {
        What::Sheet => write_reference(job),
        What::Bare(output) => {
            let framing = framing(job)?;
            let light = light(job);
            frame::write(path, &framing.picture(&light), &output, watch).map_err(|e| e.to_string())
        }
        What::Glass(output) => {
            // Said before the work, not after it.
            frame::Kind::of(path).map_err(|e| e.to_string())?;
            let framing = framing(job)?;
            let plan = engine::plan_over(&job.setup, framing.view());
            let picture = framing.picture(&light(job)).into_owned();
            let (picture, _) = Engine::default()
                .render(picture, &plan, Choice::Auto, &watch.part(0.0, LIGHT))
                .map_err(|e| e.to_string())?;
            let watch = watch.part(LIGHT, 1.0);
            watch.check().map_err(|e| e.to_string())?;
            frame::write(path, &picture, &output, &watch).map_err(|e| e.to_string())
        }
    }
}

/// The scene's light of the still.
fn light(job: &Export) -> Cow<'_, Frame> {
    job.recipe.light(job.still.decoded()).frame
}

/// The planned picture's place in the still.
fn framing(job: &Export) -> Result<Framing, String> {
    let framing = job.recipe.framing(&job.exif, job.still.size());
    framing.map_err(|e| e.to_string())
}

fn write_reference(job: &Export) -> Result<(), String> {
    let name = job.recipe.name.trim();
    let title = if name.is_empty() {
        &job.frame_name
    } else {
        name
    };
    let framing = framing(job)?;
    let looks = [(&job.recipe, &job.setup, &framing)];
    let watch = &job.target.watch;
    let sheet = sheet_of(
        title,
        &job.frame_name,
        job.still.decoded(),
        &looks,
        &today(),
        &watch.part(0.0, LIGHT),
    )
    .map_err(|e| e.to_string())?;
    let watch = watch.part(LIGHT, 1.0);
    write_sheet(&job.target.path, &sheet, DPI, &watch).map_err(|e| e.to_string())
}

/// A clause as a sentence: a full stop at its end.
pub(super) fn sentence(clause: &str) -> String {
    let clause = clause.trim_end();
    if clause.ends_with(['.', '?']) {
        clause.to_owned()
    } else {
        format!("{clause}.")
    }
}
