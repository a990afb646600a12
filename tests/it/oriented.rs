//! Light scattered in directions, in pictures: production against the exact executor, and what turning
//! and the border must not do.

use crate::glass::piece;
use crate::plan::{even, run, scene, setup};
use foreglass::colour;
use foreglass::engine::{self, Choice};
use foreglass::frame::Frame;
use foreglass::plan::lower;
use foreglass::rig::Setup;
use serde_json::{Value, json};
use std::slice::from_ref;

/// Root-mean-square difference of the production path's scattered light from the reference's, relative,
/// the worst channel; every pixel within 1 % of its own scattered light and 0.5 % of the mean's, and the
/// sum of all light to 1e-5, or `slack` times those.
fn error(words: &str, setup: &Setup, frame: &Frame, slack: f64) -> f64 {
    let (w, h) = (frame.width(), frame.height());
    let plan = lower(setup, setup.view(h as f64 / w as f64)).simplify();
    let exact = run(&plan, frame, Choice::Reference);
    let fast = run(&engine::plan(setup, w, h), frame, Choice::Cpu);
    let tau = setup.tau().samples()[40];
    let mut worst = 0.0_f64;
    for c in 0..3 {
        let laws = setup
            .glass
            .iter()
            .filter_map(|g| g.piece.law().scatter.as_ref());
        let direct = tau * laws.map(|s| s.direct[c]).product::<f64>();
        let bare = frame.planes()[c].iter().map(|v| f64::from(*v));
        let seen = exact.planes()[c].iter().map(|v| f64::from(*v));
        let scattered: Vec<f64> = seen
            .zip(bare.clone())
            .map(|(o, b)| o - direct * b)
            .collect();
        let mean = scattered.iter().sum::<f64>() / scattered.len() as f64;
        let errors = fast.planes()[c].iter().zip(&exact.planes()[c]);
        let (mut squares, mut whole, mut sum) = (0.0, 0.0, 0.0);
        for (((a, b), local), bare) in errors.zip(&scattered).zip(bare) {
            let e = f64::from(a - b);
            // f32 holds a bright pixel to 6e-8 of itself: that is no error of the light scattered.
            let rounding = 2e-7 * bare.abs();
            let near = 0.01 * local.abs() + 0.005 * local.abs().max(mean);
            let limit = slack.min(4.0) * near + rounding;
            assert!(e.abs() <= limit, "{words} {w}×{h}, {c}: {e} over {limit}");
            squares += (e.abs() - rounding).max(0.0).powi(2);
            whole += local * local;
            sum += e;
        }
        let total: f64 = exact.planes()[c].iter().map(|v| f64::from(*v)).sum();
        assert!(
            sum.abs() / total < slack * 1e-5,
            "{words} {w}×{h}, {c}: flux {}",
            sum / total
        );
        worst = worst.max((squares / whole).sqrt());
    }
    worst
}

fn stack(glass: &[Value], light: Value) -> Setup {
    let places = ["/rig/stages/0", "/rig/stages/1", "/rig/stages/2"];
    let mut changes: Vec<_> = places.into_iter().zip(glass.iter().cloned()).collect();
    changes.push(("/light", light));
    setup(&changes)
}

fn turned(key: &str, strength: &str, turn: f64) -> Value {
    json!({"glass": key, "strength": strength, "turn_deg": turn})
}

#[test]
fn production_follows_the_reference_at_every_turn() {
    for turn in [0.0, 17.0, 45.0, 90.0] {
        let star =
            json!({"glass": "star", "strength": "2", "turn_deg": turn, "options": {"points": 8}});
        let streak = json!({"glass": "streak", "turn_deg": turn, "options": {"tint": "blue"}});
        let all = [
            ("star", star),
            ("net", turned("net-dark", "2", turn)),
            ("streak", streak),
        ];
        for (words, glass) in all {
            let setup = stack(&[glass], json!({}));
            for [w, h] in [[1, 1], [17, 3], [128, 97]] {
                let rms = error(words, &setup, &scene(w, h, 1000.0), 1.0);
                println!("{words} at {turn}, {w}×{h}: RMS {rms:.1e}");
                assert!(rms < 1e-3, "{words} at {turn}, {w}×{h}: RMS {rms}");
            }
        }
    }
}

