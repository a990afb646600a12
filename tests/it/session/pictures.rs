//! Pictures and figures that are made behind the window: the newest order wins, the last picture stays.

use super::{focal, open, session, still, until};
use foreglass::frame::Encoding;
use foreglass::glass::{FAMILIES, Family};
use foreglass::rig::Place;
use foreglass::session::{Detail, Session, Shown, Viewing, Wants, edit};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, sync_channel};
use std::time::{Duration, Instant};
use tempfile::TempDir;

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
        bare.mips()[0].rgba(),
        glass.mips()[0].rgba(),
        "of the last look: no glass"
    );
    until(&mut s, "its figures", |s| {
        s.report().is_some_and(|r| r.places.is_empty())
    });
    assert!(wakes.load(Ordering::Relaxed) > 3, "the window was woken");
}

/// Puts a family's glass into a stage.
fn put(s: &mut Session, stage: usize, key: &str) {
    let piece = Family::find(key).unwrap().default_piece();
    s.change("Put", None, |r| edit::put(r, Place::Stage(stage), &piece));
}

fn edit_out(s: &mut Session, place: Place) {
    s.change("Take out", None, |r| {
        edit::remove(r, place);
        Ok(())
    });
}

/// A session, and what it is woken by.
fn rung_session() -> (Session, Receiver<()>) {
    let (ring, rung) = sync_channel(64);
    let ring = move || {
        // Where many rings wait, one more says nothing.
        let _full = ring.try_send(());
    };
    (Session::new(Arc::new(ring)), rung)
}

/// While a hand moves faster than pictures are made, none may be left out.
#[test]
fn a_picture_that_comes_after_the_next_order_is_shown_too() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.png", 640, 360);
    let (mut s, rung) = rung_session();
    open(&mut s, &path);
    until(&mut s, "a picture", |s| !s.is_rendering());
    put(&mut s, 1, "pale-mist");
    let turn = |s: &mut Session, strength: &str| {
        let strength = strength.parse().unwrap();
        s.change("Strength", None, |r| {
            edit::set_strength(r, Place::Stage(1), strength)
        });
    };
    turn(&mut s, "1/4");
    until(&mut s, "the picture of strength 1/4", |s| !s.is_rendering());
    // What comes after it is told of as well.
    std::thread::sleep(Duration::from_millis(300));
    s.poll();
    let first = Arc::clone(s.glass().unwrap());
    while rung.try_recv().is_ok() {}
    turn(&mut s, "1");
    // Told of and not yet taken in.
    rung.recv_timeout(Duration::from_secs(60)).unwrap();
    // It takes much longer than what follows here.
    put(&mut s, 2, "star");
    s.poll();
    let second = Arc::clone(s.glass().unwrap());
    assert!(!Arc::ptr_eq(&first, &second), "the picture of strength 1");
    assert!(s.is_rendering(), "and another is under way");
    until(&mut s, "the picture with a star", |s| !s.is_rendering());
    assert!(!Arc::ptr_eq(&second, s.glass().unwrap()), "the next");
    let dark = |shown: &Shown| shown.light().unwrap().pixel(10, 10)[1];
    assert!(dark(&first) < dark(&second), "more mist");
}

/// A picture of another still would be wrong beside this one, however late it comes.
#[test]
fn a_late_picture_of_the_last_still_is_not_shown() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.exr", 1600, 900);
    let other = still(folder.path(), "pier.exr", 64, 36);
    let mut s = session();
    open(&mut s, &path);
    until(&mut s, "a picture", |s| !s.is_rendering());
    put(&mut s, 1, "star");
    // Its picture takes longer than the other still.
    open(&mut s, &other);
    assert!(s.is_rendering(), "of the other still");
    until(&mut s, "its picture", |s| {
        assert!(s.glass().is_none_or(|shown| shown.width() == 64));
        !s.is_rendering()
    });
    assert_eq!(s.bare().unwrap().width(), 64);
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
fn the_still_is_read_again_when_the_look_reads_it_otherwise() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.png", 320, 180);
    let mut s = session();
    open(&mut s, &path);
    until(&mut s, "a picture", |s| !s.is_rendering());
    let before = s.bare().unwrap().mips()[0].rgba().to_vec();
    s.change("Encoding", None, |r| {
        r.frame.encoding = Encoding::SrgbLinear;
        Ok(())
    });
    until(&mut s, "the still again", |s| {
        s.reading().is_none() && !s.is_rendering()
    });
    assert_ne!(s.bare().unwrap().mips()[0].rgba(), before, "other light");
    s.undo();
    until(&mut s, "the still as before", |s| {
        s.reading().is_none() && !s.is_rendering()
    });
    assert_eq!(
        s.bare().unwrap().mips()[0].rgba(),
        before,
        "undo brings the first reading back"
    );
}

#[test]
fn figures_come_without_a_still() {
    let mut s = session();
    put(&mut s, 1, "nd");
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

/// What is painted for a view comes after its picture: by then nobody may look that way any more.
#[test]
fn a_view_that_was_left_is_not_painted_late() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.png", 320, 180);
    let mut s = session();
    open(&mut s, &path);
    let view = |view| Wants {
        view,
        scopes: true,
        face: None,
    };
    s.want(view(Viewing::Difference));
    until(&mut s, "the difference", |s| {
        s.aid().is_some() && s.scopes().is_some()
    });
    focal(&mut s, 85.0);
    // All that comes of it is told of, and not taken in.
    std::thread::sleep(Duration::from_millis(500));
    s.want(Wants::default());
    s.poll();
    assert!(s.aid().is_none() && s.scopes().is_none(), "left");
    until(&mut s, "the picture", |s| !s.is_rendering());
    assert!(s.aid().is_none() && s.scopes().is_none(), "still left");
}
