//! The camera that a frame was seen by, and the part of the frame that the planned camera would see.
//!
//! Expected angles are 2·atan(w/2f) (a rectilinear lens), worked out here or as lens tables print them;
//! EXIF values are what Pillow reads back from the files that it wrote (`tests/scripts/exif_frames.py`).

use crate::checks::Table;
use crate::cli::{Folder, data, foreglass, refusal};
use crate::plan::run;
use crate::recipe::with;
use foreglass::engine::{self, Choice};
use foreglass::frame::{Encoding, Exif, Frame, Kind, Output, Still, read_bytes, write};
use foreglass::meters::spot::spot;
use foreglass::recipe::{Framing, FramingError, Origin, Recipe, SeenBy};
use foreglass::rig::camera::FieldOfView;
use foreglass::rig::format::Format;
use foreglass::units::Extent;
use proptest::prelude::*;
use serde_json::{Value, json};
use std::path::Path;

pub(crate) fn fixture(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks/exif");
    path.join(name).to_string_lossy().into_owned()
}

fn still(name: &str) -> Still {
    let bytes = std::fs::read(fixture(name)).unwrap();
    read_bytes(name, &bytes, Encoding::Auto).unwrap()
}

fn recipe(changes: &[(&str, Value)]) -> Recipe {
    Recipe::parse(&with(changes)).unwrap()
}

fn near(found: f64, wanted: f64, within: f64) {
    assert!(
        (found - wanted).abs() <= within,
        "{found} is not {wanted} to {within}"
    );
}

/// Degrees across, up and from corner to corner on 36 × 24 mm as tables of lenses print them, to the
/// tenth; common practice, and each is 2·atan(w/2f).
#[test]
fn fields_of_view_are_those_of_lens_tables() {
    for (focal, wanted) in [
        (24.0, [73.7, 53.1, 84.1]),
        (35.0, [54.4, 37.8, 63.4]),
        (50.0, [39.6, 27.0, 46.8]),
        (85.0, [23.9, 16.1, 28.6]),
        (135.0, [15.2, 10.2, 18.2]),
    ] {
        let sides = [36.0, 24.0].map(Extent::clamped);
        let f = FieldOfView::new(sides, Extent::clamped(focal));
        for (found, wanted) in [f.across, f.up, f.diagonal].into_iter().zip(wanted) {
            near(found.get(), wanted, 0.051);
        }
    }
    let folder = Folder::new();
    let path = folder.write("r.json", with(&[("/camera/sensor_mm", json!([36, 24]))]));
    let rig = data(&["rig", "--recipe", &path, "--json"]);
    near(rig["field_deg"]["across"].as_f64().unwrap(), 39.598, 1e-3);
    near(rig["field_deg"]["up"].as_f64().unwrap(), 26.991, 1e-3);
    near(rig["field_deg"]["diagonal"].as_f64().unwrap(), 46.793, 1e-3);
    assert_eq!(rig["sensor_format"], "full-frame", "{rig}");
}

/// The framed part keeps the sensor's width or its height, whichever fits.
#[test]
fn the_framing_aspect_cuts_the_sensor() {
    for (aspect, wanted) in [
        (json!(null), [24.89, 18.66]),
        (json!(2.0), [24.89, 12.445]),
        (json!(1.0), [18.66, 18.66]),
    ] {
        let r = recipe(&[
            ("/camera/sensor_mm", json!([24.89, 18.66])),
            ("/camera/framing_aspect", aspect),
        ]);
        let found = r.camera.framed_mm().map(Extent::get);
        near(found[0], wanted[0], 1e-9);
        near(found[1], wanted[1], 1e-9);
        let view = r.setup().unwrap().sensor_view();
        near(view.height_mm, wanted[1], 1e-9);
    }
}

#[test]
fn formats_are_listed_and_named() {
    let out = foreglass(&["recipe", "--formats"]);
    let text = String::from_utf8(out.stdout).unwrap();
    assert_eq!(
        text.lines().count(),
        Format::ALL.len(),
        "a line each: {text}"
    );
    let line = text.lines().find(|l| l.contains("super-35-four-perf"));
    let line = line.expect("it is listed");
    assert!(
        line.contains("24.89 × 18.66") && line.contains("(read)"),
        "{line}"
    );
    for f in &Format::ALL {
        assert_eq!(Format::of(f.sensor_mm()), Some(f), "by its own sides");
    }
    let custom = Format::of([25.0, 14.0].map(Extent::clamped));
    assert_eq!(
        custom, None,
        "a tenth of a millimetre more is another sensor"
    );
    let (code, text) = refusal(&["recipe", "--formats", "--defaults"]);
    assert_eq!(code, 2, "one or the other: {text}");
}

