//! The ledger: handbook losses and shifts, stacks of series numbers, what makes a loss good, the lens that
//! opens only so far, and the command line that tells of them.

use crate::checks::Table;
use crate::cli::{Folder, data, foreglass, refusal};
use crate::plan::{even, render, setup};
use crate::recipe::with;
use foreglass::colour::illuminant;
use foreglass::colour::temperature::{Turn, White};
use foreglass::rig::Setup;
use foreglass::rig::ledger::iso_mark;
use foreglass::units::{Kelvin, Mireds};
use serde_json::{Value, json};

fn number(series: &str) -> Value {
    json!({"glass": "balance", "options": {"series": series}})
}

pub(crate) fn nd(density: f64) -> Value {
    json!({"glass": "nd", "options": {"density": density}})
}

/// A rig of these stages alone, in a scene's light.
pub(crate) fn rig(scene_k: f64, stages: &[Value]) -> Setup {
    let mut changes = vec![("/light/scene_k", json!(scene_k))];
    let places = ["/rig/stages/0", "/rig/stages/1", "/rig/stages/2"];
    for (i, place) in places.into_iter().enumerate() {
        changes.push((place, stages.get(i).cloned().unwrap_or(Value::Null)));
    }
    setup(&changes)
}

/// The level of the middle of an even field of key through a rig, in stops against key.
fn level(setup: &Setup) -> f64 {
    let picture = render(setup, &even(64, 36, [0.18; 3]));
    let middle = 18 * 64 + 32;
    let [r, g, b] = picture.planes().clone().map(|p| f64::from(p[middle]));
    // Luminance of ACEScg (SMPTE ST 2065-1's transform, `matrices.json`).
    let y = 0.272_228_716_8 * r + 0.674_081_765_8 * g + 0.053_689_517_4 * b;
    (y / 0.18).log2()
}

/// `filters_handbook.csv`: each series number in a rig, in the light it is made for. Nominal is a value
/// that a handbook prints; modelled is within a quarter stop of it, as the README states; real 81D and 81EF
/// dyes are darker than an ideal one, in this light, which is redder than daylight, by up to 0.37 stop. The
/// shift is the colour-meter manual's, by the spectrum within 1.4 mireds of it in the light of a glowing body,
/// and within 6.4, as the README states, in daylight, whose blue is not a glowing body's.
#[test]
fn series_numbers_in_a_rig() {
    let mut worst = (0.0_f64, 0.0_f64, 0.0_f64);
    for row in Table::read("filters_handbook.csv").rows() {
        let name = row.text("series");
        let rig = rig(row.number("from_K"), &[number(name)]);
        let printed: Vec<f64> = ["stops_meter_manual", "stops_slide_deck"]
            .into_iter()
            .map(|column| row.number(column))
            .collect();
        let nominal = rig.nominal_loss().get();
        assert!(
            printed.iter().any(|p| (p - nominal).abs() < 1e-9),
            "{name}: {nominal} is not printed"
        );
        let apart = (rig.light_loss().get() - row.number("stops_meter_manual")).abs();
        let real_dye = ["81D", "81EF"].contains(&name);
        let limit = if real_dye { 0.37 } else { 0.25 };
        assert!(apart <= limit, "{name}: {apart:.3} stop from the table");
        let manual = row.number("mired_meter_manual");
        assert_eq!(
            rig.nominal_shift(),
            Some(Mireds::clamped(manual)),
            "{name}: its shift is the manual's"
        );
        let body = illuminant::planckian(Kelvin::clamped(row.number("from_K")));
        let body = Turn::of(&body, &rig.tau()).shift().expect("a white");
        let own = rig.shift().expect("a white");
        let [body, own] = [body, own].map(|s| (s.get() - manual).abs());
        worst = (worst.0.max(apart), worst.1.max(body), worst.2.max(own));
        assert!(
            body < 1.4 && own < 6.4,
            "{name}: {body:.2} and {own:.2} off"
        );
    }
    println!("series, worst: loss, shift of a glowing body, of the scene: {worst:.2?}");
}

