//! The quay: its solids as distances in boxes, and the ray that finds them.

use crate::ferry;
use crate::figure::{self, Cloth};
use crate::maths::{V3, brick, noise, rod, smin, v};

/// The quay's edge: water to the left of this x.
pub(crate) const EDGE: f32 = -3.6;
/// The water's level under the paving.
pub(crate) const TIDE: f32 = -2.0;
/// The far end of the paving.
const QUAY_END: f32 = 190.0;
/// The far bank's distance.
pub(crate) const BANK: f32 = 900.0;
/// The shed's wall facing the quay.
pub(crate) const WALL: f32 = 5.3;

/// The lamp posts' feet along the quay.
pub(crate) const POSTS: [(f32, f32); 8] = [
    (-2.75, 23.5),
    (-2.75, 35.0),
    (-2.75, 48.0),
    (-2.75, 62.5),
    (-2.75, 79.0),
    (-2.75, 98.0),
    (-2.75, 120.0),
    (-2.75, 146.0),
];
/// The bulb, from a post's foot.
pub(crate) const BULB: V3 = v(0.52, 3.92, 0.0);

/// The floodlight, on its mast by the shed.
pub(crate) const FLOOD: V3 = v(3.75, 4.95, 41.0);

/// What a ray met.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum Kind {
    Sky,
    Bank,
    Ground,
    Water,
    Figure(Cloth),
    Ferry,
    Iron,
    Shed,
    Timber,
}

/// A solid with its distance.
#[derive(Clone, Copy, Debug)]
enum Solid {
    Figure,
    Ferry,
    Post(V3),
    Bollard(V3),
    Mast,
    Shed,
    Crates,
    Gangway,
}

/// A ray's meeting with the scene.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Hit {
    pub(crate) t: f32,
    pub(crate) p: V3,
    pub(crate) n: V3,
    pub(crate) kind: Kind,
}

/// Every solid with its box.
#[derive(Debug)]
pub(crate) struct Place {
    solids: Vec<(V3, V3, Solid)>,
}

impl Solid {
    fn distance(self, p: V3) -> f32 {
        match self {
            Self::Figure => figure::figure(p).0,
            Self::Ferry => ferry::ferry(ferry::to_ferry(p)),
            Self::Post(foot) => post(p - foot),
            Self::Bollard(foot) => bollard(p - foot),
            Self::Mast => mast(p),
            Self::Shed => shed(p),
            Self::Crates => crates(p),
            Self::Gangway => gangway(p),
        }
    }

    fn kind(self, p: V3) -> Kind {
        match self {
            Self::Figure => Kind::Figure(figure::figure(p).1),
            Self::Ferry => Kind::Ferry,
            Self::Post(_) | Self::Bollard(_) | Self::Mast | Self::Gangway => Kind::Iron,
            Self::Shed => Kind::Shed,
            Self::Crates => Kind::Timber,
        }
    }

    /// How near counts as touching: finer for what is near the camera.
    const fn touch(self) -> f32 {
        match self {
            Self::Figure => 0.000_25,
            Self::Ferry => 0.008,
            _ => 0.002,
        }
    }

    fn normal(self, p: V3) -> V3 {
        let e = match self {
            Self::Figure => 0.000_6,
            Self::Ferry => 0.03,
            _ => 0.006,
        };
        let f = |k: V3| k * self.distance(p + k * e);
        (f(v(1.0, -1.0, -1.0))
            + f(v(-1.0, -1.0, 1.0))
            + f(v(-1.0, 1.0, -1.0))
            + f(v(1.0, 1.0, 1.0)))
        .unit()
    }
}

fn post(p: V3) -> f32 {
    let stem = rod(p, V3::ZERO, v(0.0, 4.15, 0.0), 0.075, 0.048);
    let foot = rod(p, V3::ZERO, v(0.0, 0.75, 0.0), 0.125, 0.10);
    let arm = rod(p, v(0.0, 4.12, 0.0), v(0.50, 4.22, 0.0), 0.028, 0.024);
    let stay = rod(p, v(0.0, 3.7, 0.0), v(0.30, 4.17, 0.0), 0.016, 0.016);
    let c = p - BULB;
    let r = reach(c.x, c.z);
    // A spun shade: a thin cone open below.
    let slope = (r - 0.05) * 0.62 + (c.y - 0.24) * 0.78;
    let shade = (slope.abs() - 0.012).max(r - 0.27).max(-c.y + 0.02);
    let neck = rod(c, v(0.0, 0.16, 0.0), v(0.0, 0.32, 0.0), 0.05, 0.035);
    smin(stem, foot, 0.06)
        .min(arm)
        .min(stay)
        .min(shade)
        .min(neck)
}

