//! The window: built without a screen, worked as a person would, found by the names that a screen
//! reader says. Every run also fails on an input without a name (the test library sees to that) and
//! on a letter that the fonts do not have.

use crate::session::still;
use egui::accesskit::{Role, Toggled};
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use foreglass::app::Window;
use foreglass::frame::{Frame, Kind, Output, write};
use foreglass::glass::control::{Control, Kind as ControlKind};
use foreglass::glass::{FAMILIES, Family};
use foreglass::rig::Place;
use foreglass::session::{Session, edit};
use foreglass::watch::Watch;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tempfile::TempDir;

pub(crate) type Shown<'a> = Harness<'a, Window>;

pub(crate) fn window(session: Session) -> Shown<'static> {
    sized(session, vec2(1280.0, 800.0))
}

pub(crate) fn sized(session: Session, size: egui::Vec2) -> Shown<'static> {
    let mut harness = Harness::builder()
        .with_size(size)
        .build_eframe(|cc| Window::new(&cc.egui_ctx, session, false));
    settle(&mut harness);
    harness
}

/// Until nothing is under way, and nothing wants to be drawn again.
pub(crate) fn settle(harness: &mut Shown<'_>) {
    let began = Instant::now();
    loop {
        harness.run_steps(2);
        let (s, coding) = (harness.state().session(), harness.state().is_coding());
        if !s.is_rendering() && s.reading().is_none() && !s.is_saving() && !coding {
            break;
        }
        assert!(
            began.elapsed() < Duration::from_secs(60),
            "work that does not end"
        );
        std::thread::sleep(Duration::from_millis(5));
    }
    harness.run_steps(4);
    harness.check_accessibility();
}

pub(crate) fn session_on(folder: &Path) -> Session {
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&still(folder, "quay.png", 800, 450));
    session.finish_reading().unwrap();
    session
}

pub(crate) fn click(harness: &mut Shown<'_>, label: &str) {
    harness.get_by_label(label).click();
    settle(harness);
}

/// The whole stack by names, from the lens outward.
pub(crate) fn stack(harness: &Shown<'_>) -> Vec<String> {
    let glass = &harness.state().session().setup().glass;
    glass
        .iter()
        .map(|g| format!("{}: {}", g.place, g.piece.name()))
        .collect()
}

#[test]
fn glass_is_added_made_stronger_and_taken_back() {
    let folder = TempDir::new().unwrap();
    let mut h = window(session_on(folder.path()));
    let family = FAMILIES.iter().find(|f| f.strengths.len() > 3).unwrap();
    click(&mut h, "Add glass to stage 1");
    h.get_by_label_contains(family.purpose).click();
    settle(&mut h);
    let put = family.default_piece();
    assert_eq!(stack(&h), [format!("Stage 1: {}", put.name())], "one piece");

    // Its controls are open, and come from the family.
    let last = family.strengths[family.strengths.len() - 1];
    click(&mut h, &format!("Strength {last}"));
    let stronger = h
        .state()
        .session()
        .piece(Place::Stage(1))
        .unwrap()
        .strength();
    assert_eq!(stronger, Some(last), "stronger");

    h.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut h);
    assert_eq!(
        stack(&h),
        [format!("Stage 1: {}", put.name())],
        "as it was put in"
    );
    h.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut h);
    assert_eq!(stack(&h), Vec::<String>::new(), "and out again");
    h.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
    settle(&mut h);
    assert_eq!(stack(&h).len(), 1, "redone");
}

#[test]
fn every_family_s_controls_can_be_shown_and_have_names() {
    for family in FAMILIES {
        let mut session = Session::new(Arc::new(|| {}));
        session.change("Put", None, |r| {
            edit::put(r, Place::Ring(1), &family.default_piece())?;
            edit::put(r, Place::Stage(1), &family.default_piece())
        });
        let mut h = sized(session, vec2(1280.0, 1500.0));
        let name = family.default_piece().name().to_owned();
        for place in ["Ring 1", "Stage 1"] {
            click(&mut h, &format!("{place}: {name}"));
            for control in family.controls {
                let found = h.query_all_by_label_contains(control.label).count();
                assert!(found > 0, "{}: {} is shown", family.key, control.label);
            }
        }
    }
}

#[test]
fn glass_is_moved_by_its_buttons_and_by_dragging() {
    let folder = TempDir::new().unwrap();
    let mut session = session_on(folder.path());
    let (a, b) = (
        FAMILIES[0].default_piece(),
        Family::find("nd").unwrap().default_piece(),
    );
    session.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &a)?;
        edit::put(r, Place::Stage(2), &b)
    });
    let mut h = window(session);
    let (a, b) = (a.name(), b.name());
    click(&mut h, &format!("Move {a} towards the scene"));
    assert_eq!(
        stack(&h),
        [format!("Stage 1: {b}"), format!("Stage 2: {a}")],
        "changed places"
    );

    let from = h.get_by_label(&format!("Stage 2: {a}")).rect().center();
    let to = h.get_by_label("Add glass to ring 1").rect().left_center() - vec2(60.0, 0.0);
    h.drag_at(from);
    h.run_steps(1);
    for i in 1..=4 {
        h.hover_at(from + (to - from) * (i as f32 / 4.0));
        h.run_steps(1);
    }
    h.drop_at(to);
    settle(&mut h);
    assert_eq!(
        stack(&h),
        [format!("Ring 1: {a}"), format!("Stage 1: {b}")],
        "dragged to the ring"
    );

    click(&mut h, &format!("Take {b} out"));
    assert_eq!(stack(&h), [format!("Ring 1: {a}")], "taken out");
}

