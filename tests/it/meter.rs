//! What is read off a frame: spots, black lift, texture kept, and the command that tells them.

use crate::cli::{Folder, data, foreglass, portrait, refusal};
use crate::plan::{even, render, run, setup};
use crate::recipe::with;
use foreglass::colour::primaries::luminance;
use foreglass::engine::{self, Choice};
use foreglass::frame::{Encoding, Frame, read, read_bytes, to_width};
use foreglass::meters::{Region, blacks, effect, even_gain, texture};
use foreglass::recipe::samples::SAMPLES;
use foreglass::units::Stops;
use serde_json::{Value, json};
use std::f64::consts::PI;

pub(crate) fn mist(key: &str, strength: &str) -> Value {
    json!({"glass": key, "strength": strength})
}

fn night() -> Frame {
    let (name, bytes) = SAMPLES[0];
    read_bytes(name, bytes, Encoding::Auto).unwrap().frame
}

/// What an even field becomes is what the figures divide out: glass, colour and compensation.
#[test]
fn the_loss_that_is_divided_out_is_the_picture_s_own() {
    let stacks = [
        vec![("/rig/stages/0", mist("pale-mist", "2"))],
        vec![
            ("/rig/stages/0", mist("dark-mist", "1")),
            (
                "/rig/stages/1",
                json!({"glass": "balance", "options": {"series": "85"}}),
            ),
        ],
        vec![
            (
                "/rig/stages/0",
                json!({"glass": "nd", "options": {"density": 0.6}}),
            ),
            ("/exposure", json!({"compensate": "iso"})),
        ],
    ];
    for changes in stacks {
        let setup = setup(&changes);
        let plan = engine::plan(&setup, 64, 36);
        let out = run(&plan, &even(64, 36, [0.18; 3]), Choice::Cpu);
        let gain = f64::from(luminance(out.pixel(32, 18))) / 0.18;
        assert!(
            (even_gain(&plan) / gain - 1.0).abs() < 1e-4,
            "{changes:?}: {gain}, {}",
            even_gain(&plan)
        );
    }
}

/// An attenuator's loss on the axis is divided out as the ledger counts it; the pupil's footprint lets a
/// few thousandths more through.
#[test]
fn an_attenuator_is_divided_out_as_on_the_axis() {
    let setup = setup(&[(
        "/rig/stages/0",
        json!({"glass": "grad-nd", "options": {"edge": "attenuator", "density": 0.9}}),
    )]);
    let plan = engine::plan(&setup, 65, 37);
    let out = run(&plan, &even(65, 37, [0.18; 3]), Choice::Cpu);
    let gain = f64::from(luminance(out.pixel(32, 18))) / 0.18;
    assert!(
        (even_gain(&plan) / gain - 1.0).abs() < 5e-3,
        "{gain}, {}",
        even_gain(&plan)
    );
}

/// A dark mist lifts the blacks of the sample less than a pale one of the same halo fraction (common
/// practice, no source); the level is that of a smaller picture within 0.05 stop; ND lifts nothing.
#[test]
fn a_dark_mist_lifts_blacks_less_than_a_pale_one() {
    let frame = night();
    let lift = |frame: &Frame, glass: Value| {
        let setup = setup(&[("/rig/stages/0", glass)]);
        let plan = engine::plan(&setup, frame.width(), frame.height());
        let out = run(&plan, frame, Choice::Cpu);
        effect(frame, &out, &plan, Region::WHOLE)
            .blacks
            .lift()
            .get()
    };
    let (dark, pale) = (
        lift(&frame, mist("dark-mist", "1")),
        lift(&frame, mist("pale-mist", "1")),
    );
    assert!(dark > 0.0 && pale > dark + 0.2, "dark {dark}, pale {pale}");
    let small = to_width(&frame, 640).unwrap();
    let gap = lift(&small, mist("pale-mist", "1")) - pale;
    assert!(gap.abs() < 0.05, "a preview reads {gap} stop off");
    let nd = lift(&small, json!({"glass": "nd", "options": {"density": 0.9}}));
    assert!(nd.abs() < 1e-3, "ND lifts by {nd}");
}

