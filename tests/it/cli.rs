//! The command line as it is promised: figures, exit codes, one-line errors, outputs whole or not at all.

use crate::recipe::with;
use serde_json::{Value, json};
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

pub(crate) fn foreglass(args: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_foreglass"))
        .args(args)
        .output()
        .expect("the program runs")
}

pub(crate) fn data(args: &[&str]) -> Value {
    let out = foreglass(args);
    assert!(
        out.status.success(),
        "{args:?}: {}",
        String::from_utf8_lossy(&out.stderr)
    );
    serde_json::from_slice(&out.stdout).expect("JSON on stdout")
}

/// Exit code and error, which is one line.
pub(crate) fn refusal(args: &[&str]) -> (i32, String) {
    let out = foreglass(args);
    let text = String::from_utf8(out.stderr).expect("UTF-8");
    (out.status.code().expect("an exit code, no signal"), text)
}

pub(crate) struct Folder(tempfile::TempDir);

impl Folder {
    pub(crate) fn new() -> Self {
        Self(tempfile::tempdir().expect("a folder"))
    }

    pub(crate) fn path(&self, name: &str) -> String {
        self.0.path().join(name).to_string_lossy().into_owned()
    }

    pub(crate) fn write(&self, name: &str, bytes: impl AsRef<[u8]>) -> String {
        std::fs::write(self.0.path().join(name), bytes).expect("written");
        self.path(name)
    }

    /// Files that are there, hidden ones too.
    fn names(&self) -> Vec<String> {
        let entries = std::fs::read_dir(self.0.path()).expect("a folder");
        let mut names: Vec<_> = entries
            .map(|e| e.unwrap().file_name().to_string_lossy().into_owned())
            .collect();
        names.sort();
        names
    }
}

pub(crate) fn portrait() -> String {
    let path: PathBuf = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks/portrait.png");
    path.to_string_lossy().into_owned()
}

/// ND 0.6 passes 25.119 % and loses 1.9932 stops (`tests/checks/nd.csv`).
#[test]
fn glass_show_tells_the_documented_figures() {
    let nd = data(&["glass", "show", "nd", "--option", "density=0.6", "--json"]);
    assert!(
        (nd["direct"].as_f64().unwrap() - 0.251_189).abs() < 1e-5,
        "{nd}"
    );
    assert!(
        (nd["loss_stops_flat"].as_f64().unwrap() - 1.993_157).abs() < 1e-5,
        "{nd}"
    );
    let mist = data(&["glass", "show", "dark-mist", "--strength", "1/2", "--json"]);
    let parts = ["direct", "scattered", "absorbed"].map(|k| mist[k].as_f64().unwrap());
    assert!((parts.iter().sum::<f64>() - 1.0).abs() < 1e-12, "{mist}");
    for channel in ["r", "g", "b"] {
        let halo = &mist["halo_deg"][channel];
        assert!(
            halo[0].as_f64().unwrap() < halo[1].as_f64().unwrap(),
            "{halo}"
        );
    }
    assert!(
        mist["haze_percent"].as_f64().unwrap() > 0.0 && mist["source"].is_string(),
        "{mist}"
    );
    // 80A under 3200 K, 85B under 5500 K: the usual light is picked without being told.
    for (number, loss) in [("80A", 1.911), ("85B", 0.721)] {
        let series = format!("series={number}");
        let glass = data(&["glass", "show", "balance", "--option", &series, "--json"]);
        assert!(
            (glass["loss_stops_flat"].as_f64().unwrap() - loss).abs() < 0.005,
            "{glass}"
        );
    }
    let list = data(&["glass", "list", "--json"]);
    assert_eq!(
        list.as_array().unwrap().len(),
        foreglass::glass::FAMILIES.len(),
        "every family"
    );
}

