//! The set-up: the look's name, the frame, the camera, the light, and how the loss is made good.

use super::commands::Command;
use super::fields::{self, Number};
use super::icons::{self, Icon};
use super::{seen_by, shade, theme};
use crate::frame::Encoding;
use crate::recipe::{InputLut, Recipe};
use crate::rig::camera::{Compensate, CornerHalos, Outside};
use crate::rig::format::Format;
use crate::session::{Session, edit};
use crate::units::{Degrees, Extent, FNumber, Kelvin, Metres, Millimetres, Stops};
use egui::{RichText, ScrollArea, TextEdit, Ui};

const MM: Number = Number::new(1.0, 120.0, 0.1, 2).suffix(" mm");
const ASPECT: Number = Number::new(0.5, 4.0, 0.01, 2).suffix(":1");
const FOCAL: Number = Number::new(4.0, 1200.0, 0.5, 1).suffix(" mm");
const STOP: Number = Number::new(0.7, 64.0, 0.05, 2).prefix("f/");
const T_STOP: Number = Number::new(0.7, 64.0, 0.05, 2).prefix("T ");
const METRES: Number = Number::new(0.1, 500.0, 0.05, 2).suffix(" m");
const DEPTH: Number = Number::new(0.0, 600.0, 0.5, 1).suffix(" mm");
const KELVIN: Number = Number::new(1500.0, 20_000.0, 20.0, 0).suffix(" K");
const FROM: Number = Number::new(0.0, 90.0, 0.5, 1).suffix("°");
const LEVEL: Number = Number::new(-10.0, 10.0, 0.05, 2).suffix(" stops");

/// Shows the panel.
pub(super) fn show(ui: &mut Ui, session: &mut Session, todo: &mut Vec<Command>) {
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        look(ui, session);
        frame(ui, session, todo);
        camera(ui, session);
        light(ui, session);
        shade::show(ui, session);
        exposure(ui, session);
        ui.add_space(8.0);
    });
}

/// Sets one value of the look; changes of the same value that follow one another are undone together.
pub(super) fn set(session: &mut Session, label: &str, make: impl FnOnce(&mut Recipe)) {
    session.change(label, Some(label), |r| {
        make(r);
        Ok(())
    });
}

fn look(ui: &mut Ui, session: &mut Session) {
    ui.label(RichText::new("Look").heading());
    let mut name = session.recipe().name.clone();
    let new = fields::row(ui, "Name", "", |ui| {
        let width = ui.available_width();
        let edit = TextEdit::singleline(&mut name)
            .hint_text("New look")
            .desired_width(width);
        let response = ui.add(edit);
        let changed = response.changed();
        (response, changed)
    });
    if new {
        set(session, "Name", |r| r.name = name);
    }
    let mut note = session.recipe().note.clone();
    let name = ui.label(RichText::new("Note").color(theme::SECOND));
    let edit = TextEdit::multiline(&mut note)
        .hint_text("For whoever reads this next")
        .desired_rows(2)
        .desired_width(f32::INFINITY);
    if ui.add(edit).labelled_by(name.id).changed() {
        set(session, "Note", |r| r.note = note);
    }
}

fn frame(ui: &mut Ui, session: &mut Session, todo: &mut Vec<Command>) {
    fields::heading(ui, "Frame");
    match session.still() {
        Some(still) => {
            let name = egui::Label::new(RichText::new(&still.name).color(theme::TEXT)).truncate();
            ui.add(name);
            let [w, h] = still.size;
            fields::note(ui, &format!("{w} × {h}. {}.", fields::capital(&still.how)));
            if still.picture != still.size {
                let [w, h] = still.picture;
                fields::note(ui, &format!("The planned picture is {w} × {h} of it."));
            }
        }
        None => fields::note(ui, "No still is open."),
    }
    if ui.button(Command::OpenStill.label()).clicked() {
        todo.push(Command::OpenStill);
    }
    lut(ui, session, todo);
    let words: Vec<(Encoding, String)> = Encoding::ALL
        .iter()
        .map(|e| (*e, fields::capital(e.describe())))
        .collect();
    let now = session.recipe().frame.encoding;
    let help = "What the still's numbers mean, or those that come out of the input LUT. The file's own word is \
                usually right.";
    if let Some(e) = fields::choice(ui, "Encoding", help, &words, Some(now)) {
        set(session, "Encoding", |r| r.frame.encoding = e);
    }
    seen_by::show(ui, session);
}

