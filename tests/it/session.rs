//! The open document: history, the newest order wins, files, sentences. Expected values here are the
//! session's own promise; there is no outside source for them.

use foreglass::frame::{Encoding, Frame, Kind, Output, write};
use foreglass::glass::control::{Control, Kind as ControlKind};
use foreglass::glass::{FAMILIES, Family};
use foreglass::recipe::Recipe;
use foreglass::rig::Place;
use foreglass::session::{Detail, Session, What, edit, path};
use foreglass::units::{Extent, FNumber};
use foreglass::watch::Watch;
use serde_json::json;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A night: dark, with a lamp, brighter towards the right.
pub(crate) fn quay(width: usize, height: usize) -> Frame {
    let mut frame = Frame::black(width, height);
    let (cx, cy) = (0.6 * width as f32, 0.4 * height as f32);
    for plane in frame.planes_mut() {
        for (i, v) in plane.iter_mut().enumerate() {
            let (x, y) = ((i % width) as f32, (i / width) as f32);
            let lamp = (x - cx).hypot(y - cy) < 0.02 * width as f32;
            *v = if lamp {
                8.0
            } else {
                0.05 + 0.2 * x / width as f32
            };
        }
    }
    frame
}

/// The night in a file.
pub(crate) fn still(folder: &Path, name: &str, width: usize, height: usize) -> PathBuf {
    let path = folder.join(name);
    let kind = Kind::of(&path).unwrap();
    write(
        &path,
        &quay(width, height),
        &Output::for_kind(kind),
        &Watch::default(),
    )
    .unwrap();
    path
}

fn session() -> Session {
    Session::new(Arc::new(|| {}))
}

/// Polls until it is so; a minute is far more than anything here takes.
pub(crate) fn until(session: &mut Session, what: &str, so: impl Fn(&Session) -> bool) {
    let began = Instant::now();
    loop {
        session.poll();
        if so(session) {
            return;
        }
        assert!(
            began.elapsed() < Duration::from_secs(60),
            "waited too long for: {what}"
        );
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn open(session: &mut Session, path: &Path) {
    session.open_still(path);
    session.finish_reading().unwrap();
}

fn focal(session: &mut Session, mm: f64) {
    let made = session.change("Focal length", Some("focal"), |r| {
        r.camera.focal_mm = Extent::clamped(mm);
        Ok(())
    });
    assert!(made, "a focal length of {mm} mm can be");
}

fn complaints(session: &mut Session) -> Vec<String> {
    let notices = session.take_notices();
    notices
        .into_iter()
        .filter(|n| n.problem)
        .map(|n| n.text)
        .collect()
}

#[test]
fn a_drag_is_undone_as_one_and_two_drags_as_two() {
    let mut s = session();
    for mm in [51.0, 55.0, 60.0] {
        focal(&mut s, mm);
    }
    s.settle();
    for mm in [70.0, 85.0] {
        focal(&mut s, mm);
    }
    s.undo();
    assert_eq!(s.recipe().camera.focal_mm.get(), 60.0, "the second drag");
    s.undo();
    assert_eq!(s.recipe().camera.focal_mm.get(), 50.0, "the first drag");
    assert!(s.undo_label().is_none(), "nothing before that");
    s.redo();
    s.redo();
    assert_eq!(s.recipe().camera.focal_mm.get(), 85.0, "both again");
    assert_eq!(s.redo_label(), None, "nothing after that");
}

#[test]
fn changes_of_different_values_are_not_merged_and_undo_names_them() {
    let mut s = session();
    focal(&mut s, 60.0);
    s.change("Stop", Some("stop"), |r| {
        r.camera.stop = FNumber::clamped(2.8);
        Ok(())
    });
    assert_eq!(s.undo_label(), Some("Stop"), "the last change has a name");
    s.undo();
    assert_eq!(
        s.recipe().camera.stop.get(),
        4.0,
        "the stop alone went back"
    );
    assert_eq!(s.recipe().camera.focal_mm.get(), 60.0, "the lens stayed");
    focal(&mut s, 75.0);
    assert_eq!(s.redo_label(), None, "a new change leaves nothing to redo");
}

#[test]
fn a_change_that_cannot_be_is_refused_with_a_sentence() {
    let mut s = session();
    let before = s.recipe().clone();
    let made = s.change("Squeeze", None, |r| {
        r.camera.squeeze = 2.0;
        Ok(())
    });
    assert!(!made && *s.recipe() == before, "the look is as it was");
    let said = complaints(&mut s);
    assert!(
        said.len() == 1 && said[0].contains("squeeze") && said[0].ends_with('.'),
        "{said:?}"
    );
}

#[test]
fn glass_is_put_moved_and_taken_out() {
    let mut s = session();
    let (first, last) = (FAMILIES[0], FAMILIES[FAMILIES.len() - 1]);
    let name = |s: &Session, place| s.piece(place).map(|p| p.family().key);
    s.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &first.default_piece())?;
        edit::put(r, Place::Stage(3), &last.default_piece())
    });
    s.change("Move", None, |r| {
        edit::carry(r, Place::Stage(1), Place::Stage(3))
    });
    assert_eq!(name(&s, Place::Stage(3)), Some(first.key), "carried");
    assert_eq!(
        name(&s, Place::Stage(1)),
        Some(last.key),
        "they changed places"
    );
    s.change("Move", None, |r| {
        edit::carry(r, Place::Stage(1), Place::Ring(1))
    });
    assert_eq!(name(&s, Place::Ring(1)), Some(last.key), "into the ring");
    assert_eq!(name(&s, Place::Stage(1)), None, "its stage is empty");
    s.change("Take out", None, |r| {
        edit::remove(r, Place::Ring(1));
        Ok(())
    });
    assert_eq!(s.setup().glass.len(), 1, "one piece is left");
    let made = s.change("Put", None, |r| {
        edit::put(r, Place::Ring(2), &first.default_piece())
    });
    assert!(!made, "the second ring has nothing to be screwed into");
    let said = complaints(&mut s);
    assert!(said[0].contains("Ring 2"), "{said:?}");
}

