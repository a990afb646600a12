//! Pairs that hang on the lens: its light, what it sees of the openings, and edges.

use super::{HALF, Pair, first, half_diagonal, lens, nd, pair};
use crate::advisories::told_over_a_still;
use foreglass::rig::advisory::Level::{Caution, Note, Stop};
use serde_json::{Value, json};
use std::f64::consts::{LOG10_2, PI};

pub(super) fn light() -> Vec<Pair> {
    // f/4 through ND D is f/4·10^(−D/2); a thousandth is rounding.
    let set = 4.0 * f64::powf(10.0, -0.3);
    let opens = |widest: f64| vec![first(nd(0.6)), ("/camera/widest_stop", json!(widest))];
    // A veil of 0.05 of key: half a per cent of that is a four-thousandth.
    let spill = f64::log2(0.05);
    let veiled = |stops: f64| vec![("/light/spill_stops", json!(stops))];
    let net = |stop: f64| {
        let net = json!({"glass": "net-dark", "options": {"pitch_mm": 1.0}});
        vec![lens(50.0, stop, 60.0), first(net)]
    };
    let star = |stop: f64| {
        let star = json!({"glass": "star", "options": {"spacing_mm": 2.0}});
        vec![lens(50.0, stop, 60.0), first(star)]
    };
    vec![
        pair(
            "beyond-widest-stop",
            Stop,
            "the stop to set, by the definition of density",
            opens(set * 1.002),
            opens(set),
            &[],
        ),
        pair(
            "spill",
            Caution,
            "share times level is a twentieth of key (our own limit)",
            veiled(spill + 0.01),
            veiled(spill - 0.01),
            &["veils the blacks"],
        ),
        pair(
            "coarse",
            Note,
            "five threads across a pupil of f/N (our own limit): 50/N = 5",
            net(10.05),
            net(9.95),
            &["threads"],
        ),
        pair(
            "coarse",
            Caution,
            "two threads across it (our own limit): 50/N = 2",
            net(25.1),
            net(24.9),
            &["only 2.0 threads"],
        )
        .or(Note, "only 2.0 threads"),
        pair(
            "coarse",
            Note,
            "five lines 2 mm apart: 50/N = 10",
            star(5.02),
            star(4.98),
            &["lines"],
        ),
    ]
}

/// A still that takes in less than the plan, and a table that passes nothing.
pub(super) fn planned() -> Vec<Pair> {
    // The planned lens spans 2·atan(12.445/50) across.
    let plan = 2.0 * (HALF[0] / 50.0).atan().to_degrees();
    let seen = |deg: f64| vec![("/frame/seen_by", json!({"field_deg": deg}))];
    let table = |part: f64| {
        let csv = format!("nm,part\n380,{part}\n780,{part}\n");
        vec![first(json!({"glass": "spectrum", "options": {"csv": csv}}))]
    };
    let narrow = pair(
        "frame-too-narrow",
        Stop,
        "the plan's field, within a pixel or two of the frame's 160",
        seen(plan * 0.98),
        seen(plan * 1.02),
        &["the plan wants 28.0°"],
    );
    vec![
        Pair {
            tells: told_over_a_still,
            ..narrow
        },
        pair(
            "opaque",
            Stop,
            "nothing passes",
            table(0.0),
            table(1e-4),
            &["no light at all"],
        ),
    ]
}

/// Distance of two circles' centres at which the part of the smaller, of radius `r`, that lies within the
/// other, of radius `big`, is `part` (lens area of two circles, reference tables, section 7).
pub(super) fn apart(r: f64, big: f64, part: f64) -> f64 {
    let overlap = |d: f64| {
        let a = ((d * d + r * r - big * big) / (2.0 * d * r)).acos();
        let b = ((d * d + big * big - r * r) / (2.0 * d * big)).acos();
        let s = (-d + r + big) * (d + r - big) * (d - r + big) * (d + r + big);
        (r * r * a + big * big * b - 0.5 * s.sqrt()) / (PI * r * r)
    };
    let (mut low, mut high) = (big - r + 1e-9, big + r - 1e-9);
    for _ in 0..60 {
        let middle = f64::midpoint(low, high);
        if overlap(middle) > part {
            low = middle;
        } else {
            high = middle;
        }
    }
    low
}

