//! The window with its pictures made on the device that draws it: the same to look at and to meter as with the
//! processor's. Run on software graphics, which is taken by name only.

use crate::gpu::executor;
use crate::session::still;
use crate::window::{Shown, settle};
use egui::{Key, Modifiers, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use foreglass::app::Window;
use foreglass::engine::{Choice, Used};
use foreglass::frame::{Frame, Kind, Output, write};
use foreglass::glass::Family;
use foreglass::rig::Place;
use foreglass::session::{Codes, Session, edit};
use foreglass::units::Extent;
use foreglass::watch::Watch;
use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};
use tempfile::TempDir;

/// A window on the quay, its pictures by one executor.
fn window(folder: &Path, strength: &str, choice: Choice) -> Shown<'static> {
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&still(folder, "quay.png", 800, 450));
    session.finish_reading().unwrap();
    let strength = strength.parse().unwrap();
    session.change("Strength", None, |r| {
        let mist = Family::find("dark-mist").map_err(|e| e.to_string())?;
        edit::put(r, Place::Stage(1), &mist.default_piece())?;
        edit::set_strength(r, Place::Stage(1), strength)
    });
    let mut h = Harness::builder()
        .with_size(vec2(1280.0, 800.0))
        .wgpu()
        .build_eframe(|cc| Window::new(&cc.egui_ctx, session, false).with_engine(choice));
    lit(&mut h);
    h
}

/// Until the picture is there, and its light.
fn lit(h: &mut Shown<'_>) {
    settle(h);
    let began = Instant::now();
    let lit = |h: &Shown<'_>| {
        let glass = h.state().session().metered_glass();
        glass.is_some_and(|shown| shown.light().is_some())
    };
    while !lit(h) {
        assert!(
            began.elapsed() < Duration::from_secs(60),
            "light that does not come"
        );
        std::thread::sleep(Duration::from_millis(5));
        h.run_steps(1);
    }
}

#[test]
fn what_the_window_s_device_makes_looks_and_meters_as_the_processor_s() {
    if executor().is_none() {
        return;
    }
    let folder = TempDir::new().unwrap();
    for value in ["1", "5", "1/8"] {
        let [mut there, mut here] =
            [Choice::Gpu, Choice::Cpu].map(|choice| window(folder.path(), value, choice));
        let [s, t] = [&there, &here].map(|h| h.state().session());
        assert_eq!(s.ran().unwrap().used, Used::Gpu);
        assert_eq!(t.ran().unwrap().used, Used::Cpu);
        assert!(
            matches!(s.glass().unwrap().codes, Codes::There(_)),
            "not over the bus"
        );
        let [a, b] = [s, t].map(|s| Arc::clone(s.metered_glass().unwrap().light().unwrap()));
        for (a, b) in a.planes().iter().flatten().zip(b.planes().iter().flatten()) {
            assert!(
                (a - b).abs() <= 2e-3 * b.abs().max(0.18 / 256.0),
                "{a} for {b}"
            );
        }
        let panes = ["Bare picture", "Picture through the glass"];
        let panes = panes.map(|name| there.get_by_label(name).rect());
        let [a, b] = [&mut there, &mut here].map(|h| h.render().unwrap());
        // Around them words say who made it, and figures may still be on their way.
        for pane in panes {
            let (from, to) = (pane.min.ceil(), pane.max.floor());
            for (x, y) in (from.y as u32..to.y as u32)
                .flat_map(|y| (from.x as u32..to.x as u32).map(move |x| (x, y)))
            {
                let [a, b] = [&a, &b].map(|picture| picture.get_pixel(x, y).0);
                let apart = (0..4).map(|i| a[i].abs_diff(b[i])).max();
                assert!(
                    apart <= Some(1),
                    "strength {value}: {a:?} for {b:?} at {x}, {y}"
                );
            }
        }
    }
}

/// A session on a plain picture with changes to take back, and its code.
fn plain(folder: &Path) -> (Session, [u8; 4]) {
    let path = folder.join("plain.png");
    let mut frame = Frame::black(1600, 900);
    for (plane, value) in frame.planes_mut().into_iter().zip([0.02, 0.18, 0.55]) {
        plane.fill(value);
    }
    let output = Output::for_kind(Kind::Png);
    write(&path, &frame, &output, &Watch::default()).unwrap();
    let mut session = Session::new(Arc::new(|| {}));
    session.open_still(&path);
    session.finish_reading().unwrap();
    for mm in 40..50 {
        session.change("Focal length", None, |r| {
            r.camera.focal_mm = Extent::clamped(f64::from(mm));
            Ok(())
        });
    }
    let code = session.bare().unwrap().mips()[0].rgba()[..4].try_into();
    (session, code.unwrap())
}

/// Which sizes of the picture through the glass are coded.
fn coded(h: &Shown<'_>) -> Vec<bool> {
    let glass = h.state().session().glass().unwrap();
    glass.mips().iter().map(|m| m.made().is_some()).collect()
}

#[test]
fn a_size_is_coded_when_it_is_looked_at_and_the_picture_never_goes_out() {
    let folder = TempDir::new().unwrap();
    let (session, code) = plain(folder.path());
    let mut h = Harness::builder()
        .with_size(vec2(1280.0, 800.0))
        .wgpu()
        .build_eframe(|cc| {
            // In memory, also where hardware draws the window.
            Window::new(&cc.egui_ctx, session, false).with_engine(Choice::Cpu)
        });
    settle(&mut h);
    let centres = ["Bare picture", "Picture through the glass"]
        .map(|name| h.get_by_label(name).rect().center() + vec2(30.0, 20.0));
    let seen = |h: &mut Shown<'_>, when: &str| {
        let picture = h.render().unwrap();
        for at in centres {
            let pixel = picture.get_pixel(at.x as u32, at.y as u32).0;
            assert_eq!(pixel, code, "{when}, at {at:?}");
        }
    };
    seen(&mut h, "fitted");
    // Another focal length changes nothing of an even picture without glass, but for its being another one.
    let again = |h: &mut Shown<'_>| h.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    again(&mut h);
    settle(&mut h);
    assert_eq!(coded(&h), [false, true, false], "of 1600, 800 and 400");
    h.key_press(Key::Num1);
    for step in 0..40 {
        h.run_steps(1);
        seen(&mut h, &format!("zoomed, step {step}"));
        if step % 6 == 5 {
            again(&mut h);
        }
    }
    settle(&mut h);
    assert_eq!(coded(&h), [true, false, false], "at its own size");
    h.key_press(Key::F);
    for step in 0..10 {
        h.run_steps(1);
        seen(&mut h, &format!("fitted again, step {step}"));
    }
    settle(&mut h);
    assert_eq!(
        coded(&h),
        [true, true, false],
        "and the smaller one as well"
    );
}