#[test]
fn a_stage_keeps_its_distance_and_a_glass_its_slide() {
    let mut r = Recipe::default();
    let glass = FAMILIES[0].default_piece();
    edit::put(&mut r, Place::Stage(1), &glass).unwrap();
    edit::put(&mut r, Place::Stage(2), &glass).unwrap();
    let doc = edit::stage_mut(&mut r, Place::Stage(1)).unwrap();
    doc.gap_mm = Some(foreglass::units::Millimetres::clamped(33.0));
    doc.slide_mm = foreglass::units::Millimetres::clamped(7.0);
    edit::carry(&mut r, Place::Stage(1), Place::Stage(2)).unwrap();
    let near = edit::stage_mut(&mut r, Place::Stage(1)).unwrap().clone();
    assert_eq!(
        near.gap_mm.map(|g| g.get()),
        Some(33.0),
        "the stage stands where it stood"
    );
    assert_eq!(near.slide_mm.get(), 0.0, "the other glass was not slid");
    let far = edit::stage_mut(&mut r, Place::Stage(2)).unwrap();
    assert_eq!(far.slide_mm.get(), 7.0, "the glass took its slide along");
    assert_eq!(far.gap_mm, None, "and not its distance");
}

#[test]
fn every_control_of_every_family_can_be_set() {
    for family in FAMILIES {
        for control in family.controls {
            let mut s = session();
            let place = Place::Stage(2);
            s.change("Put", None, |r| {
                edit::put(r, place, &family.default_piece())
            });
            let values: Vec<serde_json::Value> = match control.kind {
                ControlKind::Number { low, high, .. } => vec![low.into(), high.into()],
                ControlKind::Choice { words, .. } => words.iter().map(|w| (*w).into()).collect(),
                ControlKind::Switch { .. } => vec![true.into(), false.into()],
                ControlKind::File { .. } => vec!["nm,%\n400,50\n700,60\n".into()],
            };
            for value in values {
                let made = s.change("Set", None, |r| {
                    edit::set_option(r, place, control.name, Some(value.clone()))
                });
                let said = complaints(&mut s);
                assert!(made, "{} {} = {value}: {said:?}", family.key, control.name);
                let held: Vec<path::Held> = s.held().to_vec();
                let held = held.iter().find(|h| h.place == place).unwrap();
                let setting = held
                    .settings
                    .iter()
                    .find(|x| x.control.name == control.name);
                assert_eq!(
                    setting.and_then(|x| x.value.clone()),
                    Some(value),
                    "{} shows what was set",
                    control.name
                );
            }
        }
    }
}

