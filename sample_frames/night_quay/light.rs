//! Lamps, the sky's glow, and how a surface answers light.
//!
//! Every lamp is a glowing ball with a real size, so its light falls off and softens shadows as it
//! should. Gloss is the GGX law with Smith's masking (Walter et al. 2007), its visible normals
//! sampled as in Heitz 2018; Fresnel is Schlick's.

use std::f32::consts::PI;

use crate::ferry::from_ferry;
use crate::maths::{Dice, V3, disc, fbm, hash, mix3, smooth, unit_of, v};
use crate::place::{BANK, BULB, FLOOD, POSTS, WALL, skyline};

/// Which surfaces a lamp is worked out for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Reach {
    Everything,
    /// Not for the figure's skin and coat: too far away to tell.
    Surroundings,
    /// On water only: the far bank.
    Water,
    /// The ferry's own, on her and the water.
    Ferry,
    /// A soft source outside the picture that only the figure sees.
    Subject,
}

/// A glowing ball.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Lamp {
    pub(crate) at: V3,
    pub(crate) radius: f32,
    pub(crate) glow: V3,
    /// The way it shines, for a lamp in a hood; zero for all round.
    pub(crate) aim: V3,
    pub(crate) reach: Reach,
}

/// A point's surface, ready to be lit.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Surface {
    pub(crate) n: V3,
    pub(crate) albedo: V3,
    /// GGX roughness, and reflectance face on.
    pub(crate) alpha: f32,
    pub(crate) f0: f32,
    /// How far light wraps past the edge of shadow, by channel (skin).
    pub(crate) wrap: V3,
    pub(crate) emits: V3,
    /// Soft sheen at grazing angles (wool, hair).
    pub(crate) sheen: f32,
}

const SODIUM: V3 = v(1.0, 0.60, 0.205);
const TUNGSTEN: V3 = v(1.0, 0.76, 0.46);
const COOL: V3 = v(0.74, 0.98, 1.28);

/// Every lamp of the scene.
pub(crate) fn lamps() -> Vec<Lamp> {
    let mut all = Vec::new();
    let mut add = |at, radius, glow, reach| {
        all.push(Lamp {
            at,
            radius,
            glow,
            aim: V3::ZERO,
            reach,
        });
    };
    // Outside the picture: the post the figure stands under, and the yard's cool light behind.
    add(
        v(-2.35, 2.75, 3.15),
        0.30,
        mix3(SODIUM, TUNGSTEN, 0.55) * 48.0,
        Reach::Subject,
    );
    add(v(2.65, 2.75, 5.9), 0.16, COOL * 560.0, Reach::Subject);
    add(v(1.9, 2.1, 0.9), 0.8, v(1.35, 1.22, 1.15), Reach::Subject);
    for (i, (x, z)) in POSTS.iter().enumerate() {
        let drift = 0.85 + 0.3 * unit_of(hash(i as u32 + 11));
        let reach = if i < 2 {
            Reach::Everything
        } else {
            Reach::Surroundings
        };
        add(
            v(*x, 0.0, *z) + BULB,
            0.105,
            SODIUM * (430.0 * drift),
            reach,
        );
    }
    // The floodlight on the shed, and bulkhead lamps along its wall.
    for z in [20.5, 29.5, 38.5, 56.5, 65.5] {
        add(
            v(WALL - 0.22, 3.05, z),
            0.07,
            TUNGSTEN * 110.0,
            Reach::Surroundings,
        );
    }
    // The ferry: deck lamps, steaming light, sidelight.
    for x in [-11.0, -6.5, -2.0, 2.5, 7.0, 10.6] {
        add(
            from_ferry(v(x, 8.15, -4.55)),
            0.085,
            TUNGSTEN * 170.0,
            Reach::Ferry,
        );
    }
    for x in [-12.0, 12.0] {
        add(
            from_ferry(v(x, 5.6, -4.8)),
            0.085,
            TUNGSTEN * 170.0,
            Reach::Ferry,
        );
    }
    add(
        from_ferry(v(5.3, 15.3, 0.0)),
        0.11,
        v(1.0, 0.95, 0.85) * 190.0,
        Reach::Ferry,
    );
    add(
        from_ferry(v(7.1, 9.9, -4.95)),
        0.11,
        v(0.10, 1.0, 0.42) * 70.0,
        Reach::Ferry,
    );
    let aim = v(-0.30, -0.40, -1.0).unit();
    all.push(Lamp {
        at: FLOOD,
        radius: 0.15,
        glow: COOL * 1500.0,
        aim,
        reach: Reach::Everything,
    });
    far_bank(&mut all);
    all
}

