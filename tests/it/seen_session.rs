//! The planned picture in the open document: cut again as the look changes, without the file. Expected
//! values are the geometry of two rectilinear lenses, and the session's own promise.

use crate::seen::{file_of_directions, fixture};
use foreglass::meters::spot::spot;
use foreglass::recipe::{Recipe, SeenBy, Take};
use foreglass::rig::advisory::Level;
use foreglass::session::{Session, edit};
use foreglass::units::{Extent, FNumber};
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tempfile::TempDir;

fn settle(s: &mut Session) {
    let began = Instant::now();
    loop {
        s.poll();
        if !s.is_rendering() && s.reading().is_none() && s.report().is_some() {
            return;
        }
        assert!(
            began.elapsed() < Duration::from_secs(60),
            "work that does not end"
        );
        std::thread::sleep(Duration::from_millis(2));
    }
}

fn change(s: &mut Session, make: impl FnOnce(&mut Recipe)) {
    let done = s.change("Test", None, |r| {
        make(r);
        Ok(())
    });
    assert!(done, "{:?}", s.take_notices());
    settle(s);
}

fn open(path: &Path) -> Session {
    let mut s = Session::new(Arc::new(|| {}));
    s.open_still(path);
    s.finish_reading().unwrap();
    settle(&mut s);
    s
}

fn focal(s: &mut Session, mm: f64) {
    change(s, |r| r.camera.focal_mm = Extent::clamped(mm));
}

/// The tangent that the bare picture holds at a point, and the one that the planned lens sees there.
fn tangents(s: &Session, x: f64, focal: f64) -> [f64; 2] {
    let shown = Arc::clone(s.metered_bare().unwrap().light().unwrap());
    let column = (x * shown.width() as f64) as usize;
    let held = f64::from(shown.pixel(column, shown.height() / 2)[0]);
    let middle = (column as f64 + 0.5) / shown.width() as f64;
    [held, (middle - 0.5) * 24.89 / focal]
}

#[test]
fn a_change_of_lens_cuts_again_without_the_file() {
    let folder = TempDir::new().unwrap();
    let path = file_of_directions(folder.path());
    let mut s = open(&path);
    assert_eq!(
        s.still().unwrap().picture,
        [600, 400],
        "nothing is known: all of it"
    );
    std::fs::remove_file(&path).unwrap();
    change(&mut s, |r| {
        r.frame.seen_by = Some(SeenBy {
            sensor_mm: Some([36.0, 24.0].map(Extent::clamped)),
            focal_mm: Some(Extent::clamped(24.0)),
            ..SeenBy::default()
        });
    });
    let pixel = 36.0 / 24.0 / 600.0;
    for mm in [50.0, 35.0, 85.0] {
        focal(&mut s, mm);
        let still = s.still().unwrap();
        let width = 24.89 / mm / pixel;
        assert!((still.picture[0] as f64 - width).abs() <= 1.0, "{still:?}");
        assert_eq!(still.size, [600, 400], "the still itself is as it was");
        for x in [0.1, 0.5, 0.93] {
            let [held, seen] = tangents(&s, x, mm);
            assert!(
                (held - seen).abs() < 0.51 * pixel,
                "at {mm} mm: {held}, {seen}"
            );
        }
        let (bare, glass) = (s.metered_bare().unwrap(), s.metered_glass().unwrap());
        let size = |shown: &foreglass::session::Shown| shown.light().unwrap().width();
        assert_eq!(size(bare), size(glass), "both of one cut");
        // No glass in front: what the cursor reads is the same on both.
        let read =
            |shown: &foreglass::session::Shown| spot(shown.light().unwrap(), 0.8, 0.5, 0.01).get();
        assert!(
            (read(bare) - read(glass)).abs() < 1e-4,
            "{} {}",
            read(bare),
            read(glass)
        );
    }
    s.undo();
    settle(&mut s);
    let [held, seen] = tangents(&s, 0.93, 35.0);
    assert!((held - seen).abs() < 0.51 * pixel, "undone: {held}, {seen}");
}

#[test]
fn too_wide_a_lens_is_said_and_taken_back() {
    let folder = TempDir::new().unwrap();
    let mut s = open(Path::new(&fixture("phone.jpg")));
    assert_eq!(
        s.still().unwrap().picture,
        [44, 26],
        "by its EXIF, from the start"
    );
    // The report of a picture comes behind it.
    crate::session::until(&mut s, "its framing", |s| {
        s.report().is_some_and(|r| r.framing.is_some())
    });
    let line = s.report().unwrap().framing.clone().unwrap();
    assert!(line.contains("67.3°"), "{line}");
    focal(&mut s, 10.0);
    assert!(
        s.glass().is_none() && s.metered_glass().is_none(),
        "no picture"
    );
    // A report without a picture is waited for by itself.
    let began = Instant::now();
    while s.report().is_none_or(|r| r.advisories.is_empty()) {
        s.poll();
        assert!(began.elapsed() < Duration::from_secs(60), "it is told");
    }
    let report = s.report().unwrap();
    let said = &report.advisories[0];
    assert_eq!(
        (said.code, said.level),
        ("frame-too-narrow", Level::Stop),
        "first of all"
    );
    assert!(
        said.text.ends_with('.') && said.text.contains("67.3°"),
        "{}",
        said.text
    );
    s.export(
        &folder.path().join("out.png"),
        foreglass::session::What::Bare(foreglass::frame::Output::for_kind(
            foreglass::frame::Kind::Png,
        )),
        false,
    );
    let began = Instant::now();
    while s.exporting().is_some() && began.elapsed() < Duration::from_secs(60) {
        s.poll();
    }
    let notices = s.take_notices();
    assert!(
        notices
            .iter()
            .any(|n| n.problem && n.text.contains("67.3°")),
        "{notices:?}"
    );
    change(&mut s, |r| r.frame.take = Take::Whole);
    assert_eq!(s.still().unwrap().picture, [120, 90], "all of it");
    assert!(s.glass().is_some(), "a picture again");
    assert!(
        s.report()
            .unwrap()
            .advisories
            .iter()
            .all(|a| a.code != "frame-too-narrow"),
        "gone"
    );
}

/// A lens keeps the ratio of its markings: T/N is the same at every stop (common practice, no source).
#[test]
fn the_t_stop_follows_the_stop() {
    let mut s = Session::new(Arc::new(|| {}));
    change(&mut s, |r| {
        r.camera.stop = FNumber::clamped(2.8);
        r.camera.t_stop = Some(FNumber::clamped(3.1));
    });
    change(&mut s, |r| edit::set_stop(r, FNumber::clamped(5.6)));
    let camera = &s.recipe().camera;
    assert_eq!(camera.stop.get(), 5.6, "as set");
    assert!(
        (camera.t_stop.unwrap().get() - 6.2).abs() < 1e-12,
        "{:?}",
        camera.t_stop
    );
    change(&mut s, |r| r.camera.t_stop = None);
    change(&mut s, |r| edit::set_stop(r, FNumber::clamped(4.0)));
    assert_eq!(
        s.recipe().camera.t_stop,
        None,
        "a lens without T marks gets none"
    );
}
