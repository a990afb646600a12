//! The controls of one piece of glass and of where it stands, made from what its family says it takes.

use super::fields::{self, Number};
use super::icons::{self, Icon};
use super::light_path::{Act, RingField, StageField};
use super::theme;
use crate::glass::control::{Kind, after_number};
use crate::rig::size::Size;
use crate::rig::{Mount, Mounted, Place};
use crate::session::{Held, Report, Session, Setting, Wanted};
use egui::{RichText, Slider, Ui, vec2};
use serde_json::Value;

/// A choice of more words than this, or longer ones, is a list.
const SEGMENTS: usize = 5;
const SEGMENT_LETTERS: usize = 26;

/// Shows what can be set on the glass in a place.
pub(super) fn show(
    ui: &mut Ui,
    session: &Session,
    held: &Held,
    report: Option<&Report>,
    acts: &mut Vec<Act>,
) {
    let Some(glass) = &held.piece else { return };
    let family = glass.family();
    let place = held.place;
    ui.add_space(4.0);
    ui.label(RichText::new(family.purpose).small().color(theme::SECOND));
    if !family.strengths.is_empty() {
        ui.label(RichText::new("Strength").color(theme::SECOND));
        let rungs: Vec<_> = family
            .strengths
            .iter()
            .map(|s| (*s, s.to_string()))
            .collect();
        if let Some(s) = fields::segments(ui, "Strength", &rungs, glass.strength()) {
            acts.push(Act::Strength(place, s));
        }
    }
    for setting in &held.settings {
        control(ui, place, setting, acts);
    }
    let mounted = session.setup().glass.iter().find(|m| m.place == place);
    if let Some(mounted) = mounted {
        ui.separator();
        standing(ui, mounted, report, acts);
    }
    if let Some(figures) = report.and_then(|r| r.place(place)) {
        ui.separator();
        let loss = fields::loss(figures.loss.get());
        let line = match figures.nominal {
            Some(n) => {
                let nominal = fields::loss(n.get());
                format!("Loses {loss} stop as modelled, {nominal} by the trade's tables.")
            }
            None => format!("Loses {loss} stop as modelled."),
        };
        fields::note(ui, &line);
        if let Some(part) = figures.edge_part {
            let line = format!(
                "Its {} is {:.0} % of the picture's height wide.",
                figures.edge_word,
                100.0 * part
            );
            fields::note(ui, &line);
        }
    }
    fields::note(ui, family.honesty);
    ui.add_space(2.0);
}

fn control(ui: &mut Ui, place: Place, setting: &Setting, acts: &mut Vec<Act>) {
    let c = setting.control;
    let mut set = |value| acts.push(Act::Option(place, c.name, c.label, value));
    match c.kind {
        Kind::Number {
            unit,
            low,
            high,
            default,
            stock,
        } => {
            let value = setting.value.as_ref().and_then(Value::as_f64);
            let new = number(ui, setting, (low, high, unit), value, default.is_none());
            if let Some(new) = new {
                set(new.map(Value::from));
            }
            if !stock.is_empty() {
                let stock: Vec<_> = stock.iter().map(|v| (*v, v.to_string())).collect();
                if let Some(v) = fields::segments(ui, c.label, &stock, value) {
                    set(Some(Value::from(v)));
                }
            }
        }
        Kind::Choice { words, .. } => {
            let now = setting.value.as_ref().and_then(Value::as_str);
            let options: Vec<(&str, String)> =
                words.iter().map(|w| (*w, fields::capital(w))).collect();
            let letters: usize = words.iter().map(|w| w.len()).sum();
            let now = words.iter().copied().find(|w| Some(*w) == now);
            let picked = if words.len() <= SEGMENTS && letters <= SEGMENT_LETTERS {
                ui.label(RichText::new(c.label).color(theme::SECOND))
                    .on_hover_text(c.help);
                fields::segments(ui, c.label, &options, now)
            } else {
                fields::choice(ui, c.label, c.help, &options, now)
            };
            if let Some(word) = picked {
                set(Some(Value::from(word)));
            }
        }
        Kind::Switch { .. } => {
            let mut on = setting
                .value
                .as_ref()
                .and_then(Value::as_bool)
                .unwrap_or_default();
            if ui
                .checkbox(&mut on, c.label)
                .on_hover_text(c.help)
                .changed()
            {
                set(Some(Value::from(on)));
            }
        }
        Kind::File { .. } => {
            let loaded = setting.value.is_some();
            let words = if loaded { "Replace…" } else { "Open…" };
            let (open, clear) = fields::row(ui, c.label, c.help, |ui| {
                // The buttons carry names of their own; the state is what the label tells of.
                let name = |verb: &str| format!("{verb} {}", c.label.to_lowercase());
                let open = ui.button(words).on_hover_text(c.help);
                let open = open.accessible_name(name(words)).clicked();
                let clear =
                    loaded && icons::button(ui, Icon::Remove, &name("Remove"), true).clicked();
                let state = if loaded { "loaded" } else { "not loaded" };
                let state = ui.label(RichText::new(state).color(theme::SECOND));
                (state, (open, clear))
            });
            if open {
                acts.push(Act::File(Wanted { place, control: c }));
            } else if clear {
                acts.push(Act::Option(place, c.name, c.label, None));
            }
        }
    }
}

