//! Labelled fields, all on the same two columns.

use super::theme;
pub(super) use crate::handover::words::capital;
use crate::units::Stops;
pub(super) use crate::units::trimmed;
use egui::{DragValue, Label, Response, RichText, Sense, Ui, vec2};

/// Width of the labels' column.
const LABELS: f32 = 98.0;

/// What a number field shows and takes.
#[derive(Debug, Clone, Copy)]
pub(super) struct Number {
    pub(super) low: f64,
    pub(super) high: f64,
    pub(super) speed: f64,
    pub(super) decimals: usize,
    pub(super) prefix: &'static str,
    pub(super) suffix: &'static str,
}

impl Number {
    pub(super) const fn new(low: f64, high: f64, speed: f64, decimals: usize) -> Self {
        Self {
            low,
            high,
            speed,
            decimals,
            prefix: "",
            suffix: "",
        }
    }

    pub(super) const fn suffix(self, suffix: &'static str) -> Self {
        Self { suffix, ..self }
    }

    pub(super) const fn prefix(self, prefix: &'static str) -> Self {
        Self { prefix, ..self }
    }

    /// The field; `value` is the new value where it was changed.
    pub(super) fn show(self, ui: &mut Ui, value: f64, width: f32) -> (Response, Option<f64>) {
        let mut now = value;
        let drag = DragValue::new(&mut now)
            .range(self.low..=self.high)
            .clamp_existing_to_range(false)
            .speed(self.speed)
            .custom_formatter(|v, _| trimmed(v, self.decimals))
            .prefix(self.prefix)
            .suffix(self.suffix)
            .update_while_editing(false);
        // What can be typed into looks like a field, not like a button.
        let response = ui
            .scope(|ui| {
                theme::field(ui);
                ui.add_sized([width, theme::TARGET], drag)
            })
            .inner;
        // The field shows fewer digits than the value has: only what was changed is taken.
        let changed = response.changed() && (now - value).abs() > f64::EPSILON;
        (response, changed.then_some(now))
    }
}

/// A label in its column and a field beside it, tied together for a screen reader.
pub(super) fn row<R>(
    ui: &mut Ui,
    label: &str,
    help: &str,
    field: impl FnOnce(&mut Ui) -> (Response, R),
) -> R {
    ui.horizontal(|ui| {
        let text = RichText::new(label).color(theme::SECOND);
        let (rect, space) = ui.allocate_exact_size(vec2(LABELS, theme::TARGET), Sense::hover());
        let mut column = ui.new_child(
            egui::UiBuilder::new()
                .max_rect(rect)
                .layout(egui::Layout::left_to_right(egui::Align::Center)),
        );
        let name = column.add(Label::new(text).truncate());
        if !help.is_empty() {
            space.on_hover_text(help);
        }
        let (response, result) = field(ui);
        response.labelled_by(name.id);
        result
    })
    .inner
}

/// A number beside its label.
pub(super) fn number(
    ui: &mut Ui,
    label: &str,
    help: &str,
    kind: Number,
    value: f64,
) -> Option<f64> {
    row(ui, label, help, |ui| {
        let width = ui.available_width();
        kind.show(ui, value, width)
    })
}

/// A number that may be left open: a tick, and the number while it is ticked. `open` is shown where
/// it is not; `start` is what ticking it sets. Some(None) where it was unticked.
pub(super) fn optional(
    ui: &mut Ui,
    (label, help): (&str, &str),
    kind: Number,
    value: Option<f64>,
    (open, start): (&str, f64),
) -> Option<Option<f64>> {
    row(ui, label, help, |ui| {
        let mut given = value.is_some();
        let tick = ui
            .checkbox(&mut given, "")
            .accessible_name(format!("{label}: set"));
        let mut result = tick.changed().then(|| given.then_some(start));
        match value {
            Some(v) => {
                let width = ui.available_width();
                let (response, new) = kind.show(ui, v, width);
                if let Some(new) = new {
                    result = Some(Some(new));
                }
                (response, result)
            }
            None => {
                let text = RichText::new(open).color(theme::SECOND);
                (ui.add(Label::new(text).truncate()), result)
            }
        }
    })
}

