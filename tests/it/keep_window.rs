//! What is not given up without a word: changes, and what is being written.

use crate::session::still;
use crate::window::{Shown, click, session_on, settle, stack, window};
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use foreglass::app::Window;
use foreglass::frame::{Kind, Output};
use foreglass::glass::{FAMILIES, Family};
use foreglass::rig::Place;
use foreglass::session::{Session, What, edit};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tempfile::TempDir;

#[test]
fn changes_are_not_given_up_without_a_word() {
    let folder = TempDir::new().unwrap();
    let mut h = window(session_on(folder.path()));
    click(&mut h, "Add glass to stage 2");
    h.get_by_label_contains(FAMILIES[0].purpose).click();
    settle(&mut h);
    assert!(h.query_by_label("Not saved").is_some(), "told in words");
    h.key_press_modifiers(Modifiers::COMMAND, Key::N);
    settle(&mut h);
    click(&mut h, "Cancel");
    assert_eq!(stack(&h).len(), 1, "kept");
    h.key_press_modifiers(Modifiers::COMMAND, Key::N);
    settle(&mut h);
    click(&mut h, "Give them up");
    assert_eq!(stack(&h).len(), 0, "a new look");
    assert!(h.query_by_label("Not saved").is_none(), "nothing to save");
}

#[test]
fn saving_first_asks_for_a_name_and_then_goes_on() {
    let folder = TempDir::new().unwrap();
    let mut h = window(session_on(folder.path()));
    click(&mut h, "Add glass to stage 2");
    h.get_by_label_contains(FAMILIES[0].purpose).click();
    settle(&mut h);
    h.key_press_modifiers(Modifiers::COMMAND, Key::N);
    settle(&mut h);
    click(&mut h, "Save first");
    h.run_steps(4);
    // The field offers a name beside the still.
    h.key_press(Key::Enter);
    h.run_steps(2);
    settle(&mut h);
    settle(&mut h);
    let saved = folder.path().join("new_look.json");
    assert!(saved.exists(), "saved beside the still");
    assert_eq!(stack(&h).len(), 0, "and then the new look");
}

/// A window whose still is being written through a star, which takes a while, and that is asked to close.
fn quit_while_exporting(folder: &Path) -> Shown<'static> {
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&folder.join("quay.exr"));
    session.finish_reading().unwrap();
    let made = session.change("Put", None, |r| {
        let star = Family::find("star").unwrap();
        edit::put(r, Place::Stage(1), &star.default_piece())
    });
    assert!(made, "a star");
    let file = session.file().map(Path::to_path_buf);
    let look = session.recipe().clone();
    // As if it had been opened so: there is nothing to save.
    session.replace(look, file);
    let what = What::Glass(Output::for_kind(Kind::Exr));
    session.export(&folder.join("held.exr"), what, true);
    let mut h = Harness::builder()
        .with_size(vec2(1280.0, 800.0))
        .build_eframe(|cc| Window::new(&cc.egui_ctx, session, false));
    h.key_press_modifiers(Modifiers::COMMAND, Key::Q);
    h.run_steps(2);
    h
}

const ASKED: &str = "An export is still being written";

fn until_it_ends(h: &mut Shown<'_>) {
    let began = Instant::now();
    while h.state().session().exporting().is_some() {
        h.run_steps(1);
        assert!(began.elapsed() < Duration::from_secs(60), "it does not end");
        std::thread::sleep(Duration::from_millis(5));
    }
    h.run_steps(2);
    assert!(h.query_by_label(ASKED).is_none(), "nothing to ask");
}

#[test]
fn quitting_asks_about_an_export() {
    let folder = TempDir::new().unwrap();
    let still = still(folder.path(), "quay.exr", 2400, 1350);
    let mut h = quit_while_exporting(folder.path());
    h.get_by_label(ASKED);
    h.get_by_label("Stop it and quit").click();
    h.run_steps(1);
    until_it_ends(&mut h);
    let left = std::fs::read_dir(folder.path()).unwrap();
    let left: Vec<_> = left.map(|file| file.unwrap().path()).collect();
    assert_eq!(left, [still], "nothing of it is left");
    // Or it ends by itself, and the question with it.
    let mut h = quit_while_exporting(folder.path());
    h.get_by_label(ASKED);
    until_it_ends(&mut h);
    assert!(folder.path().join("held.exr").exists(), "written");
}