/// A number of a family: a slider and its value. Some(None) where it is to be left open.
fn number(
    ui: &mut Ui,
    setting: &Setting,
    (low, high, unit): (f64, f64, &str),
    value: Option<f64>,
    may_be_open: bool,
) -> Option<Option<f64>> {
    let c = setting.control;
    let Some(value) = value else {
        return fields::row(ui, c.label, c.help, |ui| {
            let button = ui.button("Set");
            let start = 0.0_f64.clamp(low, high);
            let new = button.clicked().then_some(Some(start));
            (button, new)
        });
    };
    let mut result = None;
    ui.horizontal(|ui| {
        ui.label(RichText::new(c.label).color(theme::SECOND))
            .on_hover_text(c.help);
        if may_be_open && setting.set {
            let name = format!("Leave {} open", c.label.to_lowercase());
            if icons::button(ui, Icon::Remove, &name, true).clicked() {
                result = Some(None);
            }
        }
    });
    let mut now = value;
    let suffix = after_number(unit);
    ui.scope(|ui| {
        theme::field(ui);
        ui.spacing_mut().slider_width = (ui.available_width() - 92.0).max(60.0);
        ui.spacing_mut().interact_size = vec2(78.0, theme::TARGET);
        let slider = Slider::new(&mut now, low..=high)
            .suffix(suffix)
            .custom_formatter(|v, _| fields::trimmed(v, 2));
        let response = ui
            .add(slider)
            .on_hover_text(c.help)
            .accessible_name(c.label);
        if response.changed() && (now - value).abs() > f64::EPSILON {
            // Two decimals are what the slider shows; more would be noise of the mouse.
            result = Some(Some((now * 100.0).round() / 100.0));
        }
    });
    result
}

const TURN: Number = Number::new(-180.0, 180.0, 0.5, 1).suffix("°");
const GAP: Number = Number::new(0.0, 400.0, 0.5, 1).suffix(" mm");

fn standing(ui: &mut Ui, mounted: &Mounted, report: Option<&Report>, acts: &mut Vec<Act>) {
    let place = mounted.place;
    let figures = report.and_then(|r| r.place(place));
    match mounted.mount {
        Mount::Tray { size, slide, tilt } => {
            let mut act = |field| acts.push(Act::Stage(place, field));
            let sizes: Vec<_> = Size::ALL
                .iter()
                .map(|s| (*s, s.name().to_owned()))
                .collect();
            if let Some(s) = fields::choice(ui, "Size", "Size of the glass", &sizes, Some(size)) {
                act(StageField::Size(s));
            }
            if size.is_round() {
                fields::row(ui, "Slide", "", |ui| {
                    let text = RichText::new("round glass cannot slide").color(theme::SECOND);
                    (ui.label(text), ())
                });
            } else {
                let reach = size.sides_mm()[1];
                let kind = Number::new(-reach, reach, 0.25, 1).suffix(" mm");
                let help = slide_help(figures.map(|f| f.slide_range_mm));
                if let Some(v) = fields::number(ui, "Slide", &help, kind, slide.get()) {
                    act(StageField::Slide(v));
                }
            }
            let help =
                "Turned counter-clockwise as seen in the picture; at 0 a grad is dense at the top.";
            if let Some(v) = fields::number(ui, "Turn", help, TURN, mounted.turn.get()) {
                act(StageField::Turn(v));
            }
            let kind = Number::new(-15.0, 15.0, 0.1, 1).suffix("°");
            let help = "The stage tipped against ghosts.";
            if let Some(v) = fields::number(ui, "Tilt", help, kind, tilt.get()) {
                act(StageField::Tilt(v));
            }
            let help = "From the lens's front glass to this one.";
            if let Some(v) = fields::number(ui, "Distance", help, GAP, mounted.gap.get()) {
                act(StageField::Gap(v));
            }
        }
        Mount::Ring { thread, clear } => {
            let mut act = |field| acts.push(Act::Ring(place, field));
            let kind = Number::new(20.0, 200.0, 0.5, 1).suffix(" mm");
            if let Some(v) =
                fields::number(ui, "Thread", "Diameter of the thread.", kind, thread.get())
            {
                act(RingField::Thread(v));
            }
            let kind = Number::new(10.0, thread.get() - 0.1, 0.5, 1).suffix(" mm");
            let help = "Diameter of the clear opening.";
            if let Some(v) = fields::number(ui, "Opening", help, kind, clear.get()) {
                act(RingField::Clear(v));
            }
            let help =
                "Turned counter-clockwise as seen in the picture; at 0 a grad is dense at the top.";
            if let Some(v) = fields::number(ui, "Turn", help, TURN, mounted.turn.get()) {
                act(RingField::Turn(v));
            }
            let help = "From the lens's front glass to this one.";
            if let Some(v) = fields::number(ui, "Distance", help, GAP, mounted.gap.get()) {
                act(RingField::Gap(v));
            }
        }
    }
    if figures.is_some_and(|f| !f.covers) {
        ui.label(
            RichText::new("Does not cover the frame's corners.")
                .small()
                .color(theme::CAUTION),
        );
    }
}

fn slide_help(range: Option<[f64; 2]>) -> String {
    let what = "At 0 the edge of a grad, or the middle of a stripe, lies on the optical axis; positive \
         slides the dense side in.";
    match range {
        Some([low, high]) if high > low => {
            format!("{what} The glass covers the frame from {low:.0} to {high:.0} mm.")
        }
        _ => what.to_owned(),
    }
}
