//! A clear sky through a polariser: against light summed as two crossed waves, against the reference
//! values' stops, and the kernel against the law.

use crate::plan::{run, scene, setup};
use foreglass::engine::{self, Choice};
use foreglass::frame::Frame;
use foreglass::kernels::sky as kernel;
use foreglass::optics::field::View;
use foreglass::optics::polarised::{Sheet, rayleigh};
use foreglass::optics::sky::{Sky, Sun};
use foreglass::plan::{Pass, lower};
use foreglass::rig::Setup;
use proptest::prelude::*;
use serde_json::{Value, json};

type V = [f64; 3];

fn dot(a: V, b: V) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

fn cross(a: V, b: V) -> V {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

fn unit(a: V) -> V {
    let length = dot(a, a).sqrt();
    a.map(|v| v / length)
}

/// What passes a sheet of light that is the sum of two crossed incoherent waves, by their components
/// along what the sheet passes and what it absorbs (Malus), over what passes of unpolarised light.
fn by_waves(sheet: Sheet, sun: Sun, turn: f64, toward: V) -> f64 {
    let d = unit(toward);
    let s = [
        sun.elevation.cos() * sun.azimuth.sin(),
        sun.elevation.sin(),
        sun.elevation.cos() * sun.azimuth.cos(),
    ];
    let strong = unit(cross(s, d));
    let weak = cross(d, strong);
    let dop = rayleigh(dot(d, s), sun.most);
    let absorbed = {
        let axis = [turn.cos(), turn.sin(), 0.0];
        let along = dot(axis, d);
        unit([
            axis[0] - along * d[0],
            axis[1] - along * d[1],
            -along * d[2],
        ])
    };
    let passed = cross(absorbed, d);
    let wave =
        |w: V| sheet.along * dot(w, passed).powi(2) + sheet.across * dot(w, absorbed).powi(2);
    ((1.0 + dop) / 2.0 * wave(strong) + (1.0 - dop) / 2.0 * wave(weak)) / sheet.passed_unpolarised()
}

fn view(focal_mm: f64) -> View {
    View {
        focal_mm,
        width_mm: 24.89,
        height_mm: 14.0,
    }
}

proptest! {
    #[test]
    fn the_law_is_the_sum_of_two_waves(
        azimuth in -180.0_f64..180.0, elevation in -85.0_f64..85.0, turn in -180.0_f64..180.0,
        most in 0.0_f64..1.0, focal in 8.0_f64..200.0, x in -0.5_f64..0.5, y in -0.5_f64..0.5,
    ) {
        let sun = Sun {
            azimuth: azimuth.to_radians(), elevation: elevation.to_radians(), most, above: 1.1,
        };
        let sheet = Sheet { along: 0.75, across: 0.002 };
        let sky = Sky { sun, contrast: sheet.contrast(), turn: turn.to_radians() };
        let v = view(focal);
        let (x, y) = (x * v.width_mm, y * v.height_mm);
        let toward = [x / focal, y / focal, 1.0];
        let wanted = by_waves(sheet, sun, turn.to_radians(), toward);
        prop_assert!((sky.at(&v, x, y) - wanted).abs() < 1e-9, "{} {wanted}", sky.at(&v, x, y));
    }
}

fn polariser(options: Value, turn: f64) -> Value {
    json!({"glass": "polariser", "options": options, "turn_deg": turn})
}

fn even(width: usize, height: usize) -> Frame {
    Frame::from_planes(
        width,
        height,
        std::array::from_fn(|_| vec![0.18; width * height]),
    )
}

/// Stops that the middle of an even frame loses, on both executors, which agree.
fn loss(setup: &Setup) -> f64 {
    let frame = even(65, 37);
    let got = [Choice::Cpu, Choice::Reference].map(|choice| {
        let seen = run(&engine::plan(setup, 65, 37), &frame, choice);
        -f64::from(seen.planes()[1][18 * 65 + 32] / 0.18).log2()
    });
    assert!((got[0] - got[1]).abs() < 1e-3, "{got:?}");
    got[0]
}

/// The reference values worked out for polarisers (k₂ = 0, T = k₁/2·(1 + P·cos 2φ)): k₁ 0.75 loses 1.415 stops of unpolarised light; of sky polarised to
/// 0.75, a right angle from the sun, 0.608 in line and 3.412 crossed.
#[test]
fn a_sky_a_right_angle_from_the_sun() {
    let through = |sky: Value, turn: f64| {
        let mut options = json!({"k1": 0.75, "sun_azimuth_deg": 90, "sun_elevation_deg": 0});
        options["sky_above"] = sky;
        loss(&setup(&[("/rig/stages/0", polariser(options, turn))]))
    };
    for (sky, turn, stops) in [
        (Value::Null, 0.0, 1.415),
        (json!(1.1), 0.0, 0.608),
        (json!(1.1), 180.0, 0.608),
        (json!(1.1), 90.0, 3.412),
        (json!(1.1), 45.0, 1.415),
        (json!(0.2), 90.0, 1.415),
    ] {
        let got = through(sky.clone(), turn);
        assert!(
            (got - stops).abs() < 5e-3,
            "{sky} at {turn}°: {got} against {stops}"
        );
    }
    // Towards the sun or away from it nothing is polarised: the middle of the picture.
    for azimuth in [0.0, 180.0] {
        let options = json!({
            "k1": 0.75, "sky_above": 1.1, "sun_azimuth_deg": azimuth, "sun_elevation_deg": 0,
        });
        let got = loss(&setup(&[("/rig/stages/0", polariser(options, 90.0))]));
        assert!((got - 1.415).abs() < 2e-3, "{azimuth}°: {got}");
    }
}

/// A colour picture through wide and long lenses: the kernel within its tolerance of the law, rows
/// below the line as they were, and no step along the line.
#[test]
fn the_kernel_runs_the_law() {
    let mut worst = 0.0_f64;
    for (width, height) in [(256, 256), (1021, 613), (3, 2)] {
        for focal in [8.0, 50.0] {
            for turn in [0.0, 57.0, 90.0] {
                let sun = Sun {
                    azimuth: 0.9,
                    elevation: 0.4,
                    most: 1.0,
                    above: 0.45,
                };
                let sky = Sky {
                    sun,
                    contrast: 1.0,
                    turn: f64::to_radians(turn),
                };
                let v = View {
                    height_mm: 24.89 * height as f64 / width as f64,
                    ..view(focal)
                };
                let bare = scene(width, height, 1000.0);
                let mut seen = bare.clone();
                kernel::cpu(&mut seen, &kernel::Params { sky: &sky, view: v });
                for (c, i) in (0..3).flat_map(|c| (0..width * height).map(move |i| (c, i))) {
                    let (x, y) = ((i % width) as f64 + 0.5, (i / width) as f64 + 0.5);
                    let at = [x / width as f64 - 0.5, 0.5 - y / height as f64];
                    let wanted = sky.at(&v, at[0] * v.width_mm, at[1] * v.height_mm);
                    let before = f64::from(bare.planes()[c][i]);
                    let off = (f64::from(seen.planes()[c][i]) - before * wanted).abs();
                    worst = worst.max(off / before);
                    assert!(
                        off <= kernel::TOLERANCE * before,
                        "{focal} mm at {turn}°, pixel {i} of {width}×{height}: {off}"
                    );
                    if y / height as f64 > 0.5 {
                        assert_eq!(seen.planes()[c][i], bare.planes()[c][i], "below the line");
                    }
                }
            }
        }
    }
    println!("largest difference from the law: {worst:.1e}");
    assert!(worst > 1e-9, "a table cannot be exact");
}

/// A polariser between two hard grads leaves them to be integrated together, and before a mist it
/// darkens what the mist then spreads.
#[test]
fn it_keeps_its_place_among_other_glass() {
    let grad = json!({"glass": "grad-nd", "options": {"density": 0.6, "edge": "hard"}});
    let options = json!({"sky_above": 0.6});
    let s = setup(&[
        ("/rig/stages/0", grad.clone()),
        ("/rig/stages/1", polariser(options.clone(), 90.0)),
        ("/rig/stages/2", grad),
    ]);
    let plan = lower(&s, s.sensor_view()).simplify();
    let planes: Vec<usize> = plan
        .passes
        .iter()
        .filter_map(|p| match p {
            Pass::Field(f) => Some(f.law.planes.len()),
            _ => None,
        })
        .collect();
    assert_eq!(planes, [2], "one field of both grads: {:?}", plan.passes);
    let skies = plan
        .passes
        .iter()
        .filter(|p| matches!(p, Pass::Sky(_)))
        .count();
    assert_eq!(skies, 1, "and the sky");

    let mist = json!({"glass": "pale-mist", "strength": "2"});
    let order = |front: &Value, behind: &Value| {
        let s = setup(&[
            ("/rig/stages/0", behind.clone()),
            ("/rig/stages/1", front.clone()),
        ]);
        let plan = lower(&s, s.sensor_view()).simplify();
        let kinds = plan.passes.iter().map(|p| match p {
            Pass::Sky(_) => 's',
            Pass::Scatter(_) => 'm',
            _ => '.',
        });
        kinds.filter(|k| *k != '.').collect::<String>()
    };
    let dark = polariser(options, 90.0);
    assert_eq!(order(&dark, &mist), "sm", "the polariser in front");
    assert_eq!(order(&mist, &dark), "ms", "the mist in front");
    let none = polariser(json!({}), 90.0);
    assert_eq!(order(&none, &mist), "m", "no sky, no pass");
}

/// What is not worked out is said, with and without a sky.
#[test]
fn what_a_still_does_not_tell_is_said() {
    for (options, words) in [
        (json!({}), "does not tell which light is polarised"),
        (
            json!({"sky_above": 0.4}),
            "darkened as a clear sky would be",
        ),
    ] {
        let s = setup(&[("/rig/stages/0", polariser(options, 0.0))]);
        let all = s.advisories(&s.sensor_view());
        let told = all.iter().find(|a| a.code == "glass").expect("told");
        assert!(
            told.text.contains(words) && told.text.contains("reflections"),
            "{}",
            told.text
        );
    }
    let far = setup_error(json!({"sky_above": 4}));
    assert!(
        far.contains("sky_above 4 is out of range: 0 to 1.1"),
        "{far}"
    );
    let sun = setup_error(json!({"sun_elevation_deg": 100}));
    assert!(
        sun.contains("rig.stages[0].options.sun_elevation_deg"),
        "{sun}"
    );
}

fn setup_error(options: Value) -> String {
    let text = crate::recipe::with(&[("/rig/stages/0", polariser(options, 0.0))]);
    foreglass::recipe::Recipe::parse(&text)
        .expect_err("refused")
        .to_string()
}

/// Behind one sheet the sky is polarised along that sheet's axis (Malus): what a second does there is not
/// told by the sun, and only the frontmost sheet's sky is drawn.
#[test]
fn one_sky_for_two_sheets() {
    let skies = |front: Value, behind: Value| {
        let s = setup(&[
            ("/rig/stages/0", polariser(behind, 90.0)),
            ("/rig/stages/1", polariser(front, 0.0)),
        ]);
        let passes = lower(&s, s.sensor_view()).passes;
        passes.iter().filter(|p| matches!(p, Pass::Sky(_))).count()
    };
    let (sky, none) = (json!({"sky_above": 1.1}), json!({}));
    assert_eq!(skies(sky.clone(), sky.clone()), 1, "the front one's");
    assert_eq!(skies(sky.clone(), none.clone()), 1, "the front one's");
    assert_eq!(
        skies(none, sky),
        0,
        "what stands behind a sheet has no sky of its own"
    );
}
