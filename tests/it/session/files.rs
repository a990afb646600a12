//! Files: looks that are saved, pictures and sheets that are exported, what is said of those that cannot be.

use super::{complaints, focal, open, quay, session, still, until};
use foreglass::frame::{Encoding, Kind, Output};
use foreglass::glass::FAMILIES;
use foreglass::rig::Place;
use foreglass::session::{Session, What, edit};
use foreglass::units::Extent;
use std::path::Path;
use tempfile::TempDir;

/// A still of so many pixels across and down, with glass before it.
fn behind_glass(folder: &Path, [width, height]: [usize; 2]) -> Session {
    let mut s = session();
    open(&mut s, &still(folder, "quay.exr", width, height));
    s.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &FAMILIES[1].default_piece())
    });
    s
}

/// Stops the export that is under way: no file, and one sentence that says so.
fn stop(s: &mut Session, out: &Path) {
    s.cancel_export();
    until(s, "the end of it", |s| s.exporting().is_none());
    assert!(!out.exists(), "no file");
    let said = complaints(s);
    assert!(said.len() == 1 && said[0].contains("cancelled"), "{said:?}");
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
    let mut s = behind_glass(folder.path(), [2400, 1350]);
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
    let out = folder.path().join("glass.exr");
    let mut s = behind_glass(folder.path(), [2400, 1350]);
    s.export(&out, What::Glass(Output::for_kind(Kind::Exr)), false);
    stop(&mut s, &out);
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
fn the_reference_sheet_is_written() {
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("sheet.png");
    let mut s = behind_glass(folder.path(), [640, 360]);
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

#[test]
fn a_reference_sheet_is_stopped_like_any_export() {
    let folder = TempDir::new().unwrap();
    let out = folder.path().join("sheet.png");
    let mut s = behind_glass(folder.path(), [2400, 1350]);
    s.export(&out, What::Sheet, false);
    let watch = s.exporting().unwrap().watch.clone();
    until(&mut s, "its first progress", |_| watch.progress() > 0.0);
    assert!(watch.progress() < 1.0, "told before it is done");
    stop(&mut s, &out);
}

/// Whatever is read or written may end after another look has been opened.
#[test]
fn what_ends_late_stays_with_the_look_that_it_was_for() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("quay.json");
    let mut s = session();
    focal(&mut s, 35.0);
    s.save(&path, false);
    s.new_look();
    until(&mut s, "the file", |s| !s.is_saving());
    assert_eq!(s.file(), None, "the new look has no file");
    assert!(!s.is_changed(), "nor changes");
    focal(&mut s, 85.0);
    s.save(&path, false);
    until(&mut s, "a question", |s| s.clash().is_some());
    s.answer_clash(false);

    // A recipe is read over the look as it stood when that was given up.
    s.open_recipe(&path);
    focal(&mut s, 100.0);
    until(&mut s, "the recipe", |s| s.reading().is_none());
    assert_eq!(s.recipe().camera.focal_mm, Extent::clamped(100.0), "stays");
    let said = complaints(&mut s);
    assert!(said.len() == 1 && said[0].contains("quay.json"), "{said:?}");
    s.open_recipe(&path);
    until(&mut s, "the recipe", |s| s.reading().is_none());
    assert_eq!(s.recipe().camera.focal_mm, Extent::clamped(35.0), "taken");

    let lut = folder.path().join("night.cube");
    let corners = (0..8).map(|i| format!("{} {} {}\n", i & 1, i >> 1 & 1, i >> 2));
    std::fs::write(
        &lut,
        "LUT_3D_SIZE 2\n".to_owned() + &corners.collect::<String>(),
    )
    .unwrap();
    for (new_look, taken) in [(true, false), (false, true)] {
        s.open_lut(&lut);
        if new_look {
            s.new_look();
        }
        until(&mut s, "the LUT", |s| s.reading().is_none());
        assert_eq!(s.recipe().frame.input_lut.is_some(), taken);
        assert_eq!(complaints(&mut s), [""; 0]);
    }
}

#[test]
fn a_look_is_saved_again_where_it_was_asked_for_meanwhile() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("quay.json");
    let mut s = session();
    focal(&mut s, 35.0);
    s.save(&path, false);
    focal(&mut s, 40.0);
    s.save(&path, true);
    until(&mut s, "both", |s| !s.is_saving());
    assert!(!s.is_changed(), "all of it");
    let saved = foreglass::session::read_recipe(&path).unwrap();
    assert_eq!(saved.camera.focal_mm, Extent::clamped(40.0));
}

/// An encoding that was chosen while another still was being read, which then could not be.
#[test]
fn an_encoding_is_followed_after_a_still_that_cannot_be_read() {
    let folder = TempDir::new().unwrap();
    let mut s = session();
    open(&mut s, &still(folder.path(), "quay.png", 64, 36));
    let before = s.bare().unwrap().mips()[0].rgba().to_vec();
    let broken = folder.path().join("pier.png");
    std::fs::write(&broken, "no picture").unwrap();
    s.open_still(&broken);
    s.change("Encoding", None, |r| {
        r.frame.encoding = Encoding::SrgbLinear;
        Ok(())
    });
    until(&mut s, "the end of it", |s| {
        s.reading().is_none() && !s.is_rendering()
    });
    assert_eq!(complaints(&mut s).len(), 1, "of the broken one");
    assert_ne!(s.bare().unwrap().mips()[0].rgba(), before, "other light");
}
