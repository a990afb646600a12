//! The ferry at her berth: distances and paint, in her own frame.
//!
//! +x is towards the bow, y up from the waterline, z across. Lengths are in metres.

use crate::maths::{V3, brick, carve, fbm, hash3, mix3, rod, smin, smooth, unit_of, v};

const CENTRE: V3 = v(-22.5, -2.0, 140.0);
const TURN: f32 = 0.56;

/// A world point in her frame.
pub(crate) fn to_ferry(p: V3) -> V3 {
    (p - CENTRE).turned(TURN)
}

/// A point of her frame in the world.
pub(crate) fn from_ferry(p: V3) -> V3 {
    p.turned(-TURN) + CENTRE
}

/// The world box that holds her.
pub(crate) fn bounds() -> (V3, V3) {
    (CENTRE + v(-19.5, -0.5, -15.5), CENTRE + v(19.5, 16.6, 15.5))
}

/// Her hull's half-beam at a length and height: full amidships, drawn in towards both ends.
fn half_beam(x: f32, y: f32) -> f32 {
    let end = smooth(9.0, 18.5, x.abs());
    5.0 * (1.0 - 0.55 * end * end) - 0.12 * (3.4 - y).max(0.0) * (0.4 + end)
}

/// A line of tube round the deck's edge: `half` sizes of the rectangle, tube radius `r`.
fn loop_of_tube(x: f32, y: f32, z: f32, half: (f32, f32), r: f32) -> f32 {
    let (dx, dz) = (x.abs() - half.0, z.abs() - half.1);
    let out = (dx.max(0.0) * dx.max(0.0) + dz.max(0.0) * dz.max(0.0)).sqrt();
    let edge = out + dx.max(dz).min(0.0);
    reach(edge, y) - r
}

/// Distance to the ferry from a point in her frame.
pub(crate) fn ferry(p: V3) -> f32 {
    let rough = brick(p - v(0.0, 6.0, 0.0), v(18.8, 9.8, 5.3), 0.1);
    if rough > 3.0 {
        return rough - 0.5;
    }
    let sheer = 0.9 * smooth(8.0, 18.0, p.x.abs());
    let rake = 18.4 - 0.55 * (3.2 + sheer - p.y).max(0.0);
    let side = p.z.abs() - half_beam(p.x, p.y);
    let mut d = side.max(p.y - 3.2 - sheer).max(p.x.abs() - rake) * 0.85;
    // Rubbing strake.
    d = d.min((side.abs() - 0.14).max((p.y - 2.55 - 0.8 * sheer).abs() - 0.12) * 0.85);
    // Deckhouses, each a little smaller than the one under it, with a lip of deck between.
    let car = brick(p - v(-0.3, 4.5, 0.0), v(14.6, 1.45, 4.55), 0.25);
    let saloon = brick(p - v(-0.2, 7.1, 0.0), v(11.8, 1.3, 4.15), 0.35);
    let lip = brick(p - v(-0.2, 5.95, 0.0), v(13.4, 0.09, 5.0), 0.05);
    let roof = brick(p - v(-0.2, 8.45, 0.0), v(12.6, 0.08, 4.75), 0.05);
    d = d.min(car).min(saloon).min(lip).min(roof);
    // Wheelhouse: a raked front under a brow, with wings.
    let w = p - v(6.6, 9.85, 0.0);
    let house = brick(v(w.x - 0.16 * w.y, w.y, w.z), v(2.3, 1.3, 2.9), 0.18);
    let brow = brick(w - v(0.2, 1.42, 0.0), v(2.9, 0.10, 3.4), 0.06);
    let wing = brick(w - v(0.5, -0.75, 0.0), v(0.8, 0.55, 4.7), 0.06);
    d = d.min(house * 0.95).min(brow).min(wing);
    // Funnel, leaning aft, and a mast with a yard.
    let f = p - v(-5.2, 10.2, 0.0);
    let funnel = brick(v(f.x + 0.22 * f.y, f.y, f.z), v(1.25, 1.9, 0.95), 0.35);
    let mast = rod(p, v(5.6, 11.0, 0.0), v(5.3, 15.4, 0.0), 0.13, 0.06);
    let yard = rod(p, v(5.42, 13.4, -1.3), v(5.42, 13.4, 1.3), 0.05, 0.05);
    d = d.min(carve(
        funnel,
        brick(f - v(-0.4, 2.0, 0.0), v(0.8, 0.4, 0.6), 0.1),
        0.1,
    ));
    d = d.min(mast).min(yard);
    d.min(fittings(p))
}

