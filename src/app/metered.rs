//! What a meter read of the frame: the camera's picture curve through pins, and the level of clipped light.

use super::fields::{self, Number};
use super::icons::{self, Icon};
use super::mark::{Drawn, Marked, Marks, Tool};
use super::theme;
use crate::frame::restore::{Assume, Hue, PinTold, Role, Told};
use crate::meters::spot::spot;
use crate::recipe::{ClippedArea, FrameDoc, Pin, SPOT};
use crate::session::Session;
use crate::units::{Fraction, Stops};
use egui::{RichText, ScrollArea, Ui};

const LEVEL: Number = Number::new(-16.0, 20.0, 0.05, 2).suffix(" stops");
const EV: Number = Number::new(-20.0, 40.0, 0.05, 2).prefix("EV ");
const PERCENT: Number = Number::new(0.0, 100.0, 0.2, 1).suffix(" %");

/// Shows the page, and takes what was marked on the picture.
pub(super) fn show(ui: &mut Ui, session: &mut Session, marks: &mut Marks) {
    take_marks(session, marks);
    ui.label(RichText::new("Metered").heading());
    fields::note(
        ui,
        "A camera's picture curve and its white hide what the light was. Pin what a spot meter read, and give \
         clipped light its level.",
    );
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        let told = session.restored().cloned().unwrap_or_default();
        pins(ui, session, marks, &told);
        curve(ui, session, &told);
        clipped(ui, session, marks, &told);
        ui.add_space(8.0);
    });
    marks.drawn.extend(drawn(&session.recipe().frame));
}

/// What is drawn on the picture.
fn drawn(frame: &FrameDoc) -> impl Iterator<Item = Drawn> + use<'_> {
    let pins = frame.pins.iter().enumerate().map(|(i, pin)| {
        let disc = pin.disc();
        let at = [disc.x as f32, disc.y as f32];
        let level = frame.level(pin).map_or(0.0, Stops::get);
        let word = format!("{}  {}", i + 1, fields::stops(level));
        Drawn::Point(at, disc.radius as f32, word)
    });
    let areas = frame.clipped_areas.iter().enumerate().map(|(i, area)| {
        let sides = area.sides.map(|v| v.get() as f32);
        let word = format!("Area {}  {}", i + 1, fields::stops(area.stops.get()));
        Drawn::Sides(sides, word)
    });
    areas.chain(pins)
}

fn take_marks(session: &mut Session, marks: &mut Marks) {
    if let Some(Marked::Point([x, y])) = marks.take(Tool::Pin) {
        add_pin(session, [f64::from(x), f64::from(y)]);
    }
    if let Some(Marked::Sides(sides)) = marks.take(Tool::Area) {
        add_area(session, sides.map(f64::from));
    }
}

/// A new pin says what the frame reads there now, for the person to put right.
fn add_pin(session: &mut Session, [x, y]: [f64; 2]) {
    let reads = session
        .framing()
        .and_then(|f| f.as_ref().ok())
        .and_then(|f| Some((f.to_picture([x, y])?, f.radius_to_picture(SPOT))))
        .zip(session.metered_bare().and_then(|s| s.light().cloned()))
        .map_or(0.0, |(([x, y], radius), light)| {
            spot(&light, x, y, radius).get()
        });
    let stops = Stops::clamped((reads.clamp(-12.0, 20.0) * 10.0).round() / 10.0);
    session.change("Metered pin", None, |r| {
        let mut pin = Pin::of_stops(Fraction::clamped(x), Fraction::clamped(y), stops);
        if let Some(key) = r.frame.key_ev {
            (pin.stops, pin.ev) = (None, Some(key + stops.get()));
        }
        r.frame.pins.push(pin);
        Ok(())
    });
}

fn add_area(session: &mut Session, sides: [f64; 4]) {
    let stops = session.recipe().frame.clipped_stops;
    session.change("Clipped area", None, |r| {
        r.frame.clipped_areas.push(ClippedArea {
            sides: sides.map(Fraction::clamped),
            stops: stops.unwrap_or(Stops::clamped(4.0)),
            hue: None,
        });
        Ok(())
    });
}

/// The button that takes a tool up.
fn tool(ui: &mut Ui, session: &Session, marks: &mut Marks, tool: Tool, words: [&str; 2]) {
    let armed = marks.armed == Some(tool);
    let response = fields::segment(ui, armed, words[usize::from(armed)], words[0]);
    if session.still().is_some() && response.clicked() {
        marks.arm(tool);
    }
}

