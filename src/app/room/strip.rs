//! The strip above the pictures: how they are arranged, how near they are, and what is shown of them.

use super::{Arrangement, Room};
use crate::app::commands::Command;
use crate::app::icons::{self, Icon};
use crate::app::{fields, theme};
use crate::session::Viewing;
use egui::{RichText, Sense, Ui, vec2};

/// Width that the strip needs for one line.
const STRIP: f32 = 860.0;

impl Room {
    /// The strip above the pictures: arrangement and zoom. In a narrow room it takes two lines.
    pub(super) fn strip(&mut self, ui: &mut Ui, todo: &mut Vec<Command>) {
        let frame = egui::Frame::new().inner_margin(egui::Margin {
            left: 10,
            right: 10,
            top: 8,
            bottom: 0,
        });
        frame.show(ui, |ui| {
            let wide = ui.available_width() > STRIP;
            ui.horizontal_wrapped(|ui| {
                ui.spacing_mut().item_spacing = vec2(4.0, 4.0);
                for arrangement in Arrangement::ALL {
                    let on = self.arrangement == arrangement;
                    let name = arrangement.label();
                    if fields::segment(ui, on, name, name).clicked() {
                        self.arrangement = arrangement;
                    }
                }
                ui.add_space(8.0);
                let hold = ui
                    .add(egui::Button::new("Hold for bare").sense(Sense::click_and_drag()))
                    .on_hover_text(
                        "Shows the picture without glass while it is held. The key is B.",
                    );
                self.holding |= hold.is_pointer_button_down_on();
                ui.add_space(8.0);
                self.zoom_controls(ui);
                // All on one line, or what is shown on a second one.
                if wide {
                    ui.add_space(8.0);
                } else {
                    ui.end_row();
                }
                for viewing in Viewing::ALL {
                    let name = view_name(viewing);
                    let on = self.viewing == viewing;
                    if fields::segment(ui, on, name, &format!("Show: {name}")).clicked() {
                        self.viewing = viewing;
                    }
                }
                ui.add_space(8.0);
                let scopes = fields::segment(ui, self.scopes, "Scopes", "Open the scopes");
                if scopes.clicked() {
                    todo.push(Command::Scopes);
                }
            });
        });
    }

    fn zoom_controls(&mut self, ui: &mut Ui) {
        if icons::button(ui, Icon::Minus, "Zoom out", true).clicked() {
            self.ask(Command::Smaller);
        }
        let percent = format!("{:.0} %", 100.0 * self.scale);
        let label = egui::Label::new(RichText::new(percent).color(theme::SECOND));
        ui.add_sized([46.0, theme::TARGET], label)
            .on_hover_text("Screen pixels to pixels of the still");
        if icons::button(ui, Icon::Plus, "Zoom in", true).clicked() {
            self.ask(Command::Larger);
        }
        if fields::segment(ui, self.framing.is_fit(), "Fit", "Fit the picture").clicked() {
            self.ask(Command::Fit);
        }
        let one = !self.framing.is_fit() && (self.scale - 1.0).abs() < 1e-3;
        if fields::segment(ui, one, "1:1", "One to one").clicked() {
            self.ask(Command::OneToOne);
        }
    }
}

const fn view_name(viewing: Viewing) -> &'static str {
    match viewing {
        Viewing::Picture => "Picture",
        Viewing::FalseStops => "False stops",
        Viewing::Difference => "Difference",
    }
}