/// Every value that Pillow reads back from its files is read, in both byte orders and three kinds of file.
#[test]
fn exif_is_read_as_another_library_wrote_it() {
    let mut seen = 0;
    for row in Table::read("exif/values.csv").rows() {
        let (name, tag, wanted) = (row.text("file"), row.number("tag"), row.number("value"));
        let exif = still(name).exif;
        let found = match tag as u32 {
            33_434 => exif.shutter_s.map(|v| v.get()),
            33_437 => exif.stop.map(|v| v.get()),
            34_855 => exif.iso.map(f64::from),
            37_382 => exif.focus_m.map(|v| v.get()),
            37_386 => exif.focal_mm.map(|v| v.get()),
            41_989 => exif.focal_35_mm.map(|v| v.get()),
            40_962 => exif.written_for.map(|v| f64::from(v[0])),
            40_963 => exif.written_for.map(|v| f64::from(v[1])),
            // Powers of two: APEX, EXIF 2.32 annex C.
            37_377 => exif.shutter_s.map(|v| -v.get().log2()),
            37_378 => exif.stop.map(|v| 2.0 * v.get().log2()),
            // Pixels over the resolution are the sensor: 90 at 25 to the centimetre are 36 mm.
            41_486 => exif.sensor_mm.map(|s| 900.0 / s[0].get()),
            41_487 => exif.sensor_mm.map(|s| 600.0 / s[1].get()),
            41_488 => Some(wanted),
            other => panic!("tag {other} is not tested"),
        };
        // An index of 0 says nothing.
        let wanted = (wanted != 0.0).then_some(wanted);
        assert_eq!(found.is_some(), wanted.is_some(), "{name} {tag}: {exif:?}");
        near(found.unwrap_or(0.0), wanted.unwrap_or(0.0), 1e-9);
        seen += 1;
    }
    assert!(seen > 25, "rows were compared");
    let bare = read_bytes(
        "quay.png",
        &crate::frame::png8((16, 16), &[7; 768]),
        Encoding::Auto,
    );
    assert!(bare.unwrap().exif.is_empty(), "nothing told, nothing known");
}

/// Half of what a frame takes in across, as a tangent, by the equivalent along the diagonal.
fn by_diagonal(mm: f64, w: f64, h: f64) -> f64 {
    0.5 * 36_f64.hypot(24.0) * w / w.hypot(h) / mm
}

fn across(tangent: f64) -> f64 {
    2.0 * tangent.atan().to_degrees()
}

#[test]
fn what_the_recipe_tells_comes_before_exif_and_the_plan_is_left_alone() {
    let Still { frame, exif, .. } = still("phone.jpg");
    let size = [frame.width(), frame.height()];
    let field = |told: Value| {
        let r = recipe(&[("/frame", json!({ "seen_by": told }))]);
        let seen = r.seen(&exif, size);
        (seen.field_deg.value.unwrap().get(), seen)
    };
    let (found, seen) = field(json!(null));
    near(found, across(by_diagonal(26.0, 4.0, 3.0)), 1e-9);
    assert_eq!(seen.focal_mm.origin, Origin::Exif, "{seen:?}");
    assert!(
        matches!(seen.sensor_mm.origin, Origin::WorkedOut(_)),
        "{seen:?}"
    );
    // 26/5.1 times smaller than 36 × 24 along the diagonal.
    let diagonal = seen.sensor_mm.value.map(|[w, h]| w.get().hypot(h.get()));
    near(diagonal.unwrap(), 36_f64.hypot(24.0) * 5.1 / 26.0, 1e-9);
    assert_eq!(seen.focus_m.origin, Origin::Unknown, "{seen:?}");

    let (found, seen) = field(json!({"focal_35_mm": 52}));
    near(found, across(by_diagonal(52.0, 4.0, 3.0)), 1e-9);
    assert!(seen.source.starts_with("told"), "{}", seen.source);
    // A sensor of 3:2 holds a 4:3 picture of its full height: 32 × 24 mm.
    let (found, _) = field(json!({"focal_mm": 40, "sensor_mm": [36, 24], "focal_35_mm": 52}));
    near(found, across(16.0 / 40.0), 1e-9);
    let (found, seen) = field(json!({"sensor_mm": [6.4, 4.8]}));
    near(found, across(3.2 / 5.1), 1e-9);
    assert!(seen.source.contains("partly"), "{}", seen.source);
    let (found, seen) = field(json!({"field_deg": 61.5, "focal_35_mm": 52, "iso": 800}));
    near(found, 61.5, 1e-12);
    assert_eq!(seen.iso.value, Some(800), "told, where EXIF says 64");

    // EXIF leaves the planned camera as it is.
    let (plain, r) = (
        recipe(&[]),
        recipe(&[("/frame", json!({"seen_by": {"iso": 64}}))]),
    );
    drop(r.framing(&exif, size).unwrap());
    assert_eq!(r.camera, plain.camera, "the planned camera");
    assert_eq!(r.setup().unwrap(), plain.setup().unwrap(), "and its rig");
}

