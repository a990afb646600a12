//! Wide lenses: halos stretch towards the corners; and what lies outside the frame.

use crate::plan::{even, run, scene, setup};
use foreglass::engine::{self, Choice};
use foreglass::frame::Frame;
use foreglass::optics::cosines::Cells;
use foreglass::optics::field::View;
use foreglass::optics::lines::{Form, Lines};
use foreglass::optics::scatter::{Lobe, Profile, Scatter};
use foreglass::plan::{Pass, Plan, ScatterPass, lower};
use foreglass::units::{Degrees, Micrometres};
use serde_json::{Value, json};

/// A 12 mm lens on 24 × 16 mm: the corners lie 50° from the axis.
const VIEW: View = View {
    focal_mm: 12.0,
    width_mm: 24.0,
    height_mm: 16.0,
};

fn plan(law: Scatter, outside: Option<[f64; 3]>, stretched: bool) -> Plan {
    let pass = Pass::Scatter(ScatterPass {
        laws: vec![law],
        outside,
        stretched,
        fit: None,
    });
    Plan {
        passes: vec![pass],
        view: VIEW,
    }
}

fn wide(width: f64) -> Scatter {
    let profile = Profile::Harvey {
        width: Degrees::clamped(width),
    };
    Scatter {
        direct: [0.6; 3],
        lobes: vec![Lobe::grey(0.3, profile)],
        veil: [0.02; 3],
        absorbed: [0.08; 3],
    }
}

fn streak(turn: f64) -> Scatter {
    let profile = Profile::Lines(Lines {
        turn: Degrees::clamped(turn),
        form: Form::Groove {
            width: Micrometres::clamped(12.0),
            spread: 0.4,
        },
        waver: Degrees::clamped(0.4),
        pitch: Micrometres::clamped(1000.0),
    });
    Scatter {
        direct: [0.6; 3],
        lobes: vec![Lobe::grey(0.3, profile)],
        veil: [0.0; 3],
        absorbed: [0.1; 3],
    }
}

/// Sensor to direction cosines, from the definition alone.
fn cosines(x_mm: f64, y_mm: f64) -> [f64; 2] {
    let r = (VIEW.focal_mm * VIEW.focal_mm + x_mm * x_mm + y_mm * y_mm).sqrt();
    [x_mm / r, y_mm / r]
}

/// Every pixel's light sent to every pixel by the Harvey lobe of the difference of their cosines,
/// L/(2π(δ² + L²)^{3/2}) per unit of cosine area: the sum that the transforms stand for. Sources: the
/// closed form of the lobe (tables in `tests/checks`), the map by its definition.
#[test]
fn the_exact_executor_is_the_sum_over_all_pairs() {
    let (w, h) = (48_usize, 32_usize);
    let frame = scene(w, h, 300.0);
    let law = wide(6.0);
    let exact = run(
        &plan(law.clone(), Some([0.0; 3]), true),
        &frame,
        Choice::Reference,
    );
    let pitch = VIEW.width_mm / w as f64;
    let place = |i: usize| {
        let x = ((i % w) as f64 + 0.5 - w as f64 / 2.0) * pitch;
        let y = ((i / w) as f64 + 0.5 - h as f64 / 2.0) * pitch;
        let cos = VIEW.focal_mm / (VIEW.focal_mm.powi(2) + x * x + y * y).sqrt();
        (cosines(x, y), cos.powi(4) * (pitch / VIEW.focal_mm).powi(2))
    };
    let half = Degrees::clamped(6.0).radians();
    let plane = &frame.planes()[1];
    let mean = plane.iter().map(|v| f64::from(*v)).sum::<f64>() / plane.len() as f64;
    let mut worst = 0.0_f64;
    for i in 0..w * h {
        let (to, _) = place(i);
        let scattered: f64 = (0..w * h)
            .map(|j| {
                let (from, area) = place(j);
                let delta2 = (to[0] - from[0]).powi(2) + (to[1] - from[1]).powi(2);
                let lobe = half / (std::f64::consts::TAU * (delta2 + half * half).powf(1.5));
                f64::from(plane[j]) * area * lobe
            })
            .sum();
        let want = 0.6 * f64::from(plane[i]) + 0.3 * scattered + 0.02 * 0.5 * mean;
        let got = f64::from(exact.planes()[1][i]);
        worst = worst.max((got - want).abs() / (0.3 * scattered));
    }
    assert!(worst < 5e-3, "off by {worst} of the scattered light");
}

