//! The wheelhouse: walls met in closed form, console, wheel, lamp and helmsman by distance.

use crate::figure::{self, Cloth};
use crate::maths::{V3, brick, reach, rod, smin, v};

/// The room's sides.
pub(crate) const LEFT: f32 = -2.55;
pub(crate) const RIGHT: f32 = 2.05;
pub(crate) const FLOOR: f32 = 0.0;
pub(crate) const CEILING: f32 = 2.42;
pub(crate) const FAR: f32 = 5.4;
/// How thick the far wall is.
const DEEP: f32 = 0.11;

/// The window's opening in the far wall: left, right, sill and head.
pub(crate) const WINDOW: [f32; 4] = [-2.02, -0.30, 1.06, 2.16];
/// The bar that parts its panes, and its width.
const BAR: (f32, f32) = (-1.10, 0.055);

/// The chart lamp's bulb.
pub(crate) const BULB: V3 = v(1.56, 1.46, 4.75);

/// What a ray met.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum What {
    Outside,
    Wall,
    Ceiling,
    Floor,
    Frame,
    Console,
    Wheel,
    Brass,
    Helmsman(Cloth),
}

/// A ray's meeting with the room.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Met {
    pub(crate) p: V3,
    pub(crate) n: V3,
    pub(crate) what: What,
}

fn in_window(x: f32, y: f32, margin: f32) -> bool {
    let [x0, x1, y0, y1] = WINDOW;
    x > x0 - margin && x < x1 + margin && y > y0 - margin && y < y1 + margin
}

/// The plane of the room that a ray meets.
fn plane(o: V3, d: V3) -> (f32, V3, What) {
    let mut best = (f32::INFINITY, V3::ZERO, What::Wall);
    let mut take = |at: f32, from: f32, along: f32, n: V3, what: What| {
        let t = (at - from) / along;
        if t > 1e-4 && t < best.0 {
            best = (t, n, what);
        }
    };
    if d.x < 0.0 {
        take(LEFT, o.x, d.x, v(1.0, 0.0, 0.0), What::Wall);
    } else if d.x > 0.0 {
        take(RIGHT, o.x, d.x, v(-1.0, 0.0, 0.0), What::Wall);
    }
    if d.y < 0.0 {
        take(FLOOR, o.y, d.y, v(0.0, 1.0, 0.0), What::Floor);
    } else if d.y > 0.0 {
        take(CEILING, o.y, d.y, v(0.0, -1.0, 0.0), What::Ceiling);
    }
    if d.z > 0.0 {
        take(FAR, o.z, d.z, v(0.0, 0.0, -1.0), What::Wall);
    }
    best
}

/// Through the wall's thickness: the reveal, the bar, or out.
fn through(o: V3, d: V3, t: f32) -> Met {
    let p = o + d * t;
    let beyond = p + d * (DEEP / d.z);
    let bar = |q: V3| (q.x - BAR.0).abs() < BAR.1 / 2.0;
    if bar(p) {
        return Met {
            p,
            n: v(0.0, 0.0, -1.0),
            what: What::Frame,
        };
    }
    let [x0, x1, y0, y1] = WINDOW;
    let sides = [
        (x0, p.x, d.x, v(1.0, 0.0, 0.0)),
        (x1, p.x, d.x, v(-1.0, 0.0, 0.0)),
        (y0, p.y, d.y, v(0.0, 1.0, 0.0)),
        (y1, p.y, d.y, v(0.0, -1.0, 0.0)),
        (BAR.0 - BAR.1 / 2.0, p.x, d.x.max(0.0), v(-1.0, 0.0, 0.0)),
        (BAR.0 + BAR.1 / 2.0, p.x, d.x.min(0.0), v(1.0, 0.0, 0.0)),
    ];
    let within = sides
        .iter()
        .filter(|(at, from, along, _)| (at - from) * along > 0.0)
        .map(|(at, from, along, n)| ((at - from) / along, *n))
        .filter(|(s, _)| *s < DEEP / d.z)
        .min_by(|a, b| a.0.total_cmp(&b.0));
    match within {
        Some((s, n)) => Met {
            p: p + d * s,
            n,
            what: What::Frame,
        },
        None => Met {
            p: beyond,
            n: v(0.0, 0.0, -1.0),
            what: What::Outside,
        },
    }
}

