//! The picture curve by way of recipes and of the command, and what is said of it.

use super::{ROWS, SIDE, TONES, bt709, chart, codes, disc, patch, plain, spread};
use crate::cli::{Folder, data};
use crate::frame::png;
use crate::recipe::with;
use foreglass::frame::restore::{Role, Shape};
use foreglass::frame::{Encoding, read_bytes};
use foreglass::recipe::Recipe;
use serde_json::{Value, json};

fn pins(levels: &[f64]) -> Vec<Value> {
    let pin = |l: &f64| {
        let disc = disc(0, *l);
        json!({"x": disc.x, "y": disc.y, "radius": disc.radius, "stops": l})
    };
    levels.iter().map(pin).collect()
}

fn recipe(frame: Value) -> Recipe {
    Recipe::parse(&with(&[("/frame", frame)])).unwrap()
}

/// ISO 2720: one exposure value is one stop.
#[test]
fn exposure_values_say_the_same_as_stops() {
    let still = chart(bt709);
    let levels = spread(bt709, 0, 4);
    let by_stops = recipe(json!({"pins": pins(&levels)}));
    let evs: Vec<Value> = pins(&levels)
        .into_iter()
        .zip(&levels)
        .map(|(mut pin, level)| {
            pin["stops"] = Value::Null;
            pin["ev"] = json!(8.5 + level);
            pin
        })
        .collect();
    let by_ev = recipe(json!({"key_ev": 8.5, "pins": evs}));
    let (a, b) = (
        by_stops.light(still.decoded()),
        by_ev.light(still.decoded()),
    );
    assert_eq!(a.told, b.told, "told alike");
    assert_eq!(a.frame, b.frame, "and the same light");
}

/// The chart as a camera that was held upright stores it (orientation 6: its first row is the picture's
/// right side), through the command.
#[test]
fn the_command_reads_restored_light_where_the_frame_stands_upright() {
    let folder = Folder::new();
    let (width, height) = (super::PATCHES * SIDE, ROWS * SIDE);
    for (name, tone) in TONES {
        let upright = codes(tone);
        let mut stored = Vec::new();
        for row in 0..width {
            for column in 0..height {
                let at = (column * width + width - 1 - row) * 3;
                stored.extend_from_slice(&upright[at..at + 3]);
            }
        }
        let exif = b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0";
        let eight = (::png::ColorType::Rgb, ::png::BitDepth::Eight);
        let file = png((height as u32, width as u32), eight, &stored, |info| {
            info.exif_metadata = Some(exif.to_vec().into());
        });
        let frame = folder.write("quay.png", file);
        let levels = spread(tone, 0, 6);
        let recipe = folder.write(
            "quay.json",
            with(&[("/frame", json!({"pins": pins(&levels)}))]),
        );
        for level in [-3.5, -2.0, -0.5, 0.5, 1.25] {
            let d = disc(0, level);
            let spot = format!("{},{},{}", d.x, d.y, d.radius);
            let args = [
                "meter", &frame, "--recipe", &recipe, "--spot", &spot, "--json",
            ];
            let found = data(&args)["spots"][0]["bare_stops"].as_f64().unwrap();
            assert!(
                (found - level).abs() < 0.2,
                "{name}: {found} is not {level}"
            );
        }
    }
}

