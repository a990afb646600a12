//! The rig's figures as text and numbers: what the camera takes in, what the glass costs, what makes it
//! good, what it does to colour, what the corners see, and how each piece stands.

use super::{fields, theme};
use crate::handover::words;
use crate::rig::ledger::{Exposure, Turned};
use crate::rig::vignette::LONGEST;
use crate::session::{PlaceReport, Report, Session};
use crate::units::Stops;
use egui::{RichText, ScrollArea, Ui, WidgetInfo, vec2};

/// Shows the page.
pub(super) fn show(ui: &mut Ui, session: &Session) {
    ui.label(RichText::new("Figures").heading());
    let Some(report) = session.report() else {
        fields::note(ui, "Being worked out…");
        return;
    };
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        field(ui, report);
        light(ui, session, report);
        colour(ui, report);
        corners(ui, report);
        for place in &report.places {
            piece(ui, session, place);
        }
        whole(ui, report);
        ui.add_space(8.0);
    });
}

/// A name and its value on one line, one label to a screen reader.
fn row(ui: &mut Ui, name: &str, value: &str) {
    let width = ui.available_width();
    let font = egui::FontId::proportional(13.0);
    let value = ui
        .painter()
        .layout(value.to_owned(), font.clone(), theme::TEXT, 0.62 * width);
    let name_text = ui.painter().layout(
        name.to_owned(),
        font,
        theme::SECOND,
        (width - value.size().x - 10.0).max(60.0),
    );
    let height = value.size().y.max(name_text.size().y) + 4.0;
    let (rect, response) = ui.allocate_exact_size(vec2(width, height), egui::Sense::hover());
    let told = format!("{name}: {}", value.text());
    response.widget_info(|| WidgetInfo::labeled(egui::accesskit::Role::Label, true, &told));
    let right = rect.right_top() + vec2(-value.size().x, 2.0);
    ui.painter()
        .galley(rect.left_top() + vec2(0.0, 2.0), name_text, theme::SECOND);
    ui.painter().galley(right, value, theme::TEXT);
}

fn sentence(ui: &mut Ui, text: &str) {
    ui.add(egui::Label::new(RichText::new(text).small().color(theme::SECOND)).wrap());
}

fn field(ui: &mut Ui, report: &Report) {
    let f = &report.field;
    let (across, up) = (f.across.get(), f.up.get());
    fields::heading(ui, "Field of view");
    row(ui, "Across × up", &format!("{across:.1}° × {up:.1}°"));
    row(ui, "Corner to corner", &format!("{:.1}°", f.diagonal.get()));
    let (depth, estimated) = report.pupil_depth;
    let word = if estimated { ", estimated" } else { "" };
    row(
        ui,
        "Pupil behind the front",
        &format!("{depth:.0} mm{word}"),
    );
    if let Some(framing) = &report.framing {
        sentence(ui, &format!("{}.", fields::capital(framing)));
    }
}

fn light(ui: &mut Ui, session: &Session, report: &Report) {
    fields::heading(ui, "Light");
    row(ui, "Lost, modelled", &fields::lost(report.loss));
    let tables = if report.untabled {
        "Tables, else modelled"
    } else {
        "Lost, by the tables"
    };
    row(ui, tables, &fields::lost(report.nominal));
    let Some(e) = report.exposure else {
        sentence(
            ui,
            "Nothing passes: no stop, index or light makes that good.",
        );
        return;
    };
    made_good(ui, session, report, e);
}

fn made_good(ui: &mut Ui, session: &Session, report: &Report, e: Exposure) {
    let mark = if report.t_stops { "T " } else { "f/" };
    let camera = &session.recipe().camera;
    row(ui, "Filter factor", &format!("{:.3}", e.factor));
    let stop = format!("{mark}{}", words::exact(e.stop_to_set));
    row(ui, "Stop to set", &stop);
    if e.stops_missing.get() > 0.005 {
        let missing = format!("{} missing", e.stops_missing.counted());
        row(ui, "The lens opens too little", &missing);
    }
    let index = format!("ISO {:.0}, not {}", e.iso_to_set, camera.iso);
    row(ui, "Or the index", &index);
    row(ui, "Or the light", &format!("{:.2} times", e.factor));
    if camera.internal_nd.get() > 0.0 {
        let density = camera.internal_nd.get();
        sentence(
            ui,
            &format!(
                "ND {density} in the camera stands behind the lens: metered with it, and not counted."
            ),
        );
    }
}

