//! Glass by its own table: what is read, what is refused, and where a recipe finds it.

use crate::checks::Table;
use crate::glass::piece;
use crate::recipe::with;
use foreglass::colour::spectrum::Spectrum;
use foreglass::glass::GlassError;
use foreglass::recipe::Recipe;
use foreglass::units::Nanometres;
use proptest::prelude::*;
use serde_json::{Value, json};
use std::path::Path;

fn tau(csv: &str) -> Result<Spectrum, String> {
    match piece("spectrum", None, json!({"csv": csv})) {
        Ok(glass) => Ok(glass.law().tau.clone()),
        Err(GlassError::Option(e)) => {
            assert_eq!(e.path, "csv", "the path of the option");
            assert!(!e.message.contains('\n'), "one line: {e}");
            Err(e.message)
        }
        Err(e) => Err(e.to_string()),
    }
}

/// Any 5 nm table comes back as it is: patch 13 of ISO 17321-1, `chart_spectra.csv`.
#[test]
fn a_table_comes_back_as_it_is() {
    let table = Table::read("chart_spectra.csv");
    let column = table.rows().map(|r| (r.number("nm"), r.number("patch13")));
    let points: Vec<(f64, f64)> = column.collect();
    let write = |separator: &str, point: &str, scale: f64, head: &str| {
        let mut text = head.to_owned();
        for (nm, v) in &points {
            let line = format!("{nm}{separator}{}\n", v * scale);
            text += &line.replace('.', point);
        }
        text
    };
    let variants = [
        write(",", ".", 1.0, ""),
        write(";", ",", 1.0, "# a blue patch\r\nnm;tau\r\n"),
        write("\t", ".", 100.0, "\u{feff}wavelength\ttransmittance (%)\n"),
        write("  ", ".", 100.0, "Wavelength PerCent\n\n# remark\n"),
        write(";", ",", 100.0, "\"nm\";\"T in per cent\"\n"),
    ];
    for text in variants {
        let got = tau(&text).unwrap();
        for (nm, want) in &points {
            let got = got.at(Nanometres::clamped(*nm));
            assert!((got - want).abs() < 1e-12, "{nm} nm: {got} against {want}");
        }
    }
}

/// Finer tables are averaged over 5 nm: a notch of 1 nm, 0 in its middle, takes 0.5 nm of the 5
/// (area of a triangle). Beyond the ends the end values hold.
#[test]
fn fine_tables_are_averaged_and_ends_held() {
    let mut text = String::new();
    for i in 0..=3000 {
        let nm = 400.0 + 0.1 * f64::from(i);
        let v = (2.0 * (nm - 550.0).abs()).min(1.0) * 0.8;
        text += &format!("{nm:.1},{v:.4}\n");
    }
    let got = tau(&text);
    let got = got.unwrap();
    let at = |nm: f64| got.at(Nanometres::clamped(nm));
    assert!((at(550.0) - 0.8 * 0.9).abs() < 1e-9, "{}", at(550.0));
    assert!(
        (at(545.0) - 0.8).abs() < 1e-12 && (at(555.0) - 0.8).abs() < 1e-12,
        "beside it"
    );
    let ends = tau("400,0.25\n700,0.75\n").unwrap();
    let at = |nm: f64| ends.at(Nanometres::clamped(nm));
    assert!(
        at(380.0) == 0.25 && at(780.0) == 0.75 && at(550.0) == 0.5,
        "held and joined"
    );
}

#[test]
fn faces_are_added_where_the_table_leaves_them_out() {
    let with = |faces: &str| {
        let options = json!({"csv": "# Quay lamp glass\n380,0.5\n780,0.5\n", "faces": faces});
        let glass = piece("spectrum", None, options).unwrap();
        assert_eq!(
            glass.name(),
            "Spectrum: Quay lamp glass",
            "its first remark"
        );
        glass.law().tau.samples()[0]
    };
    let got = ["included", "coated", "uncoated"].map(with);
    assert_eq!(
        got,
        [0.5, 0.5 * 0.99, 0.5 * 0.9183],
        "Fresnel, see the law of the faces"
    );
    let none = piece("spectrum", None, json!({})).unwrap();
    assert!(none.law().caution.is_some(), "an empty one says so");
    assert_eq!(none.law().tau.samples()[40], 1.0, "and changes nothing");
}