#[test]
fn rig_tells_the_documented_report() {
    let folder = Folder::new();
    let grad = json!({"glass": "grad-nd", "options": {"edge": "hard"}, "gap_mm": 40});
    let camera = json!({"focal_mm": 50, "stop": 2.8, "pupil_depth_mm": 60, "focus_m": null});
    let recipe = folder.write(
        "r.json",
        with(&[("/rig/stages/1", grad), ("/camera", camera)]),
    );
    let rig = data(&["rig", "--recipe", &recipe, "--json"]);
    assert_eq!(rig["stages"][1]["place"], "stage2", "{rig}");
    assert!(
        (rig["stages"][1]["edge_width_mm"].as_f64().unwrap() - 8.928_571).abs() < 1e-5,
        "{rig}"
    );
    assert_eq!(rig["stages"][0]["covers"], true, "{rig}");
    assert_eq!(
        rig["stages"][0]["edge_width_mm"],
        Value::Null,
        "a mist has no edge"
    );
    assert_eq!(rig["vignette"]["starts_deg"], Value::Null, "{rig}");
    let (loss, stop) = (
        rig["light_loss_stops"].as_f64().unwrap(),
        rig["stop_to_set"].as_f64().unwrap(),
    );
    assert!((stop - 2.8 * (-loss / 2.0).exp2()).abs() < 1e-9, "{rig}");
    assert!(
        rig["advisories"]
            .as_array()
            .unwrap()
            .iter()
            .all(|a| a["code"].is_string()),
        "{rig}"
    );
}

/// A still through ND 0.3 into every kind of file; the EXR keeps half the light (0.501187).
#[test]
fn render_writes_every_kind() {
    let folder = Folder::new();
    let nd = json!({"glass": "nd", "options": {"density": 0.3}});
    let recipe = folder.write("r.json", with(&[("/rig/stages/0", nd)]));
    for name in ["a.exr", "a.png", "a.tif", "a.jpg"] {
        let out = folder.path(name);
        let args = [
            "render",
            &portrait(),
            "--recipe",
            &recipe,
            "--out",
            &out,
            "--engine",
            "cpu",
            "--timings",
        ];
        let line = data(&args);
        assert_eq!(line["engine"], "cpu", "{line}");
        for key in [
            "megapixels",
            "decode_ms",
            "plan_ms",
            "light_ms",
            "encode_ms",
        ] {
            assert!(line[key].as_f64().is_some_and(|v| v > 0.0), "{key}: {line}");
        }
    }
    let read = |p: &str| {
        foreglass::frame::read(Path::new(p), foreglass::frame::Encoding::Auto)
            .unwrap()
            .frame
    };
    let (bare, glass) = (read(&portrait()), read(&folder.path("a.exr")));
    for (b, g) in bare
        .planes()
        .iter()
        .flatten()
        .zip(glass.planes().iter().flatten())
    {
        assert!(
            (g - b * 0.501_187).abs() <= 1e-5 * b.abs() + 1e-7,
            "{b} became {g}"
        );
    }
    let small = folder.path("b.png");
    let args = [
        "render",
        &portrait(),
        "--recipe",
        &recipe,
        "--out",
        &small,
        "--width",
        "100",
        "--bare",
    ];
    assert!(foreglass(&args).status.success(), "a small bare one");
    assert_eq!(
        (read(&small).width(), read(&small).height()),
        (100, 100),
        "its size"
    );
    let exact = folder.path("c.exr");
    let args = [
        "render",
        &portrait(),
        "--recipe",
        &recipe,
        "--out",
        &exact,
        "--engine",
        "reference",
        "--timings",
    ];
    assert_eq!(data(&args)["engine"], "reference", "the engine that ran");
}

/// A bare sRGB frame returns its own codes.
#[test]
fn a_bare_frame_returns_its_own_codes() {
    let folder = Folder::new();
    let recipe = folder.write("r.json", with(&[]));
    let out = folder.path("bare.png");
    let args = [
        "render",
        &portrait(),
        "--recipe",
        &recipe,
        "--out",
        &out,
        "--bare",
    ];
    assert!(foreglass(&args).status.success(), "it renders");
    let (before, after) = (
        image::open(portrait()).unwrap().to_rgb8(),
        image::open(&out).unwrap().to_rgb8(),
    );
    for (a, b) in before.as_raw().iter().zip(after.as_raw()) {
        assert!(a.abs_diff(*b) <= 1, "code {a} became {b}");
    }
}

