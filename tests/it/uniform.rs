//! Glass that is the same everywhere: colour compensation, conversion with density, neutral density
//! that cuts infrared, polarisers.

use crate::checks::Table;
use crate::glass::piece;
use crate::plan::setup;
use foreglass::colour::illuminant;
use foreglass::colour::spectrum::Spectrum;
use foreglass::optics::polarised::{Sheet, rayleigh};
use foreglass::rig::advisory::Level;
use foreglass::units::{Kelvin, Nanometres};
use serde_json::{Value, json};

fn daylight() -> Spectrum {
    illuminant::planckian(Kelvin::clamped(5500.0))
}

/// "CC20M" as options.
fn cc(name: &str) -> Value {
    let (number, letter) = name["CC".len()..].split_at(name.len() - 3);
    let words = ["cyan", "magenta", "yellow", "red", "green", "blue"];
    let word = words
        .iter()
        .find(|w| w.starts_with(&letter.to_lowercase()))
        .expect("a colour");
    json!({"colour": word, "density": number})
}

fn cc_tau(name: &str) -> Spectrum {
    let glass = piece("cc", None, cc(name)).unwrap();
    assert_eq!(glass.name(), name, "it is ordered by its trade name");
    glass.law().tau.clone()
}

/// Factors of a colour-printing filter manual, surfaces included, `cc_filters.csv`. They are printed
/// to a tenth (0.07 stop either way at 1.1) and are not quite consistent (CC05B loses less there than
/// CC05M). The reference values put ideal blocks within 0.03 stop for magenta, 0.06 for yellow, 0.13
/// for red and 0.14 for blue, and find real green and cyan 0.33 darker: with cyan's side absorption
/// those two are held to the same 0.15.
#[test]
fn cc_loses_what_its_factor_says() {
    let (mut squares, mut count) = (0.0, 0.0);
    for row in Table::read("cc_filters.csv").rows() {
        let name = row.text("name");
        let glass = piece("cc", None, cc(name)).unwrap();
        let printed = row.number("stops_from_factor");
        let modelled = glass.law().flat_loss(&daylight()).get();
        let limit = match name.chars().last() {
            Some('M' | 'Y' | 'C') => 0.06,
            _ => 0.15,
        };
        assert!(
            (modelled - printed).abs() <= limit,
            "{name}: {modelled:.3} against {printed:.3}"
        );
        let factor = row.number("factor_published").log2();
        let nominal = glass.nominal_loss().unwrap().get();
        assert!(
            (nominal - factor).abs() < 1e-12,
            "{name}: its nominal loss is the table's factor"
        );
        squares += (modelled - printed).powi(2);
        count += 1.0;
    }
    assert!(count > 35.5, "six colours at six densities: {count}");
    let rms = f64::sqrt(squares / count);
    assert!(rms < 0.06, "all of them: {rms:.3} stop RMS");
}

/// The number is the peak density in hundredths (handbooks), whatever the colour.
#[test]
fn cc_numbers_are_peak_densities() {
    for number in ["025", "05", "10", "15", "20", "30", "40", "50"] {
        let peak = format!("0.{number}").parse::<f64>().unwrap();
        for letter in ["C", "M", "Y", "R", "G", "B"] {
            let tau = cc_tau(&format!("CC{number}{letter}"));
            let densest = tau
                .samples()
                .iter()
                .fold(0.0_f64, |d, t| d.max(-(t / 0.9183).log10()));
            assert!(
                (densest - peak).abs() < 1e-12,
                "{number}{letter}: {densest}"
            );
            let clearest = tau.samples().iter().copied().fold(0.0, f64::max);
            let least = -(clearest / 0.9183).log10();
            // Green glass has cyan dye in it, which is not quite clear in the green.
            let side = if letter == "G" { 0.22 * peak } else { 0.0 };
            assert!(
                (least - side).abs() < 1e-12,
                "{number}{letter}: clearest at {least}"
            );
        }
    }
}