/// Points of light across the estuary: most under a pixel wide.
fn far_bank(all: &mut Vec<Lamp>) {
    for i in 0..64_u32 {
        let r = |k: u32| unit_of(hash(i * 17 + k));
        let x = -330.0 + 620.0 * (i as f32 + r(1)) / 64.0;
        // Kept off the line of the passenger's face.
        if (38.0..50.0).contains(&x) {
            continue;
        }
        let top = skyline(x);
        let y = if r(2) < 0.55 {
            1.0 + 3.0 * r(3)
        } else {
            2.0 + (top - 4.0).max(1.0) * r(3)
        };
        let tint = match (r(4) * 8.0) as u32 {
            0..=3 => SODIUM,
            4 | 5 => TUNGSTEN,
            6 => COOL,
            _ => v(1.0, 0.10, 0.05),
        };
        let power = 2.5 * (4.3 * r(5)).exp();
        let radius = 0.10 + 0.10 * r(6);
        all.push(Lamp {
            at: v(x, y, BANK - 6.0 - 10.0 * r(7)),
            radius,
            glow: tint * power,
            aim: V3::ZERO,
            reach: Reach::Water,
        });
    }
}

/// The sky: glow of the town low down, thin cloud lit from under, dusk's last blue above.
pub(crate) fn sky(d: V3) -> V3 {
    let up = d.y.max(0.0);
    let side = (-(d.x + 0.30) * (d.x + 0.30) / 0.10).exp();
    let low = (-up / 0.030).exp();
    let mid = (-up / 0.105).exp();
    let town = v(1.0, 0.62, 0.36);
    let haze = v(0.62, 0.56, 0.60);
    let night = v(0.0085, 0.0125, 0.0205);
    let cloud = fbm(v(d.x * 6.0 / (up + 0.10), 1.0 / (up + 0.10) * 1.1, 2.0), 5);
    let cloud = smooth(0.36, 0.72, cloud);
    let base =
        town * (0.052 * low * (0.45 + 0.75 * side)) + haze * (0.026 * mid * (0.6 + 0.5 * side));
    base * (0.80 + 0.35 * cloud)
        + night * (1.0 - 0.35 * cloud)
        + mix3(town, haze, 0.5) * (0.011 * cloud * mid)
}

/// Light from all round on a surface facing `n`, as radiance of a white surface.
pub(crate) fn ambient(n: V3) -> V3 {
    let up = 0.5 + 0.5 * n.y;
    let side = 0.5 - 0.5 * n.x;
    let over = v(0.018, 0.021, 0.028);
    let under = v(0.015, 0.010, 0.0055);
    mix3(under, over, up) + v(0.017, 0.0115, 0.007) * (side * side)
}

/// Air between camera and a point `t` away: what is left of its light, and what the air adds.
pub(crate) fn air(t: f32, d: V3) -> (f32, V3) {
    let left = (-t / 1500.0).exp();
    (left, sky(v(d.x, 0.012, d.z)) * (1.0 - left))
}

pub(crate) fn fresnel(f0: f32, c: f32) -> f32 {
    let k = (1.0 - c).clamp(0.0, 1.0);
    f0 + (1.0 - f0) * k * k * k * k * k
}