#[test]
fn production_follows_the_reference_through_stacks_and_past_the_border() {
    let mist = json!({"glass": "dark-mist", "strength": "1"});
    let net = turned("net-pale", "3", 31.0);
    let stacks: [(&str, &[Value]); 3] = [
        ("net and mist", &[net.clone(), mist]),
        (
            "two turned apart",
            &[turned("star", "1", 12.0), turned("streak", "1/2", 71.0)],
        ),
        ("net and star", &[net, turned("star", "1/2", 0.0)]),
    ];
    for (words, glass) in stacks {
        let rms = error(
            words,
            &stack(glass, json!({})),
            &scene(257, 145, 1000.0),
            1.0,
        );
        println!("{words}: RMS {rms:.1e}");
        assert!(rms < 1e-3, "{words}: RMS {rms}");
    }
    for outside in [json!("dark"), json!({"stops": -1.0})] {
        for glass in [turned("star", "3", 17.0), turned("streak", "2", 90.0)] {
            let setup = stack(from_ref(&glass), json!({"outside": outside}));
            // Light that leaves for good comes back from another margin in each executor: a lamp has a
            // faint ray where none should be, up to 2 % of the mean.
            let rms = error("past the border", &setup, &scene(96, 54, 1000.0), 50.0);
            println!("{glass} in {outside}: RMS {rms:.1e}");
            assert!(rms < 5e-3, "{glass} in {outside}: RMS {rms}");
        }
    }
}

/// Light in all is kept, and an even field stays even at what the ledger says. A frame's mirror images
/// mirror its light, not the glass: through a stage that is turned, what leaves over a border need not be
/// what comes in, and it is two stages turned against each other that keep the light between them.
#[test]
fn light_is_kept() {
    for glass in [
        turned("star", "5", 10.0),
        turned("net-pale", "5", 33.0),
        turned("streak", "5", 0.0),
    ] {
        let setup = stack(from_ref(&glass), json!({}));
        let passed = (-setup.light_loss().get()).exp2();
        let law = setup.glass[0].piece.law().clone();
        let out = run(
            &engine::plan(&setup, 61, 35),
            &even(61, 35, [0.18; 3]),
            Choice::Cpu,
        );
        let frame = scene(61, 35, 1000.0);
        let mut against = glass.clone();
        against["turn_deg"] = json!(-glass["turn_deg"].as_f64().unwrap());
        let lit = [&glass, &against].map(|glass| {
            let setup = stack(from_ref(glass), json!({}));
            run(&engine::plan(&setup, 61, 35), &frame, Choice::Cpu)
        });
        for c in 0..3 {
            let kept = law.tau.samples()[40] * law.scatter.as_ref().unwrap().passed()[c];
            for v in &out.planes()[c] {
                assert!(
                    (f64::from(*v) / 0.18 / kept - 1.0).abs() < 1e-5,
                    "{glass}: {v}"
                );
            }
            let sum = |f: &Frame| f.planes()[c].iter().map(|v| f64::from(*v)).sum::<f64>();
            let got = 0.5 * (sum(&lit[0]) + sum(&lit[1])) / sum(&frame);
            assert!((got / kept - 1.0).abs() < 1e-5, "{glass}: {got} of {kept}");
        }
        assert!((0.3..1.0).contains(&passed), "{glass} passes {passed}");
    }
}

/// Counter-clockwise as seen.
fn quarter_turned(frame: &Frame) -> Frame {
    let n = frame.width();
    let planes = frame.planes().each_ref();
    Frame::from_planes(
        n,
        n,
        planes.map(|p| (0..n * n).map(|i| p[(i % n) * n + n - 1 - i / n]).collect()),
    )
}

