//! The passenger on the quay: rounded-together distances in metres, about the point between the feet.
//!
//! The body faces local +z. The head has its own frame (centre between the ears, facing its own
//! +z), so that it can be turned and tipped without touching the coat.

use crate::maths::{V3, ball, carve, egg, fbm, mix, noise, reach, rod, smin, smooth, v};

/// What a point of the figure is made of.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Cloth {
    Skin,
    Lips,
    Eye,
    Cap,
    Hair,
    Scarf,
    Coat,
    Button,
}

/// Where the figure stands, and how body and head are turned (radians from facing the camera,
/// positive towards the left of the picture).
const FEET: V3 = v(0.285, 0.0, 4.0);
const BODY_TURN: f32 = 0.70;
const HEAD_TURN: f32 = 0.98;
const HEAD_TIP: f32 = 0.05;
const HEAD_AT: V3 = v(0.0, 1.625, 0.015);

/// The axes of something turned by `turn`: across, and the way it faces.
fn axes(turn: f32) -> (V3, V3) {
    let (s, c) = turn.sin_cos();
    let front = v(-s, 0.0, -c);
    (v(front.z, 0.0, -front.x), front)
}

/// A world point in the body's frame.
pub(crate) fn to_body(p: V3) -> V3 {
    let d = p - FEET;
    let (across, front) = axes(BODY_TURN);
    // The weight is on one leg: the shoulders slope a little.
    let x = d.dot(across);
    v(x, d.y + 0.045 * x, d.dot(front))
}

/// A world point in the head's frame.
pub(crate) fn to_head(p: V3) -> V3 {
    let (ba, bf) = axes(BODY_TURN);
    let centre = FEET + ba * HEAD_AT.x + v(0.0, HEAD_AT.y, 0.0) + bf * HEAD_AT.z;
    let d = p - centre;
    let (across, front) = axes(HEAD_TURN);
    let q = v(d.dot(across), d.y, d.dot(front));
    let (s, c) = HEAD_TIP.sin_cos();
    v(q.x, c * q.y + s * q.z, c * q.z - s * q.y)
}

/// The world box that holds the figure, as its least and greatest corners.
pub(crate) fn bounds() -> (V3, V3) {
    (FEET + v(-0.40, 0.0, -0.40), FEET + v(0.40, 1.80, 0.40))
}

/// Distance to the figure from a world point, and what is nearest.
pub(crate) fn figure(p: V3) -> (f32, Cloth) {
    let b = to_body(p);
    let mut best = coat(b);
    let h = to_head(p);
    let off = h.len() - 0.20;
    if off < best.0 {
        if off > 0.06 {
            best = (off, Cloth::Cap);
        } else {
            let head = head(h);
            if head.0 < best.0 {
                best = head;
            }
        }
    }
    let near_neck = (b - v(0.0, 1.40, 0.03)).len() - 0.24;
    if near_neck < best.0 {
        let s = if near_neck > 0.06 {
            near_neck
        } else {
            scarf(b)
        };
        if s < best.0 {
            best = (s, Cloth::Scarf);
        }
    }
    best
}

/// The height of the cap's lower edge at depth `z` in the head's frame.
fn brim(z: f32) -> f32 {
    0.021 + 0.27 * z
}

fn head(p: V3) -> (f32, Cloth) {
    let q = v(p.x.abs(), p.y, p.z);
    let mut best = face(p, q);

    let eye = ball(q, EYE, 0.0125);
    if eye < best.0 {
        best = (eye, Cloth::Eye);
    }
    let strands = 0.0040 * (noise(v(p.x * 170.0, p.y * 14.0, p.z * 170.0)) - 0.5);
    let nape = egg(p, v(0.0, -0.030, -0.054), v(0.0715, 0.070, 0.058));
    let fall = rod(
        q,
        v(0.046, -0.03, -0.056),
        v(0.050, -0.135, -0.070),
        0.033,
        0.024,
    );
    // Close over the skull behind the temples, with a short lock before the ear.
    let front = p.z - 0.024 - 0.25 * p.y + 0.060 * smooth(-0.018, -0.040, p.y);
    let scalp = (skull(p) - 0.0035).max(front);
    let hair = smin(smin(nape, fall, 0.03), scalp, 0.010) + strands;
    if hair < best.0 {
        best = (hair, Cloth::Hair);
    }
    let cap = cap(p);
    if cap < best.0 {
        best = (cap, Cloth::Cap);
    }
    best
}

/// Centre of the eye on the positive side.
const EYE: V3 = v(0.0305, 0.002, 0.0685);

fn skull(p: V3) -> f32 {
    egg(p, v(0.0, 0.035, -0.012), v(0.0745, 0.088, 0.0985))
}