fn pins(ui: &mut Ui, session: &mut Session, marks: &mut Marks, told: &Told) {
    fields::heading(ui, "Pins");
    let words = (
        "Key reads",
        "What the meter says of key, as an exposure value: pins are then told as exposure \
                  values too.",
    );
    let key = session.recipe().frame.key_ev;
    if let Some(v) = fields::optional(ui, words, EV, key, ("pins in stops", 10.0)) {
        session.change("Key", Some("key"), |r| {
            r.frame.retell(v);
            Ok(())
        });
    }
    ui.horizontal(|ui| {
        let words = ["Pin on the picture", "Click on the picture…"];
        tool(ui, session, marks, Tool::Pin, words);
        if session.still().is_some() && ui.button("Type it in").clicked() {
            add_pin(session, [0.5, 0.5]);
        }
    });
    let count = session.recipe().frame.pins.len();
    if count == 0 {
        fields::note(ui, "No pins: the light is taken as the encoding says.");
    }
    for i in 0..count {
        one_pin(ui, session, i, told.pins.get(i));
    }
}

/// One pin: what the meter said, what the frame reads there now, where it is.
fn one_pin(ui: &mut Ui, session: &mut Session, i: usize, told: Option<&PinTold>) {
    let Some(pin) = session.recipe().frame.pins.get(i).copied() else {
        return;
    };
    let name = format!("Pin {}", i + 1);
    let label = name.clone();
    let edit = move |session: &mut Session, make: &dyn Fn(&mut Pin)| {
        session.change(&label, Some(&label), |r| {
            r.frame.pins.get_mut(i).into_iter().for_each(make);
            Ok(())
        });
    };
    let (kind, value) = match pin.ev {
        Some(ev) => (EV, ev),
        None => (LEVEL, pin.stops.map_or(0.0, Stops::get)),
    };
    let (new, gone) = card(ui, &name, "the meter said", (kind, value), |ui| {
        ui.horizontal(|ui| {
            let width = 0.5 * (ui.available_width() - ui.spacing().item_spacing.x);
            for (axis, value) in [("across", pin.x), ("down", pin.y)] {
                let (response, new) = PERCENT.show(ui, 100.0 * value.get(), width);
                response
                    .accessible_name(format!("{name}: {axis}"))
                    .on_hover_text(format!("Where it is {axis} the still."));
                if let Some(v) = new {
                    let v = Fraction::clamped(v / 100.0);
                    edit(session, &|p: &mut Pin| match axis {
                        "across" => p.x = v,
                        _ => p.y = v,
                    });
                }
            }
        });
        if let Some(told) = told {
            fields::note(ui, &said(told));
        }
    });
    if let Some(v) = new {
        edit(session, &|p: &mut Pin| match p.ev {
            Some(_) => p.ev = Some(v),
            None => p.stops = Some(Stops::clamped(v)),
        });
    }
    if gone {
        session.change(&format!("Remove {name}"), None, |r| {
            r.frame.pins.remove(i);
            Ok(())
        });
    }
}

/// A pin's or an area's card: its level, then what `more` shows. The level where it was changed, and whether
/// it is to go.
fn card(
    ui: &mut Ui,
    name: &str,
    what: &str,
    (number, value): (Number, f64),
    more: impl FnOnce(&mut Ui),
) -> (Option<f64>, bool) {
    let card = egui::Frame::new()
        .fill(theme::RAISED)
        .corner_radius(6)
        .inner_margin(6);
    let shown = card.show(ui, |ui| {
        ui.set_width(ui.available_width());
        let top = ui.horizontal(|ui| {
            ui.label(RichText::new(name).color(theme::TEXT));
            let width = ui.available_width() - theme::TARGET - 8.0;
            let (response, new) = number.show(ui, value, width);
            response.accessible_name(format!("{name}: {what}"));
            let remove = icons::button(ui, Icon::Remove, &format!("Remove {name}"), true);
            (new, remove.clicked())
        });
        more(ui);
        top.inner
    });
    shown.inner
}

/// What became of a pin, in a sentence.
fn said(told: &PinTold) -> String {
    let [plain, now] = [told.plain, told.now].map(|v| fields::stops(v.get()));
    let off = told.residual().get();
    match told.role {
        Role::Curve if off.abs() < 0.05 => format!("Decoded {plain}, now {now}: held."),
        Role::Curve => format!(
            "Decoded {plain}, now {now}: {} from the meter.",
            fields::stops(off)
        ),
        Role::Level => format!("On clipped light, which it gives its level: now {now}."),
        Role::Outlier => format!(
            "Contradicts the others, and is left out: they say {now}, {} from the meter.",
            fields::stops(off)
        ),
        Role::Dark => "There is no light there to go by.".to_owned(),
    }
}

