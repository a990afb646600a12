//! Light in the wheelhouse: dawn over the estuary through the window, a chart lamp, and what walls throw back.

use crate::light::{Lamp, Reach, Surface, answer, arriving, fresnel};
use crate::look::surface;
use crate::maths::{Dice, V3, fbm, mix, mix3, noise, reach, smooth, v};
use crate::place::{Hit, Kind, Place};
use crate::room::{BULB, CEILING, FAR, FLOOR, LEFT, Met, RIGHT, WINDOW, What, blocked, meet};

/// The chart lamp.
const LAMP: Lamp = Lamp {
    at: BULB,
    radius: 0.028,
    glow: v(62.0, 41.0, 20.0),
    aim: V3::ZERO,
    reach: Reach::Everything,
};
/// What a second look brings at most, so that no speck is left.
const MOST: f32 = 1.2;

/// The morning outside, from the wheelhouse's height: overcast, brightest low down.
fn outside(d: V3) -> V3 {
    if d.y >= 0.0 {
        let low = (-d.y / 0.16).exp();
        let cloud = fbm(v(d.x * 4.0 / (d.y + 0.14), 0.9 / (d.y + 0.14), 7.0), 5);
        let veil = 0.82 + 0.36 * smooth(0.30, 0.72, cloud);
        let sky = mix3(v(2.35, 2.55, 2.95), v(3.75, 3.45, 3.10), low) * veil;
        let top =
            0.022 + 0.014 * noise(v(d.x * 9.0, 0.0, 2.0)) + 0.010 * noise(v(d.x * 41.0, 3.0, 2.0));
        let land = mix3(
            v(0.50, 0.56, 0.62),
            v(0.95, 0.98, 1.02),
            noise(v(d.x * 24.0, d.y * 60.0, 5.0)),
        );
        return mix3(sky, land, smooth(top + 0.002, top - 0.002, d.y));
    }
    // Water: the sky mirrored low, broken by ripples that close up towards the far side.
    let far = 1.0 / (-d.y + 0.01);
    let ripple = fbm(v(d.x * far * 2.2, far * 0.9, 1.0), 4);
    let glance = (1.0 + d.y * 2.6).clamp(0.15, 1.0);
    let shine = v(2.75, 2.80, 2.95) * (0.55 + 0.75 * smooth(0.35, 0.65, ripple)) * glance;
    mix3(v(0.42, 0.52, 0.58), shine, 0.75)
}

/// Light from all round at a point, as radiance of a white surface: brighter towards the window.
fn bounced(p: V3, n: V3) -> V3 {
    let [x0, x1, y0, y1] = WINDOW;
    let to = v((x0 + x1) / 2.0, (y0 + y1) / 2.0, FAR) - p;
    let near = 1.0 / (1.0 + 0.18 * to.len2());
    let corner = |d: f32| smooth(-0.05, 0.55, d);
    let open =
        corner(p.x - LEFT) * corner(RIGHT - p.x) * corner(CEILING - p.y) * corner(p.y - FLOOR);
    let up = 0.5 + 0.5 * n.y;
    let tone = mix3(v(0.150, 0.140, 0.122), v(0.120, 0.124, 0.130), up);
    tone * ((0.75 + 1.9 * near) * (0.55 + 0.45 * open))
}

