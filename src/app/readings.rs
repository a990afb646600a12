//! The readings along the bottom: the spot, the light lost and the stop to set, the advisories.

use super::{fields, icons, room, theme};
use crate::engine::Used;
use crate::meters::spot::spot;
use crate::rig::advisory::Advisory;
use crate::session::{Ran, Report, Session, Shown};
use egui::{Align, FontId, Layout, RichText, ScrollArea, Sense, Ui, Vec2, WidgetInfo, vec2};
use std::sync::Arc;

/// Height of the panel's contents.
pub(super) const HEIGHT: f32 = 116.0;

/// Shows the readings.
pub(super) fn show(ui: &mut Ui, session: &Session, at: (Vec2, bool)) {
    ui.horizontal_top(|ui| {
        ui.set_min_height(HEIGHT);
        ui.spacing_mut().item_spacing.x = 0.0;
        column(ui, 262.0, |ui| spots(ui, session, at));
        rule(ui);
        column(ui, 226.0, |ui| light(ui, session.report()));
        rule(ui);
        let rest = ui.available_width();
        column(ui, rest, |ui| advisories(ui, session.report()));
    });
}

fn column(ui: &mut Ui, width: f32, content: impl FnOnce(&mut Ui)) {
    ui.allocate_ui_with_layout(vec2(width, HEIGHT), Layout::top_down(Align::Min), |ui| {
        ui.set_width(width);
        ui.spacing_mut().item_spacing = vec2(8.0, 2.0);
        content(ui);
    });
}

fn rule(ui: &mut Ui) {
    let (rect, _) = ui.allocate_exact_size(vec2(25.0, HEIGHT), Sense::hover());
    let stroke = egui::Stroke::new(1.0, theme::LINE);
    ui.painter().vline(rect.center().x, rect.y_range(), stroke);
}

fn title(ui: &mut Ui, text: &str) {
    ui.label(RichText::new(text).small().color(theme::SECOND));
    ui.add_space(2.0);
}

/// A figure after its name; one line for a screen reader.
fn figure(ui: &mut Ui, name: &str, value: &str, size: f32) {
    let (rect, response) =
        ui.allocate_exact_size(vec2(ui.available_width(), size + 8.0), Sense::hover());
    response.widget_info(|| {
        WidgetInfo::labeled(
            egui::accesskit::Role::Label,
            true,
            format!("{name}: {value}"),
        )
    });
    let painter = ui.painter();
    let middle = rect.left_center();
    let font = FontId::proportional(14.0);
    painter.text(middle, egui::Align2::LEFT_CENTER, name, font, theme::SECOND);
    let font = FontId::monospace(size);
    painter.text(
        rect.right_center(),
        egui::Align2::RIGHT_CENTER,
        value,
        font,
        theme::TEXT,
    );
}

fn spots(ui: &mut Ui, session: &Session, (at, pointed): (Vec2, bool)) {
    let place = if pointed {
        "Spot under the cursor"
    } else {
        "Spot in the middle of the view"
    };
    title(ui, &format!("{place}, stops against key"));
    let read = |shown: Option<&Arc<Shown>>| {
        let light = shown?.light()?;
        Some(spot(light, f64::from(at.x), f64::from(at.y), room::SPOT).get())
    };
    let (bare, glass) = (read(session.metered_bare()), read(session.metered_glass()));
    let none = || "–".to_owned();
    let text = |v: Option<f64>| v.map_or_else(none, fields::stops);
    figure(ui, "Bare", &text(bare), 17.0);
    figure(ui, "Glass", &text(glass), 17.0);
    let difference = bare.zip(glass).map(|(b, g)| g - b);
    figure(ui, "Difference", &text(difference), 17.0);
    if let Some(ran) = session.ran() {
        engine(ui, ran);
    }
}

/// Which executor worked the picture out.
fn engine(ui: &mut Ui, ran: &Ran) {
    let words = match ran.used {
        Used::Cpu => "Worked out on the processor",
        Used::Gpu => "Worked out on graphics hardware",
        Used::Reference => "Worked out by the reference",
    };
    let label = ui.label(RichText::new(words).small().color(theme::SECOND));
    if let Some(reason) = &ran.passed_over {
        label.on_hover_text(format!("Graphics hardware was passed over: {reason}."));
    }
}

fn light(ui: &mut Ui, report: Option<&Report>) {
    title(ui, "Light lost and stop to set");
    let Some(report) = report else {
        fields::note(ui, "Being worked out…");
        return;
    };
    let mark = if report.t_stops { "T " } else { "f/" };
    figure(ui, "Light lost", &fields::lost(report.loss), 17.0);
    let tables = if report.untabled {
        "Tables or model"
    } else {
        "By the tables"
    };
    figure(ui, tables, &fields::lost(report.nominal), 14.0);
    let Some(e) = report.exposure else {
        figure(ui, "Stop to set", "–", 17.0);
        fields::note(ui, "Nothing passes.");
        return;
    };
    figure(
        ui,
        "Stop to set",
        &format!("{mark}{:.2}", e.stop_to_set),
        17.0,
    );
    // Of two that read the same, one is not there instead of the other.
    let marked = fields::trimmed(report.marked, 2);
    if fields::trimmed(e.stop_to_set, 2) != marked {
        fields::note(ui, &format!("instead of {mark}{marked}"));
    }
}

fn advisories(ui: &mut Ui, report: Option<&Report>) {
    let found: &[Advisory] = report.map_or(&[], |r| &r.advisories);
    title(ui, "Advisories");
    if report.is_some() && found.is_empty() {
        fields::note(ui, "Nothing to look out for.");
    }
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        for advisory in found {
            ui.horizontal_top(|ui| {
                let (rect, _) = ui.allocate_exact_size(vec2(18.0, 18.0), Sense::hover());
                icons::level(ui.painter(), rect.center(), advisory.level);
                let word = icons::level_word(advisory.level);
                let text = format!("{word}: {}", advisory.text);
                ui.add(egui::Label::new(RichText::new(text).color(theme::TEXT)).wrap())
                    .on_hover_text(advisory.explanation);
            });
        }
    });
}
