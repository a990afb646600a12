//! Advice in the open document and in the window: a search on a thread of its own, its options put into the
//! rig and taken out, a kit from a file. What is expected is the session's own promise; the search itself
//! is held to a brute-force one in `suggest`.

use crate::session::{still, until};
use egui::vec2;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use foreglass::app::Window;
use foreglass::frame::{Frame, Kind, Output, write};
use foreglass::meters::Region;
use foreglass::meters::suggest::Ask;
use foreglass::rig::Place;
use foreglass::session::Session;
use foreglass::units::{Extent, Stops};
use foreglass::watch::Watch;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A sky three stops over key above an even foreground.
fn sky(folder: &Path) -> Session {
    let mut frame = Frame::black(320, 180);
    for plane in frame.planes_mut() {
        for (i, v) in plane.iter_mut().enumerate() {
            *v = if i < 320 * 70 { 0.18 * 8.0 } else { 0.18 };
        }
    }
    let path = folder.join("sky.exr");
    write(
        &path,
        &frame,
        &Output::for_kind(Kind::of(&path).unwrap()),
        &Watch::default(),
    )
    .unwrap();
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&path);
    session.finish_reading().unwrap();
    session
}

fn ask() -> Ask {
    Ask {
        region: Region::new([0.0, 0.0, 1.0, 0.38]).unwrap(),
        target: Stops::clamped(1.0),
        level: None,
    }
}

fn answered(session: &mut Session) {
    session.seek(ask());
    assert!(session.is_seeking(), "under way");
    until(session, "advice", |s| !s.is_seeking());
}

#[test]
fn an_option_goes_into_the_rig_and_another_takes_its_place() {
    let folder = TempDir::new().unwrap();
    let mut s = sky(folder.path());
    answered(&mut s);
    let options = s.advice().expect("an answer").answer.options.clone();
    assert!(options.len() > 1 && s.advice_holds(), "{options:?}");
    assert_eq!(s.option_in_use(), None, "nothing is done unasked");
    for i in [0, 1] {
        s.use_option(i);
        assert_eq!(s.recipe().rig, options[i].rig, "option {i}");
        assert_eq!(s.option_in_use(), Some(i), "option {i}");
        assert!(s.advice_holds(), "an option is what was advised");
    }
    s.undo();
    s.undo();
    assert!(s.setup().glass.is_empty(), "undone as one change each");
    // Another lens is another question.
    s.change("Focal length", None, |r| {
        r.camera.focal_mm = Extent::clamped(85.0);
        Ok(())
    });
    assert!(!s.advice_holds(), "the look has changed");
}

#[test]
fn a_search_is_given_up_and_a_region_beyond_the_picture_is_refused_in_a_sentence() {
    let folder = TempDir::new().unwrap();
    let mut s = sky(folder.path());
    s.seek(ask());
    s.cancel_seek();
    assert!(!s.is_seeking(), "given up");
    // A lens that takes the middle third: the top of the still is out of the picture.
    s.change("Seen across", None, |r| {
        r.frame.seen_by = serde_json::from_value(serde_json::json!({"field_deg": 60.0})).unwrap();
        Ok(())
    });
    let edge = Ask {
        region: Region::new([0.0, 0.0, 1.0, 0.05]).unwrap(),
        ..ask()
    };
    s.seek(edge);
    until(&mut s, "a refusal", |s| !s.is_seeking());
    let said = s.take_notices();
    let told = said.iter().find(|n| n.problem).expect("a refusal");
    assert!(
        told.text.contains("outside the planned picture"),
        "{told:?}"
    );
    assert!(
        s.advice().is_none(),
        "no answer to it, nor to what was given up"
    );
}

