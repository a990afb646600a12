//! The quay's light a quarter of an hour after sunset: all of it from the sky.

use crate::light::{Surface, fresnel, mirrored};
use crate::look::surface;
use crate::maths::{Dice, V3, fbm, mix3, smooth, v};
use crate::place::{Hit, Kind, Place};

/// Looks mirrored to each sample.
const TAPS: u32 = 2;
/// Where the sun went down, as a direction's x.
const AFTERGLOW: f32 = -0.22;

/// The sky: an afterglow low down, thin cloud lit from under, a paling blue above.
fn sky(d: V3) -> V3 {
    let up = d.y.max(0.0);
    let side = (-(d.x - AFTERGLOW) * (d.x - AFTERGLOW) / 0.22).exp();
    let low = (-up / 0.085).exp();
    let mid = (-up / 0.26).exp();
    let glow = v(2.10, 1.12, 0.45) * (low * (0.30 + 0.70 * side));
    let pale = v(1.25, 0.98, 0.78) * (mid * (0.55 + 0.45 * side));
    let blue = v(0.30, 0.38, 0.52) * (0.85 + 0.5 * (-up / 0.5).exp());
    let far = 1.0 / (up + 0.09);
    let cloud = fbm(v(d.x * 3.2 * far, 0.62 * far, 4.0), 5);
    let cloud = smooth(0.50, 0.78, cloud) * smooth(0.02, 0.10, up);
    let lit = v(1.65, 0.80, 0.46) * (0.35 + 0.65 * side) * (-up / 0.30).exp() + v(0.26, 0.27, 0.33);
    mix3(glow + pale + blue, lit, 0.40 * cloud)
}

/// Light from all round on a surface facing `n`, as radiance of a white surface.
fn ambient(n: V3) -> V3 {
    let up = 0.5 + 0.5 * n.y;
    let glow = (0.5 + 0.5 * (0.93 * n.z + 0.28 * -n.x)).clamp(0.0, 1.0);
    let over = v(0.30, 0.35, 0.44);
    let under = v(0.060, 0.052, 0.047);
    mix3(under, over, up) + v(0.42, 0.25, 0.12) * (glow * glow)
}

/// Air between the eye and a point `t` away: what is left of its light, and what the air adds.
fn air(t: f32, d: V3) -> (f32, V3) {
    let left = (-t / 1900.0).exp();
    (left, sky(v(d.x, 0.03, d.z)) * (0.62 * (1.0 - left)))
}

/// What a surface sends back of the sky's light, its lamps included.
fn lit(hit: &Hit, s: &Surface) -> V3 {
    if hit.kind == Kind::Bank {
        // Land and roofs against the glow, their windows lit.
        return s.emits * 3.0 + v(0.050, 0.046, 0.048);
    }
    let open = if matches!(hit.kind, Kind::Figure(_)) {
        Place::openness(hit.p, hit.n)
    } else {
        1.0
    };
    let lamps = if hit.kind == Kind::Ferry { 2.2 } else { 1.0 };
    s.emits * lamps + s.albedo * ambient(s.n) * open
}

/// Light arriving at `o` from direction `d`.
pub(crate) fn light(place: &Place, o: V3, d: V3, dice: &mut Dice) -> V3 {
    let hit = place.meet(o, d);
    if hit.kind == Kind::Sky {
        return sky(d);
    }
    let s = surface(&hit);
    let mut sum = lit(&hit, &s);
    if s.f0 > 0.0 {
        sum += match hit.kind {
            Kind::Ground | Kind::Water => mirror(place, &hit, &s, -d, dice),
            _ => ambient(s.n) * (0.5 * fresnel(s.f0, s.n.dot(-d).max(0.0))),
        };
    }
    let (left, added) = air(hit.t, d);
    sum * left + added
}

fn mirror(place: &Place, hit: &Hit, s: &Surface, view: V3, dice: &mut Dice) -> V3 {
    let mut sum = V3::ZERO;
    for _ in 0..TAPS {
        let (l, weight) = mirrored(s, view, dice);
        let next = place.meet(hit.p + hit.n * 0.01, l);
        let seen = if next.kind == Kind::Sky {
            sky(l)
        } else {
            let (left, added) = air(next.t, l);
            lit(&next, &surface(&next)) * left + added
        };
        sum += seen * weight;
    }
    sum / TAPS as f32
}
