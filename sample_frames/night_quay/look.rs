//! What each surface is like where a ray meets it: colour, gloss, grain.

use crate::ferry::{paint, to_ferry};
use crate::figure::{Cloth, to_body, to_head};
use crate::light::Surface;
use crate::maths::{V3, fbm, hash3, mix, mix3, noise, smooth, unit_of, v};
use crate::place::{EDGE, Hit, Kind, WALL};

const BARE: Surface = Surface {
    n: V3::ZERO,
    albedo: V3::ZERO,
    alpha: 0.5,
    f0: 0.0,
    wrap: V3::ZERO,
    emits: V3::ZERO,
    sheen: 0.0,
};

/// The surface at a hit.
pub(crate) fn surface(hit: &Hit) -> Surface {
    let plain = Surface { n: hit.n, ..BARE };
    match hit.kind {
        Kind::Sky => plain,
        Kind::Bank => Surface {
            albedo: V3::ZERO,
            emits: bank(hit.p),
            ..plain
        },
        Kind::Ground => paving(hit),
        Kind::Water => water(hit),
        Kind::Figure(cloth) => dressed(hit, cloth),
        Kind::Ferry => {
            let p = to_ferry(hit.p);
            let n = to_ferry(hit.p + hit.n) - p;
            let (albedo, emits) = paint(p, n);
            Surface {
                albedo,
                emits,
                ..plain
            }
        }
        Kind::Iron => {
            let wear = fbm(hit.p * 9.0, 3);
            Surface {
                albedo: v(0.020, 0.021, 0.022) * (0.6 + 0.8 * wear),
                alpha: 0.28,
                f0: 0.05,
                ..plain
            }
        }
        Kind::Shed => shed(hit),
        Kind::Timber => {
            let p = hit.p;
            let board = (p.y * 6.0).floor();
            let grain = fbm(v(p.x * 3.0 + board * 7.0, p.y * 40.0, p.z * 3.0), 3);
            let gap = if (p.y * 6.0).fract() < 0.12 {
                0.25
            } else {
                1.0
            };
            Surface {
                albedo: v(0.145, 0.105, 0.068) * ((0.55 + 0.9 * grain) * gap),
                alpha: 0.35,
                f0: 0.025,
                ..plain
            }
        }
    }
}

/// A normal leant by the slope of a height field given as a function of position.
fn leant(n: V3, p: V3, step: f32, height: impl Fn(V3) -> f32) -> V3 {
    let h = height(p);
    let (a, b) = n.basis();
    let slope = |d: V3| (height(p + d * step) - h) / step;
    (n - a * slope(a) - b * slope(b)).unit()
}

fn bank(p: V3) -> V3 {
    // Dark land with a breath of street light along the water and a few dim windows.
    let street = (-(p.y - 1.0).max(0.0) / 4.0).exp();
    let patch = noise(v(p.x / 22.0, 0.0, 4.0));
    let cell = hash3((p.x / 0.55).floor() as i32, (p.y / 0.8).floor() as i32, 5);
    let pane = f32::from(unit_of(cell) > 0.982) * unit_of(cell.rotate_left(9));
    v(0.0052, 0.0054, 0.0066)
        + v(0.034, 0.020, 0.009) * (street * patch * patch)
        + v(0.16, 0.105, 0.055) * pane
}