#[test]
fn an_option_that_stands_in_for_another_drops_it() {
    // Found through the controls alone: a number that is not set by itself, refused beside a choice.
    let pairs = FAMILIES.iter().flat_map(|family| {
        let numbers = family
            .controls
            .iter()
            .filter(|c| matches!(c.kind, ControlKind::Number { default: None, .. }));
        numbers.flat_map(move |free| {
            family.controls.iter().filter_map(move |c| match c.kind {
                ControlKind::Choice { words, .. } => Some((family, free, c.name, words[0])),
                _ => None,
            })
        })
    });
    let refused = |(family, free, other, word): &(&&'static Family, &Control, &str, &str)| {
        let options = [
            (free.name.to_owned(), json!(20.0)),
            ((*other).to_owned(), json!(word)),
        ];
        let alone = options[..1].iter().cloned().collect();
        family.piece(None, &alone).is_ok()
            && family.piece(None, &options.into_iter().collect()).is_err()
    };
    let (family, free, other, word) = pairs
        .into_iter()
        .find(refused)
        .expect("there is such a pair");
    let place = Place::Stage(1);
    let mut s = session();
    s.change("Put", None, |r| {
        edit::put(r, place, &family.default_piece())
    });
    s.change("Set", None, |r| {
        edit::set_option(r, place, other, Some(word.into()))
    });
    s.change("Set", None, |r| {
        edit::set_option(r, place, free.name, Some(20.0.into()))
    });
    let piece = s.piece(place).unwrap();
    assert!(
        !piece.options().contains_key(other),
        "the newest word counts"
    );
    let shown = &s.held()[2].settings;
    let value = |name| {
        shown
            .iter()
            .find(|x| x.control.name == name)
            .and_then(|x| x.value.clone())
    };
    assert_eq!(value(other), None, "and the other is shown as not set");
    s.change("Set", None, |r| {
        edit::set_option(r, place, other, Some(word.into()))
    });
    assert_eq!(
        s.piece(place).unwrap().options().keys().collect::<Vec<_>>(),
        [other],
        "and back"
    );
}

#[test]
fn the_newest_order_wins_and_a_quick_picture_comes_first() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.exr", 1600, 900);
    let wakes = Arc::new(AtomicUsize::new(0));
    let theirs = Arc::clone(&wakes);
    let mut s = Session::new(Arc::new(move || {
        theirs.fetch_add(1, Ordering::Relaxed);
    }));
    open(&mut s, &path);
    until(&mut s, "a first picture", |s| s.glass().is_some());
    assert!(s.glass().unwrap().coarse, "the quick one first");
    until(&mut s, "the fine one", |s| !s.is_rendering());
    assert_eq!(s.glass().unwrap().width(), 1600, "at the still's size");

    // A heavy glass, then thirty orders at once: only the last one's picture may be left.
    let place = Place::Stage(1);
    s.change("Put", None, |r| {
        edit::put(r, place, &FAMILIES[1].default_piece())
    });
    for mm in 20..50 {
        focal(&mut s, f64::from(mm));
    }
    edit_out(&mut s, place);
    until(&mut s, "the last order", |s| !s.is_rendering());
    let (bare, glass) = (s.bare().unwrap(), s.glass().unwrap());
    assert!(!glass.coarse, "the fine picture is the last");
    assert_eq!(
        bare.mips()[0].rgba,
        glass.mips()[0].rgba,
        "of the last look: no glass"
    );
    assert_eq!(
        s.report().map(|r| r.places.len()),
        Some(0),
        "and its figures"
    );
    assert!(wakes.load(Ordering::Relaxed) > 3, "the window was woken");
}

fn edit_out(s: &mut Session, place: Place) {
    s.change("Take out", None, |r| {
        edit::remove(r, place);
        Ok(())
    });
}

#[test]
fn the_previous_picture_stays_until_the_next_is_ready() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.png", 1200, 700);
    let mut s = session();
    open(&mut s, &path);
    until(&mut s, "a picture", |s| !s.is_rendering());
    let before = Arc::clone(s.glass().unwrap());
    focal(&mut s, 85.0);
    assert!(s.is_rendering(), "under way");
    assert!(Arc::ptr_eq(&before, s.glass().unwrap()), "still there");
}