/// "Stacks" of the reference tables (section 1, a printed slide deck): from which light a stack gets to
/// 3200 K, and one number to 3400 K, those marked as misprints left out. The light is printed to 10 K and
/// shifts to whole mireds, which is up to 1.8 mireds of a stack of two. By mireds and by the spectrum all are
/// within 1.4, as the README states: a glowing body is not quite Wien's.
#[test]
fn stacks_get_where_they_are_printed_to_get() {
    let rows: [(&[&str], f64, f64, Option<f64>); 13] = [
        (&["82C", "82C"], 2490.0, 3200.0, Some(4.0 / 3.0)),
        (&["82C", "82B"], 2570.0, 3200.0, Some(4.0 / 3.0)),
        (&["82C", "82A"], 2650.0, 3200.0, Some(1.0)),
        (&["82C", "82"], 2720.0, 3200.0, Some(1.0)),
        (&["82C"], 2950.0, 3400.0, None),
        (&["82B"], 3060.0, 3400.0, None),
        (&["82A"], 3180.0, 3400.0, None),
        (&["82"], 3290.0, 3400.0, None),
        (&["81A"], 3630.0, 3400.0, None),
        (&["81B"], 3740.0, 3400.0, None),
        (&["81C"], 3850.0, 3400.0, None),
        (&["81D"], 3970.0, 3400.0, None),
        (&["81EF"], 4140.0, 3400.0, None),
    ];
    let mut worst = (0.0_f64, 0.0_f64);
    for (stack, from, to, printed) in rows {
        let glass: Vec<Value> = stack.iter().map(|n| number(n)).collect();
        let rig = rig(from, &glass);
        let shift = rig.nominal_shift().expect("sold by shifts").get();
        let left = 1e6 / from + shift - 1e6 / to;
        assert!(left.abs() < 1.4, "{stack:?} by mireds: {left:.2} left");
        // The deck's lights are glowing bodies, above 4000 K too.
        let light = illuminant::planckian(Kelvin::clamped(from));
        let reached = White::of(&light.product(&rig.tau())).expect("a white");
        let really = 1e6 / reached.kelvin.get() - 1e6 / to;
        assert!(really.abs() < 1.4, "{stack:?} by spectrum: {really:.2}");
        assert!(!reached.is_off_the_line(), "{stack:?}: {reached:?}");
        worst = (worst.0.max(left.abs()), worst.1.max(really.abs()));
        if let Some(stops) = printed {
            let nominal = rig.nominal_loss().get();
            assert!((nominal - stops).abs() < 1e-9, "{stack:?}: {nominal}");
        }
    }
    println!(
        "stacks: by mireds {:.2}, by spectrum {:.2}",
        worst.0, worst.1
    );
}

/// 85N3, 85N6 and 85N9 are printed with 1 2/3, 2 2/3 and 3 2/3 stops (section 1 of the reference tables),
/// shift as an 85 does, and lose what an 85 and ND of 0.3, 0.6, 0.9 lose: the factor 10^D more (definition).
#[test]
fn conversion_with_density_in_one_glass() {
    let plain = rig(5500.0, &[number("85")]);
    for (name, density, printed) in [
        ("85N3", 0.3, 5.0 / 3.0),
        ("85N6", 0.6, 8.0 / 3.0),
        ("85N9", 0.9, 11.0 / 3.0),
    ] {
        let rig = rig(5500.0, &[number(name)]);
        assert!(
            (rig.nominal_loss().get() - printed).abs() < 1e-9,
            "{name}: {:?}",
            rig.nominal_loss()
        );
        assert!(
            (rig.light_loss().get() - printed).abs() < 0.25,
            "{name}: {:?}",
            rig.light_loss()
        );
        let more = rig.light_loss().factor() / plain.light_loss().factor();
        assert!((more.log10() - density).abs() < 1e-9, "{name}: {more}");
        assert_eq!(rig.nominal_shift(), plain.nominal_shift(), "{name}");
        let [a, b] = [&rig, &plain].map(|r| r.shift().expect("a white").get());
        assert!((a - b).abs() < 0.01, "{name}: {a} against {b}");
    }
}