/// Held upright the frame is 3:4; a sensor's resolution serves where no equivalent is told; a frame cut
/// since, and a focal length alone, tell no field.
#[test]
fn fields_of_other_files() {
    let of = |name: &str| {
        let Still { frame, exif, .. } = still(name);
        let size = [frame.width(), frame.height()];
        let r = recipe(&[]);
        let framing = r.framing(&exif, size).unwrap();
        let field = r.seen(&exif, size).field_deg.value;
        (size, field.map(|f| f.get()), framing)
    };
    let (size, field, _) = of("upright.jpg");
    assert_eq!(size, [90, 120], "upright");
    near(field.unwrap(), across(by_diagonal(26.0, 3.0, 4.0)), 1e-9);
    let (_, field, framing) = of("still.tif");
    near(field.unwrap(), 39.598, 1e-3);
    let line = framing.line().unwrap();
    assert!(line.contains("EXIF: 50 mm on 36 × 24 mm"), "{line}");
    let (_, field, _) = of("plain.png");
    near(field.unwrap(), across(by_diagonal(35.0, 16.0, 9.0)), 1e-9);
    for (name, word) in [
        ("cut.jpg", "cropped since"),
        ("lens.jpg", "50 mm and no sensor"),
    ] {
        let (_, field, framing) = of(name);
        assert_eq!(field, None, "{name}");
        assert!(framing.is_whole(), "{name} is taken as the planned picture");
        let line = framing.line().unwrap();
        assert!(line.contains(word), "{line}");
    }
}

/// A frame whose pixels hold their own direction, seen on 36 mm at 24 mm: tan = (x − ½)·36/24 across, and
/// as much a pixel down.
fn directions(width: usize, height: usize) -> Frame {
    let mut frame = Frame::black(width, height);
    let [r, g, _] = frame.planes_mut();
    for y in 0..height {
        for x in 0..width {
            let step = 36.0 / 24.0 / width as f64;
            r[y * width + x] = (step * (x as f64 + 0.5 - width as f64 / 2.0)) as f32;
            g[y * width + x] = (step * (y as f64 + 0.5 - height as f64 / 2.0)) as f32;
        }
    }
    frame
}

