//! What the figures in advisories come to, and where they are told.

use super::{Changes, told};
use crate::cli::{Folder, data, foreglass};
use crate::plan::setup;
use crate::recipe::with;
use foreglass::rig::advisory::{EXPLAINED, Level};
use serde_json::{Value, json};
use std::f64::consts::LOG10_2;

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn unit(v: [f64; 3]) -> [f64; 3] {
    let length = v.iter().map(|x| x * x).sum::<f64>().sqrt();
    v.map(|x| x / length)
}

/// Stops between the lightest and the darkest sky of the default sensor, the sun level and to the right, a
/// sheet without leak turned to 90°: Malus on Rayleigh's degree of polarisation (reference tables, section
/// 8), whose plane lies across sun and ray.
fn sky_span(focal: f64, clear: f64) -> f64 {
    let sun = [1.0, 0.0, 0.0];
    let (mut low, mut high) = (f64::INFINITY, f64::NEG_INFINITY);
    for i in 0..=200 {
        for j in 0..=200 {
            let (x, y) = (f64::from(i) / 200.0 - 0.5, f64::from(j) / 200.0 - 0.5);
            let d = unit([24.89 * x, 14.0 * y, focal]);
            let cos2 = d[0] * d[0];
            let dop = clear * (1.0 - cos2) / (1.0 + cos2);
            let light = unit(cross(d, sun));
            // At 90° the sheet absorbs what is upright.
            let passes = unit(cross(d, [0.0, 1.0, 0.0]));
            let along: f64 = light.iter().zip(passes).map(|(a, b)| a * b).sum();
            let factor = 1.0 + dop * (2.0 * along * along - 1.0);
            (low, high) = (low.min(factor), high.max(factor));
        }
    }
    (high / low).log2()
}

