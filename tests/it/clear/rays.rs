//! Placed glass and openings against a count of rays written here from the definition: every ray goes
//! from its point of the pupil to the point that the pixel is focused on, and meets each plane on its way.
//!
//! The points are an even sequence over the pupil (the additive recurrence on the plastic number, from
//! memory), mapped to the disc by area. On a hard edge a million of them come within 1e-4 of the disc
//! integral F(u), which the first test holds them to.

use crate::plan::setup;
use foreglass::frame::Frame;
use foreglass::kernels::field::{Params, cpu};
use foreglass::optics::field::{Field, View};
use foreglass::plan::{Pass, lower};
use foreglass::rig::Setup;
use serde_json::{Value, json};
use std::f64::consts::PI;

/// Rays that are counted where nothing else is told.
pub(super) const MANY: usize = 1_000_000;

/// A plane that a ray meets, in mm.
#[derive(Debug, Clone)]
pub(super) enum Met {
    /// Density from clear to `peak` over `length`, turned and slid.
    Grad {
        peak: f64,
        length: f64,
        turn_deg: f64,
        slide: f64,
        z: f64,
    },
    Ring {
        radius: f64,
        z: f64,
    },
    /// A tray's glass: sides, turned, and slid along its own upright.
    Sheet {
        sides: [f64; 2],
        turn_deg: f64,
        slide: f64,
        z: f64,
    },
    /// Light passes below it.
    Flag {
        height: f64,
        z: f64,
    },
}

/// Part of the light of the pupil that passes all that is met, seen along `toward` (tangents).
pub(super) fn count(diameter: f64, focus: f64, met: &[Met], toward: [f64; 2], rays: usize) -> f64 {
    const PLASTIC: f64 = 1.324_717_957_244_746;
    let mut sum = 0.0;
    for i in 0..rays {
        let i = i as f64;
        let (a, b) = (
            (0.5 + i / PLASTIC).fract(),
            (0.5 + i / (PLASTIC * PLASTIC)).fract(),
        );
        let r = 0.5 * diameter * a.sqrt();
        let p = [r * (2.0 * PI * b).cos(), r * (2.0 * PI * b).sin()];
        // From the pupil to the point in focus, or along the chief ray to one that is far away.
        let at = |z: f64| {
            if focus.is_finite() {
                let part = z / focus;
                [0, 1].map(|k| p[k] + part * (toward[k] * focus - p[k]))
            } else {
                [0, 1].map(|k| p[k] + toward[k] * z)
            }
        };
        let mut passed = 1.0;
        for m in met {
            match *m {
                Met::Grad {
                    peak,
                    length,
                    turn_deg,
                    slide,
                    z,
                } => {
                    let h = upright(at(z), turn_deg)[1] - slide;
                    let part = if length > 0.0 {
                        (0.5 + h / length).clamp(0.0, 1.0)
                    } else if h > 0.0 {
                        1.0
                    } else {
                        0.0
                    };
                    passed *= libm::exp10(-peak * part);
                }
                Met::Ring { radius, z } => {
                    let [x, y] = at(z);
                    if x * x + y * y > radius * radius {
                        passed = 0.0;
                    }
                }
                Met::Sheet {
                    sides,
                    turn_deg,
                    slide,
                    z,
                } => {
                    let [x, y] = upright(at(z), turn_deg);
                    if x.abs() > sides[0] / 2.0 || (y - slide).abs() > sides[1] / 2.0 {
                        passed = 0.0;
                    }
                }
                Met::Flag { height, z } => {
                    if at(z)[1] > height {
                        passed = 0.0;
                    }
                }
            }
        }
        sum += passed;
    }
    sum / rays as f64
}

/// A point as seen by glass that is turned counter-clockwise.
fn upright([x, y]: [f64; 2], turn_deg: f64) -> [f64; 2] {
    let (sin, cos) = turn_deg.to_radians().sin_cos();
    [x * cos + y * sin, y * cos - x * sin]
}