/// A stage turned by a right angle over a frame turned by one gives the picture turned by one.
#[test]
fn a_quarter_turn_is_a_quarter_turn() {
    let six = |turn: f64| json!({"glass": "star", "strength": "3", "turn_deg": turn, "options": {"points": "6"}});
    for (a, b) in [
        (six(20.0), six(110.0)),
        (turned("streak", "3", -35.0), turned("streak", "3", 55.0)),
        (
            turned("net-dark", "3", 15.0),
            turned("net-dark", "3", 105.0),
        ),
    ] {
        let n = 96;
        let frame = scene(n, n, 1000.0);
        let picture = |glass: &Value, frame: &Frame| {
            let setup = stack(from_ref(glass), json!({}));
            run(&engine::plan(&setup, n, n), frame, Choice::Cpu)
        };
        let one = quarter_turned(&picture(&a, &frame));
        let two = picture(&b, &quarter_turned(&frame));
        let worst = one
            .planes()
            .iter()
            .flatten()
            .zip(two.planes().iter().flatten());
        let worst = worst
            .map(|(a, b)| (a - b).abs() / b.abs().max(0.01))
            .fold(0.0, f32::max);
        assert!(worst < 1e-3, "{a}: {worst}");
        // And the turn is seen: a quarter of a streak is another picture.
        let other = picture(&b, &frame);
        let moved = crate::plan::difference(&other, &picture(&a, &frame));
        let seen = a["glass"] == json!("net-dark") || moved > 0.05;
        assert!(seen, "{a}: {moved}");
    }
}

/// Turning goes smoothly, through the straight position too: twice the turn is twice the change.
#[test]
fn turning_has_no_steps() {
    let n = 128;
    let frame = scene(n, n, 1000.0);
    for key in ["star", "net-dark", "streak"] {
        let picture = |turn: f64| {
            let setup = stack(&[turned(key, "2", turn)], json!({}));
            run(&engine::plan(&setup, n, n), &frame, Choice::Cpu)
        };
        let change = |a: &Frame, b: &Frame| {
            let pairs = a.planes()[1].iter().zip(&b.planes()[1]);
            pairs
                .map(|(a, b)| f64::from(a - b).powi(2))
                .sum::<f64>()
                .sqrt()
        };
        for middle in [0.0, 23.0, 45.0] {
            let [a, b, c] = [-0.1, 0.0, 0.1].map(|t| picture(middle + t));
            let (one, other, both) = (change(&a, &b), change(&b, &c), change(&a, &c));
            assert!(both > 0.0, "{key} turns");
            assert!(
                (one / other - 1.0).abs() < 0.15,
                "{key} at {middle}: {one} {other}"
            );
            assert!(
                (both / (one + other) - 1.0).abs() < 0.15,
                "{key} at {middle}: {both}"
            );
        }
    }
}

/// sinθ = mλ/p: the first order of a net stands at f·λ/p in each channel, λ the mean over its band, red
/// further out than blue, on both axes of the net, wherever it is turned.
#[test]
fn orders_stand_where_gratings_put_them() {
    let n = 192;
    let mut lamp = even(n, n, [0.0; 3]);
    lamp.planes_mut()
        .into_iter()
        .for_each(|p| p[96 * n + 96] = 1000.0);
    let focal = 400.0;
    let per_radian = focal * n as f64 / 24.89;
    for turn in [0.0, 30.0] {
        let net = json!({"glass": "net-dark", "strength": "1", "turn_deg": turn,
            "options": {"pitch_mm": 0.12, "thread_um": 20, "jitter": 0.01}});
        let setup = setup(&[("/rig/stages/0", net), ("/camera/focal_mm", json!(focal))]);
        let out = run(&engine::plan(&setup, n, n), &lamp, Choice::Cpu);
        let mut places = [0.0; 3];
        for (c, place) in places.iter_mut().enumerate() {
            let wanted = colour::bands()[c]
                .iter()
                .map(|(nm, w)| nm.get() * 1e-3 * w)
                .sum::<f64>()
                / 120.0
                * per_radian;
            let (sin, cos) = f64::to_radians(turn).sin_cos();
            // Centroid along the axis, over the strip of the first order.
            let (mut light, mut moment) = (0.0, 0.0);
            for (i, v) in out.planes()[c].iter().enumerate() {
                let (x, y) = ((i % n) as f64 - 96.0, 96.0 - (i / n) as f64);
                let (along, aside) = (x * cos + y * sin, y * cos - x * sin);
                if aside.abs() < 3.0 && (along / wanted - 1.0).abs() < 0.5 {
                    light += f64::from(*v);
                    moment += f64::from(*v) * along;
                }
            }
            *place = moment / light;
            assert!(
                (*place / wanted - 1.0).abs() < 0.03,
                "{turn}, {c}: {place} px, wanted {wanted}"
            );
        }
        assert!(
            places[0] > 1.08 * places[1] && places[1] > 1.08 * places[2],
            "{places:?}"
        );
    }
}