fn curve(ui: &mut Ui, session: &mut Session, told: &Told) {
    fields::heading(ui, "Picture curve");
    let options = [
        (Assume::Plain, "Nothing".to_owned()),
        (Assume::Typical, "A usual contrast".to_owned()),
    ];
    let now = session.recipe().frame.curve;
    let help = "What is taken for the camera's picture curve while fewer than two pins tell it.";
    if let Some(v) = fields::choice(ui, "Assumed", help, &options, Some(now)) {
        session.change("Picture curve", None, |r| {
            r.frame.curve = v;
            Ok(())
        });
    }
    super::curve::show(ui, &told.curve, &told.pins);
    for line in told.curve_lines() {
        fields::note(ui, &line);
    }
}

fn clipped(ui: &mut Ui, session: &mut Session, marks: &mut Marks, told: &Told) {
    fields::heading(ui, "Clipped light");
    let frame = &session.recipe().frame;
    let (level, hue) = (frame.clipped_stops.map(Stops::get), frame.clipped_hue);
    let words = (
        "Level",
        "The mean level of clipped light, in stops against key, where no pin and no area tells it.",
    );
    if let Some(v) = fields::optional(ui, words, LEVEL, level, ("as it is", 4.0)) {
        session.change("Clipped light", Some("clipped"), |r| {
            r.frame.clipped_stops = v.map(Stops::clamped);
            Ok(())
        });
    }
    let options = [
        (Hue::Rim, "From its rim".to_owned()),
        (Hue::Neutral, "Neutral".to_owned()),
    ];
    let help = "Where the colour of clipped light comes from.";
    if let Some(v) = fields::choice(ui, "Hue", help, &options, Some(hue)) {
        session.change("Hue of clipped light", None, |r| {
            r.frame.clipped_hue = v;
            Ok(())
        });
    }
    let words = ["Mark an area", "Drag on the picture…"];
    ui.horizontal(|ui| {
        tool(ui, session, marks, Tool::Area, words);
        if session.still().is_some() && ui.button("Type one in").clicked() {
            add_area(session, [0.25, 0.25, 0.75, 0.75]);
        }
    });
    for i in 0..session.recipe().frame.clipped_areas.len() {
        one_area(ui, session, i);
    }
    for line in told.clipped_lines() {
        fields::note(ui, &line);
    }
}

fn one_area(ui: &mut Ui, session: &mut Session, i: usize) {
    let Some(area) = session.recipe().frame.clipped_areas.get(i).copied() else {
        return;
    };
    let name = format!("Area {}", i + 1);
    let edit = |session: &mut Session, make: &dyn Fn(&mut ClippedArea)| {
        session.change(&name, Some(&name), |r| {
            r.frame.clipped_areas.get_mut(i).into_iter().for_each(make);
            Ok(())
        });
    };
    let mut moved = None;
    let level = (LEVEL, area.stops.get());
    let (new, gone) = card(ui, &name, "its level", level, |ui| {
        moved = sides(ui, &name, area.sides.map(Fraction::get));
    });
    if let Some(v) = new {
        edit(session, &|a: &mut ClippedArea| a.stops = Stops::clamped(v));
    }
    if let Some(sides) = moved {
        let sides = sides.map(Fraction::clamped);
        edit(session, &|a: &mut ClippedArea| a.sides = sides);
    }
    if gone {
        session.change(&format!("Remove {name}"), None, |r| {
            r.frame.clipped_areas.remove(i);
            Ok(())
        });
    }
}

/// The sides of a region as fields, in per cent of the still; the new ones where one was changed.
pub(super) fn sides(ui: &mut Ui, name: &str, sides: [f64; 4]) -> Option<[f64; 4]> {
    let help = "In parts of the still, from its top left.";
    let mut new = None;
    for (words, first) in [("Across, from, to", 0), ("Down, from, to", 1)] {
        fields::row(ui, words, help, |ui| {
            let width = 0.5 * (ui.available_width() - ui.spacing().item_spacing.x);
            let mut one = |ui: &mut Ui, i: usize| {
                let (response, changed) = PERCENT.show(ui, 100.0 * sides[i], width);
                if let Some(v) = changed {
                    let mut all = sides;
                    all[i] = v / 100.0;
                    new = Some(all);
                }
                response
            };
            let response = one(ui, first);
            one(ui, first + 2).accessible_name(format!("{name}: {words}"));
            (response, ())
        });
    }
    new.filter(|[x0, y0, x1, y1]| x0 < x1 && y0 < y1)
}