/// `nd.csv`: filter factor 10^D. The stop, the index and the light that make a loss good multiply the
/// exposure by that same factor: exposure goes with 1/N², with the index, and with the light (definitions).
#[test]
fn stop_index_and_light_agree_with_the_factor() {
    let mut checked = 0;
    for row in Table::read("nd.csv").rows() {
        let density = row.number("density");
        if !(0.1..=4.0).contains(&density) {
            continue;
        }
        let factor = row.number("filter_factor");
        for t_stop in [Value::Null, json!(4.4)] {
            let s = setup(&[("/rig/stages/0", nd(density)), ("/camera/t_stop", t_stop)]);
            let e = s.exposure().expect("light passes");
            let by_stop = (s.marked_stop() / e.stop_to_set).powi(2);
            let by_index = e.iso_to_set / 800.0;
            for (how, got) in [("stop", by_stop), ("index", by_index), ("light", e.factor)] {
                assert!(
                    (got / factor - 1.0).abs() < 1e-5,
                    "ND {density} by {how}: {got} against {factor}"
                );
            }
        }
        checked += 1;
    }
    assert!(checked >= 15, "the table is walked: {checked}");
    // Third-stop marks (common practice, no source).
    assert_eq!(iso_mark(3184.9), Some(3200), "two stops over 800");
    assert_eq!(iso_mark(1008.0), Some(1000), "a third over 800");
    assert_eq!(iso_mark(1e7), None, "off the scale");
}

/// A stop or an index that reads as it did is not set instead of itself (its own promise).
#[test]
fn a_stop_that_stays_is_told_once() {
    let folder = Folder::new();
    let told = |name: &str, stage: Value| {
        let path = folder.write(name, with(&[("/rig/stages/0", stage)]));
        let out = foreglass(&["rig", "--recipe", &path]);
        String::from_utf8(out.stdout).expect("UTF-8")
    };
    let bare = told("bare.json", Value::Null);
    assert!(
        bare.contains("  set f/4") && bare.contains("  or ISO 800") && !bare.contains("instead"),
        "{bare}"
    );
    let dark = told("dark.json", nd(0.6));
    assert!(
        dark.contains(" instead of f/4") && dark.contains(" instead of 800"),
        "{dark}"
    );
}

/// The three ways of making a loss good give one and the same picture of an even field: key again.
#[test]
fn made_good_is_key_again() {
    for way in ["iris", "iso", "light"] {
        let s = setup(&[
            ("/rig/stages/0", number("85B")),
            ("/rig/stages/1", nd(0.6)),
            ("/exposure", json!({"compensate": way})),
            ("/light/balance_through_glass", json!(true)),
        ]);
        let off = level(&s);
        assert!(off.abs() < 1e-4, "{way}: {off} stop from key");
    }
}

/// Two graduated 0.6 cover four stops where they lie over one another and cost nothing where they are clear
/// (common practice, no source; 2 × 0.6/0.30103 = 3.986 by definition), but for what their coated faces
/// send back: 1 % each, 0.029 stop (`COATED`).
#[test]
fn two_grads_cover_four_stops_and_cost_none_in_the_clear() {
    let grad = json!({"glass": "grad-nd", "options": {"density": 0.6, "edge": "hard"}});
    let s = setup(&[
        ("/camera/stop", json!(11.0)),
        ("/rig/stages/0", grad.clone()),
        ("/rig/stages/1", grad),
    ]);
    let picture = render(&s, &even(64, 36, [0.18; 3]));
    let row = |y: usize| (f64::from(picture.planes()[1][y * 64 + 32]) / 0.18).log2();
    let (covered, clear) = (row(0), row(35));
    assert!(clear.abs() < 0.03, "the clear part loses {clear}");
    let between = clear - covered;
    let exact = 1.2 / std::f64::consts::LOG10_2;
    assert!((between - exact).abs() < 1e-3, "{between} against {exact}");
    assert!((between - 4.0).abs() < 0.02, "four stops: {between}");
    assert!(
        s.light_loss().get() < 0.03 && s.nominal_loss().get().abs() < 1e-9,
        "the ledger counts the clear part: {:?}",
        s.light_loss()
    );
}

