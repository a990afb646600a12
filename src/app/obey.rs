//! What follows: a command, an answer to a question, a file that was dropped, a window that is to close.
//!
//! Whatever would give changes up is asked about first, and done once that is answered.

use super::commands::Command;
use super::dialogs::{self, Dialog, Outcome, PathQuestion, Purpose, Then};
use super::{Window, bar};
use egui::{Context, ViewportCommand};
use std::path::{Path, PathBuf};

impl Window {
    pub(super) fn obey(&mut self, ctx: &Context, command: Command) {
        match command {
            Command::OpenStill => self.ask_path(ctx, Purpose::OpenStill),
            Command::OpenLut => self.ask_path(ctx, Purpose::OpenLut),
            Command::OpenRecipe => self.unless_unsaved(ctx, Then::OpenRecipe(None)),
            Command::OpenSample => self.unless_unsaved(ctx, Then::OpenSample),
            Command::NewLook => self.unless_unsaved(ctx, Then::NewLook),
            Command::Save => self.save(ctx),
            Command::SaveAs => self.ask_path(ctx, Purpose::SaveRecipe),
            Command::Export if self.session.still().is_some() => {
                self.ask_path(ctx, Purpose::Export);
            }
            Command::Sheet if self.session.still().is_some() => self.ask_path(ctx, Purpose::Sheet),
            Command::Export | Command::Sheet => {}
            Command::Quit => self.unless_unsaved(ctx, Then::Quit),
            Command::Undo => self.session.undo(),
            Command::Redo => self.session.redo(),
            Command::Arrange(arrangement) => self.room.arrangement = arrangement,
            Command::Fit | Command::OneToOne | Command::Larger | Command::Smaller => {
                self.room.ask(command);
            }
            Command::SetUpPanel => self.show_set_up = !self.show_set_up,
            Command::PathPanel => self.show_path = !self.show_path,
            Command::Scopes => self.drawer.open = !self.drawer.open,
            Command::Keys => self.dialog = Some(Dialog::Keys),
            Command::About => self.dialog = Some(Dialog::About),
        }
    }

    fn save(&mut self, ctx: &Context) {
        match self.session.file().map(Path::to_path_buf) {
            Some(file) => self.session.save(&file, true),
            None => self.ask_path(ctx, Purpose::SaveRecipe),
        }
    }

    /// Where dialogs begin: beside the document, or beside the still.
    fn folder(&self) -> PathBuf {
        let still = self.session.still().and_then(|s| s.path);
        let file = self.session.file().map(Path::to_path_buf);
        let folder = file
            .or(still)
            .and_then(|p| p.parent().map(Path::to_path_buf));
        folder.unwrap_or_else(|| self.home.clone())
    }

    pub(super) fn ask_path(&mut self, ctx: &Context, purpose: Purpose) {
        let name = file_name(&bar::look_name(&self.session));
        let start = match purpose {
            Purpose::OpenStill
            | Purpose::OpenRecipe
            | Purpose::OpenOption(_)
            | Purpose::OpenKit
            | Purpose::OpenLut => self.folder(),
            Purpose::SaveRecipe => match self.session.file() {
                Some(file) => file.to_path_buf(),
                None => self.folder().join(format!("{name}.json")),
            },
            Purpose::Export => self.folder().join(format!("{name}.exr")),
            Purpose::Sheet => self.folder().join(format!("{name}_sheet.png")),
        };
        let question = PathQuestion::new(ctx, purpose, &start, self.portal);
        self.dialog = Some(Dialog::Path(question));
    }

    fn unless_unsaved(&mut self, ctx: &Context, then: Then) {
        if self.session.is_changed() {
            self.dialog = Some(Dialog::Unsaved(then));
        } else {
            self.go_on(ctx, then);
        }
    }

    fn go_on(&mut self, ctx: &Context, then: Then) {
        match then {
            Then::Quit if self.session.exporting().is_some() => {
                self.dialog = Some(Dialog::Exporting);
            }
            // What is being written is finished first.
            Then::Quit if self.session.is_saving() => self.leaving = true,
            Then::Quit => {
                self.may_close = true;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            }
            Then::NewLook => self.session.new_look(),
            Then::OpenRecipe(Some(path)) => self.session.open_recipe(&path),
            Then::OpenRecipe(None) => self.ask_path(ctx, Purpose::OpenRecipe),
            Then::OpenSample => self.session.open_sample(true),
        }
    }

