//! The look that is being worked on: its recipe, what is changed in it, undone and done again.

use super::Session;
use super::history::History;
use super::path::{self, Held};
use crate::glass::Piece;
use crate::recipe::Recipe;
use crate::rig::{Place, Setup};
use std::path::{Path, PathBuf};

impl Session {
    /// The look that is being worked on.
    #[must_use]
    pub fn recipe(&self) -> &Recipe {
        self.history.present()
    }

    /// Its rig, checked and typed.
    #[must_use]
    pub const fn setup(&self) -> &Setup {
        &self.setup
    }

    /// What stands in each place, from the lens outward; empty places included.
    #[must_use]
    pub fn held(&self) -> &[Held] {
        &self.held
    }

    /// The piece of glass in a place.
    #[must_use]
    pub fn piece(&self, place: Place) -> Option<&Piece> {
        self.held.iter().find(|h| h.place == place)?.piece.as_ref()
    }

    /// The file that the look was opened from or saved to.
    #[must_use]
    pub fn file(&self) -> Option<&Path> {
        self.file.as_deref()
    }

    /// Whether there are changes that are not in the file.
    #[must_use]
    pub fn is_changed(&self) -> bool {
        *self.recipe() != self.saved
    }

    /// Changes the look. `label` names the change for undo; changes with the same `merge` that follow
    /// one another before [`Session::settle`] are undone together. A change that would leave a look
    /// that cannot be is refused, and said. True when it was made.
    pub fn change(
        &mut self,
        label: &str,
        merge: Option<&str>,
        make: impl FnOnce(&mut Recipe) -> Result<(), String>,
    ) -> bool {
        let mut next = self.recipe().clone();
        let made =
            make(&mut next).and_then(|()| next.setup().map_err(|e| format!("{label}: {e}.")));
        match made {
            Ok(_) if next == *self.recipe() => true,
            Ok(setup) => {
                self.history.push(next, label, merge);
                self.refresh(setup);
                true
            }
            Err(e) => {
                self.complain(e);
                false
            }
        }
    }

    /// Ends a run of changes that are undone together: the mouse was let go, the field was left.
    pub fn settle(&mut self) {
        self.history.settle();
    }

    /// Takes back the last change.
    pub fn undo(&mut self) {
        if self.history.undo() {
            self.revisit();
        }
    }

    /// Makes again what was last taken back.
    pub fn redo(&mut self) {
        if self.history.redo() {
            self.revisit();
        }
    }

    /// What undo would take back.
    #[must_use]
    pub fn undo_label(&self) -> Option<&str> {
        self.history.undo_label()
    }

    /// What redo would make again.
    #[must_use]
    pub fn redo_label(&self) -> Option<&str> {
        self.history.redo_label()
    }

    /// Starts a new look, keeping the still.
    pub fn new_look(&mut self) {
        self.replace(Recipe::default(), None);
    }

    /// Takes a recipe as the open document, as if it had been read from `file`.
    pub fn replace(&mut self, recipe: Recipe, file: Option<PathBuf>) {
        match recipe.setup() {
            Ok(setup) => {
                self.document += 1;
                self.saved = recipe.clone();
                self.history = History::new(recipe);
                self.file = file;
                self.refresh(setup);
            }
            Err(e) => self.complain(format!("{e}.")),
        }
    }

    /// After a step through the history.
    pub(super) fn revisit(&mut self) {
        match self.recipe().setup() {
            Ok(setup) => self.refresh(setup),
            Err(e) => self.complain(format!("{e}.")),
        }
    }

    pub(super) fn refresh(&mut self, setup: Setup) {
        self.held = path::held(self.recipe());
        // A name or a note changes nothing that is seen.
        let framing = self.framed();
        let light = self.recipe().frame.ask();
        let same = setup == self.setup && framing == self.framing && light == self.light;
        if !same || self.report.is_none() {
            self.setup = setup;
            self.light = light;
            self.order();
        }
        self.follow_encoding();
    }

    /// Reads the still again when the look says that its numbers mean something else.
    pub(super) fn follow_encoding(&mut self) {
        let wanted = self.recipe().read_as();
        let Some(open) = &self.still else { return };
        if open.asked != wanted && self.reading.is_none() {
            self.read(open.source.clone());
        }
    }

    // ---- Files ----------------------------------------------------------------------------------
}
