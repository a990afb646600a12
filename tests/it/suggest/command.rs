//! `foreglass suggest` and the kit file: JSON, text, exit codes.

use super::grads;
use crate::cli::{Folder, data, foreglass, portrait, refusal};
use crate::recipe::with;
use foreglass::recipe::Recipe;
use foreglass::recipe::kit::{Fits, Kit};
use serde_json::{Value, json};

const REGION: &str = "0,0,1,0.3";

#[test]
fn the_documented_json() {
    let folder = Folder::new();
    let recipe = folder.write("r.json", with(&[]));
    let kit = folder.write(
        "k.json",
        grads(&[(0.6, "soft", 1), (0.6, "hard", 1)]).to_string(),
    );
    let (frame, still) = (
        portrait(),
        ["--region", REGION, "--target", "0", "--level", "3"],
    );
    let args = |more: &[&str]| {
        let own = ["suggest", &frame, "--recipe", &recipe, "--kit", &kit];
        [&own[..], &still[..], more]
            .concat()
            .into_iter()
            .map(str::to_owned)
            .collect::<Vec<_>>()
    };
    let words = args(&["--json"]);
    let told = data(&words.iter().map(String::as_str).collect::<Vec<_>>());
    assert_eq!(told["kit"], "Quay case", "{told}");
    assert_eq!(
        told["metered"],
        json!({"stops": told["metered"]["stops"], "by": "level"})
    );
    assert!(
        (told["metered"]["stops"].as_f64().unwrap() - 3.0).abs() < 1e-3,
        "{told}"
    );
    let number = |v: &Value| v.as_f64().unwrap_or_else(|| panic!("a number in {told}"));
    let bare = number(&told["bare"]["residual_stops"]);
    assert!(
        bare > 2.0 && told["bare"]["text"].as_str().unwrap().ends_with('.'),
        "{told}"
    );
    let options = told["options"].as_array().unwrap();
    assert!(!options.is_empty() && options.len() <= 5, "{told}");
    for option in options {
        // The whole rig document: it goes into a recipe as it is.
        let again = with(&[("/rig", option["rig"].clone())]);
        let again = Recipe::parse(&again).unwrap();
        assert_eq!(
            again.rig.stages[0].as_ref().unwrap().glass,
            "dark-mist",
            "what stood there stays"
        );
        let sum = number(&option["residual_stops"]).abs()
            + number(&option["overshoot_stops"])
            + 0.5 * number(&option["uneven_stops"])
            + number(&option["line_stops"])
            + 0.05 * option["glass"].as_array().unwrap().len() as f64;
        assert!((sum - number(&option["score"])).abs() < 1e-9, "{option}");
        assert!(number(&option["score"]) < bare, "{option}");
    }
    assert_eq!(told["places"]["glass"][0]["place"], "stage1", "{told}");
    assert_eq!(told["places"]["well"], true, "{told}");

    let words = args(&[]);
    let out = foreglass(&words.iter().map(String::as_str).collect::<Vec<_>>());
    let text = String::from_utf8(out.stdout).unwrap();
    for part in [
        "meters +3.00 bare (as told)",
        "1  score",
        "Grad ND 0.6",
        "slid",
        "dense at",
        "stands well",
    ] {
        assert!(text.contains(part), "{part} in {text}");
    }
}

/// Nothing better than leaving it alone is an answer, not an error.
#[test]
fn an_empty_list_is_no_failure() {
    let folder = Folder::new();
    let recipe = folder.write("r.json", with(&[]));
    let frame = portrait();
    let args = [
        "suggest", &frame, "--recipe", &recipe, "--region", REGION, "--target", "20",
    ];
    let told = data(&[&args[..], &["--json"]].concat());
    assert_eq!(told["options"], json!([]), "{told}");
    assert!(
        told["nothing"].as_str().unwrap().contains("not over"),
        "{told}"
    );
    assert_eq!(told["metered"]["by"], "frame", "{told}");
    let out = foreglass(&args);
    assert!(out.status.success() && String::from_utf8_lossy(&out.stdout).contains("not over"));
}

