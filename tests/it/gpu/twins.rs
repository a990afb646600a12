//! Twins: a kernel on the processor and its shader, at every pixel of every frame.

use super::{apart, executor, frames, on_cpu, on_gpu, plan_of, say, view};
use crate::plan::setup;
use foreglass::colour::Matrix3;
use foreglass::engine;
use foreglass::frame::Frame;
use foreglass::gpu::TOLERANCE;
use foreglass::kernels::scatter::Border;
use foreglass::kernels::stretch::{Law, Params};
use foreglass::optics::field::View;
use foreglass::optics::mixture::{Gaussian, Mixture};
use foreglass::plan::{Pass, Plan, ScatterFit, ScatterPass};
use foreglass::rig::Setup;
use serde_json::{Value, json};

/// Sums of hundreds of products in another order, beside light of a million: 1.2e-6 on software Vulkan, and
/// room for drivers that fuse products and sums.
const SCATTER: f64 = 2e-5;

/// A pixel's place among cells is held in single precision: 4e-5 here on software Vulkan, and more on wider
/// frames.
const STRETCH: f64 = 5e-4;

/// Holds the twins of a frame's plan together on every frame, within `tolerance`.
fn hold(words: &str, tolerance: f64, plan: impl Fn(&Frame) -> Plan) {
    let Some(executor) = executor() else {
        return;
    };
    let mut worst = 0.0_f64;
    for (name, frame) in frames() {
        let plan = plan(&frame);
        let (off, place) = apart(&on_gpu(executor, &plan, &frame), &on_cpu(&plan, &frame));
        assert!(off <= tolerance, "{words}, {name}: {off:.2e}, {place}");
        worst = worst.max(off);
    }
    say(&format!("{words}: {worst:.1e}"));
}

/// A plan of one pass.
fn only(pass: Pass) -> impl Fn(&Frame) -> Plan {
    move |frame| plan_of(vec![pass.clone()], view(frame.width(), frame.height()))
}

/// A recipe's plan, which must have a pass in it that `is`.
fn of(setup: Setup, is: impl Fn(&Pass) -> bool) -> impl Fn(&Frame) -> Plan {
    move |frame| {
        let plan = engine::plan(&setup, frame.width(), frame.height());
        assert!(plan.passes.iter().any(&is), "the pass is there: {plan:?}");
        plan
    }
}

/// Rounding, at most one more where a driver fuses a product and a sum and another does not: where a
/// matrix takes one channel from another, what is left is small beside both.
#[test]
fn uniform_colour() {
    // A conversion's size of numbers, with a negative one.
    let rows = [[0.9, 0.15, -0.05], [0.02, 1.1, 0.01], [-0.01, 0.03, 0.4]];
    let matrix = Pass::Matrix(Matrix3::from_rows(rows));
    hold("a matrix", 1e-5, only(matrix));
    hold("a gain", 1e-6, only(Pass::Gain(0.37)));
}

#[test]
fn light_added() {
    hold("a lift", 1e-6, only(Pass::Lift([0.01, 0.002, 3.0])));
}

/// The factor itself is 0 to 2, and near nothing where a polariser is crossed: the rounding of its nodes, which
/// are as large as 1, is then seen beside it.
#[test]
fn a_polarised_sky() {
    for (words, azimuth, above, turn) in [
        ("a sky all over", 80.0, 1.1, 30.0),
        ("a sky above a line", -40.0, 0.45, 90.0),
    ] {
        let options = json!({
            "k1": 0.75, "sun_azimuth_deg": azimuth, "sun_elevation_deg": 20, "sky_above": above,
        });
        let glass = json!({"glass": "polariser", "options": options, "turn_deg": turn});
        let plan = of(setup(&[("/rig/stages/0", glass)]), |p| {
            matches!(p, Pass::Sky(_))
        });
        hold(words, 1e-5, plan);
    }
}