#[test]
fn what_is_no_table_is_refused_by_its_line() {
    let long = format!("400,0.5\n{}700,0.5\n", "# a remark\n".repeat(7000));
    let many = (0..5000).fold(String::new(), |t, i| {
        t + &format!("{},0.5\n", 400.0 + 0.1 * f64::from(i))
    });
    let cases: &[(&str, &str)] = &[
        ("", "is one line"),
        ("pane.csv", "\"pane.csv\" is one line"),
        ("\n# only\n# remarks\n", "no numbers"),
        (
            "400,0.5\n390,0.5\n",
            "line 2: wavelength 390 does not rise above 400",
        ),
        ("400,0.5\n400,0.5\n", "line 2: wavelength 400 does not rise"),
        (
            "# x\n\n400,0.5\n500,oak\n",
            "line 4: \"oak\" is not a number",
        ),
        ("400,0.5\nfive,0.5\n", "line 2: \"five\" is not a number"),
        ("a,b\nc,d\n", "line 2: \"c\" is not a number"),
        ("400,NaN\n500,inf\n", "line 2: \"inf\" is not a number"),
        (
            "400,50\n700,60\n",
            "line 1: transmittance 50 is out of range: 0 to 1",
        ),
        (
            "nm,%\n400,50\n700,160\n",
            "line 3: transmittance 1.6 is out of range",
        ),
        (
            "400,-0.2\n700,0.5\n",
            "line 1: transmittance -0.2 is out of range",
        ),
        (
            "0.4,0.5\n0.7,0.5\n",
            "line 1: wavelength 0.4 is out of range: 100 to 10000 nm",
        ),
        ("400,0.5,0.6\n", "is one line"),
        ("400,0.5,0.6\n700,0.5,1\n", "line 1: has 3 columns"),
        ("400\n700\n", "line 1: has 1 columns"),
        (
            "450,0.5\n700,0.5\n",
            "covers 450 to 700 nm; 400 to 700 nm is needed",
        ),
        ("400,0.5\n650,0.5\n", "covers 400 to 650 nm"),
        (
            "nm,optical density\n400,0.5\n700,0.5\n",
            "line 1: the heading does not tell",
        ),
        ("400,0.5\n\u{0}\n", "line 2: holds a control character"),
        (&long, "the limit is 65536"),
        (&many, "more than 4096 lines"),
    ];
    for (text, wanted) in cases {
        let told = tau(text).expect_err(wanted);
        assert!(told.contains(wanted), "{wanted}: {told}");
        assert!(told.chars().count() < 200, "short: {told}");
    }
    let noise = tau("400,-0.004\n700,1.003\n").unwrap();
    assert!(
        noise.samples()[0] == 0.0 && noise.samples()[80] == 1.0,
        "noise is clipped"
    );
}

proptest! {
    /// Whatever the text, there is glass that keeps its light to itself, or a sentence.
    #[test]
    fn no_text_is_too_much(
        text in prop_oneof![
            "\\PC{0,200}",
            "[0-9,;. \t\n#%eE+-]{0,300}",
            "([34567][0-9]{2}[,;\t ]0[.,][0-9]{1,4}\n){0,40}",
        ],
    ) {
        if let Ok(tau) = tau(&text) {
            for v in tau.samples() {
                prop_assert!((0.0..=1.0).contains(v), "{v}");
            }
        }
    }

    /// Straight lines through the points, whatever their spacing, agree with the end points' order.
    #[test]
    fn tables_stay_between_their_values(
        values in prop::collection::vec(0.0_f64..1.0, 2..200),
    ) {
        let step = 300.0 / (values.len() - 1) as f64;
        let mut text = String::new();
        for (i, v) in values.iter().enumerate() {
            text += &format!("{} {v}\n", 400.0 + step * i as f64);
        }
        // The last step may fall short of 700 by rounding.
        text += "700.1 0.5\n";
        let got = tau(&text).unwrap();
        let low = values.iter().copied().fold(0.5, f64::min) - 1e-12;
        let high = values.iter().copied().fold(0.5, f64::max) + 1e-12;
        prop_assert!(got.samples().iter().all(|v| (low..=high).contains(v)));
    }
}