fn material(met: &Met) -> Surface {
    let (p, n) = (met.p, met.n);
    let plain = Surface {
        n,
        albedo: v(0.2, 0.2, 0.2),
        alpha: 0.35,
        f0: 0.0,
        wrap: V3::ZERO,
        emits: V3::ZERO,
        sheen: 0.0,
    };
    match met.what {
        What::Wall => boards(plain, p),
        What::Ceiling => Surface {
            albedo: v(0.42, 0.41, 0.37) * (0.9 + 0.2 * fbm(p * 3.0, 3)),
            ..plain
        },
        What::Floor => Surface {
            albedo: v(0.09, 0.07, 0.055),
            ..plain
        },
        What::Frame => Surface {
            albedo: v(0.13, 0.075, 0.040)
                * (0.7 + 0.6 * fbm(v(p.x * 6.0, p.y * 6.0, p.z * 40.0), 3)),
            alpha: 0.22,
            f0: 0.035,
            ..plain
        },
        What::Console => desk(plain, p),
        What::Wheel => Surface {
            albedo: v(0.10, 0.055, 0.028) * (0.7 + 0.5 * noise(p * 40.0)),
            alpha: 0.16,
            f0: 0.04,
            ..plain
        },
        What::Brass => Surface {
            albedo: v(0.16, 0.115, 0.05),
            alpha: 0.22,
            f0: 0.5,
            ..plain
        },
        What::Helmsman(cloth) => surface(&Hit {
            t: 4.0,
            p,
            n,
            kind: Kind::Figure(cloth),
        }),
        What::Outside => plain,
    }
}

/// Painted boards, a dark dado under a rail, and a chart pinned up on the right.
fn boards(plain: Surface, p: V3) -> Surface {
    let across = p.x + p.z;
    let groove = smooth(0.006, 0.002, ((across / 0.11).fract() - 0.5).abs() * 0.11);
    let worn = fbm(v(across * 3.0, p.y * 1.1, 1.0), 4);
    let mut albedo = v(0.34, 0.335, 0.29) * (0.80 + 0.4 * (worn - 0.3));
    if p.y < 1.0 {
        albedo = v(0.055, 0.085, 0.075) * (0.8 + 0.5 * worn);
    }
    if (p.y - 1.0).abs() < 0.03 {
        albedo = v(0.10, 0.06, 0.035);
    }
    albedo = albedo * (1.0 - 0.65 * groove);
    let chart = (p.x - 1.30).abs() < 0.42 && (p.y - 1.74).abs() < 0.30 && p.z > FAR - 0.01;
    if chart {
        let shore = fbm(v(p.x * 5.0, p.y * 5.0, 9.0), 4);
        let land = smooth(0.52, 0.54, shore);
        let line = smooth(0.012, 0.004, (shore - 0.53).abs())
            + 0.5 * smooth(0.006, 0.002, (shore - 0.44).abs());
        let grid = smooth(0.004, 0.001, ((p.x * 8.0).fract() - 0.5).abs() / 8.0)
            + smooth(0.004, 0.001, ((p.y * 8.0).fract() - 0.5).abs() / 8.0);
        albedo = mix3(v(0.50, 0.52, 0.50), v(0.50, 0.44, 0.31), land)
            * (1.0 - (0.75 * line + 0.18 * grid).min(0.8));
    }
    Surface { albedo, ..plain }
}

/// The console's top: dark paint, round dials with lit faces, switches.
fn desk(plain: Surface, p: V3) -> Surface {
    let mut albedo = v(0.040, 0.046, 0.046) * (0.8 + 0.5 * fbm(p * 9.0, 3));
    let mut emits = V3::ZERO;
    if plain.n.z < -0.5 && p.x < 0.1 {
        let cell = (p.x / 0.36).round();
        let (u, w) = (p.x - cell * 0.36, p.y - 0.70);
        let r = reach(u, w);
        let face = smooth(0.086, 0.082, r);
        let hand = smooth(0.006, 0.003, (u * (0.7 + 0.2 * cell) - w * 0.6).abs())
            * smooth(0.075, 0.070, r);
        let tick =
            smooth(0.5, 0.8, (w.atan2(u) * 9.5).cos()) * smooth(0.010, 0.004, (r - 0.070).abs());
        let glow = face * (0.18 + 0.82 * (hand + tick).min(1.0));
        emits = v(0.20, 0.36, 0.28) * (0.55 * glow);
        albedo = mix3(albedo, v(0.02, 0.02, 0.02), face);
        let ring = smooth(0.012, 0.006, (r - 0.094).abs());
        albedo = mix3(albedo, v(0.30, 0.27, 0.20), ring);
    }
    if p.x > 0.5 && p.y > 1.08 {
        albedo = v(0.16, 0.095, 0.05) * (0.7 + 0.5 * fbm(v(p.x * 3.0, 0.0, p.z * 30.0), 3));
    }
    Surface {
        albedo,
        emits,
        alpha: 0.25,
        f0: 0.035,
        ..plain
    }
}

