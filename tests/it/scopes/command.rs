//! `foreglass meter`: scopes told and drawn, a contrast, how the light came, and what is refused.

use crate::cli::{Folder, data, foreglass, portrait, refusal};
use crate::recipe::with;
use foreglass::frame::{Encoding, read_bytes};
use foreglass::meters::false_stops::BANDS;
use foreglass::meters::{Channel, Reduced};
use serde_json::{Value, json};

/// The recipe whose glass takes a stop and turns tungsten to daylight.
fn recipe(folder: &Folder) -> String {
    let changes = [
        (
            "/rig/stages/0",
            json!({"glass": "nd", "options": {"density": 0.3}}),
        ),
        (
            "/rig/stages/1",
            json!({"glass": "balance", "options": {"series": "80A"}}),
        ),
        ("/light", json!({"scene_k": 3200})),
        ("/camera/balance_k", json!(3200)),
    ];
    folder.write("r.json", with(&changes))
}

/// Everything that `meter` tells of two spots and of the picture.
fn everything<'a>(frame: &'a str, recipe: &'a str) -> Vec<&'a str> {
    let asked = "--spot 0.5,0.4 --spot 0.2,0.8 --ratio --histogram --waveform --chromaticity";
    ["meter", frame, "--recipe", recipe]
        .into_iter()
        .chain(asked.split(' '))
        .collect()
}

#[test]
fn scopes_are_told_as_data() {
    let folder = Folder::new();
    let (frame, recipe) = (portrait(), recipe(&folder));
    let told = data(&[everything(&frame, &recipe), vec!["--json"]].concat());
    let stops = |i: usize, key: &str| told["spots"][i][key].as_f64().unwrap();
    for (side, key) in [("bare", "bare_stops"), ("glass", "glass_stops")] {
        let want = stops(0, key) - stops(1, key);
        let got = &told["ratio"][side];
        assert!(
            (got["stops"].as_f64().unwrap() - want).abs() < 1e-9,
            "{got}"
        );
        let ratio = got["ratio"].as_f64().unwrap();
        assert!((ratio.log2() - want).abs() < 1e-9, "2^(a−b): {got}");
    }
    let sum = |v: &Value| -> f64 {
        v.as_array()
            .unwrap()
            .iter()
            .map(|s| s.as_f64().unwrap())
            .sum()
    };
    for side in ["bare", "glass"] {
        for channel in ["luminance", "red", "green", "blue"] {
            let counts = &told["histogram"][side][channel];
            assert_eq!(counts["shares"].as_array().unwrap().len(), 129, "eighths");
            let off = counts["under"].as_f64().unwrap() + counts["over"].as_f64().unwrap();
            assert!(
                (sum(&counts["shares"]) + off - 1.0).abs() < 1e-9,
                "{side} {channel}"
            );
            let trace = &told["waveform"][side][channel];
            let columns = trace["columns"].as_array().unwrap();
            assert_eq!(columns.len(), 160, "columns");
            let under = trace["under"][7].as_f64().unwrap() + trace["over"][7].as_f64().unwrap();
            assert!(
                (sum(&columns[7]) + under - 1.0).abs() < 1e-5,
                "{side} {channel}"
            );
        }
    }
    let axis = &told["histogram"];
    let ends = ["from_stops", "to_stops", "bins_per_stop"].map(|k| axis[k].as_f64().unwrap());
    assert_eq!(ends, [-8.0, 8.0, 8.0]);
    // The glass takes the same from every level: the median falls by its loss, and by a little more where
    // the picture is warm, of which a blue glass takes more than of grey.
    let median = |side: &str| told["histogram"][side]["luminance_levels"][2]["stops"].as_f64();
    let rig = data(&["rig", "--recipe", &recipe, "--json"]);
    let fallen = median("bare").unwrap() - median("glass").unwrap();
    let loss = rig["light_loss_stops"].as_f64().unwrap();
    assert!((0.0..0.25).contains(&(fallen - loss)), "{fallen}, {loss}");
    // The scene's light behind the glass is what the rig's ledger says.
    let turns = rig["colour"]["turns"].as_array().unwrap();
    let turn = turns.iter().find(|t| t["from_k"] == 3200.0).unwrap();
    let light = &told["chromaticity"]["scene_light"];
    assert_eq!(light["through"]["kelvin"], turn["to_k"], "{light}");
    let cells = |side: &str| -> f64 {
        let cells = told["chromaticity"][side]["cells"].as_array().unwrap();
        cells.iter().map(|c| c[2].as_f64().unwrap()).sum()
    };
    for side in ["bare", "glass"] {
        let off = &told["chromaticity"][side];
        let off = off["dark"].as_f64().unwrap() + off["beyond"].as_f64().unwrap();
        assert!((cells(side) + off - 1.0).abs() < 1e-4, "{side}");
    }
    let bands = &told["texture_bands"]["coarse"];
    let [e0, e1, db] =
        ["bare_energy", "glass_energy", "kept_db"].map(|k| bands[k].as_f64().unwrap());
    assert!(
        (10.0 * (e1 / e0).log10() - db).abs() < 1e-9 && e0 > 0.0,
        "{bands}"
    );
    assert_eq!(told["texture_bands"]["fine"], Value::Null, "too few rows");
}