fn masking(c: f32, a2: f32) -> f32 {
    2.0 * c / (c + (a2 + (1.0 - a2) * c * c).sqrt())
}

/// Light sent to `view` for light of unit radiance per unit solid angle arriving along `l`: the
/// law of the surface times the cosine.
pub(crate) fn answer(s: &Surface, view: V3, l: V3) -> V3 {
    let nl = s.n.dot(l);
    let w = s.wrap;
    let soft = |w: f32| {
        let c = ((nl + w) / (1.0 + w)).max(0.0);
        c * (1.0 + w * 0.4 * c) / ((1.0 + w) * (1.0 + 0.4 * w))
    };
    let mut out = v(soft(w.x), soft(w.y), soft(w.z)) * s.albedo * (1.0 / PI);
    if nl <= 0.0 {
        return out;
    }
    let nv = s.n.dot(view).max(0.02);
    let h = (view + l).unit();
    let nh = s.n.dot(h).clamp(0.0, 1.0);
    if s.f0 > 0.0 {
        let a2 = s.alpha * s.alpha;
        let k = nh * nh * (a2 - 1.0) + 1.0;
        let d = a2 / (PI * k * k);
        let g = masking(nl, a2) * masking(nv, a2);
        let f = fresnel(s.f0, h.dot(l).max(0.0));
        let gloss = d * g * f / (4.0 * nv);
        out = out * (1.0 - f) + v(gloss, gloss, gloss);
    }
    if s.sheen > 0.0 {
        let k = 1.0 - nv;
        out += s.albedo * (s.sheen * k * k * k * nl);
    }
    out
}

/// A lamp's light at `p`: direction, distance, radiance times solid angle.
pub(crate) fn arriving(lamp: &Lamp, p: V3, dice: &mut Dice) -> (V3, f32, V3) {
    let to = lamp.at - p;
    let axis = to.unit();
    let (a, b) = axis.basis();
    let (x, y) = disc(dice.pair());
    let aim = to + (a * x + b * y) * lamp.radius;
    let far = aim.len();
    let size = PI * lamp.radius * lamp.radius / to.len2();
    let hooded = lamp.aim.len2() > 0.0;
    let share = if hooded {
        smooth(0.0, 0.5, -axis.dot(lamp.aim))
    } else {
        1.0
    };
    (aim / far, far, lamp.glow * (size * share))
}

/// A direction mirrored in a rough surface, and its weight.
pub(crate) fn mirrored(s: &Surface, view: V3, dice: &mut Dice) -> (V3, f32) {
    let (t, b) = s.n.basis();
    let local = v(view.dot(t), view.dot(b), view.dot(s.n).max(0.01));
    let vh = v(s.alpha * local.x, s.alpha * local.y, local.z).unit();
    let flat = vh.x * vh.x + vh.y * vh.y;
    let t1 = if flat > 1e-9 {
        v(-vh.y, vh.x, 0.0) / flat.sqrt()
    } else {
        v(1.0, 0.0, 0.0)
    };
    let t2 = vh.cross(t1);
    let (x, y) = disc(dice.pair());
    let k = 0.5 * (1.0 + vh.z);
    let y = (1.0 - k) * (1.0 - x * x).max(0.0).sqrt() + k * y;
    let z = (1.0 - x * x - y * y).max(0.0).sqrt();
    let nh = t1 * x + t2 * y + vh * z;
    let m = v(s.alpha * nh.x, s.alpha * nh.y, nh.z.max(1e-4)).unit();
    let h = t * m.x + b * m.y + s.n * m.z;
    let mut l = h * (2.0 * view.dot(h)) - view;
    // A wave's back or a stone's flank would send it down: it meets the surface again and leaves.
    if l.dot(s.n) < 0.0 {
        l = l - s.n * (2.0 * l.dot(s.n));
    }
    let weight =
        fresnel(s.f0, view.dot(h).max(0.0)) * masking(l.dot(s.n).max(0.01), s.alpha * s.alpha);
    (l, weight)
}