fn wheel(p: V3) -> f32 {
    let q = p - v(-0.62, 0.98, 4.42);
    let rim = reach(reach(q.x, q.y) - 0.36, q.z) - 0.022;
    let around = q.y.atan2(q.x);
    let step = std::f32::consts::TAU / 8.0;
    let near = (around / step).round() * step;
    let (s, c) = near.sin_cos();
    let spoke = v(q.x * c + q.y * s, q.y * c - q.x * s, q.z);
    let spoke = rod(spoke, V3::ZERO, v(0.47, 0.0, 0.0), 0.020, 0.016);
    let hub = rod(q, v(0.0, 0.0, -0.04), v(0.0, 0.0, 0.30), 0.06, 0.06);
    smin(rim.min(spoke), hub, 0.02)
}

fn console(p: V3) -> f32 {
    let desk = brick(p - v(-1.2, 0.42, 5.1), v(1.36, 0.44, 0.36), 0.03);
    let q = p - v(-1.2, 0.90, 5.14);
    let (y, z) = (q.y * 0.94 + q.z * 0.34, q.z * 0.94 - q.y * 0.34);
    let top = brick(v(q.x, y, z), v(1.36, 0.05, 0.33), 0.02);
    let shelf = brick(p - v(1.42, 1.06, 5.15), v(0.62, 0.035, 0.26), 0.015);
    desk.min(top).min(shelf)
}

fn brass(p: V3) -> f32 {
    let arm = rod(p, v(1.56, 1.09, 5.05), v(1.56, 1.62, 4.92), 0.012, 0.012);
    let reach_out = rod(
        p,
        v(1.56, 1.62, 4.92),
        BULB + v(0.0, 0.10, 0.0),
        0.012,
        0.012,
    );
    let c = p - BULB;
    let r = reach(c.x, c.z);
    // A spun shade: a thin cone open below.
    let shade = (((r - 0.03) * 0.80 + (c.y - 0.10) * 0.60).abs() - 0.006)
        .max(c.y - 0.10)
        .max(-c.y - 0.005);
    let knob = rod(p, v(0.02, 0.98, 4.86), v(0.02, 1.16, 4.82), 0.018, 0.026);
    arm.min(reach_out).min(shade).min(knob)
}

fn thing(p: V3) -> (f32, What) {
    let mut best = (console(p), What::Console);
    for (d, what) in [(wheel(p), What::Wheel), (brass(p), What::Brass)] {
        if d < best.0 {
            best = (d, what);
        }
    }
    let (low, high) = figure::bounds();
    let (centre, half) = ((low + high) / 2.0, (high - low) / 2.0);
    let away = brick(p - centre, half, 0.0);
    if away < best.0 {
        best = if away > 0.08 {
            (away, What::Helmsman(Cloth::Coat))
        } else {
            let (d, cloth) = figure::figure(p);
            if d < best.0 {
                (d, What::Helmsman(cloth))
            } else {
                best
            }
        };
    }
    best
}

fn normal(p: V3, what: What) -> V3 {
    let e = if matches!(what, What::Helmsman(_)) {
        0.000_6
    } else {
        0.001_5
    };
    let f = |k: V3| k * thing(p + k * e).0;
    (f(v(1.0, -1.0, -1.0)) + f(v(-1.0, -1.0, 1.0)) + f(v(-1.0, 1.0, -1.0)) + f(v(1.0, 1.0, 1.0)))
        .unit()
}

/// Where a ray goes along, at most `far`, until something is touched.
fn march(o: V3, d: V3, far: f32, touch: f32) -> Option<(f32, What)> {
    let mut t = 0.0;
    for _ in 0..160 {
        let p = o + d * t;
        let (away, what) = thing(p);
        if away < touch {
            return Some((t, what));
        }
        t += away * 0.9;
        if t > far {
            return None;
        }
    }
    None
}

/// What a ray meets first.
pub(crate) fn meet(o: V3, d: V3) -> Met {
    let (t, n, what) = plane(o, d);
    if let Some((near, what)) = march(o, d, t, 0.000_4) {
        let p = o + d * near;
        return Met {
            p,
            n: normal(p, what),
            what,
        };
    }
    let p = o + d * t;
    if n.z < 0.0 && in_window(p.x, p.y, 0.0) {
        return through(o, d, t);
    }
    let framed = n.z < 0.0 && in_window(p.x, p.y, 0.07);
    let what = if framed { What::Frame } else { what };
    Met { p, n, what }
}

/// Whether something stands in a ray's way within `far`.
pub(crate) fn blocked(o: V3, d: V3, far: f32) -> bool {
    march(o, d, far, 0.001).is_some()
}