/// CC20Y + CC20M = CC20R (handbooks), but for the faces of one glass; the same for
/// green. Equal yellow, magenta and cyan leave no hue but cyan's side absorption.
#[test]
fn cc_adds_up() {
    let faces = 1.0 / 0.9183;
    for number in ["025", "05", "10", "15", "20", "30", "40", "50"] {
        let tau = |letter: &str| cc_tau(&format!("CC{number}{letter}"));
        for (a, b, sum) in [("Y", "M", "R"), ("Y", "C", "G")] {
            let both = tau(a).product(&tau(b)).scaled(faces);
            for (nm, (x, y)) in both.iter().map(|(nm, v)| (nm, (v, tau(sum).at(nm)))) {
                assert!(
                    (x - y).abs() < 1e-12,
                    "{a} + {b} at {nm:?}: {x} against {y}"
                );
            }
        }
    }
}

/// 85N3, 85N6, 85N9: nominal 1 2/3, 2 2/3, 3 2/3 (cinematography handbooks), modelled
/// within the quarter stop that the plain series is held to, and as the stack of the two glasses.
#[test]
fn conversion_with_density_is_the_stack_of_both() {
    for (number, density, nominal) in [
        ("85N3", 0.3, 5.0 / 3.0),
        ("85N6", 0.6, 8.0 / 3.0),
        ("85N9", 0.9, 11.0 / 3.0),
    ] {
        let one = json!({"glass": "balance", "options": {"series": number}});
        let plain = json!({"glass": "balance", "options": {"series": "85"}});
        let grey = json!({"glass": "nd", "options": {"density": density}});
        let added = json!({"glass": "balance", "options": {"series": "85", "density": density}});
        let alone = setup(&[("/rig/stages/0", one)]);
        let stack = setup(&[("/rig/stages/0", plain), ("/rig/stages/1", grey)]);
        let free = setup(&[("/rig/stages/0", added)]);
        for other in [&stack, &free] {
            let worst = alone
                .tau()
                .iter()
                .fold(0.0_f64, |w, (nm, v)| w.max((v - other.tau().at(nm)).abs()));
            assert!(worst < 1e-15, "{number}: off by {worst}");
            let told = other.nominal_loss().get();
            assert!(
                (told - nominal).abs() < 1e-9,
                "{number}: the parts say {told}"
            );
        }
        let told = alone.nominal_loss().get();
        assert!((told - nominal).abs() < 1e-9, "{number}: {told}");
        let modelled = alone.glass[0].piece.law().flat_loss(&daylight()).get();
        assert!((modelled - nominal).abs() < 0.25, "{number}: {modelled}");
    }
    let twice = piece("balance", None, json!({"series": "85N3", "density": 0.3})).unwrap_err();
    assert_eq!(
        twice.to_string(),
        "85N3 has its density already",
        "not twice"
    );
    let free = piece("balance", None, json!({"mireds": 40, "density": 0.6})).unwrap();
    assert_eq!(
        free.name(),
        "Balance +40 mireds + ND 0.6",
        "as it is ordered"
    );
    let much = piece("balance", None, json!({"density": 9})).unwrap_err();
    assert!(
        much.to_string().contains("density 9 is out of range"),
        "{much}"
    );
}

fn advisory(changes: &[(&str, Value)], code: &str) -> Option<(Level, String)> {
    let s = setup(changes);
    let all = s.advisories(&s.sensor_view());
    all.into_iter()
        .find(|a| a.code == code)
        .map(|a| (a.level, a.text))
}

/// Strong density passes what lies past 700 nm unless glass cuts it (common practice, no source); where it cuts is our own estimate.
#[test]
fn density_that_cuts_infrared() {
    let options = |infrared: &str| json!({"density": 1.8, "infrared": infrared});
    let [plain, cuts] = ["pass", "cut"].map(|i| piece("nd", None, options(i)).unwrap());
    let ratio = |nm: f64| {
        let at = Nanometres::clamped(nm);
        cuts.law().tau.at(at) / plain.law().tau.at(at)
    };
    assert!((ratio(705.0) - 0.5).abs() < 1e-12, "half at 705 nm");
    assert!(ratio(680.0) > 0.95 && ratio(650.0) > 0.998, "the red stays");
    assert!(
        ratio(740.0) < 0.015 && ratio(780.0) < 1e-3,
        "the far red goes"
    );
    let [a, b] = [&plain, &cuts].map(|g| g.law().flat_loss(&daylight()).get());
    assert!((a - b).abs() < 2e-3, "a meter hardly sees it: {a} and {b}");
    assert_eq!(cuts.name(), "ND 1.8 IR cut", "as it is ordered");

    let stage = |options: Value| json!({"glass": "nd", "options": options});
    let one = |o: Value| advisory(&[("/rig/stages/0", stage(o))], "infrared");
    let told = one(options("pass")).expect("it leaks");
    assert!(
        told.0 == Level::Caution && told.1.contains("Density 1.8"),
        "{told:?}"
    );
    assert_eq!(one(options("cut")), None, "it does not leak");
    let mixed = advisory(
        &[
            ("/rig/stages/0", stage(options("pass"))),
            (
                "/rig/stages/1",
                stage(json!({"density": 0.3, "infrared": "cut"})),
            ),
        ],
        "infrared",
    );
    assert_eq!(
        mixed.expect("worth a note").0,
        Level::Note,
        "one cuts for all"
    );
    let light = advisory(
        &[
            ("/rig/stages/0", stage(json!({"density": 0.9}))),
            (
                "/rig/stages/1",
                stage(json!({"density": 1.2, "infrared": "cut"})),
            ),
        ],
        "infrared",
    );
    assert_eq!(light, None, "what does not cut is only 0.9");
}