fn seen_at_24(more: &[(&str, Value)]) -> Recipe {
    let seen = json!({"seen_by": {"sensor_mm": [36, 24], "focal_mm": 24}});
    recipe(&[&[("/frame", seen)], more].concat())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]
    /// Every pixel of the planned picture looks along x/f of the planned camera: exactly in the view that
    /// the plan is made for, and to half a pixel in the field that was asked for.
    #[test]
    fn every_pixel_of_the_crop_looks_where_the_planned_camera_does(
        focal in 26.0_f64..200.0, odd in 0_usize..4, aspect in 0_usize..3,
    ) {
        let (w, h) = (600 + odd % 2, 400 + odd / 2);
        let aspect = [json!(null), json!(2.39), json!(1.2)][aspect].clone();
        let r = seen_at_24(&[
            ("/camera/focal_mm", json!(focal)),
            ("/camera/framing_aspect", aspect),
        ]);
        let framing = r.framing(&Exif::default(), [w, h]).unwrap();
        let frame = directions(w, h);
        let picture = framing.picture(&frame);
        let (pw, ph) = (picture.width(), picture.height());
        let view = framing.view();
        let pixel = 36.0 / 24.0 / w as f64;
        let [fw, fh] = r.camera.framed_mm().map(Extent::get);
        for (x, y) in [(0, 0), (pw - 1, 0), (pw / 2, ph / 2), (pw / 3, ph - 1)] {
            let [tx, ty, _] = picture.pixel(x, y).map(f64::from);
            let part = |i: usize, n: usize| (i as f64 + 0.5) / n as f64 - 0.5;
            let [vx, vy] = view.direction(part(x, pw) * view.width_mm, part(y, ph) * view.height_mm);
            prop_assert!((tx - vx).abs() < 1e-3 * pixel && (ty - vy).abs() < 1e-3 * pixel,
                "the view: {tx} {ty}, {vx} {vy}");
            let (ax, ay) = (part(x, pw) * fw / focal, part(y, ph) * fh / focal);
            prop_assert!((tx - ax).abs() < 0.501 * pixel && (ty - ay).abs() < 0.501 * pixel,
                "as asked: {tx} {ty}, {ax} {ay}");
        }
        // There and back.
        let there = framing.to_picture([0.5, 0.5]).unwrap();
        prop_assert!((there[0] - 0.5).abs() < 1e-12, "the axis is in the middle");
        let corner = framing.from_picture([0.0, 1.0]);
        let back = framing.to_picture(corner).unwrap();
        prop_assert!(back[0].abs() < 1e-12 && (back[1] - 1.0).abs() < 1e-12, "{back:?}");
        prop_assert!(framing.to_picture([corner[0] - 1e-3, 0.5]).is_none(), "left of it");
    }
}

/// A hard edge slid 12 mm at 80 mm before the pupil lies where tan = 12/80 (chief ray, DESIGN 3.5), and
/// so in the frame at the row that looks there, whatever the planned lens.
#[test]
fn a_grad_s_edge_falls_on_the_frame_s_row_that_looks_there() {
    for focal in [35.0, 42.0] {
        let r = seen_at_24(&[
            ("/camera/focal_mm", json!(focal)),
            ("/camera/stop", json!(16)),
            ("/camera/pupil_depth_mm", json!(60)),
            ("/camera/focus_m", json!(null)),
            (
                "/rig/stages/0",
                json!({"glass": "grad-nd", "options": {"density": 0.6, "edge": "hard"},
                       "gap_mm": 20, "slide_mm": 12}),
            ),
        ]);
        let framing = r.framing(&Exif::default(), [600, 400]).unwrap();
        let [w, h] = framing.size();
        let mut even = Frame::black(w, h);
        for plane in even.planes_mut() {
            plane.fill(0.18);
        }
        let plan = engine::plan_over(&r.setup().unwrap(), framing.view());
        let out = run(&plan, &even, Choice::Cpu);
        let column: Vec<f64> = (0..h).map(|y| f64::from(out.pixel(w / 2, y)[1])).collect();
        let (dark, clear) = (column[0], column[h - 1]);
        let half = f64::midpoint(dark, clear);
        let y = (1..h).find(|y| column[*y] > half).unwrap();
        let along = (half - column[y - 1]) / (column[y] - column[y - 1]);
        let row = y as f64 - 0.5 + along;
        let [_, down] = framing.from_picture([0.5, row / h as f64]);
        let tangent = (0.5 - down) * 400.0 * 36.0 / 24.0 / 600.0;
        near(tangent, 12.0 / 80.0, 0.3 * 36.0 / 24.0 / 600.0);
    }
}

fn narrow(outside: Value, focal: f64) -> Result<Framing, FramingError> {
    let r = seen_at_24(&[
        ("/light", json!({"outside": outside})),
        ("/camera/focal_mm", json!(focal)),
    ]);
    r.framing(&Exif::default(), [600, 400])
}