/// The pixels' shares of the cosines add up to the solid angle of a rectangle projected on the glass;
/// sources: dα dβ = cos⁴θ dx dy/f², and its closed form by quadrature.
#[test]
fn areas_add_up() {
    let cells = Cells::of(&VIEW, [480.0, 320.0], 480);
    let sum: f64 = (0..480 * 320)
        .map(|i| cells.area(f64::from(i % 480), f64::from(i / 480)))
        .sum();
    let cell = 1.0 / cells.per_radian();
    // ∫∫ f²/(f² + x² + y²)² dx dy over the sensor, by the midpoint rule on another grid.
    let n = 2000;
    let mut want = 0.0;
    for j in 0..n {
        let y = (f64::from(j) + 0.5) / f64::from(n) * 8.0;
        // ∫₀ᵃ dx/(b² + x²)² = a/(2b²(a² + b²)) + atan(a/b)/(2b³)
        let (a, b2) = (12.0_f64, 144.0 + y * y);
        let b = b2.sqrt();
        want += 144.0 * (a / (2.0 * b2 * (a * a + b2)) + (a / b).atan() / (2.0 * b2 * b));
    }
    want *= 4.0 * 8.0 / f64::from(n);
    let got = sum * cell * cell;
    assert!((got / want - 1.0).abs() < 1e-4, "{got} for {want}");
}

fn rms(words: &str, law: Scatter, outside: Option<[f64; 3]>, (w, h): (usize, usize), limit: f64) {
    let frame = scene(w, h, 1000.0);
    let plan = plan(law.clone(), outside, true);
    let exact = run(&plan, &frame, Choice::Reference);
    let fast = run(&plan.fit(), &frame, Choice::Cpu);
    for c in 0..3 {
        let (mut square, mut whole) = (0.0, 0.0);
        for (i, bare) in frame.planes()[c].iter().enumerate() {
            let (e, f) = (
                f64::from(exact.planes()[c][i]),
                f64::from(fast.planes()[c][i]),
            );
            square += (e - f).powi(2);
            whole += (e - law.direct[c] * f64::from(*bare)).powi(2);
        }
        let rms = (square / whole).sqrt();
        assert!(rms < limit, "{words} {w}×{h}, channel {c}: {rms}");
    }
}

#[test]
fn the_production_path_follows_the_exact_one() {
    for outside in [[0.0; 3], [0.5, 0.4, 0.3]] {
        rms("outside", wide(4.0), Some(outside), (97, 65), 0.01);
    }
    // The middles of the edges, where the frame touches the rectangle of cosines around it.
    let frame = even(97, 65, [0.2; 3]);
    let plan = plan(wide(4.0), Some([0.8; 3]), true);
    let exact = run(&plan, &frame, Choice::Reference);
    let fast = run(&plan.fit(), &frame, Choice::Cpu);
    for (x, y) in [(0, 32), (96, 32), (48, 0), (48, 64), (0, 0), (48, 32)] {
        let (e, f) = (exact.pixel(x, y)[1], fast.pixel(x, y)[1]);
        assert!((f / e - 1.0).abs() < 4e-3, "{x}, {y}: {f} for {e}");
    }
    for size in [(192, 128), (193, 129)] {
        rms("wide lobe", wide(4.0), None, size, 0.01);
        // Barely wider than a pixel: the splines that lay it out are as wide, and the lamps are finer
        // than any lens makes them.
        rms("narrow lobe", wide(0.8), None, size, 0.021);
        for turn in [0.0, 27.0] {
            rms("streak", streak(turn), None, size, 0.02);
        }
    }
}

/// An even field stays even, whatever the lens.
#[test]
fn an_even_field_stays_even() {
    for law in [wide(4.0), wide(0.3), streak(30.0)] {
        let passed = law.passed()[0] as f32;
        for outside in [None, Some([0.3; 3])] {
            let plan = plan(law.clone(), outside, true).fit();
            let out = run(&plan, &even(201, 133, [0.3; 3]), Choice::Cpu);
            for v in out.planes().iter().flatten() {
                assert!((v / (0.3 * passed) - 1.0).abs() < 1e-3, "{v}");
            }
            let out = run(&plan, &even(61, 41, [0.3; 3]), Choice::Reference);
            for v in out.planes().iter().flatten() {
                assert!((v / (0.3 * passed) - 1.0).abs() < 1e-5, "exact: {v}");
            }
        }
    }
}