/// The LUT that the still's codes go through first.
fn lut(ui: &mut Ui, session: &mut Session, todo: &mut Vec<Command>) {
    let told = session
        .recipe()
        .frame
        .input_lut
        .as_ref()
        .map(InputLut::name);
    let gone = fields::row(
        ui,
        "Input LUT",
        "For codes in a camera's own log: a LUT that makes light of them (CLF, or a plain-text table).",
        |ui| {
            let word = told.as_deref().unwrap_or("None…");
            let width = ui.available_width() - theme::TARGET - 8.0;
            let button = egui::Button::new(word).truncate();
            let response = ui.add_sized([width, theme::TARGET], button);
            if response.clicked() {
                todo.push(Command::OpenLut);
            }
            let gone = icons::button(ui, Icon::Remove, "No input LUT", told.is_some());
            (response, gone.clicked())
        },
    );
    if gone {
        set(session, "Input LUT", |r| r.frame.input_lut = None);
    }
}

fn camera(ui: &mut Ui, session: &mut Session) {
    fields::heading(ui, "Camera");
    let c = session.recipe().camera.clone();
    let [width, height] = c.sensor_mm.map(Extent::get);
    format(ui, session);
    let help = "Width of the picture on the sensor.";
    if let Some(v) = fields::number(ui, "Sensor width", help, MM, width) {
        set(session, "Sensor width", |r| {
            r.camera.sensor_mm[0] = Extent::clamped(v);
        });
    }
    let help = "Height of the sensor. A still of which nothing tells what it was seen by keeps its own shape.";
    if let Some(v) = fields::number(ui, "Sensor height", help, MM, height) {
        set(session, "Sensor height", |r| {
            r.camera.sensor_mm[1] = Extent::clamped(v);
        });
    }
    let words = (
        "Framing",
        "Width over height of the framed part of the sensor, which is cut in its height or its width.",
    );
    let start = ("the sensor's own", width / height);
    if let Some(v) = fields::optional(ui, words, ASPECT, c.framing_aspect, start) {
        set(session, "Framing", |r| r.camera.framing_aspect = v);
    }
    if let Some(v) = fields::number(ui, "Focal length", "", FOCAL, c.focal_mm.get()) {
        set(session, "Focal length", |r| {
            r.camera.focal_mm = Extent::clamped(v);
        });
    }
    let field = session.report().map_or_else(|| c.field(), |r| r.field);
    let [across, up, diagonal] = [field.across, field.up, field.diagonal].map(Degrees::get);
    let text = format!("Takes in {across:.1}° × {up:.1}°, {diagonal:.1}° from corner to corner.");
    fields::note(ui, &text);
    let help = "The metered stop without glass.";
    if let Some(v) = fields::number(ui, "Stop", help, STOP, c.stop.get()) {
        set(session, "Stop", |r| edit::set_stop(r, FNumber::clamped(v)));
    }
    let t = c.t_stop.map(FNumber::get);
    let words = (
        "T-stop",
        "The T-stop that goes with the stop, where the lens is marked in them.",
    );
    let start = ("not marked", c.stop.get());
    if let Some(v) = fields::optional(ui, words, T_STOP, t, start) {
        set(session, "T-stop", |r| {
            r.camera.t_stop = v.map(FNumber::clamped);
        });
    }
    let widest = c.widest_stop.map(FNumber::get);
    let words = (
        "Widest stop",
        "How far the lens opens: says when light runs out.",
    );
    let start = ("not known", c.stop.get().min(2.0));
    if let Some(v) = fields::optional(ui, words, STOP, widest, start) {
        set(session, "Widest stop", |r| {
            r.camera.widest_stop = v.map(FNumber::clamped);
        });
    }
    let focus = c.focus_m.map(Metres::get);
    let words = (
        "Focus",
        "Distance of focus: it decides how wide a grad's edge is at the glass.",
    );
    if let Some(v) = fields::optional(ui, words, METRES, focus, ("infinity", 3.0)) {
        set(session, "Focus", |r| {
            r.camera.focus_m = v.map(Metres::clamped);
        });
    }
    let depth = c.pupil_depth_mm.map(Millimetres::get);
    let words = (
        "Pupil depth",
        "From the lens's front glass to its entrance pupil.",
    );
    let guess = format!("about {:.0} mm", c.pupil_depth().get());
    let start = (guess.as_str(), c.pupil_depth().get());
    if let Some(v) = fields::optional(ui, words, DEPTH, depth, start) {
        set(session, "Pupil depth", |r| {
            r.camera.pupil_depth_mm = v.map(Millimetres::clamped);
        });
    }
    let help = "The colour temperature that the camera is balanced for.";
    if let Some(v) = fields::number(ui, "Balance", help, KELVIN, c.balance_k.get()) {
        set(session, "Balance", |r| {
            r.camera.balance_k = Kelvin::clamped(v);
        });
    }
}

