//! Whether something is given up: changes that are not saved, a file that is there already.

use super::{Outcome, Then, closing};
use crate::app::theme;
use egui::{Button, RichText, Ui, vec2};
use std::path::Path;

pub(super) fn unsaved(ui: &mut Ui, then: &Then) -> Outcome {
    ui.set_width(420.0);
    ui.label(RichText::new("The look has changes that are not saved").heading());
    ui.add_space(4.0);
    let what = match then {
        Then::Quit => "Quitting gives them up.",
        Then::NewLook => "A new look takes its place.",
        Then::OpenRecipe(_) => "The recipe that is opened takes its place.",
        Then::OpenSample => "The sample's look takes its place.",
    };
    ui.label(RichText::new(what).color(theme::SECOND));
    ui.add_space(10.0);
    let mut outcome = Outcome::Open;
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let size = vec2(96.0, 30.0);
        if ui
            .add(Button::new("Save first").selected(true).min_size(size))
            .clicked()
        {
            outcome = Outcome::SaveThen(then.clone());
        }
        if ui.add(Button::new("Give them up").min_size(size)).clicked() {
            outcome = Outcome::Discard(then.clone());
        }
        if ui.add(Button::new("Cancel").min_size(size)).clicked() {
            outcome = Outcome::Closed;
        }
    });
    outcome
}

pub(super) fn exporting(ui: &mut Ui) -> Outcome {
    ui.set_width(420.0);
    ui.label(RichText::new("An export is still being written").heading());
    ui.add_space(4.0);
    ui.label(RichText::new("Quitting stops it, and leaves no file.").color(theme::SECOND));
    match closing(ui, "Stop it and quit", true) {
        Some(true) => Outcome::StopAndQuit,
        Some(false) => Outcome::Closed,
        None => Outcome::Open,
    }
}

pub(super) fn replace(ui: &mut Ui, path: &Path) -> Outcome {
    ui.set_width(420.0);
    let name = path.file_name().unwrap_or_default().to_string_lossy();
    ui.label(RichText::new(format!("There is a file called {name}")).heading());
    ui.add_space(4.0);
    ui.label(RichText::new("Replacing it cannot be undone.").color(theme::SECOND));
    match closing(ui, "Replace", true) {
        Some(replace) => Outcome::Replace(replace),
        None => Outcome::Open,
    }
}