fn bollard(p: V3) -> f32 {
    let stem = rod(p, V3::ZERO, v(0.0, 0.42, 0.0), 0.17, 0.13);
    let horn = rod(p, v(-0.16, 0.50, 0.0), v(0.16, 0.50, 0.0), 0.085, 0.085);
    let base = brick(p, v(0.30, 0.05, 0.30), 0.03);
    smin(smin(stem, horn, 0.10), base, 0.05)
}

/// The floodlight's mast: a pole, and a hood open towards the camera.
fn mast(p: V3) -> f32 {
    let foot = v(FLOOD.x, 0.0, FLOOD.z + 0.35);
    let pole = rod(p, foot, foot + v(0.0, FLOOD.y + 0.3, 0.0), 0.10, 0.06);
    let hood = brick(p - FLOOD - v(0.0, 0.03, 0.24), v(0.22, 0.19, 0.05), 0.03);
    pole.min(hood).min(brick(
        p - FLOOD - v(0.0, 0.22, 0.05),
        v(0.22, 0.02, 0.22),
        0.01,
    ))
}

fn shed(p: V3) -> f32 {
    let ribs = 0.010 * (p.z * 19.0).sin() * f32::from(p.y > 1.0);
    let wall = brick(p - v(WALL + 6.0, 2.6, 41.0), v(6.0, 2.6, 29.0), 0.02) + ribs;
    let eave = brick(p - v(WALL + 5.4, 5.3, 41.0), v(6.0, 0.12, 29.6), 0.03);
    let gutter = rod(
        v(p.x, p.y, 0.0),
        v(WALL - 0.64, 5.2, 0.0),
        v(WALL - 0.63, 5.2, 0.0),
        0.09,
        0.09,
    );
    let cell = ((p.z - 16.0) / 9.0).round().clamp(0.0, 5.0) * 9.0 + 16.0;
    let pipe = rod(
        v(p.x, p.y, p.z - cell),
        v(WALL - 0.12, 0.0, 0.0),
        v(WALL - 0.12, 5.2, 0.0),
        0.055,
        0.055,
    );
    let gutter = gutter.max((p.z - 41.0).abs() - 29.6);
    (wall * 0.9).min(eave).min(gutter).min(pipe)
}

fn crates(p: V3) -> f32 {
    let one = |c: V3, h: V3, turn: f32| {
        let q = (p - c).turned(turn);
        let slats = 0.008 * f32::from((q.y * 6.0).fract().abs() > 0.12);
        brick(q, h, 0.012) - slats
    };
    one(v(3.9, 0.5, 30.0), v(0.6, 0.5, 0.6), 0.15)
        .min(one(v(4.2, 1.32, 30.2), v(0.42, 0.32, 0.42), -0.3))
        .min(one(v(4.25, 0.45, 27.6), v(0.5, 0.45, 0.5), -0.1))
        .min(one(v(3.5, 0.35, 33.4), v(0.55, 0.35, 0.7), 0.4))
}

/// The ramp from the quay up to the ferry's deck.
fn gangway(p: V3) -> f32 {
    let a = v(-3.2, 0.1, 128.0);
    let b = v(-11.0, 1.6, 133.0);
    let deck = rod(p, a, b, 0.22, 0.22);
    let side = v(0.54, 0.0, 0.84);
    let rail = |o: f32, h: f32| {
        let s = side * o + v(0.0, h, 0.0);
        rod(p, a + s, b + s, 0.06, 0.06)
    };
    deck.min(rail(0.8, 1.1))
        .min(rail(-0.8, 1.1))
        .min(rail(-0.8, 0.2))
        .min(rail(0.8, 0.2))
}

impl Place {
    pub(crate) fn new() -> Self {
        let mut solids = Vec::new();
        let (a, b) = figure::bounds();
        solids.push((a, b, Solid::Figure));
        let (a, b) = ferry::bounds();
        solids.push((a, b, Solid::Ferry));
        for (x, z) in POSTS {
            let foot = v(x, 0.0, z);
            solids.push((
                foot + v(-0.15, 0.0, -0.3),
                foot + v(0.82, 4.3, 0.3),
                Solid::Post(foot),
            ));
        }
        for (x, z) in [
            (-3.1, 17.6),
            (-3.1, 29.0),
            (-3.1, 42.0),
            (-3.1, 56.0),
            (-3.1, 72.0),
        ] {
            let foot = v(x, 0.0, z);
            solids.push((
                foot - v(0.35, 0.0, 0.35),
                foot + v(0.35, 0.62, 0.35),
                Solid::Bollard(foot),
            ));
        }
        solids.push((
            FLOOD + v(-0.35, -FLOOD.y, -0.3),
            FLOOD + v(0.35, 0.4, 0.5),
            Solid::Mast,
        ));
        solids.push((
            v(WALL - 0.8, 0.0, 11.0),
            v(WALL + 13.0, 5.5, 71.0),
            Solid::Shed,
        ));
        solids.push((v(2.7, 0.0, 26.8), v(5.0, 1.8, 34.3), Solid::Crates));
        solids.push((v(-11.6, -0.5, 126.0), v(-2.5, 3.2, 134.5), Solid::Gangway));
        Self { solids }
    }