/// ND 1.8 (5.979 stops, `nd.csv`) at f/4 before a lens that opens to f/2 (two stops, 4²/2² = 4): 3.979 stops
/// are missing. Under iris compensation the picture stays darker by that, and the pupil is f/2's; where
/// the widest stop is not told nothing is limited; index and light need no iris.
#[test]
fn a_lens_opens_only_so_far() {
    let with = |compensate: &str, widest: Value| {
        setup(&[
            ("/rig/stages/0", nd(1.8)),
            ("/camera/widest_stop", widest),
            ("/exposure", json!({"compensate": compensate})),
        ])
    };
    let missing = 1.8 / std::f64::consts::LOG10_2 - 2.0;
    let limited = with("iris", json!(2.0));
    let told = limited
        .exposure()
        .expect("light passes")
        .stops_missing
        .get();
    assert!((told - missing).abs() < 1e-9, "{told} against {missing}");
    let dark = level(&limited);
    assert!((dark + missing).abs() < 1e-4, "darker by {dark}");
    assert!(
        (limited.pupil().diameter_mm - 25.0).abs() < 1e-9,
        "50 mm at f/2, not at f/{}",
        limited.working_stop()
    );
    let free = with("iris", Value::Null);
    assert!(level(&free).abs() < 1e-4, "nothing is limited untold");
    assert!(
        free.stops_missing().get().abs() < 1e-12,
        "nothing is missing"
    );
    for way in ["iso", "light"] {
        let s = with(way, json!(2.0));
        assert!(level(&s).abs() < 1e-4, "{way} makes it good");
        assert!((s.working_stop() - 4.0).abs() < 1e-12, "{way}");
    }
    // A lens that opens far enough is not limited: 1.8 / 0.30103 = 5.98 stops from f/8 is f/1.007.
    let wide = setup(&[
        ("/camera/stop", json!(8.0)),
        ("/rig/stages/0", nd(1.8)),
        ("/camera/widest_stop", json!(1.0)),
        ("/exposure", json!({"compensate": "iris"})),
    ]);
    assert!(level(&wide).abs() < 1e-4, "f/1 opens to f/1.007");
}

/// The advisory says how much is missing and the three ways to it. ND 0.6 at f/4 before f/2.8: 1.993 stops less
/// 1.029 (2 log₂ 4/2.8) is 0.964, a factor of 1.951: ISO 1561, which is 1600; a shutter of 351°.
#[test]
fn what_is_missing_is_told_with_three_ways_to_it() {
    let advice = |changes: &[(&str, Value)]| {
        let s = setup(changes);
        let all = s.advisories(&s.sensor_view());
        let found = all.into_iter().find(|a| a.code == "beyond-widest-stop");
        found.map(|a| a.text)
    };
    let base = [
        ("/rig/stages/0", nd(0.6)),
        ("/camera/widest_stop", json!(2.8)),
    ];
    let text = advice(&base).expect("it is told");
    for part in [
        "f/2.00",
        "f/2.80",
        "0.96 stop of",
        "ISO 1600",
        "2.0 times",
        "351°",
    ] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let slower = advice(&[
        base[0].clone(),
        base[1].clone(),
        ("/camera/shutter_deg", json!(270.0)),
    ]);
    // 360/270 of 1.951 leaves a factor of 1.463: 24 / 1.463 is 16.4 frames.
    assert!(
        slower.as_ref().is_some_and(|t| t.contains("16.4 frames")),
        "{slower:?}"
    );
    let t = advice(&[
        base[0].clone(),
        base[1].clone(),
        ("/camera/t_stop", json!(4.4)),
    ]);
    // The T-stop keeps its ratio: 2.8 × 4.4/4 = 3.08.
    assert!(t.as_ref().is_some_and(|t| t.contains("T 3.08")), "{t:?}");
    let index = [
        base[0].clone(),
        base[1].clone(),
        ("/exposure", json!({"compensate": "iso"})),
    ];
    assert_eq!(advice(&index), None, "the index makes it good");
}

/// A table that passes nothing: no stop is told, no number of stops, no picture but black, and an advisory.
#[test]
fn a_stack_that_passes_nothing_has_nothing_to_set() {
    let folder = Folder::new();
    let table = "# Shutter\nnm;%\n380;0\n780;0\n";
    let opaque = json!({"glass": "spectrum", "options": {"csv": table}});
    for way in ["none", "iris", "iso"] {
        let changes = [
            ("/rig/stages/1", opaque.clone()),
            ("/exposure", json!({"compensate": way})),
        ];
        let s = setup(&changes);
        assert_eq!(s.exposure(), None, "{way}");
        assert!((s.working_stop() - 4.0).abs() < 1e-12, "{way}");
        let codes: Vec<_> = s
            .advisories(&s.sensor_view())
            .iter()
            .map(|a| a.code)
            .collect();
        assert!(codes.contains(&"opaque"), "{way}: {codes:?}");
        let black = render(&s, &even(16, 9, [0.18; 3]));
        assert!(
            black.planes().iter().flatten().all(|v| *v == 0.0),
            "{way}: black"
        );
        let recipe = folder.write("r.json", with(&changes));
        let report = data(&["rig", "--recipe", &recipe, "--json"]);
        for path in [
            "/light_loss_stops",
            "/stop_to_set",
            "/exposure/factor",
            "/stages/1/factor",
        ] {
            assert_eq!(report.pointer(path), Some(&Value::Null), "{path}: {report}");
        }
        let out = foreglass(&["rig", "--recipe", &recipe]);
        let text = String::from_utf8(out.stdout).unwrap();
        assert!(
            text.contains("nothing passes") && !text.contains("1000"),
            "{text}"
        );
    }
}

