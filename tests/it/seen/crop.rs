//! The part of the frame that the planned camera would see, and a frame that is too narrow for it.

use super::{directions, near, recipe, seen_at_24};
use crate::plan::run;
use foreglass::engine::{self, Choice};
use foreglass::frame::{Exif, Frame};
use foreglass::meters::spot::spot;
use foreglass::recipe::{Framing, FramingError};
use foreglass::units::Extent;
use proptest::prelude::*;
use serde_json::{Value, json};

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
    let refused = narrow(json!("mirror"), 14.0).unwrap_err();
    let said = refused.to_string();
    for part in ["73.7° × 53.1°", "83.3° × 53.1°", "16.6 mm"] {
        assert!(said.contains(part), "{part}: {said}");
    }
    assert!(!said.contains('\n'), "{said}");
    // The window shows the sentence; only who writes a recipe is told its keys.
    for key in ["light.outside", "frame.take"] {
        assert!(!said.contains(key), "plain words: {said}");
        assert!(refused.keys().contains(key), "{key}: {}", refused.keys());
    }
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
    let line = framing.line().unwrap();
    assert!(
        line.contains("taken whole") && !line.contains("frame."),
        "in plain words: {line}"
    );
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