/// The law and the table of the only field that a rig without scatter lowers to.
pub(super) fn field(setup: &Setup, view: &View) -> Option<(Field, foreglass::optics::field::Fit)> {
    let plan = lower(setup, *view).simplify().fit();
    let mut fields = plan.passes.into_iter().filter_map(|p| match p {
        Pass::Field(f) => Some((f.law, f.fit.expect("fitted"))),
        _ => None,
    });
    let one = fields.next();
    assert!(fields.next().is_none(), "one field");
    one
}

/// What the kernel multiplies an even frame by.
pub(super) fn painted(
    fit: &foreglass::optics::field::Fit,
    view: View,
    [w, h]: [usize; 2],
) -> Frame {
    let mut frame = Frame::from_planes(w, h, std::array::from_fn(|_| vec![1.0; w * h]));
    cpu(&mut frame, &Params { fit, view });
    frame
}

/// Where a pixel's middle lies, mm from the picture's.
pub(super) fn place(view: &View, [w, h]: [usize; 2], [x, y]: [usize; 2]) -> [f64; 2] {
    [
        ((x as f64 + 0.5) / w as f64 - 0.5) * view.width_mm,
        (0.5 - (y as f64 + 0.5) / h as f64) * view.height_mm,
    ]
}

/// Holds the exact field and the kernel's picture to the count at some pixels, and the kernel to the exact
/// field at all of them: each within 1e-3.
fn holds(name: &str, rig: &[(&str, Value)], met: &[Met], size: [usize; 2], pixels: &[[usize; 2]]) {
    let setup = setup(rig);
    let view = setup.sensor_view();
    let camera = &setup.camera;
    let diameter = camera.focal_mm.get() / camera.stop.get();
    let focus = camera.subject_mm();
    let (law, fit) = field(&setup, &view).expect("a field");
    let picture = painted(&fit, view, size);
    for pixel in pixels {
        let [x, y] = place(&view, size, *pixel);
        let toward = [x / view.focal_mm, y / view.focal_mm];
        let counted = count(diameter, focus, met, toward, MANY);
        let exact = law.at(&view, x, y);
        assert!(
            (exact - counted).abs() < 3e-4,
            "{name} at {pixel:?}: {exact} for {counted}"
        );
        let shown = f64::from(picture.pixel(pixel[0], pixel[1])[1]);
        assert!(
            (shown - counted).abs() < 1e-3,
            "{name} at {pixel:?}: the table has {shown} for {counted}"
        );
    }
    let [w, h] = size;
    for i in 0..w * h {
        let pixel = [i % w, i / w];
        let [x, y] = place(&view, size, pixel);
        let exact = law.at(&view, x, y);
        let shown = f64::from(picture.pixel(pixel[0], pixel[1])[1]);
        assert!(
            (shown - exact).abs() < 8e-4,
            "{name} at {pixel:?}: the table has {shown} for {exact}"
        );
    }
}

/// The count itself: F(u) = (acos u − u√(1−u²))/π of the light above a hard edge (the disc-integral table of
/// the reference values).
#[test]
fn the_count_finds_the_disc_integral() {
    for (u, above) in [
        (-0.5, 0.804_499),
        (0.0, 0.5),
        (0.25, 0.342_519),
        (0.75, 0.072_147),
    ] {
        for turn_deg in [0.0, 31.0] {
            let grad = Met::Grad {
                peak: 20.0,
                length: 0.0,
                turn_deg,
                slide: u * 4.0,
                z: 100.0,
            };
            let seen = count(8.0, f64::INFINITY, &[grad], [0.0; 2], MANY);
            assert!((1.0 - seen - above).abs() < 1e-4, "u = {u}: {seen}");
        }
    }
}

fn camera(focal: f64, stop: f64, focus_m: Option<f64>) -> (&'static str, Value) {
    let camera = json!({"focal_mm": focal, "stop": stop, "focus_m": focus_m, "pupil_depth_mm": 40});
    ("/camera", camera)
}

fn hard(turn: f64, slide: f64, gap: f64) -> Value {
    json!({"glass": "grad-nd", "options": {"edge": "hard", "density": 0.9}, "size": "6.6x6.6",
        "turn_deg": turn, "slide_mm": slide, "gap_mm": gap})
}

const fn edge(turn_deg: f64, slide: f64, z: f64) -> Met {
    Met::Grad {
        peak: 0.9,
        length: 0.0,
        turn_deg,
        slide,
        z,
    }
}