/// One of a few words, as a row of buttons that are pressed or not.
pub(super) fn segments<T: Copy + PartialEq>(
    ui: &mut Ui,
    name: &str,
    options: &[(T, String)],
    chosen: Option<T>,
) -> Option<T> {
    let mut picked = None;
    ui.horizontal_wrapped(|ui| {
        ui.spacing_mut().item_spacing = vec2(4.0, 4.0);
        for (value, text) in options {
            let on = chosen == Some(*value);
            if segment(ui, on, text, &format!("{name} {text}")).clicked() && !on {
                picked = Some(*value);
            }
        }
    });
    picked
}

/// A button that is pressed or not: told by a border and an underline as well as by its fill.
pub(super) fn segment(ui: &mut Ui, on: bool, text: &str, name: &str) -> Response {
    let button = egui::Button::new(text)
        .selected(on)
        .min_size(vec2(theme::TARGET, theme::TARGET));
    let response = ui.add(button);
    if on {
        let r = response.rect;
        let line = [
            r.left_bottom() + vec2(5.0, -2.5),
            r.right_bottom() + vec2(-5.0, -2.5),
        ];
        ui.painter()
            .line_segment(line, egui::Stroke::new(2.0, theme::ACCENT));
    }
    response.accessible_name(name)
}

/// A choice from a list, beside its label.
pub(super) fn choice<T: Copy + PartialEq>(
    ui: &mut Ui,
    label: &str,
    help: &str,
    options: &[(T, String)],
    chosen: Option<T>,
) -> Option<T> {
    row(ui, label, help, |ui| {
        let mut picked = None;
        let text = options.iter().find(|(v, _)| chosen == Some(*v));
        let shown = text.map_or("Not set", |(_, t)| t.as_str());
        let width = ui.available_width();
        let combo = egui::ComboBox::from_id_salt(label)
            .width(width)
            .selected_text(shown)
            .truncate()
            .show_ui(ui, |ui| {
                for (value, text) in options {
                    let on = chosen == Some(*value);
                    if ui.selectable_label(on, text.as_str()).clicked() && !on {
                        picked = Some(*value);
                    }
                }
            });
        (combo.response, picked)
    })
}

/// A heading within a panel.
pub(super) fn heading(ui: &mut Ui, text: &str) {
    ui.add_space(6.0);
    ui.label(RichText::new(text).heading().color(theme::TEXT));
}

/// A note under fields.
pub(super) fn note(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).small().color(theme::SECOND));
}

/// A loss in stops, never less than nothing to the eye.
pub(super) fn loss(value: f64) -> String {
    format!("{:.2}", value.max(0.0))
}

/// A loss with its unit, or that nothing is left.
pub(super) fn lost(value: Stops) -> String {
    if value.get() >= Stops::HIGH {
        "everything".to_owned()
    } else {
        value.counted()
    }
}

/// A signed number of stops, with a true minus.
pub(super) fn stops(value: f64) -> String {
    // Light that is not there has no level.
    if value <= -30.0 {
        return "no light".to_owned();
    }
    let rounded = (value * 100.0).round() / 100.0;
    if rounded == 0.0 {
        "0.00".to_owned()
    } else if rounded < 0.0 {
        format!("\u{2212}{:.2}", -rounded)
    } else {
        format!("+{rounded:.2}")
    }
}

#[cfg(test)]
mod tests {
    use super::{stops, trimmed};

    #[test]
    fn numbers_carry_no_needless_digits() {
        assert_eq!(trimmed(2.8, 2), "2.8", "as engraved");
        assert_eq!(trimmed(24.89, 2), "24.89", "as given");
        assert_eq!(trimmed(3200.0, 0), "3200", "noughts that count stay");
        assert_eq!(trimmed(-0.001, 1), "0", "no minus nought");
    }

    #[test]
    fn stops_are_signed_and_zero_is_not() {
        assert_eq!(stops(0.504), "+0.50", "over key");
        assert_eq!(stops(-1.0), "\u{2212}1.00", "under key, with a true minus");
        assert_eq!(stops(-0.001), "0.00", "no minus nought");
        assert_eq!(stops(-1000.0), "no light", "black");
    }
}