/// A flat field with one sine in each band loses in each exactly what the MTF at its frequency takes.
/// Contrast per cent follows from Peli's definition for small contrast.
#[test]
fn texture_of_sines_drops_by_their_mtf() {
    let (w, h) = (1152, 648);
    // Half-cycles down the frame: 160, 40 and 10 cycles to its height.
    let sines = [320.0, 80.0, 20.0];
    let light: Vec<f32> = (0..w * h)
        .map(|i| {
            let y = ((i / w) as f64 + 0.5) / h as f64;
            let waves: f64 = sines.iter().map(|k| 0.02 * (PI * k * y).cos()).sum();
            (0.18 * (1.0 + waves)) as f32
        })
        .collect();
    let frame = Frame::from_planes(w, h, [light.clone(), light.clone(), light]);
    // A short lens keeps the halo small, so that its edge falls in all three bands; its corners are
    // taken as its middle, which is what the figures are of.
    let setup = setup(&[
        ("/rig/stages/0", mist("pale-mist", "1")),
        ("/camera/focal_mm", json!(18)),
        ("/light", json!({"corner_halos": "even"})),
    ]);
    let plan = engine::plan(&setup, w, h);
    let out = run(&plan, &frame, Choice::Cpu);
    let t = effect(&frame, &out, &plan, Region::WHOLE).texture;
    let height_mm = setup.view(h as f64 / w as f64).height_mm;
    let stack = setup.stack();
    for (got, half_cycles) in [t.fine, t.medium, t.coarse].into_iter().zip(sines) {
        let nu = setup.camera.focal_mm.get() * half_cycles / 2.0 / height_mm;
        let want = 100.0 * stack.mtf(nu).mean;
        let got = got.expect("rows enough").percent();
        assert!((got - want).abs() < 0.1, "{half_cycles}: {got}, {want}");
        assert!(got < 95.0, "the glass does something: {got}");
    }
}

#[test]
fn small_frames_and_regions() {
    // 256 rows hold no fine band; ten rows none at all.
    let portrait = read(std::path::Path::new(&portrait()), Encoding::Auto)
        .unwrap()
        .frame;
    let same = texture::kept(&portrait, &portrait, 1.0, Region::WHOLE);
    assert_eq!(same.fine, None, "{} rows", portrait.height());
    assert!(
        (same.coarse.unwrap().percent() - 100.0).abs() < 1e-9,
        "{same:?}"
    );
    let flat = even(1, 1, [0.18; 3]);
    let none = texture::kept(&flat, &flat, 1.0, Region::WHOLE);
    assert_eq!(none.coarse, None, "one pixel has no texture");
    let lift = blacks::read(&flat, &flat, 1.0, Region::WHOLE).lift();
    assert_eq!(lift, Stops::ZERO, "and no blacks to lift");
    // Left half black and veiled, right half key: the region tells which is read.
    let half = |dark: f32| {
        let p: Vec<f32> = (0..64 * 64)
            .map(|i| if i % 64 < 32 { dark } else { 0.18 })
            .collect();
        Frame::from_planes(64, 64, [p.clone(), p.clone(), p])
    };
    let (bare, glass) = (half(0.01), half(0.04));
    let read = |sides| {
        blacks::read(&bare, &glass, 1.0, Region::new(sides).unwrap())
            .lift()
            .get()
    };
    assert!(
        (read([0.0, 0.0, 0.5, 1.0]) - 2.0).abs() < 1e-5,
        "the dark half"
    );
    assert!(read([0.5, 0.0, 1.0, 1.0]).abs() < 1e-5, "the light half");
    // Black is not lifted from nothing: from ten stops under key at the least.
    let lift = blacks::read(&half(0.0), &half(0.18 / 256.0), 1.0, Region::WHOLE).lift();
    assert!((lift.get() - 2.0).abs() < 1e-5, "{lift:?}");
    for bad in [
        [0.5, 0.0, 0.5, 1.0],
        [-0.1, 0.0, 0.5, 1.0],
        [0.0, f64::NAN, 1.0, 1.0],
    ] {
        assert!(Region::new(bad).is_none(), "{bad:?}");
    }
}