/// Rails with their stanchions, a boat in its davits, rafts, vents.
fn fittings(p: V3) -> f32 {
    let top = p - v(-0.2, 8.5, 0.0);
    let mut d = loop_of_tube(top.x, top.y - 1.05, top.z, (12.4, 4.6), 0.035);
    d = d.min(loop_of_tube(top.x, top.y - 0.55, top.z, (12.4, 4.6), 0.025));
    let cell = (top.x / 1.5).round().clamp(-8.0, 8.0) * 1.5;
    let post = v(top.x - cell, top.y, top.z.abs() - 4.6);
    d = d.min(rod(post, V3::ZERO, v(0.0, 1.05, 0.0), 0.03, 0.03));
    let boat = p - v(-0.8, 9.5, 0.0);
    let hull = rod(
        v(boat.x, boat.y * 1.1, boat.z.abs() - 3.6),
        v(-1.7, 0.0, 0.0),
        v(1.7, 0.0, 0.0),
        0.60,
        0.60,
    );
    d = d.min(hull * 0.9);
    let davit = v((boat.x).abs() - 1.5, boat.y + 0.9, boat.z.abs() - 3.4);
    d = d.min(rod(davit, V3::ZERO, v(0.0, 1.9, -0.1), 0.07, 0.06));
    let raft = p - v(-9.6, 9.0, 0.0);
    let cask = rod(
        v(raft.x, raft.y, raft.z.abs() - 3.2),
        v(-0.6, 0.0, 0.0),
        v(0.6, 0.0, 0.0),
        0.36,
        0.36,
    );
    d = d.min(cask);
    smin(d, brick(p - v(0.9, 9.0, 0.0), v(1.0, 0.5, 1.2), 0.1), 0.05)
}

/// Paint and lit openings of her sides: albedo, and light of her own.
pub(crate) fn paint(p: V3, n: V3) -> (V3, V3) {
    let white = v(0.52, 0.52, 0.50);
    let navy = v(0.020, 0.030, 0.045);
    let rust = v(0.12, 0.055, 0.030);
    let streak = fbm(v(p.x * 2.2, p.y * 0.25, p.z * 2.2), 3);
    let mut albedo = white * (0.80 + 0.35 * (streak - 0.5));
    let sheer = 0.9 * smooth(8.0, 18.0, p.x.abs());
    if p.y < 3.15 + sheer && p.z.abs() > 2.0 {
        albedo = navy * (0.8 + 0.8 * streak);
        if p.y > 2.3 + 0.8 * sheer && p.y < 2.75 + 0.8 * sheer {
            albedo = v(0.30, 0.29, 0.26);
        }
        albedo = mix3(
            albedo,
            rust,
            smooth(0.60, 0.74, streak) * smooth(1.4, 0.2, p.y),
        );
    }
    if p.y > 10.6 && p.x < -3.0 && p.x > -8.0 {
        albedo = if p.y > 11.5 {
            v(0.02, 0.02, 0.02)
        } else {
            v(0.30, 0.075, 0.045)
        };
    }
    if n.y > 0.7 {
        albedo = v(0.10, 0.13, 0.11);
    }
    if (p - v(-0.8, 9.5, p.z)).y.abs() < 0.62 && p.x.abs() < 2.6 && p.z.abs() > 3.0 && p.y > 8.9 {
        albedo = v(0.50, 0.19, 0.055);
    }
    let light = openings(p, n);
    if light.luma() > 0.0 {
        (albedo * 0.1, light)
    } else {
        (albedo, light)
    }
}

/// Her lit windows as rough water and wet stone mirror them: the rows run together, because the
/// spread of the mirrored look is wider than a window.
pub(crate) fn haze_of(world: V3) -> V3 {
    let p = to_ferry(world);
    let ends = smooth(13.5, 10.5, p.x.abs());
    let row = |y: f32, wide: f32| (-(p.y - y) * (p.y - y) / (wide * wide)).exp();
    let paint = v(0.030, 0.026, 0.021) * smooth(2.8, 3.6, p.y);
    paint + v(1.0, 0.76, 0.47) * (ends * (0.62 * row(7.1, 1.1) + 0.26 * row(4.6, 1.0)))
}

