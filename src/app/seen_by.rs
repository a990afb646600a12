//! What the frame was seen by, and how much of it is taken: each value with where it came from.

use super::fields::{self, Number};
use super::theme;
use crate::recipe::{Recipe, SeenBy, Take};
use crate::rig::format::Format;
use crate::session::Session;
use crate::units::{Degrees, Extent};
use egui::{RichText, Ui};

const FOCAL: Number = Number::new(0.5, 1200.0, 0.5, 2).suffix(" mm");
const FIELD: Number = Number::new(0.1, 170.0, 0.1, 1).suffix("°");

/// Shows what is known of it, and takes what is told.
pub(super) fn show(ui: &mut Ui, session: &mut Session) {
    let Some(seen) = session.seen() else { return };
    ui.add_space(4.0);
    ui.label(RichText::new("Seen by").color(theme::TEXT));
    let told = session.recipe().frame.seen_by.unwrap_or_default();
    // The sensor, the lens, its equivalent, the field: in the order of the rows.
    let rows = seen.rows();
    let open: Vec<String> = rows
        .iter()
        .map(|(_, value, from)| match value {
            Some(value) => format!("{value}, {}", from.word()),
            None => from.word().to_owned(),
        })
        .collect();
    sensor(ui, session, &told, &open[0]);
    let mm = |v: f64| Some(Extent::clamped(v));
    let start = seen.focal_mm.value.map_or(35.0, Extent::get);
    let words = ("Seen at", "The focal length that the frame was seen at.");
    let now = told.focal_mm.map(Extent::get);
    if let Some(v) = fields::optional(ui, words, FOCAL, now, (&open[1], start)) {
        tell(session, "Seen at", |s| s.focal_mm = v.and_then(mm));
    }
    let start = seen.focal_35_mm.value.map_or(28.0, Extent::get);
    let words = (
        "In 36 × 24",
        "The focal length that takes in as much from corner to corner on 36 × 24 mm.",
    );
    let now = told.focal_35_mm.map(Extent::get);
    if let Some(v) = fields::optional(ui, words, FOCAL, now, (&open[2], start)) {
        tell(session, "Seen in 36 × 24 terms", |s| {
            s.focal_35_mm = v.and_then(mm);
        });
    }
    let start = seen.field_deg.value.map_or(60.0, Degrees::get);
    let words = (
        "Seen across",
        "What the frame takes in from its left to its right.",
    );
    let now = told.field_deg.map(Degrees::get);
    if let Some(v) = fields::optional(ui, words, FIELD, now, (&open[3], start)) {
        tell(session, "Seen across", |s| {
            s.field_deg = v.map(Degrees::clamped);
        });
    }
    let rest: Vec<String> = rows[4..]
        .iter()
        .zip(&open[4..])
        .filter(|((_, value, _), _)| value.is_some())
        .map(|((name, ..), words)| format!("{} {words}.", fields::capital(name)))
        .collect();
    if !rest.is_empty() {
        fields::note(ui, &rest.join(" "));
    }
    take(ui, session);
    match session.framing() {
        Some(Ok(framing)) => {
            if let Some(line) = framing.line() {
                fields::note(ui, &format!("{}.", fields::capital(line)));
            }
        }
        Some(Err(e)) => {
            let text = format!("No picture: {e}.");
            ui.label(RichText::new(text).small().color(theme::TEXT));
        }
        None => {}
    }
}

/// The sensor that the frame was seen on, by its format.
fn sensor(ui: &mut Ui, session: &mut Session, told: &SeenBy, open: &str) {
    let format = told.sensor_mm.map(Format::of);
    let mut options = vec![(None, fields::capital(open))];
    if told.sensor_mm.is_some() {
        options[0].1 = "Not told".to_owned();
    }
    options.extend(Format::ALL.iter().map(|f| (Some(f.key), f.name.to_owned())));
    // Sides that are no format's are shown and not offered.
    let chosen = match format {
        None => Some(None),
        Some(Some(f)) => Some(Some(f.key)),
        Some(None) => {
            let [w, h] = told.sensor_mm.map_or([0.0; 2], |s| s.map(Extent::get));
            let own = format!("{} × {} mm", fields::trimmed(w, 2), fields::trimmed(h, 2));
            options.push((Some("custom"), own));
            Some(Some("custom"))
        }
    };
    let help = "The sensor that the frame was seen on.";
    if let Some(key) = fields::choice(ui, "Seen on", help, &options, chosen) {
        let sides = key.and_then(|k| Format::ALL.iter().find(|f| f.key == k));
        let sides = sides.map(Format::sensor_mm);
        tell(session, "Seen on", |s| s.sensor_mm = sides);
    }
}

fn take(ui: &mut Ui, session: &mut Session) {
    let options = [
        (Take::Planned, "The planned part".to_owned()),
        (Take::Whole, "All of it".to_owned()),
    ];
    let now = session.recipe().frame.take;
    let help = "How much of the frame is the planned picture: the part that the planned camera would see, where \
                it is known what the frame was seen by, or all of it as it stands.";
    if let Some(t) = fields::choice(ui, "Take", help, &options, Some(now)) {
        session.change("Part of the frame", None, |r| {
            r.frame.take = t;
            Ok(())
        });
    }
}

/// Sets what is told of the camera; nothing told is written as nothing.
fn tell(session: &mut Session, label: &str, make: impl FnOnce(&mut SeenBy)) {
    session.change(label, Some(label), |r: &mut Recipe| {
        let mut told = r.frame.seen_by.unwrap_or_default();
        make(&mut told);
        r.frame.seen_by = (told != SeenBy::default()).then_some(told);
        Ok(())
    });
}