/// A pale net lifts blacks more than a dark one of the same orders; a streak's colour is its glass's
/// (common practice, no source).
#[test]
fn threads_and_tints_do_what_they_are_made_of() {
    for strength in ["1/8", "1/2", "1", "2", "5"] {
        let wide = |key: &str| {
            let s = piece(key, Some(strength), json!({}))
                .unwrap()
                .law()
                .scatter
                .clone()
                .unwrap();
            let orders = s.lobes[0].weight[1];
            (orders, s.scattered()[1] - orders)
        };
        let (dark, pale) = (wide("net-dark"), wide("net-pale"));
        assert!(
            (dark.0 - pale.0).abs() < 1e-12,
            "the same orders at {strength}"
        );
        assert!(
            dark.1 < 0.2 * pale.1,
            "{strength}: {} against {}",
            dark.1,
            pale.1
        );
    }
    let line = |tint: &str| {
        let s = piece("streak", None, json!({"tint": tint}))
            .unwrap()
            .law()
            .scatter
            .clone()
            .unwrap();
        (s.lobes[1].weight, s.absorbed, s.direct)
    };
    let (clear, [blue, amber, rose, green]) = (
        line("neutral"),
        ["blue", "amber", "rose", "green"].map(line),
    );
    assert!(
        (clear.0[0] - clear.0[2]).abs() < 1e-12,
        "no tint, no colour"
    );
    assert!(
        blue.0[2] > 3.0 * blue.0[0] && amber.0[0] > 3.0 * amber.0[2],
        "blue and amber"
    );
    assert!(
        rose.0[0] > 2.0 * rose.0[1] && green.0[1] > 2.0 * green.0[2],
        "rose and green"
    );
    for tint in [blue, amber, rose, green] {
        assert!(tint.2 == clear.2, "what passes beside the ribs has no tint");
        let more = (0..3).all(|c| tint.1[c] > clear.1[c]);
        assert!(more, "what a tint takes is absorbed");
    }
}

/// A lamp's rays stand where they are said to: straight up at turn 0, n pairs of them.
#[test]
fn a_star_has_its_points() {
    let n = 129;
    let mut lamp = even(n, n, [0.0; 3]);
    lamp.planes_mut()
        .into_iter()
        .for_each(|p| p[64 * n + 64] = 1000.0);
    for (points, turn) in [(4, 0.0), (6, 0.0), (8, 10.0), (6, 25.0)] {
        let glass = json!({"glass": "star", "turn_deg": turn, "options": {"points": points}});
        let out = run(
            &engine::plan(&stack(&[glass], json!({})), n, n),
            &lamp,
            Choice::Cpu,
        );
        let at = |degrees: f64| {
            let (sin, cos) = degrees.to_radians().sin_cos();
            (20..50)
                .map(|r| {
                    let r = f64::from(r);
                    let (x, y) = ((64.0 + r * cos).round(), (64.0 - r * sin).round());
                    f64::from(out.pixel(x as usize, y as usize)[1])
                })
                .sum::<f64>()
        };
        let apart = 360.0 / f64::from(points);
        for k in 0..points {
            let ray = turn + 90.0 + apart * f64::from(k);
            let (on, off) = (at(ray), at(ray + 0.5 * apart));
            assert!(
                on > 20.0 * off.abs(),
                "{points} points, ray at {ray}: {on} against {off}"
            );
        }
    }
}