#[test]
fn bad_input_gets_one_sentence_and_leaves_nothing() {
    let folder = Folder::new();
    let good = folder.write("good.json", with(&[]));
    let bad = folder.write("bad.json", with(&[("/camera/focal_mm", json!(-50))]));
    let stages = folder.write("stages.json", with(&[("/rig/stages/-", Value::Null)]));
    let nan = folder.write("nan.json", with(&[]).replace("4.0", "NaN"));
    let still = std::fs::read(portrait()).unwrap();
    let cut = folder.write("cut.png", &still[..still.len() / 2]);
    let empty = folder.write("empty.png", b"");
    let words = folder.write("words.exr", b"not a picture at all");
    let here = folder.path("");
    let before = folder.names();
    let out = folder.path("out.png");
    let render = |frame: &str, recipe: &str, more: &[&str]| {
        let mut args = vec!["render", frame, "--recipe", recipe, "--out", &out];
        args.extend(more);
        refusal(&args)
    };
    let portrait = portrait();
    let cases = [
        (render(&portrait, &bad, &[]), 3, "camera.focal_mm"),
        (
            render(&portrait, &stages, &[]),
            3,
            "rig.stages: 4 stages; the limit is 3",
        ),
        (render(&portrait, &nan, &[]), 3, "nan.json"),
        (render(&cut, &good, &[]), 3, "cut.png"),
        (render(&empty, &good, &[]), 3, "empty.png"),
        (render(&words, &good, &[]), 3, "words.exr"),
        (render(&here, &good, &[]), 3, "folder"),
        (render(&folder.path("none.png"), &good, &[]), 3, "none.png"),
        (
            render(&portrait, &folder.path("none.json"), &[]),
            3,
            "none.json",
        ),
        (render(&portrait, &good, &["--width", "9000"]), 2, "9000"),
        (render(&portrait, &good, &["--space", "mauve"]), 2, "mauve"),
        (
            refusal(&["render", &portrait, "--recipe", &good, "--out", "x.gif"]),
            2,
            "x.gif",
        ),
        (refusal(&["glass", "show", "gauze"]), 2, "gauze"),
        (
            refusal(&["glass", "show", "nd", "--option", "density"]),
            2,
            "NAME=VALUE",
        ),
        (
            refusal(&["sheet", &portrait, "--recipe", &good, "--out", "x.pdf"]),
            2,
            "PDF",
        ),
        (refusal(&["frobnicate", "--now"]), 2, ""),
        (
            refusal(&[
                "render",
                &portrait,
                "--recipe",
                &good,
                "--out",
                &folder.path("no/such/out.png"),
            ]),
            4,
            "out.png",
        ),
    ];
    for ((code, text), wanted, word) in cases {
        assert_eq!(code, wanted, "{text}");
        assert!(text.contains(word), "{word} in: {text}");
        assert!(!text.contains("panicked"), "{text}");
        let lines = text.trim_end().lines().count();
        assert!(lines == 1 || wanted == 2, "one line: {text}");
    }
    assert_eq!(folder.names(), before, "nothing half written");
}

#[test]
fn sheet_and_samples_write_what_they_say() {
    let folder = Folder::new();
    let samples = folder.path("samples");
    assert!(
        foreglass(&["samples", &samples]).status.success(),
        "samples"
    );
    let (frame, recipe) = (
        format!("{samples}/night_quay.exr"),
        format!("{samples}/night_quay.json"),
    );
    let sheet = folder.path("sheet.png");
    let out = foreglass(&[
        "sheet",
        &frame,
        "--recipe",
        &recipe,
        "--out",
        &sheet,
        "--date",
        "1 May 2026",
    ]);
    assert!(
        out.status.success(),
        "{}",
        String::from_utf8_lossy(&out.stderr)
    );
    let page = image::open(&sheet).unwrap();
    assert_eq!(
        (page.width(), page.height()),
        (2339, 1654),
        "A4 lying, 200 dpi"
    );
    let defaults = foreglass(&["recipe", "--defaults"]).stdout;
    let defaults = folder.write("defaults.json", defaults);
    assert_eq!(
        data(&["rig", "--recipe", &defaults, "--json"])["light_loss_stops"],
        0.0,
        "bare"
    );
}

