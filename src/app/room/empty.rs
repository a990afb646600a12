//! The room without a still.

use crate::app::commands::Command;
use crate::app::{icons, theme};
use crate::session::Session;
use egui::{Align, Color32, Layout, Rect, RichText, Stroke, Ui, vec2};

/// Says that there is none, and offers to open one; or tells which is being read.
pub(super) fn show(ui: &mut Ui, session: &Session, todo: &mut Vec<Command>) {
    let rect = ui.available_rect_before_wrap();
    let box_rect = Rect::from_center_size(rect.center(), vec2(380.0, 190.0));
    icons::dashed(
        ui.painter(),
        box_rect.expand(18.0),
        Stroke::new(1.0, Color32::from_gray(116)),
    );
    let mut inner = ui.new_child(
        egui::UiBuilder::new()
            .max_rect(box_rect)
            .layout(Layout::top_down(Align::Center)),
    );
    let ui = &mut inner;
    ui.add_space(14.0);
    if let Some(name) = session.reading() {
        ui.add(egui::Spinner::new().size(28.0).color(theme::SECOND));
        ui.add_space(10.0);
        ui.label(RichText::new(format!("Reading {name}…")).heading());
        return;
    }
    ui.label(RichText::new("No still is open").heading());
    ui.add_space(4.0);
    ui.label(
        RichText::new("A scout photo or a frame grab: PNG, JPEG, TIFF or EXR.")
            .color(theme::SECOND),
    );
    ui.add_space(12.0);
    let main = egui::Button::new("Open a still…")
        .min_size(vec2(160.0, 32.0))
        .selected(true);
    if ui.add(main).clicked() {
        todo.push(Command::OpenStill);
    }
    if ui
        .add(egui::Button::new("Open the sample").min_size(vec2(160.0, 28.0)))
        .clicked()
    {
        todo.push(Command::OpenSample);
    }
    ui.add_space(8.0);
    ui.label(RichText::new("Or drop a file anywhere on this window.").color(theme::SECOND));
}