#[test]
fn views_are_chosen_by_button_and_by_key_and_b_shows_bare() {
    let folder = TempDir::new().unwrap();
    let mut h = window(session_on(folder.path()));
    let panes = |h: &Shown<'_>| {
        let names = [
            "Bare picture",
            "Picture through the glass",
            "Wipe between bare and glass",
        ];
        names.map(|n| h.query_by_label(n).is_some())
    };
    assert_eq!(panes(&h), [true, true, false], "two panes");
    let [bare, glass] =
        ["Bare picture", "Picture through the glass"].map(|n| h.get_by_label(n).rect());
    assert_eq!(bare.size(), glass.size(), "of one size");
    click(&mut h, "Wipe");
    assert_eq!(panes(&h), [false, false, true], "one pane, wiped");
    assert!(
        h.query_by_label("Wipe line, percent across").is_some(),
        "and its line"
    );
    h.key_press(Key::G);
    settle(&mut h);
    assert_eq!(panes(&h), [false, true, false], "glass only");
    h.key_down(Key::B);
    h.run_steps(3);
    assert_eq!(panes(&h), [true, false, false], "bare while it is held");
    h.key_up(Key::B);
    h.run_steps(3);
    assert_eq!(panes(&h), [false, true, false], "and back");
    h.key_press(Key::S);
    settle(&mut h);
    let on = |h: &Shown<'_>| {
        let nodes = h.get_all_by_label("Side by side");
        nodes
            .map(|n| n.accesskit_node().toggled())
            .collect::<Vec<_>>()
    };
    assert!(
        on(&h).contains(&Some(Toggled::True)),
        "told as pressed: {:?}",
        on(&h)
    );
}

#[test]
fn letters_that_are_typed_are_no_commands() {
    let folder = TempDir::new().unwrap();
    let mut h = window(session_on(folder.path()));
    h.get_by_role_and_label(Role::TextInput, "Name").focus();
    h.run_steps(2);
    for (key, letter) in [(Key::W, "w"), (Key::G, "g")] {
        h.key_press(key);
        h.event(egui::Event::Text(letter.to_owned()));
        h.run_steps(2);
    }
    assert_eq!(h.state().session().recipe().name, "wg", "typed");
    assert!(
        h.query_by_label("Bare picture").is_some(),
        "still two panes"
    );
    h.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut h);
    assert_eq!(
        h.state().session().recipe().name,
        "",
        "typing is undone as one"
    );
}

/// An option whose text lies in a file: asked for by its button, read aside, undone in one step.
#[test]
fn a_glass_s_table_is_opened_from_a_file() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("pane.csv");
    std::fs::write(&path, "# Wheelhouse pane\nnm;%\n380;50\n780;50\n").unwrap();
    let is_file = |c: &Control| matches!(c.kind, ControlKind::File { .. });
    let family = FAMILIES
        .iter()
        .find(|f| f.controls.iter().any(is_file))
        .unwrap();
    let label = family.controls.iter().find(|c| is_file(c)).unwrap().label;
    let mut session = Session::new(Arc::new(|| {}));
    session.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &family.default_piece())
    });
    let mut h = window(session);
    click(
        &mut h,
        &format!("Stage 1: {}", family.default_piece().name()),
    );
    let open = |h: &mut Shown<'_>, words: &str, typed: &Path| {
        h.get_by_label(&format!("{words} {}", label.to_lowercase()))
            .click();
        h.run_steps(4);
        h.event(egui::Event::Text(typed.display().to_string()));
        h.run_steps(2);
        h.key_press(Key::Enter);
        h.run_steps(2);
        settle(h);
    };
    open(&mut h, "Open…", &folder.path().join("gone.csv"));
    assert!(h.query_by_label_contains("gone.csv").is_some(), "said");
    open(&mut h, "Open…", &path);
    assert_eq!(stack(&h), ["Stage 1: Spectrum: Wheelhouse pane"], "loaded");
    assert!(
        h.query_by_label(&format!("Replace… {}", label.to_lowercase()))
            .is_some(),
        "and can be replaced"
    );
    h.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut h);
    assert_eq!(stack(&h), ["Stage 1: Spectrum"], "undone");
}

