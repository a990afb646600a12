//! For every code, recipes on either side of its limit.

use super::{Changes, told, told_over_a_still};
use foreglass::rig::advisory::Advisory;
use foreglass::rig::advisory::Level::{self, Caution, Note, Stop};
use serde_json::{Value, json};
use std::f64::consts::{LOG10_2, PI};

/// A recipe that earns an advisory and one that does not.
pub(crate) struct Pair {
    pub(crate) code: &'static str,
    /// What the limit is, and where it comes from.
    pub(crate) limit: &'static str,
    pub(crate) level: Level,
    pub(crate) fires: Changes,
    pub(crate) quiet: Changes,
    /// Words of the one that fires.
    pub(crate) says: Vec<&'static str>,
    /// Who tells it.
    pub(crate) tells: fn(&Changes) -> Vec<Advisory>,
}

pub(crate) fn all() -> Vec<Pair> {
    [
        light(),
        planned(),
        openings(),
        edges(),
        hazards(),
        polarisers(),
        room(),
        doubts(),
    ]
    .into_iter()
    .flatten()
    .collect()
}

fn pair(
    code: &'static str,
    level: Level,
    limit: &'static str,
    fires: Changes,
    quiet: Changes,
    says: &[&'static str],
) -> Pair {
    Pair {
        code,
        limit,
        level,
        fires,
        quiet,
        says: says.to_vec(),
        tells: told,
    }
}

/// Half the diagonal of the default sensor over its sides, mm.
const HALF: [f64; 2] = [12.445, 7.0];

fn half_diagonal() -> f64 {
    HALF[0].hypot(HALF[1])
}

/// A lens at infinity whose pupil lies `pupil` mm behind the front.
fn lens(focal: f64, stop: f64, pupil: f64) -> (&'static str, Value) {
    let camera = json!({"focal_mm": focal, "stop": stop, "pupil_depth_mm": pupil, "focus_m": null});
    ("/camera", camera)
}

/// The first stage of the recipe, which holds a mist otherwise.
fn first(stage: Value) -> (&'static str, Value) {
    ("/rig/stages/0", stage)
}

fn nd(density: f64) -> Value {
    json!({"glass": "nd", "options": {"density": density}})
}

fn light() -> Vec<Pair> {
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
            "two threads across it: 50/N = 2",
            net(25.1),
            net(9.95),
            &["only 2.0 threads"],
        ),
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
fn planned() -> Vec<Pair> {
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
fn apart(r: f64, big: f64, part: f64) -> f64 {
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

fn openings() -> Vec<Pair> {
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
            ringed(d - 0.02),
            &["black"],
        ),
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
fn edges() -> Vec<Pair> {
    let grad = |kind: &str, focal: f64, stop: f64, gap: f64| {
        let grad =
            json!({"glass": "grad-nd", "options": {"edge": kind, "density": 0.6}, "gap_mm": gap});
        vec![lens(focal, stop, 60.0), first(grad)]
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

fn hazards() -> Vec<Pair> {
    let grad = |density: f64| {
        let options = json!({"density": density});
        vec![first(json!({"glass": "grad-nd", "options": options}))]
    };
    // Coated faces count.
    let faces = -f64::log10(0.99);
    // ND 2.1 from end to end of 101.6 mm: 1.5 of it where the axis meets it.
    let slide = 101.6 * (0.5 - (1.5 - faces) / 2.1);
    let attenuator = |slide: f64| {
        let options = json!({"edge": "attenuator", "density": 2.1});
        let glass = json!({"glass": "grad-nd", "options": options, "slide_mm": slide});
        vec![first(glass)]
    };
    let cut = |infrared: &str| {
        let options = json!({"density": 1.8, "infrared": infrared});
        vec![first(json!({"glass": "nd", "options": options}))]
    };
    let three = |sizes: [&str; 3]| -> Changes {
        let stage = |i: usize| json!({"glass": "clear", "size": sizes[i]});
        vec![
            first(stage(0)),
            ("/rig/stages/1", stage(1)),
            ("/rig/stages/2", stage(2)),
        ]
    };
    let ring = vec![
        first(Value::Null),
        ("/rig/rings/-", json!({"glass": "clear"})),
    ];
    vec![
        pair(
            "sun-finder",
            Caution,
            "density 0.9 (common practice, no source)",
            vec![first(nd(0.91))],
            vec![first(nd(0.89))],
            &["No density or polariser"],
        ),
        pair(
            "sun-finder",
            Caution,
            "a grad counts with its dense end",
            grad(0.9 - faces + 0.005),
            grad(0.9 - faces - 0.005),
            &[],
        ),
        pair(
            "infrared",
            Caution,
            "density 1.5 (common practice, no source)",
            vec![first(nd(1.51))],
            vec![first(nd(1.49))],
            &["Density 1.5"],
        ),
        pair(
            "infrared",
            Caution,
            "density that cuts it does not leak it",
            cut("pass"),
            cut("cut"),
            &["Density 1.8"],
        ),
        pair(
            "infrared",
            Caution,
            "an attenuator counts where the axis meets it",
            attenuator(slide - 0.2),
            attenuator(slide + 0.2),
            &["Density 1.5"],
        ),
        pair(
            "falling-glass",
            Note,
            "a tray; a ring is screwed on",
            vec![],
            ring,
            &["Local codes"],
        ),
        pair(
            "glass",
            Note,
            "what a still does not tell of a polariser",
            vec![first(json!({"glass": "polariser"}))],
            vec![first(nd(0.6))],
            &["reflections"],
        ),
        // 2.5e-3 g/mm³ · 4 mm: 205.9 + 145.8 + 149.6 g, and 205.9 + 2 · 145.8.
        pair(
            "weight",
            Note,
            "500 g in the stages (common practice, no source)",
            three(["5.65x5.65", "4x5.65", "138mm"]),
            three(["5.65x5.65", "4x5.65", "4x5.65"]),
            &["501 g of glass"],
        ),
        pair(
            "not-applied",
            Note,
            "a pin in the recipe",
            vec![("/frame/pins", json!([{"x": 0.5, "y": 0.5, "stops": 1.0}]))],
            vec![],
            &["pins"],
        ),
    ]
}

fn polarisers() -> Vec<Pair> {
    let polariser = |turn: f64| json!({"glass": "polariser", "turn_deg": turn});
    // Corners 35° off the axis.
    let wide = half_diagonal() / 35_f64.to_radians().tan();
    let sky = |focal: f64, clear: f64| {
        let options = json!({"sky_above": 1.1, "sun_azimuth_deg": 90, "sun_elevation_deg": 0, "sky_polarised": clear});
        let glass = json!({"glass": "polariser", "options": options, "turn_deg": 90});
        vec![("/camera/focal_mm", json!(focal)), first(glass)]
    };
    // A little hazier than what leaves half a stop between the picture's lightest and darkest sky.
    let hazy = super::figures::haze_of_half_a_stop(wide - 0.3);
    vec![
        pair(
            "two-polarisers",
            Caution,
            "two of them",
            vec![first(polariser(0.0)), ("/rig/stages/1", polariser(45.0))],
            vec![first(polariser(0.0))],
            &["45° to one another"],
        ),
        pair(
            "uneven-sky",
            Note,
            "corners 35° off the axis (common practice, no source)",
            sky(wide - 0.1, 0.75),
            sky(wide + 0.1, 0.75),
            // 1.5 stops of its own, and two of a sky that it passes a quarter of.
            &["35° off its axis", "to 3.5 stops from a clear sky"],
        ),
        pair(
            "uneven-sky",
            Note,
            "half a stop of change (our own limit), by brute force",
            sky(wide - 0.3, hazy + 0.01),
            sky(wide - 0.3, hazy - 0.01),
            &["dark band"],
        ),
        pair(
            "uneven-sky",
            Note,
            "no sky told, none judged",
            sky(wide - 0.3, 0.75),
            vec![
                ("/camera/focal_mm", json!(wide - 0.3)),
                first(polariser(90.0)),
            ],
            &[],
        ),
    ]
}

fn room() -> Vec<Pair> {
    let clear = |gap: f64, tilt: f64| json!({"glass": "clear", "gap_mm": gap, "tilt_deg": tilt});
    let two = |a: Value, b: Value| vec![first(a), ("/rig/stages/1", b)];
    let ring = |stage: f64| {
        let ring = json!({"glass": "clear", "gap_mm": 5});
        vec![("/rig/rings/-", ring), first(clear(stage, 0.0))]
    };
    // Half of 101.6 mm times the sine is what 8 mm less the glass's 4 leave, or 5 mm before the lens.
    let tips = |room: f64| f64::asin(room / 50.8).to_degrees();
    let plain = || json!({"glass": "clear"});
    let three = |tilt: f64| -> Changes {
        vec![
            first(plain()),
            ("/rig/stages/1", plain()),
            (
                "/rig/stages/2",
                json!({"glass": "clear", "tilt_deg": tilt, "gap_mm": 60}),
            ),
        ]
    };
    let four = |tilt: f64| -> Changes {
        let mut four = three(tilt);
        four.push(("/rig/rings/-", plain()));
        four
    };
    // f·tan 2t is half of 14 mm.
    let aside = f64::atan(7.0 / 50.0).to_degrees() / 2.0;
    vec![
        pair(
            "stages",
            Stop,
            "glass 4 mm thick (common practice, no source)",
            two(clear(20.0, 0.0), clear(23.95, 0.0)),
            two(clear(20.0, 0.0), clear(24.0, 0.0)),
            &["Stage 2 stands 3.9 mm before Stage 1", "26.0 mm or more"],
        ),
        pair(
            "stages",
            Stop,
            "in order from the lens outward",
            two(clear(28.0, 0.0), clear(20.0, 0.0)),
            two(clear(20.0, 0.0), clear(28.0, 0.0)),
            &["nearer to it than Stage 1"],
        ),
        pair(
            "stages",
            Stop,
            "4 mm from a ring's glass",
            ring(8.9),
            ring(9.0),
            &["Stage 1", "Ring 1"],
        ),
        pair(
            "stages",
            Caution,
            "h/2·sin t in 4 mm",
            two(clear(20.0, 0.0), clear(28.0, tips(4.0) + 0.05)),
            two(clear(20.0, 0.0), clear(28.0, tips(4.0) - 0.05)),
            &[
                "Stage 2 is tipped by 4.6°",
                "towards Stage 1",
                "4.0 mm are free",
            ],
        ),
        pair(
            "stages",
            Caution,
            "two that are tipped alike stay apart",
            two(clear(20.0, 8.0), clear(28.0, 0.0)),
            two(clear(20.0, 8.0), clear(28.0, 8.0)),
            &["Stage 1 is tipped by 8.0°", "towards Stage 2"],
        ),
        pair(
            "stages",
            Caution,
            "h/2·sin t before the lens",
            vec![first(clear(5.0, -tips(5.0) - 0.05))],
            vec![first(clear(5.0, -tips(5.0) + 0.05))],
            &["towards the lens"],
        ),
        pair(
            "stage-count",
            Note,
            "three of three stages",
            three(0.0),
            vec![("/rig/stages/2", plain())],
            &["All 3 stages are taken", "needs no tray"],
        ),
        pair(
            "many-surfaces",
            Note,
            "four pieces (common practice, no source)",
            four(0.0),
            three(0.0),
            &["8 faces, 28 pairs", "Stage 1 (Clear)", "4.0° or more"],
        ),
        pair(
            "many-surfaces",
            Note,
            "one of four tipped so far that its ghosts stand half the picture's height aside",
            four(aside - 0.05),
            four(aside + 0.05),
            &[],
        ),
    ]
}

fn doubts() -> Vec<Pair> {
    // An estimated pupil: 25 mm and half the focal length. A hard edge is f·D/z: a fifth wider at z = 120
    // less 20.
    let grad = |gap: f64, pupil: Value| {
        let glass = json!({"glass": "grad-nd", "options": {"edge": "hard"}, "gap_mm": gap});
        let camera = json!({"focal_mm": 50, "stop": 4, "pupil_depth_mm": pupil, "focus_m": null});
        vec![("/camera", camera), first(glass)]
    };
    // Ring of 50 mm, 25 mm lens: 20 mm further the corner loses a hundredth of a stop.
    let r = 25.0 / 2.8 / 2.0;
    let z = apart(r, 50.0, f64::exp2(-0.01)) * 25.0 / half_diagonal();
    let ringed = |gap: f64| {
        let ring = json!({"glass": "clear", "thread_mm": 105, "clear_mm": 100, "gap_mm": gap});
        let camera = json!({"focal_mm": 25, "stop": 2.8, "focus_m": null});
        vec![
            ("/camera", camera),
            first(Value::Null),
            ("/rig/rings/-", ring),
        ]
    };
    let near = |focus: f64| {
        let glass = json!({"glass": "grad-nd", "gap_mm": 40});
        let camera = json!({"focal_mm": 50, "stop": 4, "pupil_depth_mm": 60, "focus_m": focus});
        vec![("/camera", camera), first(glass)]
    };
    // D(1/√(1 − sin²θ/n²) − 1) is 0.15 stop.
    let way = 1.0 + 0.15 * LOG10_2 / 2.1;
    let angle = (1.52 * (1.0 - 1.0 / (way * way)).sqrt()).asin();
    let focal = half_diagonal() / angle.tan();
    let dense = |focal: f64| vec![("/camera/focal_mm", json!(focal)), first(nd(2.1))];
    vec![
        pair(
            "pupil",
            Note,
            "20 mm of pupil depth (our own estimate) make a fifth of an edge's width",
            grad(69.5, Value::Null),
            grad(70.5, Value::Null),
            &["taken as 50 mm", "20 mm either way draws Stage 1's edge"],
        ),
        pair(
            "pupil",
            Note,
            "a pupil's place that is told is not in doubt",
            grad(20.0, Value::Null),
            grad(20.0, json!(50)),
            &[],
        ),
        pair(
            "pupil",
            Note,
            "20 mm of pupil depth decide whether corners are clear: lens area of two circles",
            ringed(z - 20.0 - 37.5 + 0.05),
            ringed(z - 20.0 - 37.5 - 0.05),
            &["decides whether the corners are clear"],
        ),
        pair(
            "near-subject",
            Note,
            "z/s is a tenth: 100 mm of 1 m",
            near(0.995),
            near(1.005),
            &["0.99 m away", "10 % softer"],
        ),
        pair(
            "oblique",
            Note,
            "0.15 stop (our own limit) by refraction in n = 1.52",
            dense(focal - 0.05),
            dense(focal + 0.05),
            &["0.15 stop darker"],
        ),
    ]
}