const fn sheet(turn_deg: f64, slide: f64, z: f64) -> Met {
    Met::Sheet {
        sides: [167.6, 167.6],
        turn_deg,
        slide,
        z,
    }
}

/// A small pupil before a wide picture: one hard edge at f/16 and f/22, straight and turned.
#[test]
fn a_hard_edge_before_a_tiny_pupil() {
    for (stop, turn) in [(16.0, 0.0), (22.0, 0.0), (22.0, 33.0)] {
        let rig = [
            camera(12.0, stop, None),
            ("/rig/stages/0", hard(turn, 1.0, 30.0)),
        ];
        let met = [edge(turn, 1.0, 70.0), sheet(turn, 1.0, 70.0)];
        // The edge runs a little above the middle.
        let pixels = [
            [200, 24],
            [200, 23],
            [201, 25],
            [100, 17],
            [300, 30],
            [7, 3],
        ];
        holds("tiny pupil", &rig, &met, [401, 51], &pixels);
    }
}

/// Two hard grads crossed, each point of the pupil meeting each at its own height.
#[test]
fn crossed_grads() {
    for (focal, stop) in [(35.0, 2.8), (14.0, 16.0), (10.0, 22.0)] {
        let rig = [
            camera(focal, stop, None),
            ("/rig/stages/0", hard(0.0, 2.0, 30.0)),
            ("/rig/stages/1", hard(75.0, -1.0, 45.0)),
            ("/rig/stages/2", json!(null)),
        ];
        let met = [
            edge(0.0, 2.0, 70.0),
            edge(75.0, -1.0, 85.0),
            sheet(0.0, 2.0, 70.0),
            sheet(75.0, -1.0, 85.0),
        ];
        let pixels = [
            [100, 44],
            [101, 45],
            [102, 52],
            [95, 30],
            [110, 60],
            [60, 45],
        ];
        holds("crossed", &rig, &met, [201, 113], &pixels);
    }
}

/// A long lens wide open behind near glass: 200 mm at f/2 looks through 100 mm of it.
#[test]
fn a_long_lens_wide_open() {
    let rig = [
        camera(200.0, 2.0, Some(4.0)),
        ("/rig/stages/0", hard(20.0, 5.0, 12.0)),
        (
            "/rig/rings/-",
            json!({"glass": "clear", "thread_mm": 105, "clear_mm": 98, "gap_mm": 5}),
        ),
    ];
    let met = [
        edge(20.0, 5.0, 52.0),
        sheet(20.0, 5.0, 52.0),
        Met::Ring {
            radius: 49.0,
            z: 45.0,
        },
    ];
    let pixels = [[0, 0], [60, 34], [120, 67], [30, 50], [90, 10]];
    holds("long lens", &rig, &met, [121, 68], &pixels);
}

/// A grad, a ring and a tray together, near the lens and focused close to the glass.
#[test]
fn a_grad_a_ring_and_a_tray_close_up() {
    for focus_m in [0.12, 0.3, 2.0] {
        let soft = json!({"glass": "grad-nd", "options": {"edge": "medium", "density": 0.6},
            "size": "4x4", "turn_deg": 12, "slide_mm": 6, "gap_mm": 40});
        let rig = [
            camera(18.0, 2.0, Some(focus_m)),
            ("/rig/stages/0", soft),
            (
                "/rig/rings/-",
                json!({"glass": "clear", "thread_mm": 62, "clear_mm": 58, "gap_mm": 6}),
            ),
        ];
        let met = [
            Met::Grad {
                peak: 0.6,
                length: 20.0,
                turn_deg: 12.0,
                slide: 6.0,
                z: 80.0,
            },
            Met::Sheet {
                sides: [101.6, 101.6],
                turn_deg: 12.0,
                slide: 6.0,
                z: 80.0,
            },
            Met::Ring {
                radius: 29.0,
                z: 46.0,
            },
        ];
        let pixels = [
            [0, 0],
            [2, 60],
            [90, 50],
            [160, 89],
            [150, 3],
            [40, 85],
            [14, 20],
        ];
        holds("close up", &rig, &met, [161, 91], &pixels);
    }
}