#[test]
fn a_frame_too_narrow_is_refused_in_a_sentence() {
    // 24.89 mm at 14 mm wants 83.3°; 36 mm at 24 mm spans 73.7°; 24.89/36·24 = 16.59 mm serves.
    let said = narrow(json!("mirror"), 14.0).unwrap_err().to_string();
    for part in [
        "73.7° × 53.1°",
        "83.3° × 53.1°",
        "16.6 mm",
        "light.outside",
        "frame.take",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(!said.contains('\n'), "{said}");
    assert!(
        narrow(json!("mirror"), 16.6).is_ok(),
        "the lens that is named serves"
    );
    assert!(
        narrow(json!("mirror"), 16.5).is_err(),
        "a shorter one does not"
    );
    let huge = recipe(&[
        ("/frame", json!({"seen_by": {"field_deg": 0.5}})),
        ("/light", json!({"outside": "dark"})),
    ]);
    let said = huge
        .framing(&Exif::default(), [600, 400])
        .unwrap_err()
        .to_string();
    assert!(said.contains("pixels") && said.contains("16384"), "{said}");
}

#[test]
fn what_the_frame_lacks_is_filled_with_what_is_outside() {
    let frame = directions(600, 400);
    // 24.89/14 against 36/24 of a frame of 600 pixels: 711.1, an even 712; down 14/14 is 400.
    for (outside, level) in [(json!("dark"), 0.0), (json!({"stops": 1.0}), 0.36)] {
        let framing = narrow(outside, 14.0).unwrap();
        assert_eq!(framing.size(), [712, 400], "{framing:?}");
        let picture = framing.picture(&frame);
        for x in [0, 55, 656, 711] {
            assert_eq!(picture.pixel(x, 200), [level; 3], "column {x}");
        }
        for x in [56, 655] {
            assert_eq!(picture.pixel(x, 9), frame.pixel(x - 56, 9), "column {x}");
        }
        let line = framing.line().unwrap();
        assert!(line.contains("73.7°") && line.contains("fills"), "{line}");
        let [left, ..] = framing.sides();
        near(left, -56.0 / 600.0, 1e-12);
    }
}

/// A frame of which nothing is known, and one that is to be taken whole, are the planned picture as they
/// stand; a framing aspect alone cuts the frame about its middle.
#[test]
fn without_a_seen_camera_the_frame_is_the_picture() {
    let r = recipe(&[]);
    let framing = r.framing(&Exif::default(), [640, 427]).unwrap();
    let view = r.setup().unwrap().view(427.0 / 640.0);
    assert!(
        framing.is_whole() && framing.line().is_none(),
        "{framing:?}"
    );
    assert_eq!(framing.view(), view, "as wide as the sensor, to the bit");
    assert_eq!(framing.view_at(640, 427), view, "and at its own size");
    let whole = recipe(&[(
        "/frame",
        json!({"seen_by": {"field_deg": 20}, "take": "whole"}),
    )]);
    let framing = whole.framing(&Exif::default(), [640, 427]).unwrap();
    assert_eq!(framing.view(), view, "taken whole, narrow as it is");
    assert!(framing.line().unwrap().contains("whole"), "{framing:?}");
    // 3:2 on a sensor of 36 × 24, framed 2:1: 600 × 300 of it, 36 mm wide.
    let cut = recipe(&[
        ("/camera/sensor_mm", json!([36, 24])),
        ("/camera/framing_aspect", json!(2.0)),
    ]);
    let framing = cut.framing(&Exif::default(), [600, 400]).unwrap();
    assert_eq!(framing.size(), [600, 300], "{framing:?}");
    near(framing.view().width_mm, 36.0, 1e-12);
    near(framing.view().height_mm, 18.0, 1e-12);
    let square = recipe(&[
        ("/camera/sensor_mm", json!([36, 24])),
        ("/camera/framing_aspect", json!(1.0)),
    ]);
    let framing = square.framing(&Exif::default(), [600, 400]).unwrap();
    assert_eq!(framing.size(), [400, 400], "{framing:?}");
    near(framing.view().width_mm, 24.0, 1e-12);
    assert!(
        cut.unapplied().is_empty(),
        "what is applied is not told as kept"
    );
}

#[test]
fn what_is_wrong_in_seen_by_is_told_by_path() {
    let said = |seen: Value| {
        let e = Recipe::parse(&with(&[("/frame", json!({ "seen_by": seen }))]));
        e.unwrap_err().to_string()
    };
    let text = said(json!({"lens": 26}));
    assert!(
        text.starts_with("frame.seen_by.lens: unknown field"),
        "{text}"
    );
    let text = said(json!({"field_deg": 180}));
    assert!(
        text.starts_with("frame.seen_by.field_deg: 180 is out of range"),
        "{text}"
    );
    let text = said(json!({"focal_mm": -3}));
    assert!(
        text.starts_with("frame.seen_by.focal_mm: length -3"),
        "{text}"
    );
    let told = SeenBy {
        focal_35_mm: Some(Extent::clamped(26.1)),
        ..SeenBy::default()
    };
    let mut r = recipe(&[]);
    r.frame.seen_by = Some(told);
    let back = Recipe::parse(&r.to_json()).unwrap();
    assert_eq!(back.frame.seen_by, Some(told), "it comes back");
}

/// The command line, on a picture with EXIF: 67.3° across; 50 mm on 24.89 × 14 mm takes 44 × 26 pixels of
/// 120 × 90 (0.4978 and 0.28 of a tangent at 90.15 pixels each, to an even number).
#[test]
fn commands_take_the_planned_part() {
    let folder = Folder::new();
    let path = folder.write("r.json", with(&[]));
    let (phone, out) = (fixture("phone.jpg"), folder.path("out.png"));
    let done = foreglass(&["render", &phone, "--recipe", &path, "--out", &out]);
    let line = String::from_utf8(done.stdout).unwrap();
    let words = "the frame spans 67.3° across (EXIF: 26 mm in 36 × 24 terms); the plan takes the middle 37 % of \
                 its width\n";
    assert_eq!(line, words, "{}", String::from_utf8_lossy(&done.stderr));
    let bytes = std::fs::read(&out).unwrap();
    let made = read_bytes("out.png", &bytes, Encoding::Auto).unwrap().frame;
    assert_eq!([made.width(), made.height()], [44, 26], "the planned part");

    let text = foreglass(&["rig", "--recipe", &path, "--frame", &phone]).stdout;
    let text = String::from_utf8(text).unwrap();
    assert!(text.contains(words), "{text}");
    assert!(
        text.contains("(Super 35, three perforations): 27.4° × 16.4°"),
        "{text}"
    );
    assert!(
        text.contains("focal length 5.1 mm (from the file's EXIF)"),
        "{text}"
    );
    let rig = data(&["rig", "--recipe", &path, "--frame", &phone, "--json"]);
    near(
        rig["framing"]["part"][0].as_f64().unwrap(),
        38.0 / 120.0,
        1e-12,
    );
    near(
        rig["framing"]["part"][3].as_f64().unwrap(),
        58.0 / 90.0,
        1e-12,
    );

    // A spot is told in the frame, and reads there what it read before; its disc is as large.
    let at = "0.5125,0.4722,0.06";
    let bare = data(&["meter", &phone, "--spot", at, "--json"]);
    let cut = data(&["meter", &phone, "--recipe", &path, "--spot", at, "--json"]);
    assert_eq!(
        bare["spots"][0]["bare_stops"], cut["spots"][0]["bare_stops"],
        "{cut}"
    );
    assert_eq!(cut["spots"][0]["x"], json!(0.5125), "as it was told");
    let other = data(&["meter", &phone, "--spot", "0.65,0.4722,0.06", "--json"]);
    assert_ne!(
        bare["spots"][0]["bare_stops"], other["spots"][0]["bare_stops"],
        "a ramp"
    );
    let outside = ["meter", &phone, "--recipe", &path, "--spot", "0.1,0.5"];
    let (code, said) = refusal(&outside);
    assert!(
        code == 2 && said.contains("--spot 0.1,0.5: lies outside the planned picture"),
        "{said}"
    );
    assert!(said.contains("from 0.317 to 0.683 across"), "{said}");
    let outside = [
        "meter",
        &phone,
        "--recipe",
        &path,
        "--region",
        "0.1,0.4,0.6,0.6",
    ];
    let (code, said) = refusal(&outside);
    assert!(
        code == 2 && said.contains("--region 0.1,0.4,0.6,0.6: lies outside"),
        "{said}"
    );

    let wide = folder.write("wide.json", with(&[("/camera/focal_mm", json!(12))]));
    for args in [
        vec!["render", &phone, "--recipe", &wide, "--out", &out],
        vec!["rig", "--recipe", &wide, "--frame", &phone],
        vec!["meter", &phone, "--recipe", &wide],
        vec!["sheet", &phone, "--recipe", &wide, "--out", &out],
    ] {
        let (code, said) = refusal(&args);
        assert_eq!(code, 3, "{said}");
        assert!(
            said.starts_with("foreglass: phone.jpg: the frame spans 67.3°"),
            "{said}"
        );
        assert_eq!(said.lines().count(), 1, "{said}");
    }
}

/// A reading through the crop is a reading of the crop: the meter's own law on the cut frame.
#[test]
fn a_spot_in_the_picture_is_the_spot_in_the_frame() {
    let mut frame = directions(600, 400);
    // Squares: the mean of a slope over a disc would be the same for every disc.
    for plane in frame.planes_mut() {
        plane.iter_mut().for_each(|v| *v *= *v);
    }
    let r = seen_at_24(&[]);
    let framing = r.framing(&Exif::default(), [600, 400]).unwrap();
    let picture = framing.picture(&frame);
    for point in [[0.55, 0.45], [0.61, 0.52], [0.5, 0.5]] {
        let [x, y] = framing.to_picture(point).unwrap();
        let radius = framing.radius_to_picture(0.012);
        let (a, b) = (
            spot(&frame, point[0], point[1], 0.012).get(),
            spot(&picture, x, y, radius).get(),
        );
        near(a, b, 1e-9);
    }
}

/// EXIF blocks that lie: each is a picture, and never a panic; a directory that points to itself ends.
#[test]
fn hostile_exif_is_silent() {
    let jpeg = |block: Vec<u8>| {
        let mut out = Vec::new();
        let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 90);
        image::ImageEncoder::set_exif_metadata(&mut encoder, block).unwrap();
        encoder
            .encode(&[128; 192], 8, 8, image::ExtendedColorType::Rgb8)
            .unwrap();
        read_bytes("lies.jpg", &out, Encoding::Auto).unwrap().exif
    };
    let file = std::fs::read(fixture("phone.jpg")).unwrap();
    let start = file.windows(6).position(|w| w == b"Exif\0\0").unwrap() + 6;
    let length = usize::from(u16::from_be_bytes([file[start - 8], file[start - 7]])) - 8;
    let block = file[start..start + length].to_vec();
    assert!(
        jpeg(block.clone()).focal_35_mm.is_some(),
        "the block itself is read"
    );
    for length in 0..block.len() {
        let _ = jpeg(block[..length].to_vec());
    }
    let mut seed = 0x2545_F491_u32;
    for at in 0..block.len() {
        for _ in 0..4 {
            seed ^= seed << 13;
            seed ^= seed >> 17;
            seed ^= seed << 5;
            let mut mutant = block.clone();
            mutant[at] = [0, 0xFF, seed as u8, block[at] ^ 0x80][(seed >> 16) as usize % 4];
            let _ = jpeg(mutant);
        }
    }
    // The camera's directory is the first one, which points to itself.
    let mut own = b"MM\0\x2A\0\0\0\x08\0\x01\x87\x69\0\x04\0\0\0\x01".to_vec();
    own.extend([0, 0, 0, 8, 0, 0, 0, 0]);
    assert!(jpeg(own.clone()).is_empty(), "nothing is told");
    // A number of entries far beyond the end, and a directory at the end of everything.
    own[8..10].fill(0xFF);
    assert!(jpeg(own.clone()).is_empty(), "nothing is told");
    own[4..8].fill(0xFF);
    assert!(jpeg(own).is_empty(), "nothing is told");
    let tiff = std::fs::read(fixture("still.tif")).unwrap();
    for at in 0..512 {
        for value in [0, 0x7F, 0xFF] {
            let mut mutant = tiff.clone();
            mutant[at] = value;
            drop(read_bytes("lies.tif", &mutant, Encoding::Auto));
        }
    }
}

/// A still in a file, for sessions: what it was seen by is told by the recipe.
pub(crate) fn file_of_directions(folder: &Path) -> std::path::PathBuf {
    let path = folder.join("quay.exr");
    write(&path, &directions(600, 400), &Output::for_kind(Kind::Exr)).unwrap();
    path
}
