//! What is asked of files: stills, recipes, an option's text, saving, exporting.

use super::files::{self, Exported, Source, What};
use super::path::Wanted;
use super::{Asked, Retry, Session, Ticket, edit};
use crate::engine::Watch;
use crate::glass::Piece;
use crate::recipe::samples::{OPENING, SAMPLES};
use crate::recipe::{InputLut, Recipe};
use serde_json::Value;
use std::path::Path;
use std::sync::Arc;

impl Session {
    /// A ticket for something that is read for the look that is open.
    pub(super) const fn ticket(&mut self) -> Ticket {
        self.tickets += 1;
        Ticket {
            number: self.tickets,
            document: self.document,
        }
    }

    /// Opens a still. The one that is open stays until the new one is there.
    pub fn open_still(&mut self, path: &Path) {
        self.read(Source::File(path.to_path_buf()));
    }

    /// Opens a still that is already in memory under a name.
    pub fn open_still_bytes(&mut self, name: &str, bytes: Arc<[u8]>) {
        self.read(Source::Bytes {
            name: name.to_owned(),
            bytes,
        });
    }

    pub(super) fn read(&mut self, source: Source) {
        self.tickets += 1;
        let (ticket, recipe) = (self.tickets, self.recipe().clone());
        let name = source.name();
        match files::read_still(self.teller.clone(), ticket, source, recipe) {
            Ok(()) => self.reading = Some((ticket, name)),
            Err(e) => self.complain(format!("{name} cannot be read: {e}.")),
        }
    }

    /// Opens the sample: its still, and its recipe unless another look is to be kept.
    pub fn open_sample(&mut self, with_recipe: bool) {
        let [still, recipe] = OPENING.map(|i| SAMPLES.get(i));
        if let Some((_, bytes)) = recipe
            && with_recipe
        {
            match Recipe::parse(&String::from_utf8_lossy(bytes)) {
                Ok(recipe) => self.replace(recipe, None),
                Err(e) => self.complain(format!("The sample's recipe cannot be used: {e}.")),
            }
        }
        if let Some((name, bytes)) = still {
            self.open_still_bytes(name, Arc::from(*bytes));
        }
    }

    /// Opens a recipe in place of the look that is open.
    pub fn open_recipe(&mut self, path: &Path) {
        let ticket = self.ticket().number;
        let name = files::name_of(path);
        let over = Box::new(self.recipe().clone());
        match files::read_recipe(self.teller.clone(), ticket, path.to_path_buf()) {
            Ok(()) => self.reading_recipe = Some(Asked { ticket, name, over }),
            Err(e) => self.complain(format!("{name} cannot be read: {e}.")),
        }
    }

    /// Reads an input LUT, for the still's codes to go through.
    pub fn open_lut(&mut self, path: &Path) {
        let (name, ticket) = (files::name_of(path), self.ticket());
        match files::read_lut(self.teller.clone(), ticket, path.to_path_buf()) {
            Ok(()) => self.reading_option = Some((ticket, name)),
            Err(e) => self.complain(format!("{name} cannot be read: {e}.")),
        }
    }

    /// Puts a LUT that was read into the look.
    pub(super) fn take_lut(&mut self, lut: InputLut) {
        self.change("Input LUT", None, |recipe| {
            recipe.frame.input_lut = Some(lut);
            Ok(())
        });
    }

    /// Reads the text of an option of a piece from a file.
    pub fn open_option(&mut self, wanted: Wanted, path: &Path) {
        let (name, ticket) = (files::name_of(path), self.ticket());
        match files::read_option(self.teller.clone(), ticket, wanted, path.to_path_buf()) {
            Ok(()) => self.reading_option = Some((ticket, name)),
            Err(e) => self.complain(format!("{name} cannot be read: {e}.")),
        }
    }

    /// Sets an option to a text that was read; the piece may be gone by now.
    pub(super) fn take_text(&mut self, wanted: Wanted, text: String) {
        let Wanted { place, control } = wanted;
        let takes = |piece: &Piece| {
            piece
                .family()
                .controls
                .iter()
                .any(|c| std::ptr::eq(c, control))
        };
        if self.piece(place).is_some_and(takes) {
            let label = format!("{} in {}", control.label, place.to_string().to_lowercase());
            self.change(&label, None, |recipe| {
                edit::set_option(recipe, place, control.name, Some(Value::String(text)))
            });
        }
    }

    /// Saves the look to a file. Unless it is the look's own file, or `may_replace` says so, a file
    /// that is there is not replaced: [`Session::clash`] then asks. While one is being written, it is saved once more
    /// after that.
    pub fn save(&mut self, path: &Path, may_replace: bool) {
        if self.saving {
            self.save_next = Some((self.document, path.to_path_buf(), may_replace));
            return;
        }
        let replace = may_replace || self.file.as_deref() == Some(path);
        let (teller, document) = (self.teller.clone(), self.document);
        let recipe = self.recipe().clone();
        match files::save(teller, document, path.to_path_buf(), recipe, replace) {
            Ok(()) => self.saving = true,
            Err(e) => self.complain(format!("Not saved: {e}.")),
        }
    }

    /// Exports a picture at the still's own size, or the reference sheet. A file that is there is replaced only where
    /// `may_replace` says so: [`Session::clash`] then asks.
    pub fn export(&mut self, path: &Path, what: What, may_replace: bool) {
        let Some(open) = &self.still else {
            self.complain("There is no still to export: open one first.".to_owned());
            return;
        };
        if self.export.is_some() {
            self.complain("An export is still under way.".to_owned());
            return;
        }
        let export = Exported {
            path: path.to_path_buf(),
            watch: Watch::default(),
        };
        let job = files::Export {
            target: export.clone(),
            still: Arc::clone(&open.plain),
            exif: open.exif,
            frame_name: open.source.name(),
            recipe: self.recipe().clone(),
            setup: self.setup.clone(),
            what,
            may_replace,
        };
        match files::export(self.teller.clone(), job) {
            Ok(()) => self.export = Some(export),
            Err(e) => self.complain(format!("Not exported: {e}.")),
        }
    }

    /// Stops the export that is under way; its file is not written.
    pub fn cancel_export(&mut self) {
        if let Some(export) = &self.export {
            export.watch.cancel();
        }
    }

    /// The file that would be replaced and waits for a word.
    #[must_use]
    pub fn clash(&self) -> Option<&Path> {
        match self.retry.as_ref()? {
            Retry::Save(path) | Retry::Export(path, ..) => Some(path),
        }
    }

    /// Answers [`Session::clash`]: replaces the file, or leaves it as it is.
    pub fn answer_clash(&mut self, replace: bool) {
        match self.retry.take() {
            Some(Retry::Save(path)) if replace => self.save(&path, true),
            Some(Retry::Export(path, what)) if replace => {
                self.export(&path, what, true);
            }
            _ => {}
        }
    }

    /// Waits until whatever is being read has been read. For use where there is no window yet.
    ///
    /// # Errors
    /// The sentence that says why it could not be read.
    pub fn finish_reading(&mut self) -> Result<(), String> {
        while self.reading().is_some() {
            let Ok(event) = self.events.recv() else { break };
            self.take(event);
        }
        let problem = self.notices.iter().position(|n| n.problem);
        problem.map_or(Ok(()), |i| Err(self.notices.remove(i).text))
    }

    // ---- What there is to show --------------------------------------------------------------------
}