fn face(p: V3, q: V3) -> (f32, Cloth) {
    let mask = egg(p, v(0.0, -0.034, 0.020), v(0.0605, 0.084, 0.0655));
    let mut d = smin(skull(p), mask, 0.035);
    // Jaw and chin.
    let jaw = rod(
        q,
        v(0.050, -0.058, 0.002),
        v(0.013, -0.098, 0.064),
        0.017,
        0.014,
    );
    d = smin(d, jaw, 0.035);
    d = smin(
        d,
        egg(p, v(0.0, -0.1, 0.072), v(0.021, 0.0165, 0.0165)),
        0.022,
    );
    // Cheekbones, brow, and the hollow of the eye between them.
    d = smin(
        d,
        egg(q, v(0.044, -0.024, 0.054), v(0.020, 0.016, 0.022)),
        0.030,
    );
    d = smin(
        d,
        rod(
            q,
            v(0.012, 0.023, 0.081),
            v(0.045, 0.022, 0.063),
            0.0095,
            0.009,
        ),
        0.018,
    );
    d = carve(
        d,
        egg(q, v(0.031, 0.0015, 0.094), v(0.0215, 0.0130, 0.0225)),
        0.014,
    );
    d = carve(
        d,
        egg(q, v(0.036, -0.052, 0.088), v(0.012, 0.024, 0.014)),
        0.03,
    );
    // Nose: bridge, tip, wings, nostrils.
    let bridge = rod(
        p,
        v(0.0, 0.014, 0.082),
        v(0.0, -0.030, 0.104),
        0.0065,
        0.0085,
    );
    d = smin(d, bridge, 0.016);
    d = smin(
        d,
        egg(p, v(0.0, -0.0335, 0.1065), v(0.0100, 0.0090, 0.0105)),
        0.010,
    );
    d = smin(
        d,
        egg(q, v(0.0118, -0.0375, 0.0945), v(0.0062, 0.0068, 0.0098)),
        0.007,
    );
    d = carve(
        d,
        egg(q, v(0.0060, -0.0445, 0.1005), v(0.0030, 0.0035, 0.0052)),
        0.004,
    );
    // The part about the mouth, then the lips on it.
    d = smin(
        d,
        egg(p, v(0.0, -0.066, 0.071), v(0.029, 0.020, 0.0205)),
        0.022,
    );
    let (lip, line) = lips(p, q);
    let mut what = Cloth::Skin;
    if lip < d + 0.0006 {
        what = Cloth::Lips;
    }
    d = carve(smin(d, lip, 0.004), line, 0.0035);
    // Lids over the eyeball: a slightly larger ball with a slit left open.
    let e = q - EYE;
    let tilt = e.y - 0.10 * e.x + 10.0 * e.x * e.x;
    let lids = ball(q, EYE, 0.0139);
    let upper = lids.max(0.0042 - tilt);
    let lower = lids.max(e.y - 6.0 * e.x * e.x + 0.0046);
    d = smin(d, upper.min(lower), 0.0035);
    // Ear, neck.
    d = smin(d, ear(q), 0.006);
    d = smin(
        d,
        rod(p, v(0.0, -0.06, -0.018), v(0.0, -0.2, -0.04), 0.052, 0.056),
        0.03,
    );
    (d, what)
}

fn lips(p: V3, q: V3) -> (f32, f32) {
    // The mouth bends back around the teeth.
    let bend = 9.0 * p.x * p.x;
    let m = v(p.x, p.y - 1.5 * p.x * p.x, p.z + bend);
    let bow = 0.0012 * smooth(0.008, 0.0, (q.x - 0.006).abs());
    let upper = egg(
        m - v(0.0, bow, 0.0),
        v(0.0, -0.0610, 0.0885),
        v(0.0235, 0.0042, 0.0062),
    );
    let lower = egg(m, v(0.0, -0.0705, 0.0875), v(0.0205, 0.0054, 0.0066));
    let line = egg(m, v(0.0, -0.0655, 0.0965), v(0.0245, 0.0011, 0.0075));
    (upper.min(lower), line)
}

fn ear(q: V3) -> f32 {
    let e = q - v(0.0745, -0.014, -0.010);
    let t = v(
        e.x - 0.25 * e.z.min(0.0).abs(),
        e.y - 0.2 * e.z,
        e.z + 0.2 * e.y,
    );
    let shell = egg(t, V3::ZERO, v(0.0085, 0.0290, 0.0165));
    let bowl = egg(t, v(0.0080, 0.003, 0.003), v(0.0070, 0.0195, 0.0100));
    carve(shell, bowl, 0.004)
}

fn cap(p: V3) -> f32 {
    let line = brim(p.z);
    let slouch = 0.010 * (noise(p * 18.0 + v(3.0, 0.0, 0.0)) - 0.5);
    let around = p.x.atan2(p.z + 0.012);
    let ribs = (around * 44.0).sin();
    let rows = (p.y * 900.0 + 1.5 * (around * 22.0).sin()).sin();
    let crown = egg(p, v(0.0, 0.044, -0.016), v(0.0835, 0.097, 0.1085)) + slouch
        - 0.0007 * ribs
        - 0.0004 * rows;
    let crown = crown.max(line + 0.02 - p.y);
    let turn = egg(p, v(0.0, 0.030, -0.013), v(0.0905, 0.125, 0.1125)) - 0.0013 * ribs;
    let band = (p.y - line - 0.023 - 0.004 * noise(v(around * 3.0, 0.0, 1.0))).abs() - 0.021;
    let turn = carve(turn, -band, 0.010);
    smin(crown, turn, 0.004) * 0.85
}