    /// The nearest meeting of a ray with a solid inside `far`.
    fn solid(&self, o: V3, d: V3, far: f32) -> Option<(f32, Solid)> {
        let mut best: Option<(f32, Solid)> = None;
        let mut reach = far;
        for &(lo, hi, solid) in &self.solids {
            let Some((near, out)) = slab(o, d, lo, hi, reach) else {
                continue;
            };
            if let Some(t) = march(o, d, near, out, solid) {
                reach = t;
                best = Some((t, solid));
            }
        }
        best
    }

    /// Whether anything but ferry and shed, whose shadows fall out of sight, stands between a point and `far` along a direction.
    pub(crate) fn blocked(&self, o: V3, d: V3, far: f32) -> bool {
        self.solids.iter().any(|&(lo, hi, solid)| {
            !matches!(solid, Solid::Ferry | Solid::Gangway | Solid::Shed)
                && slab(o, d, lo, hi, far)
                    .is_some_and(|(near, out)| march(o, d, near, out, solid).is_some())
        })
    }

    /// What a ray meets.
    pub(crate) fn meet(&self, o: V3, d: V3) -> Hit {
        let mut far = f32::INFINITY;
        let mut kind = Kind::Sky;
        if d.y < 0.0 {
            let t = -o.y / d.y;
            let p = o + d * t;
            if t > 0.0 && p.x > EDGE && p.z < QUAY_END {
                (far, kind) = (t, Kind::Ground);
            } else {
                let t = (TIDE - o.y) / d.y;
                let p = o + d * t;
                if t > 0.0 && p.z < BANK {
                    (far, kind) = (t, Kind::Water);
                }
            }
        }
        if d.z > 0.0 && kind == Kind::Sky {
            let t = (BANK - o.z) / d.z;
            let p = o + d * t;
            if p.y > TIDE && p.y < skyline(p.x) {
                (far, kind) = (t, Kind::Bank);
            }
        }
        if let Some((t, solid)) = self.solid(o, d, far.min(400.0)) {
            let p = o + d * t;
            return Hit {
                t,
                p,
                n: solid.normal(p),
                kind: solid.kind(p),
            };
        }
        let p = if far.is_finite() { o + d * far } else { d };
        let n = if kind == Kind::Bank {
            v(0.0, 0.0, -1.0)
        } else {
            v(0.0, 1.0, 0.0)
        };
        Hit { t: far, p, n, kind }
    }

    /// How open the figure's neighbourhood is at a point, 0 to 1, from a few steps outward.
    pub(crate) fn openness(p: V3, n: V3) -> f32 {
        let mut shut = 0.0;
        let mut weight = 0.55;
        for step in [0.006_f32, 0.018, 0.045, 0.10] {
            let d = figure::figure(p + n * step).0;
            shut += weight * (1.0 - d / step).clamp(0.0, 1.0);
            weight *= 0.62;
        }
        (1.0 - 0.75 * shut).clamp(0.04, 1.0)
    }
}

/// The far bank's roofs and trees: height at `x`.
pub(crate) fn skyline(x: f32) -> f32 {
    let hill = 9.0 + 13.0 * noise(v(x / 160.0, 0.0, 0.5));
    let block = (x / 13.0).floor();
    let roof = 9.0 * noise(v(block * 0.71, 3.0, 0.0)) - 2.0;
    hill + roof.max(0.0) + 1.5 * noise(v(x / 4.0, 9.0, 0.0))
}

fn slab(o: V3, d: V3, lo: V3, hi: V3, far: f32) -> Option<(f32, f32)> {
    let (mut near, mut out) = (0.0_f32, far);
    for (o, d, lo, hi) in [
        (o.x, d.x, lo.x, hi.x),
        (o.y, d.y, lo.y, hi.y),
        (o.z, d.z, lo.z, hi.z),
    ] {
        let inv = 1.0 / d;
        let (a, b) = ((lo - o) * inv, (hi - o) * inv);
        near = near.max(a.min(b));
        out = out.min(a.max(b));
    }
    (near < out).then_some((near, out))
}

fn march(o: V3, d: V3, near: f32, out: f32, solid: Solid) -> Option<f32> {
    let touch = solid.touch();
    let mut t = near;
    for _ in 0..110 {
        let step = solid.distance(o + d * t);
        if step < touch {
            return Some(t);
        }
        t += step.max(touch);
        if t > out {
            return None;
        }
    }
    None
}