/// The command and the report on the command line, and one line for what is wrong.
#[test]
fn the_command_line_tells_of_conversion_and_of_the_ledger() {
    let found = data(&["convert", "5500", "3200", "--json"]);
    let wanted = found["wanted_mireds"].as_f64().unwrap();
    // Handbooks round it to +131; 10⁶/3200 − 10⁶/5500.
    assert!((wanted - 130.681_818).abs() < 1e-5, "{found}");
    assert_eq!(found["singles"][0]["glass"], json!(["85B"]), "{found}");
    assert_eq!(found["singles"][0]["shift_mireds"], 131.0, "{found}");
    // D55 through 85B by colour-science, `series_model.csv`; daylight of 5500 K is D55 to 2 K.
    let reached = found["singles"][0]["reaches_k"].as_f64().unwrap();
    assert!((reached / 3263.51 - 1.0).abs() < 0.002, "{found}");
    assert_eq!(
        found["stacks"][0]["glass"].as_array().map(Vec::len),
        Some(2),
        "{found}"
    );
    let one = data(&["convert", "5500", "3200", "--stack", "1", "--json"]);
    assert_eq!(one["stacks"], json!([]), "{one}");

    let folder = Folder::new();
    let recipe = folder.write(
        "r.json",
        with(&[
            ("/rig/stages/1", number("81A")),
            ("/rig/stages/2", nd(0.3)),
            ("/camera/internal_nd", json!(0.6)),
        ]),
    );
    let rig = data(&["rig", "--recipe", &recipe, "--json"]);
    let loss = rig["light_loss_stops"].as_f64().unwrap();
    for key in ["factor", "light_factor"] {
        let factor = rig["exposure"][key].as_f64().unwrap();
        assert!((factor.log2() - loss).abs() < 1e-9, "{key}: {rig}");
    }
    assert_eq!(rig["colour"]["shift_nominal_mireds"], 18.0, "{rig}");
    assert_eq!(rig["colour"]["turns"][0]["from_k"], 3200.0, "{rig}");
    assert_eq!(rig["stages"][1]["mireds"], 18.0, "{rig}");
    assert_eq!(rig["stages"][2]["mireds"], Value::Null, "{rig}");
    // `nd.csv`: ND 0.3 has the factor 1.99526.
    let factor = rig["stages"][2]["factor"].as_f64().unwrap();
    assert!((factor - 1.995_26).abs() < 1e-5, "{rig}");
    let out = foreglass(&["rig", "--recipe", &recipe]);
    let text = String::from_utf8(out.stdout).unwrap();
    for part in ["+18", "behind the lens: ND 0.6", "in all", "3200 K becomes"] {
        assert!(text.contains(part), "{part}: {text}");
    }
    let show = data(&[
        "glass",
        "show",
        "balance",
        "--option",
        "series=80A",
        "--json",
    ]);
    assert_eq!(show["shift_nominal_mireds"], -131.0, "{show}");
    // Planckian 3200 K through the clamped model: 5548.5 K (section 3 of the reference tables).
    let shift = show["shift_mireds"].as_f64().unwrap();
    assert!(
        (shift - (1e6 / 5548.5 - 1e6 / 3200.0)).abs() < 1.0,
        "{show}"
    );

    for (args, part) in [
        (
            &["convert", "90", "3200"][..],
            "FROM: colour temperature 90",
        ),
        (
            &["convert", "3200", "90000"][..],
            "TO: colour temperature 90000",
        ),
        (
            &["convert", "3200", "5600", "--stack", "3"][..],
            "1 or 2 pieces",
        ),
    ] {
        let (code, text) = refusal(args);
        assert_eq!((code, text.lines().count()), (2, 1), "{args:?}: {text}");
        assert!(text.contains(part), "{args:?}: {text}");
    }
}