/// A look through the window from `p`: direction, how far the opening is, and radiance times solid angle.
fn from_window(p: V3, dice: &mut Dice) -> (V3, f32, V3) {
    let [x0, x1, y0, y1] = WINDOW;
    let (a, b) = dice.pair();
    let to = v(mix(x0, x1, a), mix(y0, y1, b), FAR - 0.002) - p;
    let far = to.len();
    let l = to / far;
    let size = (x1 - x0) * (y1 - y0) * l.z.max(0.0) / (far * far);
    (l, far, outside(l) * size)
}

/// The same through a side window out of the picture, on the left: its sky is even.
fn from_side(p: V3, dice: &mut Dice) -> (V3, f32, V3) {
    let (a, b) = dice.pair();
    let to = v(LEFT + 0.002, mix(1.1, 2.1, a), mix(1.2, 3.0, b)) - p;
    let far = to.len();
    let l = to / far;
    let size = 1.8 * (-l.x).max(0.0) / (far * far);
    (l, far, v(1.85, 1.90, 2.05) * size)
}

fn lit(met: &Met, s: &Surface, view: V3, dice: &mut Dice, looks: u32) -> V3 {
    let skin = matches!(met.what, What::Helmsman(_));
    let open = if skin {
        Place::openness(met.p, met.n)
    } else {
        1.0
    };
    let mut sum = s.albedo * bounced(met.p, met.n) * open;
    let start = met.p + met.n * 0.006;
    let mut add = |(l, far, power): (V3, f32, V3), share: f32, short: f32| {
        let back = if skin { -0.25 } else { 0.0 };
        if s.n.dot(l) <= back {
            return;
        }
        let got = answer(s, view, l) * power * share;
        if got.luma() > 1e-5 && !blocked(start, l, far - short) {
            sum += got;
        }
    };
    for _ in 0..looks {
        add(from_window(met.p, dice), 1.0 / looks as f32, 0.01);
        add(from_side(met.p, dice), 1.0 / looks as f32, 0.01);
    }
    // The lamp hangs in its shade: it lights what is below it and beside it.
    let lamp = arriving(&LAMP, met.p, dice);
    let down = smooth(-0.25, 0.35, lamp.0.y);
    add((lamp.0, lamp.1, lamp.2 * down), 1.0, 0.06);
    sum
}

/// Light arriving at `o` from direction `d`.
pub(crate) fn light(o: V3, d: V3, dice: &mut Dice) -> V3 {
    let to = LAMP.at - o;
    let t = to.dot(d);
    let met = meet(o, d);
    let bulb = to.len2() - t * t < LAMP.radius * LAMP.radius;
    if bulb && t < (met.p - o).len() {
        return LAMP.glow;
    }
    if met.what == What::Outside {
        return outside(d);
    }
    let s = material(&met);
    let mut sum = s.emits + lit(&met, &s, -d, dice, 2);
    if s.f0 > 0.0 && !matches!(met.what, What::Helmsman(_)) {
        let (a, b) = dice.pair();
        let rough = v(a - 0.5, b - 0.5, a * b - 0.25) * (0.5 * s.alpha);
        let l = (d - s.n * (2.0 * d.dot(s.n)) + rough).unit();
        if l.dot(s.n) > 0.0 {
            let next = meet(met.p + s.n * 0.004, l);
            let seen = if next.what == What::Outside {
                // Mirrored already by `lit`, where the window is looked at by chance.
                V3::ZERO
            } else {
                let t = material(&next);
                t.emits + lit(&next, &t, -l, dice, 1)
            };
            let k = fresnel(s.f0, -d.dot(s.n));
            sum += seen * (k * (MOST / seen.luma().max(MOST)));
        }
    }
    sum
}