/// Levels against a plain mean over the discs, computed here from the definition in plain words:
/// pixel i spans [i/w, (i+1)/w] and counts by the part that the disc covers, log₂ of the mean AP1
/// luminance over 0.18.
#[test]
fn the_command_reads_what_a_plain_mean_reads() {
    let folder = Folder::new();
    let look = [
        ("/rig/stages/0", mist("pale-mist", "1/2")),
        ("/exposure", json!({"compensate": "iso"})),
    ];
    let recipe = folder.write("r.json", with(&look));
    let bare = read(std::path::Path::new(&portrait()), Encoding::Auto)
        .unwrap()
        .frame;
    let glass = render(&setup(&look), &bare);
    let spots = ["0.5,0.4", "0.25,0.75,0.05", "0,0,0.02", "1,1,0.02"];
    let mut args = vec![
        "meter".to_owned(),
        portrait(),
        "--recipe".to_owned(),
        recipe.clone(),
    ];
    args.extend(
        spots
            .iter()
            .flat_map(|s| ["--spot".to_owned(), (*s).to_owned()]),
    );
    args.push("--json".to_owned());
    let args: Vec<&str> = args.iter().map(String::as_str).collect();
    let told = data(&args);
    for (i, spot) in spots.iter().enumerate() {
        let n: Vec<f64> = spot.split(',').map(|v| v.parse().unwrap()).collect();
        let radius = n.get(2).copied().unwrap_or(0.01);
        let row = &told["spots"][i];
        assert_eq!(
            (row["x"].as_f64(), row["y"].as_f64()),
            (Some(n[0]), Some(n[1])),
            "{row}"
        );
        for (frame, key) in [(&bare, "bare_stops"), (&glass, "glass_stops")] {
            let want = plain(frame, n[0], n[1], radius);
            let got = row[key].as_f64().unwrap();
            assert!((got - want).abs() < 2e-3, "{spot} {key}: {got}, {want}");
        }
    }
    assert!(told["black_lift_stops"].as_f64().unwrap() > 0.0, "{told}");
    assert_eq!(told["texture"]["fine"], Value::Null, "too few rows: {told}");
    let kept = told["texture"]["medium"].as_f64().unwrap();
    assert!(kept > 50.0 && kept < 100.0, "{told}");
    // In words; and bare, without a recipe.
    let words = foreglass(&["meter", &portrait(), "--recipe", &recipe]);
    let words = String::from_utf8(words.stdout).unwrap();
    assert!(
        words.contains("blacks lifted") && words.contains("texture kept"),
        "{words}"
    );
    let bare = data(&["meter", &portrait(), "--spot", "0.5,0.5", "--json"]);
    assert_eq!(bare["spots"][0]["glass_stops"], Value::Null, "{bare}");
    assert_eq!(bare["black_lift_stops"], Value::Null, "{bare}");
}

fn plain(frame: &Frame, x: f64, y: f64, radius: f64) -> f64 {
    let (w, h) = (frame.width() as f64, frame.height() as f64);
    let (mut sum, mut count) = (0.0, 0_u32);
    for py in 0..frame.height() {
        for px in 0..frame.width() {
            let light = f64::from(luminance(frame.pixel(px, py)));
            for part in 0..1024_u32 {
                let at = |i: u32| (f64::from(i) + 0.5) / 32.0;
                let dx = px as f64 + at(part % 32) - x * w;
                let dy = py as f64 + at(part / 32) - y * h;
                if dx.hypot(dy) <= radius * w {
                    sum += light;
                    count += 1;
                }
            }
        }
    }
    (sum / f64::from(count) / 0.18).log2()
}