/// The sky's greatest polarisation at which that span is half a stop.
pub(crate) fn haze_of_half_a_stop(focal: f64) -> f64 {
    let (mut low, mut high) = (0.0, 0.75);
    for _ in 0..12 {
        let middle = f64::midpoint(low, high);
        if sky_span(focal, middle) < 0.5 {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

fn one(changes: &Changes, code: &str) -> (Level, String) {
    let found = told(changes).into_iter().find(|a| a.code == code);
    found.map(|a| (a.level, a.text)).expect("it is told")
}

/// Malus: of what one sheet passes the next passes k₁cos²φ; 60° and 80° are our own limits.
#[test]
fn polarisers_are_told_by_malus() {
    let stage = |turn: f64| json!({"glass": "polariser", "options": {"k1": 0.8}, "turn_deg": turn});
    let pair = |turn: f64| {
        let changes = vec![
            ("/rig/stages/0", stage(20.0)),
            ("/rig/stages/1", stage(turn)),
        ];
        one(&changes, "two-polarisers")
    };
    for (turn, level, words) in [
        (20.0, Level::Caution, "only costs light, 0.3 stop"),
        (-9.0, Level::Caution, "only costs light"),
        (51.0, Level::Caution, "or mark the angle"),
        (79.0, Level::Caution, "or mark the angle"),
        (81.0, Level::Caution, "Crossed they darken"),
        (99.5, Level::Caution, "Crossed they darken"),
        (101.0, Level::Stop, "nearly black"),
        (290.0, Level::Stop, "nearly black"),
    ] {
        let (told, text) = pair(turn);
        let passed = 80.0 * f64::to_radians(turn - 20.0).cos().powi(2);
        let figure = format!("the second passes {passed:.0} %");
        assert!(told == level, "{turn}: {told:?} {text}");
        assert!(
            text.contains(words) && text.contains(&figure),
            "{turn}, {figure}: {text}"
        );
    }
}

/// Snell and Lambert: ND 2.1 gains 0.411 stop 30° off the axis at n = 1.52 (DESIGN 3.3). Neutral densities
/// add, a grad counts where the corner meets it, and neither a sheet nor clear glass is a dye.
#[test]
fn dyes_are_darker_aslant() {
    let focal = f64::hypot(12.445, 7.0) / 30_f64.to_radians().tan();
    let loss = |stages: [Value; 2]| {
        let [a, b] = stages;
        let camera = json!({"focal_mm": focal, "pupil_depth_mm": 60, "focus_m": null});
        let s = setup(&[
            ("/camera", camera),
            ("/rig/stages/0", a),
            ("/rig/stages/1", b),
        ]);
        s.oblique_loss(&s.sensor_view()).get()
    };
    let nd = |d: f64| json!({"glass": "nd", "options": {"density": d}});
    let stops = |d: f64| d * (1.0 / (1.0 - 0.25 / (1.52 * 1.52_f64)).sqrt() - 1.0) / LOG10_2;
    assert!((stops(2.1) - 0.411).abs() < 5e-4, "{}", stops(2.1));
    for (stages, wanted) in [
        ([nd(2.1), Value::Null], stops(2.1)),
        ([nd(1.2), nd(0.9)], stops(2.1)),
        ([nd(0.9), json!({"glass": "polariser"})], stops(0.9)),
        (
            [json!({"glass": "clear"}), json!({"glass": "dark-mist"})],
            0.0,
        ),
        (
            [
                json!({"glass": "grad-nd", "options": {"edge": "hard", "density": 1.2}}),
                Value::Null,
            ],
            stops(1.2),
        ),
        (
            [
                json!({"glass": "grad-nd", "options": {"edge": "hard", "density": 1.2}, "slide_mm": 40}),
                Value::Null,
            ],
            0.0,
        ),
    ] {
        let got = loss(stages.clone());
        assert!(
            (got - wanted).abs() < 1e-9,
            "{stages:?}: {got} for {wanted}"
        );
    }
    // 85 takes its blue: more of it aslant, but less than a neutral glass of its greatest density would.
    let series = loss([
        json!({"glass": "balance", "options": {"series": "85"}}),
        Value::Null,
    ]);
    assert!(series > 0.01 && series < stops(0.8), "{series}");
}

/// z/s of DESIGN 3.5: similar triangles; and none where there is no edge.
#[test]
fn depth_leaves_an_edge_in_doubt() {
    for (glass, focus, wanted) in [
        (
            json!({"glass": "grad-nd", "gap_mm": 40}),
            json!(2.0),
            Some(0.05),
        ),
        (
            json!({"glass": "grad-nd", "gap_mm": 40}),
            Value::Null,
            Some(0.0),
        ),
        (json!({"glass": "nd", "gap_mm": 40}), json!(2.0), None),
        (
            json!({"glass": "grad-nd", "options": {"edge": "attenuator"}}),
            json!(2.0),
            None,
        ),
    ] {
        let camera = json!({"focal_mm": 50, "pupil_depth_mm": 60, "focus_m": focus});
        let s = setup(&[("/camera", camera), ("/rig/stages/0", glass.clone())]);
        assert_eq!(s.edge_error(&s.glass[0]), wanted, "{glass} at {focus}");
    }
}

/// Which edge is right: the nearest of those between 6 % and all of the picture's height, of the same glass
/// otherwise. Widths are f(L + D)/z with L of 45, 20 and 0 mm.
#[test]
fn the_edge_that_would_be_right_is_named() {
    let grad = |glass: &str, options: Value, focal: f64, stop: f64| {
        let camera =
            json!({"focal_mm": focal, "stop": stop, "pupil_depth_mm": 60, "focus_m": null});
        let stage = json!({"glass": glass, "options": options, "gap_mm": 40});
        let all = told(&vec![("/camera", camera), ("/rig/stages/0", stage)]);
        let own = all.into_iter().find(|a| a.code.starts_with("edge-"));
        own.expect("an edge").text
    };
    // 0.5(45 + 6.25) is 25.6 mm of 14; medium 13.1, hard 3.1.
    let soft = grad(
        "grad-nd",
        json!({"edge": "soft", "density": 0.9}),
        50.0,
        8.0,
    );
    assert!(
        soft.contains("Grad ND 0.9 medium is right, 94 % of it"),
        "{soft}"
    );
    // 2(45 + 71.4) mm: no edge is narrower than 2 · 71.4.
    let long = grad("grad-nd", json!({"edge": "soft"}), 200.0, 2.8);
    assert!(
        long.contains("No other edge of this glass is right at 200 mm and f/2.8"),
        "{long}"
    );
    // The colour stays: only the edge changes.
    let colour = grad(
        "grad-colour",
        json!({"edge": "hard", "colour": "slate"}),
        18.0,
        11.0,
    );
    // 0.18(20 + 1.64) mm of 14: 28 %; soft 60 %.
    assert!(
        colour.contains("Grad slate 0.3 medium is right, 28 % of it"),
        "{colour}"
    );
    // A reverse glass has no other edge: its dense end is another glass.
    let reverse = grad("grad-nd", json!({"edge": "reverse"}), 18.0, 11.0);
    assert!(reverse.contains("No other edge"), "{reverse}");
}

/// What could make room, told by what stands in the stages.
#[test]
fn a_full_box_says_what_could_share() {
    let full = |a: Value, b: Value, c: Value, rings: usize| {
        let mut changes = vec![
            ("/rig/stages/0", a),
            ("/rig/stages/1", b),
            ("/rig/stages/2", c),
        ];
        changes.extend((0..rings).map(|_| ("/rig/rings/-", json!({"glass": "clear"}))));
        one(&changes, "stage-count").1
    };
    let nd = || json!({"glass": "nd"});
    let grad = || json!({"glass": "grad-nd"});
    let mist = || json!({"glass": "dark-mist"});
    let warm = || json!({"glass": "balance", "options": {"series": "85"}});
    let shared = full(nd(), grad(), warm(), 0);
    assert!(
        shared.contains("Stage 1 and Stage 3 (ND 0.6 and 85)"),
        "{shared}"
    );
    assert!(!shared.contains("needs no tray"), "{shared}");
    let ring = full(mist(), grad(), grad(), 1);
    assert!(
        ring.contains("Stage 1 (Dark mist 1) needs no tray"),
        "{ring}"
    );
    let none = full(mist(), grad(), grad(), 2);
    assert!(
        none.contains("takes the place of one of these") && !none.contains("needs no tray"),
        "{none}"
    );
    let tipped = full(
        json!({"glass": "dark-mist", "tilt_deg": 2}),
        grad(),
        grad(),
        0,
    );
    assert!(
        tipped.contains("takes the place of one of these"),
        "{tipped}"
    );
}

/// A fourth stage and a third ring are refused with the way out.
#[test]
fn more_than_there_is_room_for_is_refused() {
    let refusal = |changes: Changes| {
        let refused = foreglass::recipe::Recipe::parse(&with(&changes));
        refused.expect_err("refused").to_string()
    };
    let ring = || ("/rig/rings/-", json!({"glass": "clear"}));
    let rings = refusal(vec![ring(), ring(), ring()]);
    assert!(
        rings.contains("rig.rings: 3 rings; the limit is 2: put the rest into the matte box"),
        "{rings}"
    );
    let stages = refusal(vec![("/rig/stages/-", json!({"glass": "clear"}))]);
    assert!(
        stages.contains(
            "rig.stages: 4 stages; the limit is 3: put density and colour into one glass"
        ),
        "{stages}"
    );
}

/// Crown glass of 2.5 g/cm³, 4 mm thick: 145.8 g of 4x5.65; a ring's disc of 73 mm is 41.9 g.
#[test]
fn the_report_weighs_and_explains() {
    let folder = Folder::new();
    let grad = json!({"glass": "grad-nd", "gap_mm": 40});
    let camera = json!({"focal_mm": 50, "pupil_depth_mm": 60, "focus_m": 0.8});
    let recipe = folder.write(
        "r.json",
        with(&[
            ("/camera", camera),
            ("/rig/rings/-", json!({"glass": "clear"})),
            ("/rig/stages/0", grad),
            (
                "/rig/stages/1",
                json!({"glass": "nd", "options": {"density": 1.8}, "gap_mm": 48}),
            ),
        ]),
    );
    let rig = data(&["rig", "--recipe", &recipe, "--json"]);
    let number = |pointer: &str| rig.pointer(pointer).and_then(Value::as_f64).expect(pointer);
    let disc = 2.5e-3 * 4.0 * std::f64::consts::FRAC_PI_4 * 73.0 * 73.0;
    assert!(
        (number("/weight_g") - disc - 2.0 * 145.796).abs() < 1e-6,
        "{rig}"
    );
    assert!((number("/stages/0/weight_g") - disc).abs() < 1e-6, "{rig}");
    assert!(
        (number("/stages/1/edge_error") - 0.125).abs() < 1e-12,
        "{rig}"
    );
    assert!(rig["stages"][2]["edge_error"].is_null(), "{rig}");
    assert!(number("/oblique_stops") > 0.05, "{rig}");
    let explained = |text: &str| EXPLAINED.iter().any(|(_, e)| *e == text);
    let all = rig["advisories"].as_array().unwrap();
    assert!(
        !all.is_empty()
            && all
                .iter()
                .all(|a| a["explanation"].as_str().is_some_and(explained)),
        "{rig}"
    );
    let print = |more: &[&str]| {
        let out = foreglass(&[&["rig", "--recipe", &recipe], more].concat());
        String::from_utf8(out.stdout).expect("UTF-8")
    };
    let (plain, told) = (print(&[]), print(&["--explain"]));
    assert!(plain.contains("333 g of glass\n"), "{plain}");
    assert!(
        plain.contains("Stage 1: far behind the focus the edge is drawn up to 12 % narrower"),
        "{plain}"
    );
    assert!(
        plain.lines().count() + all.len() == told.lines().count(),
        "a line more for each: {told}"
    );
    let mut lines = told
        .lines()
        .skip_while(|l| !l.starts_with("Caution: ") && !l.starts_with("Note: "));
    while let (Some(reason), Some(under)) = (lines.next(), lines.next()) {
        let below = under.strip_prefix("    ").is_some_and(explained);
        assert!(below && !reason.starts_with(' '), "{reason}\n{under}");
    }
}
