//! The open document, beside this file: what is changed, the pictures that follow, files. Expected values are the
//! session's own promise; there is no outside source for them.

mod edits;
mod files;
mod pictures;

use foreglass::frame::{Frame, Kind, Output, write};
use foreglass::session::Session;
use foreglass::units::Extent;
use foreglass::watch::Watch;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

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