#[test]
fn a_bad_spot_is_a_sentence() {
    let frame = portrait();
    let folder = Folder::new();
    let recipe = folder.write("r.json", with(&[]));
    let spot = |text: &str| refusal(&["meter", &frame, "--spot", text]);
    let cases = [
        (spot("1.2,0.5"), 2, "outside the frame"),
        (spot("-0.1,0.5"), 2, "outside the frame"),
        (spot("0.5,0.5,0"), 2, "radius"),
        (spot("0.5,0.5,-1"), 2, "radius"),
        (spot("0.5,0.5,2"), 2, "radius"),
        (spot("0.5"), 2, "X,Y"),
        (spot("0.5,0.5,0.1,0.1"), 2, "X,Y"),
        (spot("half,0.5"), 2, "X,Y"),
        (spot("NaN,0.5"), 2, "X,Y"),
        (refusal(&["meter", &frame]), 2, "--spot"),
        (
            refusal(&[
                "meter",
                &frame,
                "--recipe",
                &recipe,
                "--region",
                "0.5,0,0.2,1",
            ]),
            2,
            "--region",
        ),
        (
            refusal(&["meter", "none.png", "--spot", "0.5,0.5"]),
            3,
            "none.png",
        ),
        (
            refusal(&[
                "meter",
                &frame,
                "--recipe",
                "none.json",
                "--spot",
                "0.5,0.5",
            ]),
            3,
            "none.json",
        ),
    ];
    for ((code, text), wanted, word) in cases {
        assert_eq!(code, wanted, "{text}");
        assert!(text.contains(word), "{word} in: {text}");
        assert_eq!(text.trim_end().lines().count(), 1, "one line: {text}");
    }
}

/// `glass show` and `rig` tell the same figures of one glass on one lens.
#[test]
fn show_and_rig_agree() {
    let folder = Folder::new();
    let recipe = folder.write(
        "r.json",
        with(&[
            ("/rig/stages/0", mist("dark-mist", "1")),
            ("/camera/focal_mm", json!(50)),
            ("/light", json!({"scene_k": 5600})),
        ]),
    );
    let show = data(&[
        "glass",
        "show",
        "dark-mist",
        "--strength",
        "1",
        "--scene-k",
        "5600",
        "--json",
    ]);
    let rig = data(&["rig", "--recipe", &recipe, "--json"]);
    let stack = &rig["stack"];
    for key in [
        "direct",
        "scattered",
        "absorbed",
        "loss_stops_flat",
        "loss_stops_core",
        "haze_percent",
        "veiling_glare_percent",
        "patch_deg",
    ] {
        let (a, b) = (show[key].as_f64().unwrap(), stack[key].as_f64().unwrap());
        assert!((a - b).abs() < 1e-9, "{key}: {a}, {b}");
    }
    assert_eq!(show["halo_deg"], stack["halo_deg"], "halo");
    for at in ["10", "20", "40"] {
        let (a, b) = (
            show["mtf"][at].as_f64().unwrap(),
            stack["mtf"][at].as_f64().unwrap(),
        );
        assert!((a - b).abs() < 1e-9 && a > 0.5 && a < 1.0, "{at}: {a}, {b}");
    }
    assert_eq!(show["mtf_directions"], Value::Null, "a mist has none");
    // A tenth of the default sensor's 14 mm at 50 mm, half of it.
    let patch = (0.7_f64 / 50.0).to_degrees();
    assert!(
        (show["patch_deg"].as_f64().unwrap() - patch).abs() < 1e-9,
        "{show}"
    );
    let wide = data(&["glass", "show", "dark-mist", "--patch", "2.5", "--json"]);
    let gap =
        wide["veiling_glare_percent"].as_f64().unwrap() - wide["haze_percent"].as_f64().unwrap();
    assert!(gap.abs() < 1e-9, "glare beyond 2.5° is haze: {wide}");
    let (code, text) = refusal(&["glass", "show", "dark-mist", "--patch", "0"]);
    assert!(code == 2 && text.contains("--patch"), "{text}");
}