fn paving(hit: &Hit) -> Surface {
    let p = hit.p;
    let far = hit.t;
    // Footprint along the view: what is finer than this is roughness rather than shape.
    let foot = far * far * 0.000_45 / 1.5;
    let fine = smooth(0.30, 0.03, foot);
    let coping = p.x < EDGE + 0.75;
    let wetness = fbm(v(p.x * 0.55, 0.0, p.z * 0.26), 4);
    let dip = smooth(0.475, 0.545, wetness + 0.025 * noise(p * 5.0));
    let puddle = if coping { 0.25 * dip } else { dip };
    let (stone, joint, lean) = if coping { slab_stone(p) } else { sett(p) };
    let grain = fbm(v(p.x * 38.0, 0.0, p.z * 38.0), 3);
    let dry = v(0.066, 0.062, 0.058) * ((0.55 + 0.9 * stone) * (0.7 + 0.6 * grain));
    let albedo = mix3(dry, v(0.022, 0.020, 0.018), joint * 0.8 * fine);
    let albedo = mix3(albedo, albedo * 0.45, puddle);
    let swell = |q: V3| {
        0.0011 * noise(v(q.x * 7.0, 0.0, q.z * 7.0)) + 0.0030 * noise(v(q.x * 1.6, 1.0, q.z * 1.6))
    };
    let still = leant(v(0.0, 1.0, 0.0), p, 0.02, swell);
    let rough = leant(v(0.0, 1.0, 0.0), p, 0.006, |q| {
        0.0045 * fbm(v(q.x * 26.0, 0.0, q.z * 26.0), 2)
    });
    let uneven = (rough + lean * fine).unit();
    let n = mix3(uneven, still, puddle).unit();
    let alpha = mix(
        0.16 + 0.14 * stone + 0.12 * joint * fine,
        0.030 + 0.03 * (1.0 - fine),
        puddle,
    );
    let film =
        mix(0.55 + 0.35 * smooth(0.38, 0.5, wetness), 1.0, puddle) * (1.0 - 0.5 * joint * fine);
    let mut albedo = albedo;
    // A worn white line along the edge.
    let line = smooth(0.07, 0.055, (p.x - (EDGE + 1.15)).abs());
    let worn = smooth(0.40, 0.56, fbm(v(p.x * 9.0, 2.0, p.z * 3.0), 4));
    albedo = mix3(
        albedo,
        v(0.24, 0.23, 0.20),
        line * worn * (1.0 - 0.7 * puddle),
    );
    Surface {
        n,
        albedo,
        alpha,
        f0: 0.022 * film,
        ..BARE
    }
}

/// Granite setts laid in rows across the quay: each one's shade, its joint, its own lean.
fn sett(p: V3) -> (f32, f32, V3) {
    let row = (p.z / 0.145).floor();
    let shift = unit_of(hash3(row as i32, 1, 1)) * 0.23;
    let col = ((p.x + shift) / 0.23).floor();
    let (u, w) = ((p.x + shift) / 0.23 - col, p.z / 0.145 - row);
    let id = hash3(col as i32, row as i32, 2);
    let edge = ((0.5 - (u - 0.5).abs()) * 0.23).min((0.5 - (w - 0.5).abs()) * 0.145);
    let joint = smooth(0.013, 0.004, edge);
    let round = smooth(0.045, 0.0, edge);
    let lean = v(
        0.05 * (unit_of(id) - 0.5) + 0.22 * round * (u - 0.5),
        0.0,
        0.05 * (unit_of(id.rotate_left(7)) - 0.5) + 0.16 * round * (w - 0.5),
    );
    (unit_of(id.rotate_left(13)), joint, lean)
}

/// The edge's long stones.
fn slab_stone(p: V3) -> (f32, f32, V3) {
    let row = (p.z / 1.6).floor();
    let w = p.z / 1.6 - row;
    let edge = ((0.5 - (w - 0.5).abs()) * 1.6).min((EDGE + 0.75 - p.x).abs());
    let id = hash3(row as i32, 4, 4);
    let lean = v(
        0.012 * (unit_of(id) - 0.5),
        0.0,
        0.012 * (unit_of(id.rotate_left(9)) - 0.5),
    );
    (0.55 + 0.5 * unit_of(id), smooth(0.02, 0.006, edge), lean)
}

fn water(hit: &Hit) -> Surface {
    let p = hit.p;
    let near = smooth(160.0, 25.0, hit.t);
    let wave = |q: V3| {
        let a = 0.115 * noise(v(q.x * 0.30 + 3.0, 0.0, q.z * 0.36 + 0.1 * q.x));
        let b = 0.040 * noise(v(q.x * 0.95, 5.0, q.z * 1.15 - 0.3 * q.x));
        let c = 0.0070 * noise(v(q.x * 3.6, 8.0, q.z * 4.3));
        a + b + c * near
    };
    let n = leant(v(0.0, 1.0, 0.0), p, 0.06, wave);
    let calm = fbm(v(p.x * 0.03, 0.0, p.z * 0.012), 3);
    let n = mix3(v(0.0, 1.0, 0.0), n, 0.55 + 0.75 * calm).unit();
    Surface {
        n,
        albedo: v(0.004, 0.0065, 0.0065),
        alpha: mix(0.115, 0.06, near),
        f0: 0.02,
        ..BARE
    }
}