/// The usual curve's anchors, by its sources: ISO 12232 (18 % grey is code 118, its light stays; white is
/// 7.8 times its light), ITU-R BT.2100 (contrast 1.2); from memory.
#[test]
fn a_usual_curve_is_undone_where_it_is_asked_for() {
    let codes: Vec<u8> = [117, 118, 119, 255, 0]
        .into_iter()
        .flat_map(|c| [c; 3])
        .collect();
    let still = read_bytes(
        "grey.png",
        &crate::frame::png8((5, 1), &codes),
        Encoding::Auto,
    )
    .unwrap();
    assert!(
        recipe(json!({}))
            .light(still.decoded())
            .told
            .curve_lines()
            .is_empty(),
        "not asked for"
    );
    let restored = recipe(json!({"curve": "typical"})).light(still.decoded());
    let light: Vec<f32> = restored.frame.planes()[1].clone();
    assert!((light[1] / 0.18 - 1.0).abs() < 0.02, "grey: {}", light[1]);
    assert!(
        (light[3] / (0.18 * 7.8) - 1.0).abs() < 2e-3,
        "white: {}",
        light[3]
    );
    assert_eq!(light[4], 0.0, "black");
    let bare = &still.frame.planes()[1];
    let contrast = f64::from((bare[2] / bare[0]).log2() / (light[2] / light[0]).log2());
    assert!((contrast - 1.2).abs() < 0.01, "{contrast}");
    assert_eq!(restored.told.curve.shape, Shape::Typical, "told");
    let lines = restored.told.curve_lines();
    assert!(
        lines.len() == 1 && lines[0].contains("an assumption, not a measurement"),
        "{lines:?}"
    );
    // A linear picture has no camera's curve in it; it is undone all the same, and that is said.
    let linear = read_bytes(
        "grey.png",
        &crate::frame::png8((5, 1), &codes),
        Encoding::AcesCg,
    )
    .unwrap();
    let lines = recipe(json!({"curve": "typical"}))
        .light(linear.decoded())
        .told
        .curve_lines();
    assert!(lines[1].contains("is not one for a display"), "{lines:?}");
}

#[test]
fn what_is_said_can_be_checked() {
    let still = chart(bt709);
    let levels = [-4.0, -2.0, 0.0, 2.0];
    let told = recipe(json!({"pins": pins(&levels)}))
        .light(still.decoded())
        .told;
    // BT.709 of 0.18 is 0.4090, as sRGB light 0.1393: 0.370 stops under key. 0.18·2^±¼ become 0.1134 and
    // 0.1708 there: 0.591 stops for half a stop, contrast 1.18.
    let key = told.curve.key.unwrap().get();
    assert!((key + 0.370).abs() < 0.05, "{key}");
    let contrast = told.curve.contrast.unwrap();
    assert!((contrast - 1.18).abs() < 0.08, "{contrast}");
    let [low, high] = told.curve.held.unwrap().map(|s| s.get());
    assert!(
        (low + 4.0).abs() < 0.1 && (high - 2.0).abs() < 0.1,
        "{low} {high}"
    );
    assert!(
        told.pins.iter().all(|p| p.role == Role::Curve),
        "{:?}",
        told.pins
    );
    assert_eq!(told.curve.points.len(), 33, "for drawing");
    assert!(told.curve.points.windows(2).all(|p| p[0] < p[1]), "upwards");
    let lines = told.lines();
    assert!(
        lines[0].starts_with("The picture curve is undone as 4 pins tell it: contrast 1.2"),
        "{lines:?}"
    );
    assert!(
        lines[1].starts_with("They hold it between −") && lines[1].ends_with("it is a guess."),
        "{lines:?}"
    );
    assert!(lines.iter().all(|l| l.ends_with('.')), "sentences");
}

/// Which files a camera's picture curve is to be expected in: those made for a display.
#[test]
fn encodings_for_a_display() {
    let file = crate::frame::png8((1, 1), &[90, 90, 90]);
    for encoding in Encoding::ALL {
        let still = read_bytes("grey.png", &file, encoding).unwrap();
        let wanted = ["auto", "srgb", "bt1886", "p3"].contains(&encoding.word());
        assert_eq!(still.native.for_display, wanted, "{encoding}");
    }
    for profile in ["icc_p3.icc", "icc_table.icc"] {
        let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks");
        let profile = std::fs::read(path.join(profile)).unwrap();
        let eight = (::png::ColorType::Rgb, ::png::BitDepth::Eight);
        let file = png((1, 1), eight, &[90, 90, 90], |info| {
            info.icc_profile = Some(profile.into());
        });
        let still = read_bytes("grey.png", &file, Encoding::Auto).unwrap();
        assert!(still.native.for_display, "{}", still.how);
    }
    assert_eq!(patch(super::level(7)), 7, "the chart's own places");
    assert!((plain(0.3) - 0.3).abs() < 1e-12, "and its plain curve");
}
