//! What is asked in the middle of the window: a path, an export, whether to keep changes.

// Changes and files that would be given up.
mod keep;
// Keys and about.
mod pages;
// A path, and an export's settings.
mod path;

pub(super) use path::{PathQuestion, Purpose};

use crate::session::{Wanted, What};
use egui::{Button, Context, Id, Modal, Ui, vec2};
use std::path::PathBuf;

/// What follows once the changes are saved or given up.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Then {
    Quit,
    NewLook,
    OpenRecipe(Option<PathBuf>),
    OpenSample,
}

/// A question that is open.
#[derive(Debug)]
pub(super) enum Dialog {
    Path(PathQuestion),
    Unsaved(Then),
    Replace(PathBuf),
    /// An export is under way, and the window is to close.
    Exporting,
    Keys,
    About,
}

/// What came of a question.
#[derive(Debug, PartialEq, Eq)]
pub(super) enum Outcome {
    Open,
    Closed,
    OpenStill(PathBuf),
    OpenRecipe(PathBuf),
    OpenOption(Wanted, PathBuf),
    OpenKit(PathBuf),
    OpenLut(PathBuf),
    Save {
        path: PathBuf,
        may_replace: bool,
    },
    Export {
        path: PathBuf,
        what: What,
        may_replace: bool,
    },
    SaveThen(Then),
    Discard(Then),
    StopAndQuit,
    Replace(bool),
}

/// The buttons at a question's foot: the verb, and cancel. Some(true) for the verb.
fn closing(ui: &mut Ui, verb: &str, ready: bool) -> Option<bool> {
    ui.add_space(10.0);
    let mut answer = None;
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let main = Button::new(verb).selected(true).min_size(vec2(96.0, 30.0));
        if ui.add_enabled(ready, main).clicked() {
            answer = Some(true);
        }
        if ui
            .add(Button::new("Cancel").min_size(vec2(96.0, 30.0)))
            .clicked()
        {
            answer = Some(false);
        }
    });
    answer
}

/// Shows the open question.
pub(super) fn show(ctx: &Context, dialog: &mut Dialog) -> Outcome {
    // Each kind of question has its own size, and so its own place.
    let name = match dialog {
        Dialog::Path(question) => question.purpose.title(),
        Dialog::Unsaved(_) => "unsaved",
        Dialog::Replace(_) => "replace",
        Dialog::Exporting => "exporting",
        Dialog::Keys => "keys",
        Dialog::About => "about",
    };
    let modal = Modal::new(Id::unique(("question", name)))
        .backdrop_color(egui::Color32::from_black_alpha(150))
        .frame(egui::Frame::popup(&ctx.global_style()).inner_margin(18));
    let shown = modal.show(ctx, |ui| match dialog {
        Dialog::Path(question) => question.show(ui),
        Dialog::Unsaved(then) => keep::unsaved(ui, then),
        Dialog::Replace(path) => keep::replace(ui, path),
        Dialog::Exporting => keep::exporting(ui),
        Dialog::Keys => pages::keys(ui),
        Dialog::About => pages::about(ui),
    });
    // A click beside a question does not lose what was typed into it; Escape does.
    let escaped = shown.should_close() && !shown.backdrop_response.clicked();
    match (&*dialog, shown.inner) {
        (Dialog::Replace(_), Outcome::Open) if escaped => Outcome::Replace(false),
        (_, Outcome::Open) if escaped => Outcome::Closed,
        (_, outcome) => outcome,
    }
}