/// Pins come back with what was said, what the plain frame reads there, and what is left over.
#[test]
fn how_the_light_was_brought_back_is_told() {
    let folder = Folder::new();
    let pin = json!({"x": 0.5, "y": 0.4, "stops": 1.0, "radius": 0.05});
    let recipe = folder.write("r.json", with(&[("/frame", json!({"pins": [pin]}))]));
    let told = data(&[
        "meter",
        &portrait(),
        "--recipe",
        &recipe,
        "--spot",
        "0.5,0.4,0.05",
        "--json",
    ]);
    let light = &told["light"];
    let pin = &light["pins"][0];
    assert_eq!(
        (pin["x"].as_f64(), pin["y"].as_f64()),
        (Some(0.5), Some(0.4))
    );
    assert_eq!(pin["said_stops"], 1.0);
    assert!(
        pin["role"].is_string() && light["curve"].is_string(),
        "{light}"
    );
    let [now, residual, plain] =
        ["stops", "residual_stops", "plain_stops"].map(|k| pin[k].as_f64().unwrap());
    assert!((now - 1.0 - residual).abs() < 1e-9, "{pin}");
    let spot = told["spots"][0]["bare_stops"].as_f64().unwrap();
    assert!((spot - now).abs() < 1e-6, "what the spot reads now: {told}");
    let plainly = data(&["meter", &portrait(), "--spot", "0.5,0.4,0.05", "--json"]);
    let spot = plainly["spots"][0]["bare_stops"].as_f64().unwrap();
    assert!((spot - plain).abs() < 1e-6, "and read before: {plainly}");
    let none = &plainly["light"];
    assert_eq!(
        (&none["curve"], &none["pins"]),
        (&json!("plain"), &json!([]))
    );
    let share = light["clipped_share"].as_f64().unwrap();
    assert!((0.0..=1.0).contains(&share), "{light}");
}

#[test]
fn scopes_are_told_in_words() {
    let folder = Folder::new();
    let (frame, recipe) = (portrait(), recipe(&folder));
    let said = |args: &[&str]| {
        let out = foreglass(args);
        assert!(
            out.status.success(),
            "{}",
            String::from_utf8_lossy(&out.stderr)
        );
        String::from_utf8(out.stdout).unwrap()
    };
    let words = said(&everything(&frame, &recipe));
    for part in [
        "first spot to second",
        "per cent of the picture",
        "no brighter than",
        "█",
        "across the picture",
        "u′ v′",
        "behind the glass",
        " dB)",
    ] {
        assert!(words.contains(part), "{part} in: {words}");
    }
    let widest = words.lines().map(|l| l.chars().count()).max().unwrap();
    assert!(widest <= 110, "{widest} signs wide");
    // Per cent of the rows add up.
    let bare = said(&["meter", &frame, "--histogram"]);
    let rows = bare.lines().skip_while(|l| !l.starts_with("luminance"));
    let rows = rows.skip(1).take_while(|l| !l.contains('%'));
    let sum: f64 = rows
        .map(|l| l.split_whitespace().nth(1).unwrap().parse::<f64>().unwrap())
        .sum();
    assert!((sum - 100.0).abs() < 0.1, "{sum} in: {bare}");
    assert!(!bare.contains("glass"), "no recipe, no glass: {bare}");
}