/// The sample is what the program says it is: a night of 12 stops and more, its lamps 500 × key.
#[test]
fn the_sample_is_a_night_with_lamps() {
    let (name, bytes) = foreglass::recipe::samples::SAMPLES[0];
    assert!(bytes.len() <= 4 << 20, "{} bytes", bytes.len());
    let still =
        foreglass::frame::read_bytes(name, bytes, foreglass::frame::Encoding::Auto).unwrap();
    let light = |i: usize| {
        let p = still.frame.planes();
        foreglass::colour::primaries::luminance([p[0][i], p[1][i], p[2][i]])
    };
    let mut levels: Vec<f32> = (0..still.frame.planes()[0].len()).map(light).collect();
    levels.sort_by(f32::total_cmp);
    let (low, high) = (levels[levels.len() / 100], levels[levels.len() - 1]);
    assert!(high >= 500.0 * 0.18, "lamps at {} × key", high / 0.18);
    assert!(low > 0.0 && (high / low).log2() >= 12.0, "{low} to {high}");
}

/// A table that an option names is an input: read from the folder that the recipe lies in, from where
/// the command runs for the command line, and told by its path where it cannot be read.
#[test]
fn a_table_is_an_input() {
    let folder = Folder::new();
    let table = folder.write("pane.csv", "nm,%\n380,50\n780,50\n");
    let option = format!("csv={table}");
    let show = data(&["glass", "show", "spectrum", "--option", &option, "--json"]);
    assert!(
        (show["loss_stops_flat"].as_f64().unwrap() - 1.0).abs() < 1e-12,
        "{show}"
    );
    let glass = json!({"glass": "spectrum", "options": {"csv": "pane.csv"}});
    let recipe = folder.write("look.json", with(&[("/rig/stages/0", glass.clone())]));
    let rig = data(&["rig", "--recipe", &recipe, "--json"]);
    assert!(
        (rig["light_loss_stops"].as_f64().unwrap() - 1.0).abs() < 1e-9,
        "{rig}"
    );
    let gone = json!({"glass": "spectrum", "options": {"csv": "gone.csv"}});
    let recipe = folder.write("gone.json", with(&[("/rig/stages/0", gone)]));
    let (code, told) = refusal(&["rig", "--recipe", &recipe]);
    assert_eq!(code, 3, "{told}");
    assert!(
        told.contains("rig.stages[0].options.csv") && told.contains("gone.csv"),
        "{told}"
    );
    let bad = folder.write("bad.csv", "400,0.5\n390,0.5\n");
    for (path, wanted) in [(bad.as_str(), "csv: line 2"), ("gone.csv", "gone.csv")] {
        let option = format!("csv={path}");
        let (code, told) = refusal(&["glass", "show", "spectrum", "--option", &option]);
        assert_eq!(code, 3, "{told}");
        assert!(
            told.contains(wanted) && told.trim_end().lines().count() == 1,
            "{told}"
        );
    }
}

/// What is wrong with an option is told by its name, and an option is given once.
#[test]
fn options_are_named_and_taken_once() {
    let told = |options: &[&str]| {
        let mut args = vec!["glass", "show", "nd"];
        args.extend(options.iter().flat_map(|o| ["--option", o]));
        let out = foreglass(&args);
        assert_eq!(out.status.code(), Some(2), "{options:?}");
        String::from_utf8(out.stderr).expect("words")
    };
    assert!(
        told(&["density=abc"]).contains("--option density:"),
        "by name"
    );
    assert!(
        told(&["density=0.3", "density=0.9"]).contains("given twice"),
        "once"
    );
}