#[test]
fn what_cannot_be_used_is_told_in_a_line() {
    let folder = Folder::new();
    let recipe = folder.write("r.json", with(&[]));
    let frame = portrait();
    let kit = |name: &str, row: Value| {
        let kit =
            json!({"format": "foreglass.kit", "version": 1, "glass": [{"glass": "clear"}, row]});
        folder.write(name, kit.to_string())
    };
    let bad = [
        (
            kit("a", json!({"glass": "grad-nd", "options": {"density": 9}})),
            "glass[1].options.density: density 9",
        ),
        (
            kit("b", json!({"glass": "nowhere"})),
            "glass[1].glass: no family",
        ),
        (
            kit("c", json!({"glass": "clear", "colour": 1})),
            "glass[1].colour: unknown field",
        ),
        (
            kit("d", json!({"glass": "clear", "count": 100})),
            "glass[1].count: 100 is out of range: 0 to 99",
        ),
        (
            kit(
                "e",
                json!({"glass": "clear", "size": "4x4", "thread_mm": 77}),
            ),
            "glass[1].thread_mm: give the size",
        ),
        (
            kit("f", json!({"glass": "clear", "size": "5x5"})),
            "glass[1].size",
        ),
        (
            kit("g", json!({"glass": "dark-mist", "strength": "7"})),
            "glass[1].strength",
        ),
        (
            folder.write("h", with(&[])),
            "format: \"foreglass.recipe\" is not \"foreglass.kit\"",
        ),
        (
            folder.write("i", r#"{"format": "foreglass.kit", "version": 2}"#),
            "version 2 is not known",
        ),
        (folder.path("none"), "none"),
    ];
    for (kit, wanted) in bad {
        let (code, error) = refusal(&[
            "suggest", &frame, "--recipe", &recipe, "--region", REGION, "--target", "0", "--kit",
            &kit,
        ]);
        assert_eq!(code, 3, "{error}");
        assert!(
            error.contains(wanted) && error.trim_end().lines().count() == 1,
            "{wanted}: {error}"
        );
    }
    let usage = [
        (["--region", "0.5,0,0.4,1", "--target", "0"], "--region"),
        (["--region", REGION, "--target", "31"], "--target 31"),
        (["--region", REGION, "--target", "nan"], "--target NaN"),
        (["--region", "0,0,1", "--target", "0"], "--region"),
    ];
    for (more, wanted) in usage {
        let args = [&["suggest", &frame, "--recipe", &recipe][..], &more[..]].concat();
        let (code, error) = refusal(&args);
        assert!(
            code == 2 && error.contains(wanted),
            "{more:?}: {code} {error}"
        );
    }
}

/// The built-in kit is printed as it is read, and has what a truck has.
#[test]
fn the_built_in_kit_is_printed_and_reads() {
    let out = foreglass(&["recipe", "--default-kit"]);
    assert!(out.status.success(), "{out:?}");
    let kit = Kit::parse(&String::from_utf8(out.stdout).unwrap()).unwrap();
    assert_eq!(kit, Kit::default());
    let all: Vec<(String, u32)> = kit
        .rows
        .iter()
        .map(|r| (r.piece().unwrap().name().to_owned(), r.count))
        .collect();
    for (name, count) in [
        ("Grad ND 0.3 soft", 1),
        ("Grad ND 0.6 medium", 2),
        ("Grad ND 0.9 hard", 1),
        ("ND stripe 0.6", 1),
        ("ND attenuator 0.9", 1),
        ("Clear", 1),
        ("Polariser", 1),
    ] {
        let found = all.iter().find(|(n, _)| n.starts_with(name));
        assert_eq!(found.map(|f| f.1), Some(count), "{name} in {all:?}");
    }
    let round = kit
        .rows
        .iter()
        .find(|r| matches!(r.fits(), Fits::Tray(size) if size.is_round()));
    assert_eq!(
        round.unwrap().piece().unwrap().name(),
        "Polariser",
        "138 mm"
    );
    let (code, _) = refusal(&["recipe"]);
    assert_eq!(code, 2, "one of the two is asked for");
    let (code, _) = refusal(&["recipe", "--defaults", "--default-kit"]);
    assert_eq!(code, 2, "and only one");
}

/// An option goes into a recipe of its own, which reaches what was told of it; one that is not there writes
/// nothing.
#[test]
fn an_option_is_written_as_a_recipe() {
    let folder = Folder::new();
    let recipe = folder.write("r.json", with(&[]));
    let (frame, out) = (portrait(), folder.path("held.json"));
    let own = ["suggest", &frame, "--recipe", &recipe, "--region", REGION];
    let ask = ["--target", "0", "--level", "3", "--out", &out];
    let second = [&own[..], &ask, &["--option", "2", "--json"]].concat();
    let told = data(&second);
    let written: Value = serde_json::from_str(&std::fs::read_to_string(&out).unwrap()).unwrap();
    assert_eq!(written["rig"], told["options"][1]["rig"], "the second");
    Recipe::parse(&written.to_string()).expect("a recipe");
    std::fs::remove_file(&out).unwrap();
    let none = [&own[..], &ask, &["--option", "9"]].concat();
    let (code, refused) = refusal(&none);
    assert!(code == 4 && refused.contains("--option 9"), "{refused}");
    assert!(!std::path::Path::new(&out).exists(), "nothing is written");
}