const PANE: &str = "# Wheelhouse pane\nnm,tau\n380,0.4\n780,0.8\n";

fn recipe_naming(csv: &str) -> String {
    let glass = json!({"glass": "spectrum", "options": {"csv": csv}});
    with(&[("/rig/stages/1", glass.clone()), ("/rig/rings/-", glass)])
}

/// A recipe on disk may name the table, from its own folder; what is read holds the text, and is read
/// again without any file.
#[test]
fn a_recipe_takes_its_tables_in() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::create_dir(folder.path().join("tables")).unwrap();
    let file = folder.path().join("tables/pane.csv");
    std::fs::write(&file, PANE).unwrap();
    for named in [
        "tables/pane.csv",
        "./tables/../tables/pane.csv",
        file.to_str().unwrap(),
    ] {
        let text = recipe_naming(named);
        assert!(Recipe::parse(&text).is_err(), "by itself it is not whole");
        let read = Recipe::parse_in(&text, folder.path()).unwrap();
        let whole = read.to_json();
        let again = Recipe::parse(&whole).unwrap();
        assert_eq!(read, again, "whole by itself");
        let written: Value = serde_json::from_str(&whole).unwrap();
        assert_eq!(
            written["rig"]["stages"][1]["options"]["csv"],
            json!(PANE),
            "the text"
        );
        let glass = read.setup().unwrap().glass;
        assert_eq!(glass.len(), 3, "ring and stages");
        for at in [0, 2] {
            assert_eq!(
                glass[at].piece.name(),
                "Spectrum: Wheelhouse pane",
                "place {at}"
            );
        }
    }
}

/// A rig full of the longest tables, written at their worst for JSON, is a recipe that is read again.
#[test]
fn a_rig_full_of_tables_is_read_again() {
    let rows = "400,0.5\n700,0.5\n";
    let table = format!("#{}\n{rows}", "\"".repeat((1 << 16) - rows.len() - 2));
    let glass = json!({"glass": "spectrum", "options": {"csv": table}});
    let places = ["rings/-", "rings/-", "stages/0", "stages/1", "stages/2"];
    let changes: Vec<_> = places.map(|p| format!("/rig/{p}")).into();
    let changes: Vec<_> = changes
        .iter()
        .map(|p| (p.as_str(), glass.clone()))
        .collect();
    let full = Recipe::parse(&with(&changes)).unwrap();
    let again = Recipe::parse(&full.to_json());
    assert_eq!(again.as_ref(), Ok(&full), "the same");
}

#[test]
fn a_table_that_cannot_be_read_is_told_by_path() {
    let folder = tempfile::tempdir().unwrap();
    let write = |name: &str, bytes: &[u8]| std::fs::write(folder.path().join(name), bytes).unwrap();
    write("long.csv", &vec![b'#'; 1_000_001]);
    write("noise.csv", &[0xff, 0xfe, 0, 10, 13, 0]);
    write("latin.csv", b"# \xb5 glass\n400,0.5\n700,0.5\n");
    let told = |name: &str| {
        let read = Recipe::parse_in(&recipe_naming(name), folder.path());
        read.map_err(|e| e.to_string())
    };
    for (name, wanted) in [
        ("nowhere.csv", "rig.rings[0].options.csv: \""),
        ("nowhere.csv", "nowhere.csv\" cannot be read: "),
        ("", "this is not a file"),
        ("long.csv", "the limit is 1000000 bytes"),
        (
            "noise.csv",
            "rig.rings[0].options.csv: line 1: holds a control character",
        ),
    ] {
        let told = told(name).expect_err(wanted);
        assert!(told.contains(wanted), "{wanted}: {told}");
    }
    assert!(told("latin.csv").is_ok(), "Latin-1 is read");
    let number = with(&[(
        "/rig/stages/1",
        json!({"glass": "spectrum", "options": {"csv": 4}}),
    )]);
    let told = Recipe::parse_in(&number, Path::new("")).unwrap_err();
    assert_eq!(told.path, "rig.stages[1].options.csv", "{told}");
}
