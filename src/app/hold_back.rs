//! Holding a region back: what it is to come down to, and which glass of the kit does it.

use super::fields::{self, Number};
use super::mark::{Drawn, Marked, Marks, Tool};
use super::metered;
use super::theme;
use crate::meters::Region;
use crate::meters::suggest::{Ask, Suggestion};
use crate::session::{Advice, Session};
use crate::units::Stops;
use egui::{RichText, ScrollArea, Ui};

const LEVEL: Number = Number::new(-10.0, 16.0, 0.05, 2).suffix(" stops");

/// How the panel stands.
#[derive(Debug)]
pub(super) struct HoldBack {
    target: f64,
    level: Option<f64>,
    /// A kit's file is asked for.
    pub(super) wants_kit: bool,
}

impl Default for HoldBack {
    fn default() -> Self {
        Self {
            target: 1.0,
            level: None,
            wants_kit: false,
        }
    }
}

impl HoldBack {
    /// Shows the panel.
    pub(super) fn show(&mut self, ui: &mut Ui, session: &mut Session, marks: &mut Marks) {
        if let Some(Marked::Sides(sides)) = marks.take(Tool::Region) {
            marks.region = Some(sides);
        }
        ui.label(RichText::new("Hold back").heading());
        fields::note(
            ui,
            "Mark what is too bright, say where it is to come down to, and see which grads of the kit do it.",
        );
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            region(ui, session.still().is_some(), marks);
            self.levels(ui);
            self.kit(ui, session);
            self.search(ui, session, marks);
            if let Some(advice) = session.advice().cloned() {
                options(ui, session, &advice);
                order(ui, session, &advice);
            }
            ui.add_space(8.0);
        });
        let drawn = marks.region.map(|r| Drawn::Sides(r, "Region".to_owned()));
        marks.drawn.extend(drawn);
    }

    fn levels(&mut self, ui: &mut Ui) {
        fields::heading(ui, "Level");
        let help = "The mean level that the region is to have through the glass, after compensation, in stops \
                    against key.";
        if let Some(v) = fields::number(ui, "Bring it to", help, LEVEL, self.target) {
            self.target = v;
        }
        let words = (
            "It meters",
            "What the spot meter says of it, where the still has clipped it. Left open, the still tells.",
        );
        if let Some(v) = fields::optional(ui, words, LEVEL, self.level, ("as in the still", 4.0)) {
            self.level = v;
        }
    }

    fn kit(&mut self, ui: &mut Ui, session: &mut Session) {
        fields::heading(ui, "Kit");
        let name = match session.kit().name.trim() {
            "" => "A kit without a name",
            name => name,
        };
        let own = session.kit_file().is_some();
        ui.label(name);
        ui.horizontal(|ui| {
            self.wants_kit = ui.button("Open kit…").clicked();
            if own && ui.button("Built-in kit").clicked() {
                session.use_default_kit();
            }
        });
    }

    fn search(&self, ui: &mut Ui, session: &mut Session, marks: &Marks) {
        ui.add_space(6.0);
        let region = marks
            .region
            .and_then(|sides| Region::new(sides.map(f64::from)));
        ui.horizontal(|ui| {
            let ready = region.is_some() && session.still().is_some();
            let button = egui::Button::new("Find glass").min_size(egui::vec2(120.0, 28.0));
            let pressed = ui.add_enabled(ready, button).clicked();
            if let Some(region) = region.filter(|_| pressed) {
                session.seek(Ask {
                    region,
                    target: Stops::clamped(self.target),
                    level: self.level.map(Stops::clamped),
                });
            }
            if session.is_seeking() {
                ui.add(egui::Spinner::new().size(18.0).color(theme::SECOND));
                if ui.button("Stop").clicked() {
                    session.cancel_seek();
                }
            }
        });
        if region.is_none() {
            fields::note(ui, "No region is marked yet.");
        }
    }
}

fn region(ui: &mut Ui, still: bool, marks: &mut Marks) {
    fields::heading(ui, "Region");
    ui.horizontal(|ui| {
        let armed = marks.armed == Some(Tool::Region);
        let word = if armed {
            "Drag on the picture…"
        } else {
            "Mark on the picture"
        };
        let response = fields::segment(ui, armed, word, "Mark a region on the picture");
        if still && response.clicked() {
            marks.arm(Tool::Region);
        }
        if marks.region.is_none() {
            if ui.button("Type it in").clicked() {
                marks.region = Some([0.0, 0.0, 1.0, 0.5]);
            }
        } else if ui.button("Clear").clicked() {
            marks.region = None;
        }
    });
    let Some(sides) = marks.region else {
        return;
    };
    if let Some(sides) = metered::sides(ui, "Region", sides.map(f64::from)) {
        marks.region = Some(sides.map(|v| v as f32));
    }
}

fn options(ui: &mut Ui, session: &mut Session, advice: &Advice) {
    fields::heading(ui, "Glass that would do");
    if !session.advice_holds() {
        fields::note(
            ui,
            "The look has changed since this was worked out: search again.",
        );
    }
    fields::note(ui, &advice.answer.bare.text);
    if let Some(nothing) = &advice.answer.nothing {
        ui.add(egui::Label::new(nothing).wrap());
    }
    let used = session.option_in_use();
    for (i, option) in advice.answer.options.iter().enumerate() {
        let frame = egui::Frame::new()
            .fill(theme::RAISED)
            .corner_radius(6)
            .inner_margin(8);
        let pressed = frame
            .show(ui, |ui| one(ui, i, option, used == Some(i)))
            .inner;
        if pressed {
            session.use_option(i);
        }
    }
}

/// One option; true where it is to be used.
fn one(ui: &mut Ui, index: usize, option: &Suggestion, used: bool) -> bool {
    ui.set_width(ui.available_width());
    for g in &option.glass {
        ui.label(RichText::new(format!("{}: {}", g.place, g.name)).color(theme::TEXT));
        ui.add(egui::Label::new(RichText::new(&g.words).small().color(theme::SECOND)).wrap());
    }
    let residual = option.score.residual.get();
    let left = format!(
        "Reaches {}, {} from the target; takes {:.2} stop from the rest, uneven by {:.2}.",
        fields::stops(option.level.get()),
        fields::stops(residual),
        option.score.overshoot.get(),
        option.score.uneven.get(),
    );
    ui.add(egui::Label::new(RichText::new(left).small()).wrap());
    if let Some(line) = &option.line {
        ui.add(egui::Label::new(RichText::new(line).small()).wrap());
    }
    let word = if used { "In the rig" } else { "Use this" };
    let name = format!("Option {}: {word}", index + 1);
    fields::segment(ui, used, word, &name).clicked() && !used
}

fn order(ui: &mut Ui, session: &mut Session, advice: &Advice) {
    fields::heading(ui, "Order of the look's own glass");
    let places = &advice.places;
    ui.add(egui::Label::new(&places.text).wrap());
    for g in &places.glass {
        let to = if g.now == g.best {
            "stays".to_owned()
        } else {
            format!("better in {}", g.best.to_string().to_lowercase())
        };
        ui.label(RichText::new(format!("{}, {}: {to}", g.now, g.glass)).color(theme::TEXT));
        for (_, reason) in &g.reasons {
            ui.add(egui::Label::new(RichText::new(reason).small().color(theme::SECOND)).wrap());
        }
    }
    if !places.well && ui.button("Use this order").clicked() {
        session.use_order();
    }
}
