//! Pins and clipped areas in the window: marked on the picture, typed in, told as exposure values, undone.
//! Expected values are the window's own promise.

use crate::session::still;
use crate::window::{Shown, click, settle, sized};
use egui::{Pos2, Rect, pos2, vec2};
use egui_kittest::kittest::Queryable as _;
use foreglass::recipe::FrameDoc;
use foreglass::session::Session;
use foreglass::units::{Fraction, Stops};
use std::sync::Arc;
use tempfile::TempDir;

fn opened(folder: &TempDir) -> Shown<'static> {
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&still(folder.path(), "quay.png", 800, 450));
    session.finish_reading().unwrap();
    let mut h = sized(session, vec2(1280.0, 1000.0));
    click(&mut h, "Page: Metered");
    h
}

fn frame<'a>(h: &'a Shown<'_>) -> &'a FrameDoc {
    &h.state().session().recipe().frame
}

/// Where the bare picture of a 16:9 still lies: as wide as its pane, in the middle of it.
fn picture(h: &Shown<'_>) -> Rect {
    let pane = h.get_by_label("Bare picture").rect();
    let size = vec2(pane.width(), pane.width() * 450.0 / 800.0);
    let size = if size.y > pane.height() {
        vec2(pane.height() * 800.0 / 450.0, pane.height())
    } else {
        size
    };
    Rect::from_center_size(pane.center(), size)
}

fn within(r: Rect, x: f32, y: f32) -> Pos2 {
    pos2(r.left() + x * r.width(), r.top() + y * r.height())
}

fn button(pos: Pos2, pressed: bool) -> egui::Event {
    egui::Event::PointerButton {
        pos,
        button: egui::PointerButton::Primary,
        pressed,
        modifiers: egui::Modifiers::NONE,
    }
}

/// A click; quicker than a drag, which a slow one would be taken for.
fn tap(h: &mut Shown<'_>, at: Pos2) {
    h.event(egui::Event::PointerMoved(at));
    h.run_steps(1);
    h.event(button(at, true));
    h.run_steps(1);
    h.event(button(at, false));
    h.run_steps(4);
    settle(h);
}

fn drag(h: &mut Shown<'_>, from: Pos2, to: Pos2) {
    h.event(egui::Event::PointerMoved(from));
    h.run_steps(1);
    h.event(button(from, true));
    h.run_steps(1);
    for part in [0.3, 0.7, 1.0] {
        h.event(egui::Event::PointerMoved(from + part * (to - from)));
        h.run_steps(1);
    }
    h.event(button(to, false));
    h.run_steps(3);
}

#[test]
fn a_pin_is_placed_by_a_click_and_reads_as_the_frame_does() {
    let folder = TempDir::new().unwrap();
    let mut h = opened(&folder);
    click(&mut h, "Pin on the picture");
    let at = within(picture(&h), 0.25, 0.4);
    tap(&mut h, at);
    let pins = &frame(&h).pins;
    assert_eq!(pins.len(), 1, "one pin");
    let there = [pins[0].x, pins[0].y].map(Fraction::get);
    assert!(
        (there[0] - 0.25).abs() < 0.01 && (there[1] - 0.4).abs() < 0.01,
        "{there:?}"
    );
    let said = pins[0].stops.unwrap().get();
    let told = h.state().session().restored().unwrap().pins[0];
    assert!(
        (said - told.plain.get()).abs() <= 0.0501,
        "it begins at what the frame reads, to a tenth: {said} against {told:?}"
    );
    // The tool stays in the hand until it is laid down.
    let at = within(picture(&h), 0.75, 0.4);
    tap(&mut h, at);
    assert_eq!(frame(&h).pins.len(), 2, "another one");
    click(&mut h, "Pin on the picture");
    tap(&mut h, at);
    assert_eq!(frame(&h).pins.len(), 2, "laid down");
    click(&mut h, "Remove Pin 1");
    assert_eq!(frame(&h).pins.len(), 1, "one is gone");
    assert!(frame(&h).pins[0].x.get() > 0.7, "the first one");
    h.get_by_label_contains("Undo").click();
    settle(&mut h);
    assert_eq!(frame(&h).pins.len(), 2, "and back");
}

#[test]
fn pins_are_told_as_exposure_values_when_key_is() {
    let folder = TempDir::new().unwrap();
    let mut h = opened(&folder);
    h.get_all_by_label("Type it in").next().unwrap().click();
    h.run_steps(4);
    let said = frame(&h).pins[0].stops.unwrap().get();
    click(&mut h, "Key reads: set");
    let (key, pin) = (frame(&h).key_ev.unwrap(), frame(&h).pins[0]);
    assert!(pin.stops.is_none(), "not told twice");
    assert!(
        (pin.ev.unwrap() - key - said).abs() < 1e-9,
        "the same level: {pin:?}"
    );
    assert_eq!(frame(&h).level(&pin), Some(Stops::clamped(said)), "still");
    click(&mut h, "Key reads: set");
    assert_eq!(
        frame(&h).pins[0].stops,
        Some(Stops::clamped(said)),
        "and back"
    );
    assert!(frame(&h).key_ev.is_none(), "without a key");
}

#[test]
fn an_area_is_dragged_and_a_level_is_set() {
    let folder = TempDir::new().unwrap();
    let mut h = opened(&folder);
    click(&mut h, "Mark an area");
    let r = picture(&h);
    drag(&mut h, within(r, 0.2, 0.3), within(r, 0.6, 0.7));
    let areas = &frame(&h).clipped_areas;
    assert_eq!(areas.len(), 1, "one area");
    let sides = areas[0].sides.map(Fraction::get);
    for (side, wanted) in sides.iter().zip([0.2, 0.3, 0.6, 0.7]) {
        assert!((side - wanted).abs() < 0.015, "{sides:?}");
    }
    assert_eq!(areas[0].stops.get(), 4.0, "four stops over, to begin with");
    // The tool is laid down after one area; the general level begins there too.
    click(&mut h, "Level: set");
    assert_eq!(frame(&h).clipped_stops, Some(Stops::clamped(4.0)), "set");
    click(&mut h, "Remove Area 1");
    assert!(frame(&h).clipped_areas.is_empty(), "gone");
}