/// Reference values, section 8: T = (k₁ + k₂)/2 + (k₁ − k₂)/2 · p · cos 2φ for a degree of polarisation p,
/// and Rayleigh's p.
#[test]
fn polarisers_lose_what_their_principals_say() {
    for (k1, stops) in [(0.75, 1.415), (0.707, 1.5), (0.5, 2.0), (0.7955, 1.33)] {
        let glass = piece("polariser", None, json!({"k1": k1})).unwrap();
        let loss = glass.law().flat_loss(&daylight()).get();
        assert!((loss - stops).abs() < 1e-3, "k1 {k1}: {loss}");
        let back = piece("polariser", None, json!({"loss": loss})).unwrap();
        let along = back.law().polarises.unwrap().along;
        assert!((along - k1).abs() < 1e-9, "the loss gives k1 back: {along}");
    }
    let sheet = Sheet {
        along: 0.75,
        across: 0.0,
    };
    let stops = |angle: f64| -sheet.passed(0.75, f64::to_radians(angle)).log2();
    assert!((stops(0.0) - 0.608).abs() < 1e-3, "in line: {}", stops(0.0));
    assert!(
        (stops(90.0) - 3.412).abs() < 5e-3,
        "crossed: {}",
        stops(90.0)
    );
    for (degrees, dop) in [
        (30.0, 0.142_857),
        (45.0, 0.333_333),
        (60.0, 0.6),
        (75.0, 0.874_437),
        (90.0, 1.0),
    ] {
        let got = rayleigh(f64::to_radians(degrees).cos(), 1.0);
        assert!((got - dop).abs() < 1e-6, "{degrees}°: {got}");
    }
    let both = piece("polariser", None, json!({"k1": 0.7, "loss": 1.5})).unwrap_err();
    assert!(both.to_string().contains("not both"), "{both}");
}

/// Two polarisers: Malus, cos² of the angle between them; and neither makes the sun safe (eclipse
/// statements, from memory).
#[test]
fn two_polarisers_are_told() {
    let stage = |turn: f64| json!({"glass": "polariser", "options": {"k1": 0.8}, "turn_deg": turn});
    let pair = |turn: f64| {
        [
            ("/rig/stages/0", stage(10.0)),
            ("/rig/stages/2", stage(turn)),
        ]
    };
    let told = advisory(&pair(70.0), "two-polarisers").expect("two").1;
    // k₁²/2 · cos² 60° = 0.08: 3.64 stops; each for itself 2 · 1.32.
    assert!(told.contains("60°") && told.contains("3.6 stops"), "{told}");
    assert!(told.contains("count 2.6"), "{told}");
    let told = advisory(&pair(190.0), "two-polarisers").expect("two").1;
    assert!(
        told.contains("0°") && told.contains("1.6 stops"),
        "in line: {told}"
    );
    let one = [("/rig/stages/0", stage(0.0))];
    assert_eq!(advisory(&one, "two-polarisers"), None, "one");
    let sun = advisory(&one, "sun-finder").expect("a polariser tempts too");
    assert!(sun.1.contains("No density or polariser"), "{sun:?}");
    let still = advisory(&one, "glass").expect("what a still does not tell");
    assert!(
        still.0 == Level::Note && still.1.contains("reflections"),
        "{still:?}"
    );
}