#[test]
fn a_kit_from_a_file_is_all_that_is_chosen_from() {
    let folder = TempDir::new().unwrap();
    let mut s = sky(folder.path());
    let path = folder.path().join("case.json");
    let case = r#"{"format": "foreglass.kit", "version": 1, "name": "Case", "glass": [
        {"glass": "grad-nd", "options": {"density": 0.9, "edge": "medium"}}]}"#;
    std::fs::write(&path, case).unwrap();
    s.open_kit(&path);
    s.finish_reading().unwrap();
    assert_eq!(s.kit().name, "Case", "read");
    answered(&mut s);
    let options = &s.advice().unwrap().answer.options;
    let names = options.iter().flat_map(|o| &o.glass).map(|g| &g.name);
    let names: Vec<_> = names.collect();
    assert!(!names.is_empty(), "one of it helps");
    assert!(
        names.iter().all(|n| *n == "Grad ND 0.9 medium"),
        "{names:?}"
    );
    std::fs::write(&path, case.replace("0.9", "99")).unwrap();
    s.open_kit(&path);
    let refused = s.finish_reading().expect_err("no such density");
    assert!(refused.starts_with("case.json: glass[0]"), "{refused}");
    assert_eq!(s.kit().name, "Case", "the one before stays");
    s.use_default_kit();
    assert!(
        s.kit_file().is_none() && s.kit().rows.len() > 10,
        "built in"
    );
}

/// Until the session is at rest.
fn settle(h: &mut Harness<'_, Window>) {
    let began = Instant::now();
    loop {
        h.run_steps(2);
        let s = h.state().session();
        if !s.is_rendering() && s.reading().is_none() && !s.is_seeking() {
            break;
        }
        assert!(began.elapsed() < Duration::from_secs(60), "no end to it");
        std::thread::sleep(Duration::from_millis(5));
    }
    h.run_steps(4);
    h.check_accessibility();
}

fn window(session: Session) -> Harness<'static, Window> {
    let mut h = Harness::builder()
        .with_size(vec2(1280.0, 1400.0))
        .build_eframe(|cc| Window::new(&cc.egui_ctx, session, false));
    settle(&mut h);
    h
}

fn click(h: &mut Harness<'_, Window>, label: &str) {
    h.get_by_label(label).click();
    settle(h);
}

#[test]
fn the_window_marks_a_region_and_puts_the_glass_in() {
    let folder = TempDir::new().unwrap();
    let mut h = window(sky(folder.path()));
    click(&mut h, "Page: Hold back");
    click(&mut h, "Mark a region on the picture");
    // From the picture's top left to its middle.
    let pane = h.get_by_label("Bare picture").rect();
    let still = [320.0, 180.0];
    let scale = (pane.width() / still[0]).min(pane.height() / still[1]);
    let picture =
        egui::Rect::from_center_size(pane.center(), vec2(still[0] * scale, still[1] * scale));
    let at = |x: f32, y: f32| picture.min + vec2(x, y) * picture.size();
    h.drag_at(at(0.02, 0.02));
    h.run_steps(2);
    h.hover_at(at(0.3, 0.2));
    h.run_steps(2);
    h.hover_at(at(0.98, 0.37));
    h.run_steps(2);
    h.drop_at(at(0.98, 0.37));
    settle(&mut h);
    click(&mut h, "Find glass");
    let advice = h.state().session().advice().expect("an answer").clone();
    let marked = advice.ask.region.sides();
    for (got, want) in marked.into_iter().zip([0.02, 0.02, 0.98, 0.37]) {
        assert!((got - want).abs() < 0.01, "{marked:?}");
    }
    click(&mut h, "Option 1: Use this");
    assert_eq!(h.state().session().option_in_use(), Some(0), "in the rig");
    let glass = advice.answer.options[0].glass.len();
    assert_eq!(h.state().session().setup().glass.len(), glass, "all of it");
    assert!(
        h.query_by_label("Option 1: In the rig").is_some(),
        "and said"
    );
}