#[test]
fn a_still_is_opened_by_typing_its_path_and_a_wrong_one_is_said() {
    let folder = TempDir::new().unwrap();
    let path = still(folder.path(), "estuary.png", 320, 180);
    let mut h = window(Session::new(Arc::new(|| {})));
    assert!(h.query_by_label("No still is open").is_some(), "says so");
    for (typed, there) in [
        ("/nowhere/quay.png".to_owned(), false),
        (path.display().to_string(), true),
    ] {
        h.key_press_modifiers(Modifiers::COMMAND, Key::O);
        h.run_steps(4);
        // The field has the keyboard already.
        h.event(egui::Event::Text(typed.clone()));
        h.run_steps(2);
        h.key_press(Key::Enter);
        h.run_steps(2);
        settle(&mut h);
        let name = Path::new(&typed)
            .file_name()
            .unwrap()
            .to_string_lossy()
            .into_owned();
        assert_eq!(h.state().session().still().is_some(), there, "{typed}");
        assert!(
            h.query_by_label_contains(&name).is_some(),
            "{name} is named"
        );
    }
    assert!(
        h.query_by_label_contains("quay.png").is_some(),
        "the problem stays until put away"
    );
    click(&mut h, "Put this away");
    assert!(
        h.query_by_label_contains("quay.png").is_none(),
        "and goes then"
    );
}

#[test]
fn figures_and_warnings_are_told_in_words() {
    let folder = TempDir::new().unwrap();
    let mut session = session_on(folder.path());
    session.change("Put", None, |r| {
        edit::put(
            r,
            Place::Stage(1),
            &Family::find("nd").unwrap().default_piece(),
        )
    });
    let h = window(session);
    let loss = h.state().session().report().unwrap().loss.get();
    // Which it is hangs on the machine.
    let engines = [
        "Worked out on the processor",
        "Worked out on graphics hardware",
    ];
    let told = engines.iter().filter(|e| h.query_by_label(e).is_some());
    assert_eq!(told.count(), 1, "who made the picture is told");
    let line = format!("Light lost: {loss:.2} stops");
    assert!(h.query_by_label(&line).is_some(), "{line}");
    assert!(
        h.query_by_label_contains("Note: Glass falls").is_some(),
        "level by word"
    );
    assert!(h.query_by_label_contains("Bare: ").is_some(), "the spot");
}

#[test]
fn nothing_falls_out_of_a_small_window() {
    let folder = TempDir::new().unwrap();
    let h = sized(session_on(folder.path()), vec2(960.0, 600.0));
    for name in [
        "Hold for bare",
        "One to one",
        "Side by side",
        "Export picture…",
        "Bare picture",
        "Picture through the glass",
    ] {
        let rect = h.get_all_by_label(name).next().unwrap().rect();
        let window = egui::Rect::from_min_size(egui::Pos2::ZERO, vec2(960.0, 600.0));
        assert!(window.contains_rect(rect), "{name} lies at {rect:?}");
    }
}

#[test]
fn what_is_clicked_is_large_enough() {
    // WCAG 2.2, 2.5.8: 24 by 24.
    let folder = TempDir::new().unwrap();
    let mut session = session_on(folder.path());
    session.change("Put", None, |r| {
        edit::put(r, Place::Stage(1), &FAMILIES[1].default_piece())
    });
    let mut h = sized(session, vec2(1280.0, 1200.0));
    click(
        &mut h,
        &format!("Stage 1: {}", FAMILIES[1].default_piece().name()),
    );
    for role in [
        Role::Button,
        Role::CheckBox,
        Role::ComboBox,
        Role::SpinButton,
        Role::TextInput,
    ] {
        for node in h.query_all_by_role(role) {
            let size = node.rect().size();
            let label = node.accesskit_node().label().unwrap_or_default();
            assert!(size.min_elem() >= 24.0, "{role:?} {label:?} is {size:?}");
        }
    }
}

#[test]
fn codes_reach_the_screen_as_they_are() {
    let folder = TempDir::new().unwrap();
    let path = folder.path().join("plain.png");
    let mut frame = Frame::black(400, 225);
    for (plane, value) in frame.planes_mut().into_iter().zip([0.02, 0.18, 0.55]) {
        plane.fill(value);
    }
    write(
        &path,
        &frame,
        &Output::for_kind(Kind::Png),
        &Watch::default(),
    )
    .unwrap();
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&path);
    session.finish_reading().unwrap();
    let code: Vec<u8> = session.bare().unwrap().mips()[0].rgba()[..4].to_vec();
    let mut h = Harness::builder()
        .with_size(vec2(1280.0, 800.0))
        .wgpu()
        .build_eframe(|cc| Window::new(&cc.egui_ctx, session, false));
    settle(&mut h);
    let panes = ["Bare picture", "Picture through the glass"].map(|n| h.get_by_label(n).rect());
    let picture = h.render().unwrap();
    for pane in panes {
        let at = pane.center() + vec2(30.0, 20.0);
        let seen = picture.get_pixel(at.x as u32, at.y as u32).0;
        assert_eq!(seen.to_vec(), code, "at {at:?}");
    }
    let beside = picture
        .get_pixel(panes[0].left() as u32 - 5, panes[0].top() as u32 + 5)
        .0;
    assert_eq!(
        beside,
        [48, 48, 48, 255],
        "the surround is neutral and dark"
    );
}