fn scarf(b: V3) -> f32 {
    let folds = 0.010 * (fbm(v(b.x * 16.0, b.y * 34.0, b.z * 16.0), 2) - 0.5);
    let wrap = |y: f32, tilt: f32, big: f32, small: f32| {
        let c = v(b.x * 0.94, b.y - y - tilt * b.z, b.z + 0.005);
        let ring = reach(c.x, c.z) - big;
        (ring * ring + c.y * c.y * 0.62).sqrt() - small
    };
    let two = smin(
        wrap(1.452, -0.20, 0.067, 0.026),
        wrap(1.418, -0.32, 0.081, 0.030),
        0.006,
    );
    let tail = rod(
        v(b.x, b.y, (b.z - 0.09) * 1.6),
        v(-0.012, 1.40, 0.0),
        v(-0.020, 1.18, 0.055),
        0.034,
        0.040,
    );
    (smin(two, tail, 0.012) + folds) * 0.75
}

fn coat(b: V3) -> (f32, Cloth) {
    let q = v(b.x.abs(), b.y, b.z);
    let shoulder = rod(
        q,
        v(0.04, 1.412, -0.012),
        v(0.150, 1.366, -0.020),
        0.068,
        0.063,
    );
    let flat = v(b.x * 0.76, b.y, b.z * 1.04);
    let trunk = rod(
        flat,
        v(0.0, 1.27, -0.008),
        v(0.0, 0.62, -0.005),
        0.128,
        0.152,
    );
    let upper = rod(
        q,
        v(0.168, 1.350, -0.020),
        v(0.222, 1.07, -0.045),
        0.062,
        0.056,
    );
    let fore = rod(
        q,
        v(0.222, 1.07, -0.045),
        v(0.165, 0.84, 0.105),
        0.058,
        0.052,
    );
    let arm = smin(upper, fore, 0.03);
    let rough = smin(
        smin(trunk, shoulder, 0.085),
        smin(arm, shoulder, 0.03),
        0.018,
    );
    if rough > 0.08 {
        return (rough - 0.045, Cloth::Coat);
    }
    let folds = 0.016 * (fbm(v(b.x * 9.0, b.y * 5.0 + 3.0 * q.x, b.z * 9.0), 2) - 0.5);
    let elbow = smooth(0.22, 0.0, (b.y - 1.07).abs()) * smooth(0.12, 0.19, q.x);
    let creases = 0.005 * elbow * (b.y * 105.0 + 9.0 * noise(b * 14.0)).sin();
    let mut d = rough + folds + creases;
    let mut what = Cloth::Coat;
    if b.z > 0.0 {
        // The front edge laps over; two rows of buttons beside it.
        d -= 0.007 * smooth(0.030, 0.024, b.x - 0.03 * (b.y - 1.0)) * smooth(1.36, 1.30, b.y);
        let row = ((b.y - 0.74) / 0.135).round().clamp(0.0, 3.0) * 0.135 + 0.74;
        let off = v(q.x - 0.068, b.y - row, 0.0).len();
        if off < 0.014 {
            d -= 0.007 * smooth(0.0125, 0.0105, off);
            what = Cloth::Button;
        }
    }
    let lapel = lapels(b, q, rough + folds);
    let collar = collar(b);
    let seam =
        smooth(1.16, 1.24, b.y) * smooth(0.004, 0.0, (q.x - 0.164 + 0.1 * (b.y - 1.36)).abs());
    let all = smin(d, lapel, 0.004).min(collar) + 0.003 * seam;
    if lapel.min(collar) < d {
        what = Cloth::Coat;
    }
    (all * 0.72, what)
}

/// The turned-back fronts: a thin layer over the chest, narrowing to where the coat closes.
fn lapels(b: V3, q: V3, chest: f32) -> f32 {
    if b.z < -0.02 {
        return 1.0;
    }
    let down = (b.y - 1.14) / 0.30;
    let edge = mix(0.03, 0.135, down.clamp(0.0, 1.0)) - 0.03 * smooth(0.75, 0.80, down);
    let outline = (q.x - edge).max(1.13 - b.y).max(b.y - 1.43);
    (chest - 0.012).max(outline)
}

fn collar(b: V3) -> f32 {
    let c = v(b.x * 0.93, b.y, b.z + 0.012);
    let r = reach(c.x, c.z);
    let flare = 0.103 + 0.20 * (b.y - 1.44) + 0.006 * (noise(b * 20.0) - 0.5);
    let top = 1.492 - 0.25 * b.z.max(-0.02) + 0.05 * b.x.abs();
    let shell = (r - flare).abs() - 0.0075;
    let slab = (b.y - top).max(1.38 - b.y);
    let open = egg(b, v(0.0, 1.47, 0.115), v(0.072, 0.14, 0.085));
    carve(carve(shell, -slab, 0.008), open, 0.012)
}