fn shed(hit: &Hit) -> Surface {
    let p = hit.p;
    let stain = fbm(v(p.x, p.y * 0.35, p.z * 1.3), 4);
    let mut albedo = v(0.105, 0.120, 0.122) * (0.55 + 0.9 * stain);
    let rust = smooth(0.56, 0.70, fbm(v(4.0, p.y * 0.5, p.z * 2.4), 4));
    albedo = mix3(albedo, v(0.12, 0.055, 0.030), rust * 0.6);
    if p.y < 1.0 {
        albedo = v(0.095, 0.090, 0.082) * (0.5 + 0.9 * fbm(p * 6.0, 3));
    }
    let mut emits = V3::ZERO;
    // Sliding doors and a row of high panes, some lit from inside.
    let bay = ((p.z - 25.0) / 18.0).round() * 18.0 + 25.0;
    if (p.z - bay).abs() < 2.3 && p.y < 3.7 && p.x < WALL + 0.1 {
        let panel = ((p.z - bay).abs() - 1.15).abs() < 0.03 || (p.z - bay).abs() < 0.03;
        albedo = v(0.032, 0.052, 0.060) * (0.6 + 0.7 * stain);
        if panel {
            albedo = albedo * 0.3;
        }
    }
    if (4.05..4.75).contains(&p.y) && p.x < WALL + 0.1 {
        let cell = (p.z / 1.1).floor();
        let u = p.z - (cell + 0.5) * 1.1;
        if u.abs() < 0.47 && (u.abs() - 0.23).abs() > 0.02 && (p.y - 4.4).abs() > 0.02 {
            let h = unit_of(hash3((cell / 3.0).floor() as i32, 9, 2));
            albedo = v(0.012, 0.014, 0.015);
            if h > 0.55 {
                emits = v(0.34, 0.24, 0.125) * (0.4 + h * noise(p * 2.2));
            }
        }
    }
    Surface {
        n: hit.n,
        albedo,
        alpha: 0.35,
        f0: 0.03,
        emits,
        ..BARE
    }
}

fn dressed(hit: &Hit, cloth: Cloth) -> Surface {
    let (h, b) = (to_head(hit.p), to_body(hit.p));
    let n = hit.n;
    let plain = Surface { n, ..BARE };
    match cloth {
        Cloth::Skin | Cloth::Lips => skin(hit, h, cloth == Cloth::Lips),
        Cloth::Eye => {
            let e = v(h.x.abs(), h.y, h.z) - v(0.0305, 0.002, 0.0685);
            let gaze = v(0.16 * h.x.signum() * -0.2, -0.03, 1.0).unit();
            let off = (e - gaze * e.dot(gaze)).len();
            let iris = smooth(0.0062, 0.0054, off);
            let pupil = smooth(0.0028, 0.0022, off);
            let white = v(0.30, 0.27, 0.25) * (0.55 + 0.45 * smooth(0.010, 0.004, off));
            let albedo = mix3(
                mix3(white, v(0.045, 0.032, 0.022), iris),
                v(0.004, 0.004, 0.004),
                pupil,
            );
            Surface {
                albedo,
                alpha: 0.09,
                f0: 0.035,
                wrap: v(0.2, 0.15, 0.12),
                ..plain
            }
        }
        Cloth::Hair => {
            let strand = noise(v(h.x * 1500.0, h.y * 30.0, h.z * 1500.0));
            let lock = noise(v(h.x * 240.0, h.y * 16.0, h.z * 240.0));
            let bump = |q: V3| 0.0011 * noise(v(q.x * 800.0, q.y * 25.0, q.z * 800.0));
            Surface {
                n: leant(n, hit.p, 0.0006, bump),
                albedo: v(0.050, 0.030, 0.018) * (0.35 + 0.8 * strand + 0.5 * lock),
                alpha: 0.30,
                f0: 0.045 * (0.4 + strand),
                sheen: 0.4,
                ..plain
            }
        }
        Cloth::Cap => {
            let around = h.x.atan2(h.z + 0.012);
            let knit = 0.5 + 0.5 * (around * 44.0).sin();
            let fleck = noise(hit.p * 900.0);
            let fuzz = |q: V3| 0.0007 * fbm(q * 650.0, 2);
            Surface {
                n: leant(n, hit.p, 0.0007, fuzz),
                albedo: v(0.098, 0.030, 0.024) * (0.55 + 0.35 * knit + 0.45 * fleck),
                sheen: 0.8,
                ..plain
            }
        }
        Cloth::Scarf => {
            let weave = (b.y * 620.0 + 60.0 * b.x).sin() * (b.x * 560.0 - b.z * 500.0).sin();
            let fleck = noise(hit.p * 800.0);
            let stripe = smooth(0.2, 0.4, ((b.y - 0.25 * b.x.abs()) * 24.0).fract() - 0.45);
            let base = mix3(v(0.150, 0.125, 0.085), v(0.040, 0.050, 0.058), stripe);
            let bump = |q: V3| 0.0009 * fbm(q * 420.0, 2);
            Surface {
                n: leant(n, hit.p, 0.001, bump),
                albedo: base * (0.62 + 0.22 * weave + 0.40 * fleck),
                sheen: 0.7,
                ..plain
            }
        }
        Cloth::Coat => {
            // A heavy twill: fine diagonal ridges, flecked, with a nap that catches light.
            let twill = ((b.x * 0.8 + b.y + b.z * 0.6) * 1050.0).sin();
            let fleck = fbm(hit.p * 520.0, 2);
            let worn = fbm(hit.p * 11.0, 3);
            let bump = |q: V3| 0.0011 * fbm(q * 330.0, 2);
            Surface {
                n: leant(n, hit.p, 0.0012, bump),
                albedo: v(0.026, 0.031, 0.042)
                    * (0.35 + 0.14 * twill + 0.75 * fleck + 0.35 * (worn - 0.5)),
                alpha: 0.55,
                f0: 0.012,
                sheen: 1.0,
                ..plain
            }
        }
        Cloth::Button => Surface {
            albedo: v(0.018, 0.014, 0.011),
            alpha: 0.16,
            f0: 0.045,
            ..plain
        },
    }
}