#[test]
fn the_finest_picture_is_made_when_it_is_looked_at() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.exr", 2400, 1350);
    let mut s = session();
    open(&mut s, &path);
    until(&mut s, "the fine picture", |s| !s.is_rendering());
    assert!(s.glass().unwrap().width() < 1900, "two megapixels");
    assert!(!s.glass().unwrap().finest, "there is more to be had");
    s.set_detail(Detail::Full);
    until(&mut s, "the finest", |s| !s.is_rendering());
    assert_eq!(s.glass().unwrap().width(), 2400, "the still's own pixels");
    assert_eq!(s.bare().unwrap().width(), 2400, "bare too");
    assert!(
        s.metered_glass().unwrap().light().is_some(),
        "light is still metered"
    );
}

#[test]
fn a_session_that_goes_away_stops_its_work() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.exr", 2000, 1100);
    let mut s = session();
    open(&mut s, &path);
    s.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &FAMILIES[1].default_piece())
    });
    let began = Instant::now();
    drop(s);
    assert!(
        began.elapsed() < Duration::from_secs(1),
        "closing does not wait for a picture"
    );
}

#[test]
fn a_look_is_saved_and_comes_back_the_same() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("wheelhouse.json");
    let mut s = session();
    s.change("Put", None, |r| {
        r.name = "Wheelhouse, warm half".to_owned();
        r.camera.focal_mm = Extent::clamped(35.1);
        edit::put(r, Place::Stage(2), &FAMILIES[1].default_piece())
    });
    assert!(s.is_changed(), "not saved yet");
    s.save(&path, false);
    until(&mut s, "the file", |s| !s.is_saving());
    assert!(!s.is_changed() && s.file() == Some(path.as_path()), "saved");
    focal(&mut s, 40.0);
    assert!(s.is_changed(), "changed again");
    s.undo();
    assert!(!s.is_changed(), "taken back to what is in the file");

    let mut other = session();
    other.open_recipe(&path);
    other.finish_reading().unwrap();
    assert_eq!(other.recipe(), s.recipe(), "the same to the bit");
    assert!(
        !other.is_changed() && other.undo_label().is_none(),
        "a fresh document"
    );
}

#[test]
fn a_file_is_not_replaced_without_a_word() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("look.json");
    std::fs::write(&path, "someone else's").unwrap();
    let mut s = session();
    s.save(&path, false);
    until(&mut s, "the question", |s| s.clash().is_some());
    s.answer_clash(false);
    assert_eq!(
        std::fs::read_to_string(&path).unwrap(),
        "someone else's",
        "left alone"
    );
    s.save(&path, false);
    until(&mut s, "the question again", |s| s.clash().is_some());
    s.answer_clash(true);
    until(&mut s, "the file", |s| !s.is_saving());
    assert!(
        std::fs::read_to_string(&path)
            .unwrap()
            .contains("foreglass.recipe"),
        "replaced"
    );
}

#[test]
fn a_picture_is_exported_at_the_still_s_own_size() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.exr", 2400, 1350);
    let mut s = session();
    open(&mut s, &path);
    s.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &FAMILIES[1].default_piece())
    });
    let exr = Output::for_kind(Kind::Exr);
    for (name, what) in [
        ("glass.exr", What::Glass(exr)),
        ("bare.exr", What::Bare(exr)),
    ] {
        let out = folder.path().join(name);
        s.export(&out, what, false);
        assert!(s.exporting().is_some(), "under way");
        until(&mut s, "the export", |s| s.exporting().is_none());
        let back = foreglass::frame::read(&out, Encoding::Auto).unwrap().frame;
        assert_eq!((back.width(), back.height()), (2400, 1350), "{name}");
        let same = back.planes() == quay(2400, 1350).planes();
        assert_eq!(
            same,
            what == What::Bare(exr),
            "{name}: only bare is the still itself"
        );
    }
    assert_eq!(
        complaints(&mut s),
        Vec::<String>::new(),
        "nothing went wrong"
    );
}