#[test]
fn the_window_tells_the_rig_s_figures() {
    let folder = TempDir::new().unwrap();
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&still(folder.path(), "quay.png", 320, 180));
    session.finish_reading().unwrap();
    session.change("Put", None, |r| {
        r.camera.focal_mm = Extent::clamped(18.0);
        r.rig.rings = serde_json::from_value(serde_json::json!([
            {"glass": "balance", "options": {"series": "85"}, "thread_mm": 62},
            {"glass": "nd", "options": {"density": 0.6}, "thread_mm": 62},
        ]))
        .unwrap();
        Ok(())
    });
    let mut h = window(session);
    click(&mut h, "Page: Figures");
    let setup = h.state().session().setup().clone();
    let exposure = setup.exposure().unwrap();
    let view = h.state().session().report().unwrap();
    let widest = view.widest_focal_mm.expect("some lens clears it");
    let corner = view.vignette.corner.map(Stops::get);
    let rows = [
        format!("Filter factor: {:.3}", exposure.factor),
        "Shift by the numbers: +112 mireds".to_owned(),
        format!("Widest lens that clears: {widest:.1} mm"),
    ];
    for row in rows {
        assert!(h.query_by_label(&row).is_some(), "{row}");
    }
    match corner {
        Some(c) => assert!(
            h.query_by_label(&format!("Worst corner: {c:.2} stop"))
                .is_some(),
            "{c}"
        ),
        None => assert!(
            h.query_by_label("Vignette: corners are black").is_some(),
            "black"
        ),
    }
    assert_eq!(setup.glass[1].place, Place::Ring(2), "both rings");
}

/// A shade whose mouth is told cuts the picture of a wide lens, and says so.
#[test]
fn the_window_sets_the_shade() {
    let folder = TempDir::new().unwrap();
    let mut session = sky(folder.path());
    session.change("Focal length", None, |r| {
        r.camera.focal_mm = Extent::clamped(14.0);
        Ok(())
    });
    let mut h = window(session);
    let codes = |h: &Harness<'_, Window>| -> Vec<&'static str> {
        let report = h.state().session().report().unwrap();
        report.advisories.iter().map(|a| a.code).collect()
    };
    assert!(!codes(&h).contains(&"shade"), "made to the lens");
    h.get_by_label("Mouth, across: set").scroll_to_me();
    settle(&mut h);
    click(&mut h, "Mouth, across: set");
    let told = h.state().session().recipe().rig.shade.opening_mm;
    assert_eq!(
        told.map(|o| o.map(Extent::get)),
        Some([165.0, 125.0]),
        "usual"
    );
    assert!(codes(&h).contains(&"shade"), "{:?}", codes(&h));
    click(&mut h, "Shade on the matte box");
    assert!(!codes(&h).contains(&"shade"), "taken off");
}

/// A search asked for in the same breath as another lens is made on that lens's part of the still.
#[test]
fn a_search_takes_the_picture_of_the_lens_that_is_set() {
    let folder = TempDir::new().unwrap();
    let seen = |focal: f64| {
        let mut s = sky(folder.path());
        s.change("Seen across", None, |r| {
            r.frame.seen_by =
                serde_json::from_value(serde_json::json!({"field_deg": 60.0})).unwrap();
            r.camera.focal_mm = Extent::clamped(focal);
            Ok(())
        });
        s
    };
    let metered = |s: &mut Session| {
        let region = Region::new([0.0, 0.0, 1.0, 1.0]).unwrap();
        s.seek(Ask { region, ..ask() });
        until(s, "advice", |s| !s.is_seeking());
        s.advice().expect("an answer").answer.metered.get()
    };
    let mut settled = seen(85.0);
    until(&mut settled, "its picture", |s| !s.is_rendering());
    let wanted = metered(&mut settled);
    let mut hasty = seen(30.0);
    until(&mut hasty, "its picture", |s| !s.is_rendering());
    let wider = metered(&mut hasty);
    hasty.change("Focal length", None, |r| {
        r.camera.focal_mm = Extent::clamped(85.0);
        Ok(())
    });
    let got = metered(&mut hasty);
    assert!(
        (wider - wanted).abs() > 0.05,
        "the sky's share differs: {wider} {wanted}"
    );
    assert!((got - wanted).abs() < 1e-9, "{got} is not {wanted}");
}