/// Tables that change in one direction.
#[test]
fn grads_across() {
    let field = |p: &Pass| matches!(p, Pass::Field(_));
    for (edge, density, turn) in [("soft", 0.9, 0.0), ("hard", 1.2, 33.0), ("hard", 0.6, 90.0)] {
        let options = json!({"edge": edge, "density": density});
        let glass =
            json!({"glass": "grad-nd", "options": options, "turn_deg": turn, "slide_mm": 2});
        let plan = of(setup(&[("/rig/stages/0", glass)]), field);
        hold(&format!("a {edge} grad at {turn}°"), 1e-4, plan);
    }
    let options = json!({"colour": "rose", "density": 0.9});
    let glass = json!({"glass": "grad-colour", "options": options, "turn_deg": 12});
    hold(
        "a colour grad",
        1e-4,
        of(setup(&[("/rig/stages/0", glass)]), field),
    );
}

/// Tiles: grads turned against each other, and openings that clip.
#[test]
fn fields_in_tiles() {
    let field = |p: &Pass| matches!(p, Pass::Field(_));
    let grad = |turn: f64| {
        let options = json!({"edge": "hard", "density": 0.9});
        json!({"glass": "grad-nd", "options": options, "turn_deg": turn})
    };
    let colour = json!({"glass": "grad-colour", "options": {"colour": "slate"}, "turn_deg": 80});
    let wide = |more: Value| {
        [
            ("/camera/focal_mm", json!(14)),
            ("/rig/stages/0", grad(10.0)),
            ("/rig/stages/2", more),
        ]
    };
    hold(
        "two grads, clipped",
        1e-4,
        of(setup(&wide(grad(50.0))), field),
    );
    hold(
        "a colour grad, clipped",
        1e-4,
        of(setup(&wide(colour)), field),
    );
}

/// Mixtures with narrow, middling and very wide Gaussians, one of them negative, on frames that are thin, that
/// no power of two divides, that lie in the dark or in an even field.
#[test]
fn scattered_light() {
    let gaussian = |weight: f64, sigma: f64| Gaussian { weight, sigma };
    let mixture = |scale: f64| Mixture {
        direct: 0.6,
        gaussians: vec![
            gaussian(0.02, 1e-5 * scale),
            gaussian(0.08, 4e-4 * scale),
            gaussian(-0.03, 9e-4 * scale),
            gaussian(0.1, 4e-3 * scale),
            gaussian(0.1, 0.02 * scale),
            gaussian(0.05, 0.15 * scale),
        ],
        veil: 0.05,
    };
    let mixtures = [mixture(1.2), mixture(1.0), mixture(0.8)];
    for (words, outside) in [
        ("mirrored", None),
        ("in the dark", Some([0.0; 3])),
        ("in a field", Some([0.5, 0.3, 0.1])),
    ] {
        let pass = ScatterPass {
            laws: Vec::new(),
            outside,
            stretched: false,
            fit: Some(ScatterFit::Round(mixtures.clone())),
        };
        let plan = |frame: &Frame| Plan {
            passes: vec![Pass::Scatter(pass.clone())],
            view: view(frame.width(), frame.height()),
        };
        hold(&format!("scatter {words}"), SCATTER, plan);
    }
}

/// Whole looks: mists, fog, conversions, grads, spill.
#[test]
fn whole_looks() {
    let glass = |key: &str, strength: &str| json!({"glass": key, "strength": strength});
    let grad = json!({"glass": "grad-nd", "options": {"edge": "soft"}, "turn_deg": 20});
    let looks = [
        (
            "dark mist",
            vec![("/rig/stages/0", glass("dark-mist", "1/2"))],
        ),
        (
            "fog behind a grad, spill",
            vec![
                ("/rig/stages/0", glass("fog", "1")),
                ("/rig/stages/1", grad),
                ("/rig/stages/2", glass("pale-mist", "1/4")),
                ("/light/spill_stops", json!(1.0)),
            ],
        ),
        (
            "low contrast in the dark",
            vec![
                ("/rig/stages/0", glass("low-contrast", "2")),
                ("/light/outside", json!("dark")),
            ],
        ),
    ];
    for (words, changes) in looks {
        let plan = of(setup(&changes), |p| matches!(p, Pass::Scatter(_)));
        hold(words, SCATTER, plan);
    }
}