#[test]
fn an_export_that_is_cancelled_leaves_no_file() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.exr", 2400, 1350);
    let out = folder.path().join("glass.exr");
    let mut s = session();
    open(&mut s, &path);
    s.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &FAMILIES[1].default_piece())
    });
    s.export(&out, What::Glass(Output::for_kind(Kind::Exr)), false);
    s.cancel_export();
    until(&mut s, "the end of it", |s| s.exporting().is_none());
    assert!(!out.exists(), "no file");
    let said = complaints(&mut s);
    assert!(said.len() == 1 && said[0].contains("cancelled"), "{said:?}");
}

#[test]
fn errors_are_sentences_that_name_the_file() {
    let folder = TempDir::new().unwrap();
    let broken = folder.path().join("broken.png");
    std::fs::write(&broken, b"\x89PNG\r\n\x1a\nnothing").unwrap();
    let odd = folder.path().join("odd.json");
    let text = r#"{"format":"foreglass.recipe","version":1,"rig":{"stages":[{"glass":"brick"}]}}"#;
    std::fs::write(&odd, text).unwrap();
    let mut s = session();
    for path in [
        &broken,
        &folder.path().join("missing.exr"),
        &folder.path().to_path_buf(),
    ] {
        s.open_still(path);
        let said = s.finish_reading().unwrap_err();
        let name = path.file_name().unwrap().to_string_lossy();
        assert!(said.contains(&*name) && said.ends_with('.'), "{said}");
        assert!(!said.contains('\n'), "one line: {said}");
    }
    s.open_recipe(&odd);
    let said = s.finish_reading().unwrap_err();
    assert!(
        said.starts_with("odd.json: rig.stages[0].glass") && said.contains("brick"),
        "the file, the place and the word: {said}"
    );
    let exr = Output::for_kind(Kind::Exr);
    s.export(&folder.path().join("out.exr"), What::Glass(exr), false);
    assert!(
        complaints(&mut s)[0].contains("no still"),
        "nothing to export"
    );
    assert!(s.still().is_none(), "and nothing is open");
}

#[test]
fn the_still_is_read_again_when_the_look_reads_it_otherwise() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.png", 320, 180);
    let mut s = session();
    open(&mut s, &path);
    until(&mut s, "a picture", |s| !s.is_rendering());
    let before = s.bare().unwrap().mips()[0].rgba.clone();
    s.change("Encoding", None, |r| {
        r.frame.encoding = Encoding::SrgbLinear;
        Ok(())
    });
    until(&mut s, "the still again", |s| {
        s.reading().is_none() && !s.is_rendering()
    });
    assert_ne!(s.bare().unwrap().mips()[0].rgba, before, "other light");
    s.undo();
    until(&mut s, "the still as before", |s| {
        s.reading().is_none() && !s.is_rendering()
    });
    assert_eq!(
        s.bare().unwrap().mips()[0].rgba,
        before,
        "undo brings the first reading back"
    );
}

#[test]
fn figures_come_without_a_still() {
    let mut s = session();
    s.change("Put", None, |r| {
        edit::put(
            r,
            Place::Stage(1),
            &Family::find("nd").unwrap().default_piece(),
        )
    });
    until(&mut s, "figures", |s| {
        s.report().is_some_and(|r| r.places.len() == 1)
    });
    let report = s.report().unwrap();
    let expected = 4.0 * (-0.5 * report.loss.get()).exp2();
    assert!(report.loss.get() > 0.5, "it takes light");
    assert!(
        (report.stop_to_set - expected).abs() < 1e-9,
        "stop · 2^(−loss / 2)"
    );
}

#[test]
fn the_reference_sheet_is_written() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.exr", 640, 360);
    let out = folder.path().join("sheet.png");
    let mut s = session();
    open(&mut s, &path);
    s.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &FAMILIES[1].default_piece())
    });
    s.export(&out, What::Sheet, false);
    until(&mut s, "the sheet", |s| s.exporting().is_none());
    let page = foreglass::frame::read(&out, Encoding::Auto).unwrap().frame;
    // An upright or lying page of paper at print fineness.
    assert!(page.width().min(page.height()) > 1000, "{page:?}");
    assert_eq!(
        complaints(&mut s),
        Vec::<String>::new(),
        "nothing went wrong"
    );
}