/// How far inside a rounded pane, as 0 or 1: `u`, `w` from its middle, half sizes `a`, `b`.
fn pane(u: f32, w: f32, a: f32, b: f32, r: f32) -> f32 {
    let (x, y) = ((u.abs() - a + r).max(0.0), (w.abs() - b + r).max(0.0));
    smooth(0.03, -0.03, reach(x, y) - r)
}

fn openings(p: V3, n: V3) -> V3 {
    let warm = v(1.0, 0.74, 0.44);
    let lamp = v(1.0, 0.86, 0.64);
    // Along each wall: the horizontal that runs in it.
    let along = if n.z.abs() > 0.6 { p.x } else { p.z };
    if n.y.abs() > 0.5 {
        return V3::ZERO;
    }
    if (5.9..8.3).contains(&p.y) {
        let cell = (along / 1.46).floor();
        let u = along - (cell + 0.5) * 1.46;
        let h = unit_of(hash3(cell as i32, 7, i32::from(n.z > 0.3)));
        let open = pane(u, p.y - 7.2, 0.54, 0.48, 0.12);
        if open <= 0.0 || h < 0.10 {
            return V3::ZERO;
        }
        // Ceiling brightest, seats and heads dark against it, here and there a drawn curtain.
        let ceiling = smooth(7.25, 7.66, p.y);
        let seat = (along / 0.73).floor();
        let across = along - (seat + 0.5) * 0.73;
        let taken = unit_of(hash3(seat as i32, 21, 4)) < 0.45;
        let (hx, hy) = (across, p.y - 7.04);
        let head = hx * hx * 1.4 + hy * hy < 0.021 || hx.abs() < 0.26 && p.y < 6.92;
        let dark = p.y < 6.80 || (taken && head);
        let inside = 0.55 + 1.9 * ceiling + 0.5 * h;
        let shade = if dark { 0.14 } else { 1.0 };
        let curtain = if h > 0.80 && u > 0.1 { 0.35 } else { 1.0 };
        return mix3(warm, lamp, ceiling) * (inside * shade * curtain * open * 0.85);
    }
    if (3.4..5.6).contains(&p.y) && n.z.abs() > 0.6 && p.x.abs() < 13.4 {
        let cell = (along / 3.3).floor();
        let u = along - (cell + 0.5) * 3.3;
        let open = pane(u, p.y - 4.65, 1.12, 0.55, 0.3);
        let tube = smooth(4.8, 5.15, p.y) * smooth(0.9, 0.5, (u - 0.1).abs());
        // Roofs of the cars aboard.
        let car = (along / 2.6).floor();
        let tall = 4.25 + 0.55 * unit_of(hash3(car as i32, 31, 2));
        let bonnet = 0.5 * smooth(0.9, 1.25, (along - (car + 0.5) * 2.6).abs());
        let vans = if p.y < tall - bonnet { 0.15 } else { 1.0 };
        return v(0.95, 0.80, 0.52) * (open * vans * (0.30 + 1.0 * tube));
    }
    if (9.0..11.2).contains(&p.y) && (3.9..9.6).contains(&p.x) && p.z.abs() < 3.0 {
        let cell = (along / 1.05).floor();
        let u = along - (cell + 0.5) * 1.05;
        let open = pane(u, p.y - 10.25, 0.44, 0.46, 0.08);
        let person = smooth(0.34, 0.28, (along - 0.9).abs()) * smooth(10.5, 10.4, p.y);
        let glow = 0.16 + 0.30 * smooth(10.1, 9.8, p.y);
        return v(0.85, 0.72, 0.42) * (open * glow * (1.0 - 0.9 * person));
    }
    // Hull: a row of small round ports.
    if (1.2..2.2).contains(&p.y) && p.x.abs() < 10.0 {
        let cell = (along / 2.2).floor();
        let (u, w) = (along - (cell + 0.5) * 2.2, p.y - 1.75);
        if u * u + w * w < 0.045 && unit_of(hash3(cell as i32, 3, 1)) > 0.45 {
            return warm * 0.9;
        }
    }
    V3::ZERO
}