    pub(super) fn ask(&mut self, ctx: &Context) {
        // It has ended by itself, and says so.
        if matches!(self.dialog, Some(Dialog::Exporting)) && self.session.exporting().is_none() {
            self.dialog = None;
        }
        let Some(dialog) = &mut self.dialog else {
            return;
        };
        let outcome = dialogs::show(ctx, dialog);
        if outcome == Outcome::Open {
            return;
        }
        self.dialog = None;
        match outcome {
            Outcome::Open => {}
            Outcome::Closed => self.after_save = None,
            Outcome::OpenStill(path) => self.session.open_still(&path),
            Outcome::OpenRecipe(path) => self.session.open_recipe(&path),
            Outcome::OpenOption(wanted, path) => self.session.open_option(wanted, &path),
            Outcome::OpenKit(path) => self.session.open_kit(&path),
            Outcome::OpenLut(path) => self.session.open_lut(&path),
            Outcome::Save { path, may_replace } => self.session.save(&path, may_replace),
            Outcome::Export {
                path,
                what,
                may_replace,
            } => {
                self.session.export(&path, what, may_replace);
            }
            Outcome::SaveThen(then) => {
                self.after_save = Some(then);
                self.save(ctx);
            }
            Outcome::Discard(then) => self.go_on(ctx, then),
            Outcome::StopAndQuit => {
                self.session.cancel_export();
                self.leaving = true;
            }
            Outcome::Replace(replace) => {
                self.session.answer_clash(replace);
                if !replace {
                    self.after_save = None;
                }
            }
        }
    }

    /// Goes on once what was to be saved first has been saved, and what was to be stopped has.
    pub(super) fn follow_save(&mut self, ctx: &Context) {
        if self.leaving && !self.session.is_writing() {
            self.leaving = false;
            self.go_on(ctx, Then::Quit);
        }
        if self.session.clash().is_some() && self.dialog.is_none() {
            self.dialog = self
                .session
                .clash()
                .map(|p| Dialog::Replace(p.to_path_buf()));
        }
        if self.after_save.is_none() || self.session.is_saving() || self.dialog.is_some() {
            return;
        }
        let then = self.after_save.take();
        // A save that failed has said so, and nothing is given up.
        if let Some(then) = then
            && !self.session.is_changed()
        {
            self.go_on(ctx, then);
        }
    }

    /// Files that were dropped on the window: a recipe by its ending, anything else as a still.
    pub(super) fn dropped(&mut self, ctx: &Context) {
        let paths: Vec<PathBuf> = ctx.input(|i| {
            i.raw
                .dropped_files
                .iter()
                .map(|f| f.path().to_path_buf())
                .collect()
        });
        for path in paths {
            let recipe = path
                .extension()
                .is_some_and(|e| e.eq_ignore_ascii_case("json"));
            self.dialog = None;
            if recipe {
                self.unless_unsaved(ctx, Then::OpenRecipe(Some(path)));
            } else {
                self.session.open_still(&path);
            }
        }
    }

    pub(super) fn closing(&mut self, ctx: &Context) {
        let asked = ctx.input(|i| i.viewport().close_requested());
        let loses = self.session.is_changed() || self.session.is_writing();
        if asked && !self.may_close && loses {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            self.unless_unsaved(ctx, Then::Quit);
        }
    }
}

/// A look's name as a file's name: letters and digits stay, anything else becomes one underscore.
fn file_name(name: &str) -> String {
    let mut out = String::new();
    for c in name.to_lowercase().chars() {
        if c.is_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('_') {
            out.push('_');
        }
    }
    let out = out.trim_end_matches('_');
    if out.is_empty() {
        "look".to_owned()
    } else {
        out.to_owned()
    }
}

#[cfg(test)]
mod tests {
    use super::file_name;

    #[test]
    fn a_look_s_name_makes_a_plain_file_name() {
        assert_eq!(
            file_name("Wheelhouse, warm half"),
            "wheelhouse_warm_half",
            "no commas"
        );
        assert_eq!(file_name("../../quay"), "quay", "no way out of the folder");
        assert_eq!(file_name("…"), "look", "never empty");
    }
}
