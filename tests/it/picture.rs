//! Whole pictures: the production path against the exact one, fit included, and hostile material.

use crate::plan::{render, run, scene, setup};
use foreglass::engine::{self, Choice};
use foreglass::frame::Frame;
use foreglass::glass::FAMILIES;
use foreglass::plan::{Pass, ScatterFit, lower};
use foreglass::rig::Setup;
use serde_json::{Value, json};

/// The accuracy that is promised: scattered light within 0.2 % RMS of the reference, and every pixel
/// within 1 % of the scattered light there and 0.5 % of the larger of that and its mean.
fn holds(words: &str, setup: &Setup, frame: &Frame) {
    let (w, h) = (frame.width(), frame.height());
    let exact = run(
        &lower(setup, setup.view(h as f64 / w as f64)).simplify(),
        frame,
        Choice::Reference,
    );
    let fast = run(&engine::plan(setup, w, h), frame, Choice::Cpu);
    // What is scattered is what is left of the exact picture once its direct light is taken away.
    let tau = setup.tau().samples()[40];
    for c in 0..3 {
        let direct: f64 = setup
            .glass
            .iter()
            .filter_map(|g| g.piece.law().scatter.as_ref())
            .map(|s| s.direct[c])
            .product();
        let scattered: Vec<f64> = exact.planes()[c]
            .iter()
            .zip(&frame.planes()[c])
            .map(|(out, bare)| f64::from(*out) - tau * direct * f64::from(*bare))
            .collect();
        let n = scattered.len() as f64;
        let mean = scattered.iter().sum::<f64>() / n;
        let errors = fast.planes()[c]
            .iter()
            .zip(&exact.planes()[c])
            .map(|(a, b)| f64::from(a - b));
        let (mut squares, mut sum) = (0.0, 0.0);
        for ((i, e), local) in errors.enumerate().zip(&scattered) {
            // f32 holds a bright pixel to 6e-8 of itself: that is no error of the light scattered.
            let rounding = 2e-7 * f64::from(frame.planes()[c][i].abs());
            let limit = 0.01 * local.abs() + 0.005 * local.abs().max(mean) + rounding;
            assert!(
                e.abs() <= limit,
                "{words}, channel {c}, pixel {i} of {w}×{h}: {e} over {limit}"
            );
            squares += (e.abs() - rounding).max(0.0).powi(2);
            sum += e;
        }
        let rms = (squares / n).sqrt() / (scattered.iter().map(|s| s * s).sum::<f64>() / n).sqrt();
        assert!(rms <= 0.002, "{words}, channel {c} of {w}×{h}: RMS {rms}");
        let total: f64 = exact.planes()[c].iter().map(|v| f64::from(*v)).sum();
        assert!(
            sum.abs() / total < 1e-5,
            "{words}, channel {c}: flux {}",
            sum / total
        );
    }
}

/// The frame as a lens gives it: nothing finer than pixels can hold, by 1, 4, 6, 4, 1 sixteenths either
/// way, mirrored. A disc of a pixel or two has a transform that half a cycle per pixel cuts off: of a
/// single bright pixel, which no lens makes, it rings along row and column without end, and the kernel
/// promises itself for such narrow light on pictures that a lens could have made only.
fn through_a_lens(frame: &Frame) -> Frame {
    let (w, h) = (frame.width(), frame.height());
    let blurred = |plane: &[f32], n: usize, stride: usize, i: usize| -> f32 {
        let place = i / stride % n;
        let base = i - place * stride;
        let taps = [1.0, 4.0, 6.0, 4.0, 1.0].iter().enumerate();
        let sum = taps.map(|(k, tap)| {
            let at = place as isize + k as isize - 2;
            let at = if at < 0 { -1 - at } else { at } as usize;
            let at = if at >= n { 2 * n - 1 - at } else { at };
            tap * plane[base + at * stride]
        });
        sum.sum::<f32>() / 16.0
    };
    let planes = std::array::from_fn(|c| {
        let plane = &frame.planes()[c];
        let across: Vec<f32> = (0..w * h).map(|i| blurred(plane, w, 1, i)).collect();
        (0..w * h).map(|i| blurred(&across, h, w, i)).collect()
    });
    Frame::from_planes(w, h, planes)
}

/// Single bright pixels where the glass scatters wide enough for them, else light through a lens.
fn fair_scene(setup: &Setup, width: usize, height: usize) -> Frame {
    let plan = engine::plan(setup, width, height);
    let per_radian = plan.pixels_per_radian(width);
    let narrow = plan.passes.iter().any(|pass| match pass {
        Pass::Scatter(s) => match &s.fit {
            Some(ScatterFit::Round(mixtures)) => mixtures
                .iter()
                .flat_map(|m| &m.gaussians)
                .any(|g| g.sigma * per_radian < 1.2),
            _ => false,
        },
        _ => false,
    });
    let frame = scene(width, height, 1000.0);
    if narrow {
        through_a_lens(&frame)
    } else {
        frame
    }
}

fn neutral(glass: &[Value], focal: f64) -> Setup {
    let places = ["/rig/stages/0", "/rig/stages/1", "/rig/stages/2"];
    let mut changes: Vec<_> = places.into_iter().zip(glass.iter().cloned()).collect();
    changes.push(("/camera/focal_mm", json!(focal)));
    // The promise is of the plain kernel; stretched halos have their own tests.
    changes.push(("/light/corner_halos", json!("even")));
    setup(&changes)
}

