//! The bar along the top: menus, the document's name, undo and redo.

use super::commands::Command;
use super::icons::{self, Icon};
use super::room::Arrangement;
use super::theme;
use crate::session::Session;
use egui::{Align, Button, Layout, RichText, Ui};

/// What the bar shows besides the session.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shown {
    pub(super) set_up: bool,
    pub(super) path: bool,
    pub(super) scopes: bool,
    pub(super) arrangement: Arrangement,
}

/// Shows the bar; what was asked for is added to `todo`.
pub(super) fn show(ui: &mut Ui, session: &Session, shown: Shown, todo: &mut Vec<Command>) {
    egui::MenuBar::new().ui(ui, |ui| {
        ui.set_min_height(34.0);
        let has_still = session.still().is_some();
        ui.menu_button("File", |ui| {
            item(ui, Command::OpenStill, true, todo);
            item(ui, Command::OpenSample, true, todo);
            item(ui, Command::OpenRecipe, true, todo);
            ui.separator();
            item(ui, Command::NewLook, true, todo);
            item(ui, Command::Save, !session.is_saving(), todo);
            item(ui, Command::SaveAs, !session.is_saving(), todo);
            ui.separator();
            let free = has_still && session.exporting().is_none();
            item(ui, Command::Export, free, todo);
            item(ui, Command::Sheet, free, todo);
            ui.separator();
            item(ui, Command::Quit, true, todo);
        });
        ui.menu_button("Edit", |ui| {
            step(ui, Command::Undo, session.undo_label(), todo);
            step(ui, Command::Redo, session.redo_label(), todo);
        });
        ui.menu_button("View", |ui| {
            for arrangement in Arrangement::ALL {
                ticked(
                    ui,
                    Command::Arrange(arrangement),
                    shown.arrangement == arrangement,
                    todo,
                );
            }
            ui.separator();
            for command in [
                Command::Fit,
                Command::OneToOne,
                Command::Larger,
                Command::Smaller,
            ] {
                item(ui, command, has_still, todo);
            }
            ui.separator();
            ticked(ui, Command::SetUpPanel, shown.set_up, todo);
            ticked(ui, Command::PathPanel, shown.path, todo);
            ticked(ui, Command::Scopes, shown.scopes, todo);
        });
        ui.menu_button("Help", |ui| {
            item(ui, Command::Keys, true, todo);
            item(ui, Command::About, true, todo);
        });

        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            ui.add_space(4.0);
            let export = Button::new("Export picture…");
            if ui
                .add_enabled(has_still && session.exporting().is_none(), export)
                .clicked()
            {
                todo.push(Command::Export);
            }
            for (icon, command, label) in [
                (Icon::Redo, Command::Redo, session.redo_label()),
                (Icon::Undo, Command::Undo, session.undo_label()),
            ] {
                let name = step_name(command, label);
                if icons::button(ui, icon, &name, label.is_some()).clicked() {
                    todo.push(command);
                }
            }
            ui.add_space(6.0);
            document(ui, session);
        });
    });
}

/// The look's name and whether it is saved, in the room that is left.
fn document(ui: &mut Ui, session: &Session) {
    ui.with_layout(Layout::left_to_right(Align::Center), |ui| {
        ui.add_space(14.0);
        ui.label(
            RichText::new(look_name(session))
                .strong()
                .color(theme::TEXT),
        );
        let (word, colour) = if session.is_saving() {
            ("Saving…", theme::SECOND)
        } else if session.is_changed() {
            ("Not saved", theme::ACCENT)
        } else if session.file().is_some() {
            ("Saved", theme::SECOND)
        } else {
            ("", theme::SECOND)
        };
        if !word.is_empty() {
            ui.label(RichText::new(word).small().color(colour));
        }
        status(ui, session);
    });
}

/// What is being worked on.
fn status(ui: &mut Ui, session: &Session) {
    let coarse = session.glass().is_some_and(|g| g.coarse);
    let text = if let Some(name) = session.reading() {
        format!("Reading {name}…")
    } else if session.is_rendering() && coarse {
        "Quick picture, a finer one is being made".to_owned()
    } else if session.is_rendering() {
        "Making the picture…".to_owned()
    } else {
        return;
    };
    ui.add_space(8.0);
    ui.add(egui::Spinner::new().size(14.0).color(theme::SECOND));
    let text = RichText::new(text).small().color(theme::SECOND);
    ui.add(egui::Label::new(text).truncate());
}

/// What the look is called: its name, its file's name, or "New look".
pub(super) fn look_name(session: &Session) -> String {
    let name = session.recipe().name.trim();
    if !name.is_empty() {
        return name.to_owned();
    }
    let file = session.file().and_then(|p| p.file_stem());
    file.map_or_else(
        || "New look".to_owned(),
        |n| n.to_string_lossy().into_owned(),
    )
}

fn item(ui: &mut Ui, command: Command, enabled: bool, todo: &mut Vec<Command>) {
    named(ui, command, command.label().to_owned(), enabled, todo);
}

fn ticked(ui: &mut Ui, command: Command, on: bool, todo: &mut Vec<Command>) {
    let key = command.key(ui.ctx()).unwrap_or_default();
    let button = Button::selectable(on, command.label()).shortcut_text(key);
    if ui.add(button).clicked() {
        todo.push(command);
        ui.close();
    }
}

fn step(ui: &mut Ui, command: Command, label: Option<&str>, todo: &mut Vec<Command>) {
    named(
        ui,
        command,
        step_name(command, label),
        label.is_some(),
        todo,
    );
}

fn step_name(command: Command, label: Option<&str>) -> String {
    match label {
        Some(label) => format!("{}: {}", command.label(), label.to_lowercase()),
        None => format!("Nothing to {}", command.label().to_lowercase()),
    }
}

fn named(ui: &mut Ui, command: Command, text: String, enabled: bool, todo: &mut Vec<Command>) {
    let key = command.key(ui.ctx()).unwrap_or_default();
    let button = Button::new(text).shortcut_text(key);
    if ui.add_enabled(enabled, button).clicked() {
        todo.push(command);
        ui.close();
    }
}