fn skin(hit: &Hit, h: V3, lips: bool) -> Surface {
    let mottle = fbm(h * 95.0, 3) - 0.5;
    let pores = |q: V3| 0.000_14 * noise(q * 900.0) + 0.000_17 * noise(q * 380.0);
    let n = leant(hit.n, hit.p, 0.0005, pores);
    let mut albedo = v(0.42, 0.285, 0.205) * (1.0 + 0.22 * mottle);
    // Blood near the surface of nose, cheeks and ears, after an hour in the wind.
    let q = v(h.x.abs(), h.y, h.z);
    let nose = smooth(0.028, 0.006, (q - v(0.0, -0.034, 0.105)).len());
    let cheek = smooth(0.042, 0.004, (q - v(0.046, -0.030, 0.062)).len());
    let ear = smooth(0.040, 0.015, (q - v(0.076, -0.012, -0.008)).len());
    let red = (0.5 * nose + 0.25 * cheek + 0.5 * ear).min(0.7);
    albedo = mix3(albedo, v(0.40, 0.20, 0.145), red);
    // Brows: short hairs along the ridge.
    let ridge = (q.y - 0.0205 - 0.10 * (q.x - 0.012)
        + 3.2 * (q.x - 0.028).max(0.0) * (q.x - 0.028).max(0.0))
    .abs();
    let brow = smooth(
        0.0054,
        0.0014,
        ridge + 0.0026 * noise(v(q.x * 900.0, q.y * 500.0, 1.0)),
    ) * smooth(0.008, 0.014, q.x)
        * smooth(0.052, 0.043, q.x)
        * f32::from(q.z > 0.03);
    albedo = mix3(albedo, v(0.055, 0.034, 0.022), 0.62 * brow);
    // Lashes and the shade along the lids' edge.
    let e = q - v(0.0305, 0.002, 0.0685);
    let tilt = e.y - 0.10 * e.x + 10.0 * e.x * e.x;
    let lash = smooth(0.0018, 0.0003, (tilt - 0.0042).abs()) * smooth(0.0165, 0.0145, e.len());
    albedo = mix3(
        albedo,
        v(0.025, 0.016, 0.012),
        0.85 * lash * f32::from(e.z > 0.0),
    );
    // Two days' beard: flecks along jaw and lip.
    let jaw = smooth(
        -0.040,
        -0.062,
        q.y + 0.35 * (q.z - 0.08).max(-0.06).abs() - 0.018,
    );
    let fleck = smooth(0.45, 0.75, noise(h * 1100.0));
    albedo = mix3(albedo, v(0.13, 0.095, 0.08), jaw * (0.14 + 0.30 * fleck));
    if lips {
        albedo = mix3(albedo, v(0.30, 0.135, 0.105), 0.75);
    }
    Surface {
        n,
        albedo,
        alpha: if lips { 0.30 } else { 0.40 },
        f0: 0.026,
        wrap: v(0.24, 0.15, 0.11),
        ..BARE
    }
}