pub(super) fn openings() -> Vec<Pair> {
    let (f, n) = (25.0, 2.8);
    let r = f / n / 2.0;
    // 4x4 glass reaches 50.8 mm to either side: z·12.445/f + r.
    let z = (50.8 - r) * f / HALF[0];
    let covered = |z: f64| {
        let clear = json!({"glass": "clear", "size": "4x4", "gap_mm": 40});
        vec![lens(f, n, z - 40.0), first(clear)]
    };
    // The corner's bundle runs over a ring of 36.5 mm by a hundredth of a stop.
    let d = apart(r, 36.5, f64::exp2(-0.01));
    let ringed = |d: f64| {
        let z = d * f / half_diagonal();
        let ring = json!({"glass": "clear", "thread_mm": 77, "clear_mm": 73, "gap_mm": 10});
        vec![
            lens(f, n, z - 10.0),
            first(Value::Null),
            ("/rig/rings/-", ring),
        ]
    };
    // A grad 101.6 mm high on z = 100 mm: what the corner's bundle leaves.
    let free = 50.8 - 100.0 * HALF[1] / 50.0 - 50.0 / 2.8 / 2.0;
    let slid = |mm: f64| {
        let grad = json!({"glass": "grad-nd", "gap_mm": 40, "slide_mm": mm});
        vec![lens(50.0, 2.8, 60.0), first(grad)]
    };
    // A 14 mm lens at f/4, z = 60 mm: turned by t, the corner stands 60/14·(12.445 sin t + 7 cos t) high, and
    // the glass ends at 50.8 mm less the footprint's 1.75.
    let reach = 60.0 / 14.0 * half_diagonal();
    let turn = HALF[0].atan2(HALF[1]) - ((50.8 - 1.75) / reach).acos();
    let turned = |deg: f64| {
        let grad = json!({"glass": "grad-nd", "gap_mm": 20, "turn_deg": deg});
        vec![lens(14.0, 4.0, 40.0), first(grad)]
    };
    // A mouth 160 mm before the pupil of 50 mm at f/4: 160·12.445/50 and the footprint's 6.25, twice.
    let mouth = 2.0 * (160.0 * HALF[0] / 50.0 + 6.25);
    let shaded = |wide: f64| {
        let clear = json!({"glass": "clear", "gap_mm": 20});
        let shade = json!({"opening_mm": [wide, 125], "depth_mm": 80});
        vec![lens(50.0, 4.0, 60.0), first(clear), ("/rig/shade", shade)]
    };
    vec![
        pair(
            "turned-corners",
            Caution,
            "the corner's bundle meets the end of the turned glass: similar triangles",
            turned(turn.to_degrees() + 0.05),
            turned(turn.to_degrees() - 0.05),
            &["is turned 24.0°"],
        ),
        pair(
            "shade",
            Caution,
            "the corner's bundle meets the mouth: similar triangles",
            shaded(mouth - 0.1),
            shaded(mouth + 0.1),
            &["The shade cuts the picture"],
        ),
        pair(
            "coverage",
            Caution,
            "the corner's bundle meets the glass's end: similar triangles",
            covered(z * 1.003),
            covered(z * 0.997),
            &["Stage 1"],
        ),
        pair(
            "vignette",
            Caution,
            "a hundredth of a stop at the corner: lens area of two circles",
            ringed(d + 0.02),
            ringed(d - 0.02),
            &["vignettes"],
        ),
        pair(
            "vignette",
            Stop,
            "black where the circles part, at R + r",
            ringed(36.5 + r + 0.02),
            ringed(36.5 + r - 0.02),
            &["black"],
        )
        .or(Caution, "the worst corner loses"),
        pair(
            "slide",
            Caution,
            "the glass's own height, similar triangles",
            slid(free + 0.05),
            slid(free - 0.05),
            &["slid 27.9 mm"],
        ),
    ]
}

/// Widths in the picture are f(L + D)/z, of 14 mm: DESIGN's own figure of a hard edge, `grad_geometry.csv`.
pub(super) fn edges() -> Vec<Pair> {
    let grad = |kind: &str, focal: f64, stop: f64, gap: f64| {
        let grad =
            json!({"glass": "grad-nd", "options": {"edge": kind, "density": 0.6}, "gap_mm": gap});
        vec![lens(focal, stop, 60.0), first(grad)]
    };
    let slid = |mm: f64| {
        let glass =
            json!({"glass": "grad-nd", "options": {"edge": "hard"}, "gap_mm": 40, "slide_mm": mm});
        vec![lens(50.0, 4.0, 60.0), first(glass)]
    };
    // 0.5(20 + 50/N) = 14 and 0.5 · 50/N = 0.06 · 14.
    let soft = 50.0 / 8.0;
    let hard = 25.0 / (0.06 * 14.0);
    let stripe = 50.0 * (32.0 + 12.5) / 14.0 - 60.0;
    // Over 28 mm of glass a quarter of a stop.
    let weak = 0.25 * LOG10_2 * 101.6 / 28.0;
    let attenuator = |density: f64| {
        let options = json!({"edge": "attenuator", "density": density});
        let glass = json!({"glass": "grad-nd", "options": options, "gap_mm": 40});
        vec![lens(50.0, 4.0, 60.0), first(glass)]
    };
    vec![
        pair(
            "edge-soft",
            Note,
            "as wide as the picture is high",
            grad("medium", 50.0, soft - 0.05, 40.0),
            grad("medium", 50.0, soft + 0.05, 40.0),
            // 0.5 · 8.065 mm of 14.
            &["At 50 mm and f/6.2 Grad ND 0.6 hard is right, 29 % of it"],
        ),
        pair(
            "edge-soft",
            Note,
            "a stripe of 32 mm with its flanks",
            grad("stripe", 50.0, 4.0, stripe * 0.99),
            grad("stripe", 50.0, 4.0, stripe * 1.01),
            &["with its flanks"],
        ),
        pair(
            "edge-soft",
            Note,
            "an attenuator that changes by a quarter of a stop",
            attenuator(weak - 0.003),
            attenuator(weak + 0.003),
            &["changes by only 0.25 stop"],
        ),
        pair(
            "edge-out",
            Caution,
            "the edge's zone past the picture's top ray and half the footprint (geometry)",
            // z = 100 mm: 7/50 of it is 14 mm, and half the pupil 6.25 mm.
            slid(14.0 + 6.25 + 0.1),
            slid(14.0 + 6.25 - 0.1),
            &["under it, where the glass is clear", "below 20.2 mm"],
        ),
        pair(
            "edge-hard",
            Caution,
            "6 % of the picture's height (common practice, no source)",
            grad("hard", 50.0, hard + 0.1, 40.0),
            grad("hard", 50.0, hard - 0.1, 40.0),
            // 0.5(20 + 1.675) of 14; the soft one, 1.67 of it, is none.
            &["At 50 mm and f/29.86 Grad ND 0.6 medium is right, 77 % of it"],
        ),
    ]
}