#[test]
fn the_production_path_keeps_its_promise() {
    let mist = |key: &str, s: &str| json!({"glass": key, "strength": s});
    let stacks: [(&str, &[Value], f64); 9] = [
        ("dark mist 1/8", &[mist("dark-mist", "1/8")], 50.0),
        ("dark mist 2", &[mist("dark-mist", "2")], 50.0),
        ("pale mist 1", &[mist("pale-mist", "1")], 50.0),
        (
            "two mists",
            &[mist("dark-mist", "1/2"), mist("pale-mist", "1/4")],
            50.0,
        ),
        ("a short lens", &[mist("dark-mist", "1")], 18.0),
        ("a long lens", &[mist("pale-mist", "2")], 135.0),
        ("lenslets, a short lens", &[mist("lenslet", "2")], 18.0),
        ("lenslets, a long lens", &[mist("lenslet", "5")], 135.0),
        (
            "lenslets before fog before a mist",
            &[
                mist("dark-mist", "1/2"),
                mist("fog", "1"),
                mist("lenslet", "1"),
            ],
            50.0,
        ),
    ];
    for (words, glass, focal) in stacks {
        let setup = neutral(glass, focal);
        holds(words, &setup, &fair_scene(&setup, 256, 256));
        holds(words, &setup, &fair_scene(&setup, 257, 145));
    }
    holds(
        "dark mist 1",
        &neutral(&[mist("dark-mist", "1")], 50.0),
        &scene(1021, 613, 1000.0),
    );
}

/// Every family that scatters alike in every direction, at its weakest, its usual and its strongest.
#[test]
fn every_round_family_keeps_the_promise() {
    let mut seen = 0;
    for family in FAMILIES {
        let rungs = family.strengths;
        let ends = [
            rungs.first().copied(),
            family.default_strength(),
            rungs.last().copied(),
        ];
        for strength in ends.into_iter().flatten() {
            let glass = json!({"glass": family.key, "strength": strength.to_string()});
            let setup = neutral(&[glass], 50.0);
            let scatter = setup.glass[0].piece.law().scatter.as_ref();
            if scatter.is_some_and(foreglass::optics::scatter::Scatter::is_round) {
                let words = format!("{} {strength}", family.key);
                holds(&words, &setup, &fair_scene(&setup, 193, 129));
                seen += 1;
            }
        }
    }
    assert!(seen >= 15, "five families: {seen}");
}

/// A real portrait through every family at every strength: no pixel is lost to a non-finite number.
/// `portrait.png` is the astronaut portrait of scikit-image's data, in the public domain (NASA), at
/// half its size.
#[test]
fn a_portrait_through_every_family() {
    let path = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks/portrait.png");
    let still = foreglass::frame::read(&path, foreglass::frame::Encoding::Auto).expect("it reads");
    let mean = |f: &Frame| f.planes()[1].iter().map(|v| f64::from(*v)).sum::<f64>();
    for family in FAMILIES {
        let mut strengths: Vec<Value> = family
            .strengths
            .iter()
            .map(|s| json!(s.to_string()))
            .collect();
        strengths.push(json!("1"));
        for strength in strengths {
            let setup = setup(&[(
                "/rig/stages/0",
                json!({"glass": family.key, "strength": strength}),
            )]);
            let out = render(&setup, &still.frame);
            let finite = out.planes().iter().flatten().all(|v| v.is_finite());
            assert!(finite, "{} {strength}", family.key);
            let kept = mean(&out) / mean(&still.frame);
            assert!(
                (0.05..=1.0).contains(&kept),
                "{} {strength} keeps {kept}",
                family.key
            );
        }
    }
}

/// Light to 10⁶ × key survives, black stays black, one pixel is a picture.
#[test]
fn extremes_survive() {
    let setup = neutral(
        &[
            json!({"glass": "dark-mist", "strength": "1"}),
            json!({"glass": "grad-nd"}),
        ],
        50.0,
    );
    let out = render(&setup, &scene(64, 36, 1e6));
    assert!(
        out.planes().iter().flatten().all(|v| v.is_finite()),
        "finite"
    );
    assert!(
        out.planes()[1].iter().fold(0.0_f32, |a, b| a.max(*b)) > 2e4,
        "the lamp is still there"
    );
    assert!(
        render(&setup, &Frame::black(64, 36))
            .planes()
            .iter()
            .flatten()
            .all(|v| v.abs() < 1e-12),
        "black"
    );
    let mist = neutral(&[json!({"glass": "dark-mist", "strength": "1"})], 50.0);
    for (w, h) in [(1, 1), (17, 3), (5, 7), (2, 2)] {
        let out = render(&mist, &crate::plan::even(w, h, [0.18; 3]));
        let wanted = 0.18 * (-mist.light_loss().get()).exp2();
        let even = out
            .planes()
            .iter()
            .flatten()
            .all(|v| (f64::from(*v) / wanted - 1.0).abs() < 1e-4);
        assert!(even, "{w}×{h}: {:?}", out.planes()[0]);
    }
}
