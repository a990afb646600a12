//! What is only read: the keys, and what the program is.

use super::Outcome;
use crate::app::commands::Command;
use crate::app::theme;
use egui::{Button, Grid, RichText, Ui, vec2};

pub(super) fn keys(ui: &mut Ui) -> Outcome {
    ui.set_width(620.0);
    ui.label(RichText::new("Keys").heading());
    ui.add_space(6.0);
    let ctx = ui.ctx().clone();
    let key = |c: Command| (c.label(), c.key(&ctx).unwrap_or_default());
    let words = |what, key: &str| (what, key.to_owned());
    let document = Command::with_keys().filter(|c| !c.is_view()).map(key);
    let view = Command::with_keys().filter(|c| c.is_view()).map(key);
    let pictures = [
        words("Bare, while it is held", "B"),
        words("Zoom, on a picture", "+ and -"),
        words("Move about, on a picture", "Arrows"),
        words("To the next control", "Tab"),
    ];
    ui.columns_const(|[left, right]| {
        key_list(left, "document", document);
        key_list(right, "view", view.chain(pictures));
    });
    close(ui)
}

fn key_list(ui: &mut Ui, name: &str, lines: impl Iterator<Item = (&'static str, String)>) {
    let grid = Grid::new(name).num_columns(2).spacing(vec2(20.0, 4.0));
    grid.show(ui, |ui| {
        for (what, key) in lines {
            ui.label(RichText::new(key).monospace().color(theme::TEXT));
            ui.label(RichText::new(what).color(theme::SECOND));
            ui.end_row();
        }
    });
}

pub(super) fn about(ui: &mut Ui) -> Outcome {
    ui.set_width(420.0);
    ui.label(RichText::new(format!("foreglass {}", env!("CARGO_PKG_VERSION"))).heading());
    ui.add_space(4.0);
    for line in [
        "Shows what glass in front of the lens will do to a shot, on a still, before the glass is \
         ordered or rigged.",
        "Modelled, not measured: a camera test decides.",
        "No density or polariser makes it safe to look at the sun through an optical finder.",
        "Nets behind the lens and close-up lenses are not modelled.",
    ] {
        ui.label(RichText::new(line).color(theme::SECOND));
    }
    close(ui)
}

fn close(ui: &mut Ui) -> Outcome {
    ui.add_space(10.0);
    let mut outcome = Outcome::Open;
    ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
        let button = ui.add(Button::new("Close").min_size(vec2(96.0, 30.0)));
        if button.clicked() {
            outcome = Outcome::Closed;
        }
    });
    outcome
}