/// A halo 40° off the axis is sec³ and sec as wide as one on it: 2.225 and 1.305; source: the differential of
/// sin θ against tan θ.
#[test]
fn a_halo_stretches_towards_the_corner() {
    let (w, h) = (601_usize, 401_usize);
    let lamp = |x: usize, y: usize| {
        let mut plane = vec![0.0; w * h];
        plane[y * w + x] = 1000.0;
        Frame::from_planes(w, h, [plane.clone(), plane.clone(), plane])
    };
    let plan = plan(wide(0.7), Some([0.0; 3]), true).fit();
    let pitch = VIEW.width_mm / w as f64;
    let half = Degrees::clamped(0.7).radians();
    // Where the light has fallen to an eighth of the lobe's own middle: √3 half-widths of cosine from it.
    let spread = |x: usize, y: usize| {
        let out = run(&plan, &lamp(x, y), Choice::Cpu);
        let off = (x as f64 - 300.0) * pitch;
        let cos = VIEW.focal_mm / off.hypot(VIEW.focal_mm);
        let area = cos.powi(4) * (pitch / VIEW.focal_mm).powi(2);
        let eighth = 0.3 * 1000.0 * area / (std::f64::consts::TAU * half * half) / 8.0;
        let at = |dx: isize, dy: isize| {
            let (x, y) = (x as isize + dx, y as isize + dy);
            f64::from(out.planes()[1][y as usize * w + x as usize])
        };
        let reach = |dx: isize, dy: isize| {
            // Both sides: to first order what is lost on one is gained on the other.
            let side = |sign: isize| {
                let at = |k: isize| at(sign * k * dx, sign * k * dy).ln() - eighth.ln();
                let k = (1..90).find(|&k| at(k + 1) < 0.0).expect("it falls");
                k as f64 + at(k) / (at(k) - at(k + 1))
            };
            (side(1) + side(-1)) / 2.0
        };
        [reach(1, 0), reach(0, 1)]
    };
    let middle = spread(300, 200);
    let want = 3_f64.sqrt() * half * VIEW.focal_mm / pitch;
    for reach in middle {
        assert!(
            (reach / want - 1.0).abs() < 0.02,
            "on the axis {reach} for {want}"
        );
    }
    // tan 40° of 12 mm is 10.07 mm: 252 pixels to the right of the middle.
    let aside = spread(300 + 252, 200);
    let (radial, around) = (aside[0] / middle[0], aside[1] / middle[1]);
    assert!((radial / 2.225 - 1.0).abs() < 0.03, "radially {radial}");
    assert!((around / 1.305 - 1.0).abs() < 0.03, "around {around}");
}

/// Wide lenses stretch by themselves, long ones do not, and a recipe may say which.
#[test]
fn the_lens_decides_unless_told() {
    let stretched = |focal: f64, told: Option<&str>| {
        let mut changes: Vec<(&str, Value)> = vec![
            ("/rig/stages/0", json!({"glass": "dark-mist"})),
            ("/camera/focal_mm", json!(focal)),
        ];
        changes.extend(told.map(|t| ("/light/corner_halos", json!(t))));
        let setup = setup(&changes);
        lower(&setup, setup.sensor_view())
            .passes
            .iter()
            .any(|p| matches!(p, Pass::Scatter(s) if s.stretched))
    };
    assert!(stretched(18.0, None) && !stretched(50.0, None), "by lens");
    assert!(!stretched(18.0, Some("even")), "told not to");
    assert!(stretched(50.0, Some("stretched")), "told to");
}

/// Dark or a level outside: the production path against the exact one, and an even field in a field of
/// its own level stays even.
#[test]
fn outside_may_be_dark_or_a_level() {
    for outside in [json!("dark"), json!({"stops": 1.0})] {
        for glass in [json!({"glass": "pale-mist"}), json!({"glass": "dark-mist"})] {
            let setup = setup(&[
                ("/rig/stages/0", glass),
                ("/light/outside", outside.clone()),
            ]);
            let frame = scene(257, 145, 1000.0);
            let exact = run(
                &lower(&setup, setup.view(145.0 / 257.0)).simplify(),
                &frame,
                Choice::Reference,
            );
            let fast = run(&engine::plan(&setup, 257, 145), &frame, Choice::Cpu);
            let law = setup.glass[0].piece.law();
            let scatter = law.scatter.as_ref().expect("it scatters");
            for c in 0..3 {
                let direct = (law.tau.samples()[40] * scatter.direct[c]) as f32;
                let pairs = exact.planes()[c].iter().zip(&fast.planes()[c]);
                let (mut square, mut whole) = (0.0, 0.0);
                for ((e, f), bare) in pairs.zip(&frame.planes()[c]) {
                    square += f64::from(e - f).powi(2);
                    whole += f64::from(e - direct * bare).powi(2);
                }
                let rms = (square / whole).sqrt();
                assert!(rms < 4e-3, "{outside} channel {c}: {rms}");
            }
        }
    }
    let level = setup(&[
        ("/rig/stages/0", json!({"glass": "pale-mist"})),
        ("/light/outside", json!({"stops": 0.0})),
    ]);
    let out = run(
        &engine::plan(&level, 96, 54),
        &even(96, 54, [0.18; 3]),
        Choice::Cpu,
    );
    let passed = (-level.light_loss().get()).exp2();
    for v in out.planes().iter().flatten() {
        assert!(
            (f64::from(*v) / (0.18 * passed) - 1.0).abs() < 1e-3,
            "{v} of {}",
            0.18 * passed
        );
    }
    // A dark surround takes light from the frame's edges, and none from its middle that it would keep.
    let dark = setup(&[
        ("/rig/stages/0", json!({"glass": "pale-mist"})),
        ("/light/outside", json!("dark")),
    ]);
    let out = run(
        &engine::plan(&dark, 96, 54),
        &even(96, 54, [0.18; 3]),
        Choice::Cpu,
    );
    let (edge, middle) = (out.pixel(0, 27)[1], out.pixel(48, 27)[1]);
    assert!(
        edge < middle && f64::from(middle) < 0.18 * passed,
        "{edge} {middle}"
    );
}