fn colour(ui: &mut Ui, report: &Report) {
    if report.turns.is_empty() {
        return;
    }
    fields::heading(ui, "Colour");
    if let Some(s) = report.nominal_shift {
        row(ui, "Shift by the numbers", &mireds(s.get()));
    }
    if let Some(s) = report.shift {
        row(ui, "Shift, modelled", &mireds(s.get()));
    }
    for turn in &report.turns {
        row(
            ui,
            &format!("{:.0} K becomes", turn.from.get()),
            &turned(turn),
        );
    }
}

fn mireds(shift: f64) -> String {
    let text = format!("{shift:+.1} mireds").replace('-', "\u{2212}");
    text.replace(".0 ", " ")
}

fn turned(turn: &Turned) -> String {
    let Some(white) = turn.by_spectrum.through else {
        return "no white".to_owned();
    };
    let tint = match white.duv {
        _ if !white.is_off_the_line() => "",
        d if d > 0.0 => ", green",
        _ => ", magenta",
    };
    format!("{:.0} K{tint}", white.kelvin.get())
}

fn corners(ui: &mut Ui, report: &Report) {
    fields::heading(ui, "Corners");
    let v = &report.vignette;
    match (v.starts_deg, v.corner) {
        (_, None) => row(ui, "Vignette", "corners are black"),
        (None, Some(_)) => row(ui, "Vignette", "none"),
        (Some(from), Some(corner)) => {
            row(ui, "Vignette from", &format!("{from:.1}° off the axis"));
            row(ui, "Worst corner", &corner.counted());
        }
    }
    if let Some(cause) = v.cause {
        row(ui, "Most of it", &cause.to_string());
    }
    match report.widest_focal_mm {
        Some(f) => row(ui, "Widest lens that clears", &format!("{f:.1} mm")),
        None if v.cause.is_some() => row(
            ui,
            "Widest lens that clears",
            &format!("none to {LONGEST:.0} mm"),
        ),
        None => {}
    }
    for r in &report.remedies {
        let left = match (r.starts_deg, r.corner) {
            (Some(_), Some(corner)) => format!("leaves {}", corner.counted()),
            _ => "ends it".to_owned(),
        };
        sentence(ui, &format!("{}: {left}.", r.text.trim_end_matches('.')));
    }
}

fn piece(ui: &mut Ui, session: &Session, p: &PlaceReport) {
    let name = session
        .piece(p.place)
        .map_or_else(String::new, |piece| format!(", {}", piece.name()));
    fields::heading(ui, &format!("{}{name}", p.place));
    let tables = p.nominal.map_or_else(
        || words::NO_NUMBER.to_owned(),
        |n| format!("{:.2}", n.get()),
    );
    row(
        ui,
        "Modelled, tables",
        &format!("{}, {tables}", fields::lost(p.loss)),
    );
    if p.loss.get() < Stops::HIGH {
        row(ui, "Filter factor", &format!("{:.3}", p.loss.factor()));
    }
    if let Some(s) = p.nominal_shift {
        row(ui, "Shift", &mireds(s.get()));
    }
    row(
        ui,
        "Covers the picture",
        if p.covers { "yes" } else { "no" },
    );
    let [low, high] = p.slide_range_mm;
    if high > low {
        let range = format!("{low:.1} to {high:.1} mm").replace('-', "\u{2212}");
        row(ui, "May slide", &range);
    }
    if let Some(part) = p.edge_part {
        let wide = format!("{:.0} % of the height", 100.0 * part);
        row(ui, &fields::capital(p.edge_word), &wide);
    }
    if let Some(error) = p.edge_error.filter(|e| *e >= 0.005) {
        row(
            ui,
            "Drawn too narrow behind focus",
            &format!("by up to {:.0} %", 100.0 * error),
        );
    }
    row(ui, "Weighs about", &format!("{:.0} g", p.weight.get()));
}

fn whole(ui: &mut Ui, report: &Report) {
    if report.places.is_empty() {
        return;
    }
    fields::heading(ui, "All of it");
    row(ui, "Weighs about", &format!("{:.0} g", report.weight.get()));
    if report.oblique.get() >= 0.005 {
        let darker = format!("{:.2} stop more", report.oblique.get());
        row(ui, "Dyes take at the corners", &darker);
        sentence(
            ui,
            "Dyed glass is drawn as on the axis: the corners will be that much darker.",
        );
    }
}
