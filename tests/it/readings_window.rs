//! The readings along the window's foot. Expected values are the window's own promise.

use crate::session::still;
use crate::window::sized;
use egui::vec2;
use egui_kittest::kittest::Queryable as _;
use foreglass::glass::Family;
use foreglass::rig::Place;
use foreglass::session::{Session, edit};
use std::sync::Arc;
use tempfile::TempDir;

/// A stop that reads as it did is not set instead of itself; glass that only costs a hundredth of it is.
#[test]
fn a_stop_is_told_instead_of_another_one_only() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "quay.png", 320, 180);
    for (glass, instead) in [(None, false), (Some("clear"), true), (Some("nd"), true)] {
        let mut session = Session::new(Arc::new(|| {}));
        session.open_still(&path);
        session.finish_reading().unwrap();
        if let Some(key) = glass {
            let piece = Family::find(key).unwrap().default_piece();
            session.change("Put", None, |r| edit::put(r, Place::Stage(1), &piece));
        }
        let h = sized(session, vec2(1280.0, 800.0));
        let e = h.state().session().report().unwrap().exposure.unwrap();
        let set = format!("Stop to set: f/{:.2}", e.stop_to_set);
        assert!(h.query_by_label(&set).is_some(), "{glass:?}: {set}");
        let told = h.query_by_label("instead of f/4").is_some();
        assert_eq!(told, instead, "{glass:?}: {set}");
    }
}