/// What comes last before a mist makes the first coarser level with the picture: a colour, and every kind of field.
#[test]
fn colours_and_fields_before_a_mist() {
    let grad =
        |turn: f64| json!({"glass": "grad-nd", "options": {"edge": "hard"}, "turn_deg": turn});
    let rose = |turn: f64| json!({"glass": "grad-colour", "options": {"colour": "rose"}, "turn_deg": turn});
    for (words, stages) in [
        ("a colour", [Value::Null, Value::Null]),
        ("a grad", [grad(20.0), Value::Null]),
        ("a colour grad", [rose(-35.0), Value::Null]),
        ("two grads", [grad(10.0), grad(75.0)]),
        ("two grads, one of colour", [grad(10.0), rose(75.0)]),
    ] {
        let [first, second] = stages;
        let changes = [
            (
                "/rig/stages/0",
                json!({"glass": "dark-mist", "strength": "2"}),
            ),
            ("/rig/stages/1", first),
            ("/rig/stages/2", second),
        ];
        let plan = of(setup(&changes), |p| matches!(p, Pass::Scatter(_)));
        hold(&format!("{words} before a mist"), 1e-4, plan);
    }
}

/// Wide lenses, whose halos are narrow, or so wide that the frame is averaged over blocks.
#[test]
fn wide_lenses() {
    let stretched = |p: &Pass| matches!(p, Pass::Scatter(s) if s.stretched);
    for (words, key, strength, outside) in [
        ("a wide lens, lenslets", "lenslet", "1", json!("mirror")),
        ("a wide lens, fog", "fog", "2", json!("mirror")),
        ("a wide lens in the dark", "dark-mist", "1", json!("dark")),
        (
            "a wide lens in a field",
            "pale-mist",
            "1",
            json!({"stops": -1.0}),
        ),
    ] {
        let changes = [
            ("/camera/focal_mm", json!(16)),
            ("/rig/stages/0", json!({"glass": key, "strength": strength})),
            ("/light/outside", outside),
        ];
        hold(words, STRETCH, of(setup(&changes), stretched));
    }
    let wide = Mixture {
        direct: 0.7,
        gaussians: vec![Gaussian {
            weight: 0.2,
            sigma: 0.25,
        }],
        veil: 0.05,
    };
    let laws = [wide.clone(), wide.clone(), wide];
    for (words, outside) in [
        ("blocks of a wide lens", None),
        ("blocks of a wide lens in a field", Some([0.5, 0.3, 0.1])),
    ] {
        let fit = ScatterFit::Round(laws.clone());
        let pass = ScatterPass {
            laws: Vec::new(),
            outside,
            stretched: true,
            fit: Some(fit),
        };
        let plan = |frame: &Frame| {
            let view = View {
                focal_mm: 16.0,
                ..view(frame.width(), frame.height())
            };
            let params = Params {
                law: Law::Round(&laws),
                view,
                border: Border::Mirror,
            };
            let size = [frame.width(), frame.height()];
            let block = params.laid(size).block;
            assert_eq!(block > 1, size[1] >= 64, "{size:?}: blocks of {block}");
            Plan {
                passes: vec![Pass::Scatter(pass.clone())],
                view,
            }
        };
        hold(words, STRETCH, plan);
    }
}

/// One larger frame, whose sides no power of two divides: more levels, more cells, smaller places.
#[test]
fn a_larger_frame() {
    let Some(executor) = executor() else {
        return;
    };
    let frame = crate::plan::scene(613, 421, 1e5);
    for (words, focal, tolerance) in [("50 mm", 50, SCATTER), ("16 mm", 16, STRETCH)] {
        let setup = setup(&[
            ("/camera/focal_mm", json!(focal)),
            (
                "/rig/stages/0",
                json!({"glass": "dark-mist", "strength": "1/2"}),
            ),
            (
                "/rig/stages/1",
                json!({"glass": "lenslet", "strength": "1"}),
            ),
        ]);
        let plan = engine::plan(&setup, frame.width(), frame.height());
        let (off, place) = apart(&on_gpu(executor, &plan, &frame), &on_cpu(&plan, &frame));
        assert!(off <= tolerance, "{words}: {off:.2e}, {place}");
        say(&format!("613×421, {words}: {off:.1e}"));
    }
}

/// The tolerance of the design, for all of it.
#[test]
fn the_stated_tolerance_is_the_designs() {
    assert!((TOLERANCE - 2e-3).abs() < 1e-12, "2e-3");
}