/// False stops of the portrait: the drawn file holds the palette's colours in the picture's shares.
#[test]
fn pictures_are_drawn_into_a_file() {
    let folder = Folder::new();
    let (frame, recipe) = (portrait(), recipe(&folder));
    for what in [
        "false-stops",
        "difference",
        "waveform",
        "histogram",
        "chromaticity",
    ] {
        let out = folder.path(&format!("{what}.png"));
        let args = [
            "meter",
            &frame,
            "--recipe",
            &recipe,
            "--picture",
            what,
            "--out",
            &out,
        ];
        let done = foreglass(&args);
        assert!(
            done.status.success(),
            "{what}: {}",
            String::from_utf8_lossy(&done.stderr)
        );
        let bytes = std::fs::read(&out).unwrap();
        let drawn = read_bytes(what, &bytes, Encoding::Auto).unwrap().frame;
        assert!(
            drawn.width() >= 1000 && drawn.height() >= 600,
            "{what}: {drawn:?}"
        );
    }
    let out = folder.path("bare.png");
    let done = foreglass(&["meter", &frame, "--picture", "false-stops", "--out", &out]);
    assert!(
        done.status.success(),
        "{}",
        String::from_utf8_lossy(&done.stderr)
    );
    let bytes = std::fs::read(&out).unwrap();
    let drawn = image_codes(&bytes);
    // 256 pixels enlarged three times, from the margin on: count the palette there.
    let portrait = read_bytes("portrait", &std::fs::read(&frame).unwrap(), Encoding::Auto).unwrap();
    let picture = Reduced::of(&portrait.frame);
    let light = picture.plane(Channel::Luminance);
    let times = 3;
    let top = (0..drawn.len())
        .find(|y| BANDS.iter().any(|b| b.1 == drawn[*y][41]) && drawn[*y][41] != [255; 3]);
    let top = top.expect("the picture starts somewhere");
    for (x, y) in [(0, 0), (128, 100), (200, 30), (255, 255), (17, 201)] {
        let want = BANDS[foreglass::meters::false_stops::band(light[y * 256 + x])].1;
        let got = drawn[top + times * y + 1][40 + times * x + 1];
        assert_eq!(got, want, "{x} {y}");
    }
}

/// The rows of a PNG's codes.
fn image_codes(bytes: &[u8]) -> Vec<Vec<[u8; 3]>> {
    let mut reader = png::Decoder::new(std::io::Cursor::new(bytes))
        .read_info()
        .unwrap();
    let mut codes = vec![0; reader.output_buffer_size().unwrap()];
    let info = reader.next_frame(&mut codes).unwrap();
    codes
        .chunks_exact(3 * info.width as usize)
        .map(|row| row.chunks_exact(3).map(|p| [p[0], p[1], p[2]]).collect())
        .collect()
}

#[test]
fn what_cannot_be_done_is_a_sentence() {
    let folder = Folder::new();
    let (frame, recipe) = (portrait(), recipe(&folder));
    let png = folder.path("out.png");
    let cases: [(&[&str], &str); 10] = [
        (&["--ratio", "--spot", "0.5,0.5"], "two spots"),
        (&["--histogram", "--range", "0.2"], "1 to 60 stops"),
        (&["--histogram", "--range", "NaN"], "out of range"),
        (&["--picture", "false-stops"], "--out"),
        (&["--out", &png], "--picture"),
        (&["--picture", "vectors", "--out", &png], "vectors"),
        (&["--picture", "waveform", "--out", "scope.jpg"], ".png"),
        (&["--picture", "difference", "--out", &png], "--recipe"),
        (
            &[
                "--picture",
                "difference",
                "--out",
                &png,
                "--recipe",
                &recipe,
                "--bare",
            ],
            "--bare",
        ),
        (
            &[
                "--picture",
                "difference",
                "--out",
                &png,
                "--recipe",
                &recipe,
                "--range",
                "30",
            ],
            "0.1 to 20 stops",
        ),
    ];
    for (args, word) in cases {
        let args = [&["meter", frame.as_str()], args].concat();
        let (code, text) = refusal(&args);
        assert_eq!(code, 2, "{args:?}: {text}");
        assert!(text.contains(word), "{word} in: {text}");
    }
    assert!(!std::path::Path::new(&png).exists(), "nothing was written");
    let nowhere = folder.path("no/such/folder/out.png");
    let (code, text) = refusal(&["meter", &frame, "--picture", "histogram", "--out", &nowhere]);
    assert!(code == 4 && text.trim_end().lines().count() == 1, "{text}");
}