/// The sensor's sides by the name of a trade size.
fn format(ui: &mut Ui, session: &mut Session) {
    const CUSTOM: &str = "custom";
    let named = Format::of(session.recipe().camera.sensor_mm);
    let mut options: Vec<(&str, String)> = Format::ALL
        .iter()
        .map(|f| (f.key, f.name.to_owned()))
        .collect();
    if named.is_none() {
        options.push((CUSTOM, "Custom".to_owned()));
    }
    let now = named.map_or(CUSTOM, |f| f.key);
    let help = "The trade size of the planned sensor; custom where its sides are none.";
    let picked = fields::choice(ui, "Sensor", help, &options, Some(now));
    let picked = picked.and_then(|key| Format::ALL.iter().find(|f| f.key == key));
    if let Some(format) = picked {
        set(session, "Sensor", |r| {
            r.camera.sensor_mm = format.sensor_mm();
        });
    }
}

#[derive(Clone, Copy, PartialEq)]
enum Beyond {
    Mirror,
    Dark,
    Level,
}

fn light(ui: &mut Ui, session: &mut Session) {
    fields::heading(ui, "Light");
    let l = session.recipe().light.clone();
    let help = "Colour temperature of the scene's light.";
    if let Some(v) = fields::number(ui, "Scene", help, KELVIN, l.scene_k.get()) {
        set(session, "Scene light", |r| {
            r.light.scene_k = Kelvin::clamped(v);
        });
    }
    let now = match l.outside {
        Outside::Mirror => Beyond::Mirror,
        Outside::Dark => Beyond::Dark,
        Outside::Stops(_) => Beyond::Level,
    };
    let options = [
        (Beyond::Mirror, "Mirrored".to_owned()),
        (Beyond::Dark, "Dark".to_owned()),
        (Beyond::Level, "An even level".to_owned()),
    ];
    let help = "What lies outside the frame, for light scattered in from there: the scene going on as its mirror \
                image, nothing, or a level.";
    if let Some(o) = fields::choice(ui, "Outside", help, &options, Some(now)) {
        let outside = match o {
            Beyond::Mirror => Outside::Mirror,
            Beyond::Dark => Outside::Dark,
            Beyond::Level => Outside::Stops(Stops::ZERO),
        };
        set(session, "Outside the frame", |r| r.light.outside = outside);
    }
    if let Outside::Stops(level) = l.outside {
        let help = "In stops against key.";
        if let Some(v) = fields::number(ui, "Outside level", help, LEVEL, level.get()) {
            set(session, "Outside level", |r| {
                r.light.outside = Outside::Stops(Stops::clamped(v));
            });
        }
    }
    let spill = l.spill_stops.map(Stops::get);
    let words = (
        "Spill",
        "Stray light on the front glass, in stops against key.",
    );
    if let Some(v) = fields::optional(ui, words, LEVEL, spill, ("none", 0.0)) {
        set(session, "Spill", |r| {
            r.light.spill_stops = v.map(Stops::clamped);
        });
    }
    if l.spill_stops.is_some() {
        spill_source(ui, session);
    }
    let options = [
        (CornerHalos::Auto, "By the lens".to_owned()),
        (CornerHalos::Stretched, "Stretched".to_owned()),
        (CornerHalos::Even, "Even".to_owned()),
    ];
    let help = "In front of a wide lens halos stretch towards the corners; even is quicker, and near \
                the axis the same.";
    if let Some(v) = fields::choice(ui, "Corner halos", help, &options, Some(l.corner_halos)) {
        set(session, "Corner halos", |r| r.light.corner_halos = v);
    }
    let mut through = l.balance_through_glass;
    let help = "The camera is balanced again with the glass in place: the shift of white goes, the \
                rest of the glass's colour stays. A colour grad keeps all of its colour.";
    if ui
        .checkbox(&mut through, "Balance through the glass")
        .on_hover_text(help)
        .changed()
    {
        set(session, "Balance through the glass", |r| {
            r.light.balance_through_glass = through;
        });
    }
}

fn exposure(ui: &mut Ui, session: &mut Session) {
    fields::heading(ui, "Exposure");
    let options = [
        (Compensate::None, "Not made good".to_owned()),
        (Compensate::Iris, "By the iris".to_owned()),
        (Compensate::Iso, "By the index".to_owned()),
        (Compensate::Light, "By more light".to_owned()),
    ];
    let now = session.recipe().exposure.compensate;
    let help = "How the light that the glass takes is made good.";
    if let Some(v) = fields::choice(ui, "Light lost", help, &options, Some(now)) {
        set(session, "Exposure", |r| r.exposure.compensate = v);
    }
}

/// Where the stray light comes from.
fn spill_source(ui: &mut Ui, session: &mut Session) {
    let recipe = session.recipe();
    let from = recipe.light.spill_from_deg.map(Degrees::get);
    let words = (
        "Spill from",
        "How high above the lens's axis the stray light stands; not told, its level was metered at the \
         front as it is.",
    );
    if let Some(v) = fields::optional(ui, words, FROM, from, ("not told", 35.0)) {
        set(session, "Spill from", |r| {
            r.light.spill_from_deg = v.map(Degrees::clamped);
        });
    }
}
