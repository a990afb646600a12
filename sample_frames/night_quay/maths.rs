//! Vectors, noise, signed-distance helpers and the sample sequence: what every other part leans on.

use std::ops::{Add, AddAssign, Div, Mul, Neg, Sub};

/// A point, a direction or linear AP1 light.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(crate) struct V3 {
    pub(crate) x: f32,
    pub(crate) y: f32,
    pub(crate) z: f32,
}

/// Shorthand for a vector.
pub(crate) const fn v(x: f32, y: f32, z: f32) -> V3 {
    V3 { x, y, z }
}

impl V3 {
    pub(crate) const ZERO: Self = v(0.0, 0.0, 0.0);

    pub(crate) fn dot(self, o: Self) -> f32 {
        self.x * o.x + self.y * o.y + self.z * o.z
    }
    pub(crate) fn cross(self, o: Self) -> Self {
        v(
            self.y * o.z - self.z * o.y,
            self.z * o.x - self.x * o.z,
            self.x * o.y - self.y * o.x,
        )
    }
    pub(crate) fn len2(self) -> f32 {
        self.dot(self)
    }
    pub(crate) fn len(self) -> f32 {
        self.len2().sqrt()
    }
    pub(crate) fn unit(self) -> Self {
        self / self.len().max(1e-20)
    }
    pub(crate) fn abs(self) -> Self {
        v(self.x.abs(), self.y.abs(), self.z.abs())
    }
    /// AP1 luminance: the Y row of the AP1 to XYZ matrix (SMPTE ST 2065-4 and its relative, `ACEScg`).
    pub(crate) fn luma(self) -> f32 {
        0.272_229 * self.x + 0.674_082 * self.y + 0.053_689 * self.z
    }
    /// Turned about the vertical: a positive angle takes +z towards +x.
    pub(crate) fn turned(self, angle: f32) -> Self {
        let (s, c) = angle.sin_cos();
        v(c * self.x + s * self.z, self.y, c * self.z - s * self.x)
    }
    /// Two directions square to this unit one and to each other (Duff et al. 2017).
    pub(crate) fn basis(self) -> (Self, Self) {
        let s = 1.0_f32.copysign(self.z);
        let a = -1.0 / (s + self.z);
        let b = self.x * self.y * a;
        (
            v(1.0 + s * self.x * self.x * a, s * b, -s * self.x),
            v(b, s + self.y * self.y * a, -self.y),
        )
    }
}

impl Add for V3 {
    type Output = Self;
    fn add(self, o: Self) -> Self {
        v(self.x + o.x, self.y + o.y, self.z + o.z)
    }
}
impl AddAssign for V3 {
    fn add_assign(&mut self, o: Self) {
        *self = *self + o;
    }
}
impl Sub for V3 {
    type Output = Self;
    fn sub(self, o: Self) -> Self {
        v(self.x - o.x, self.y - o.y, self.z - o.z)
    }
}
impl Neg for V3 {
    type Output = Self;
    fn neg(self) -> Self {
        v(-self.x, -self.y, -self.z)
    }
}
impl Mul<f32> for V3 {
    type Output = Self;
    fn mul(self, k: f32) -> Self {
        v(self.x * k, self.y * k, self.z * k)
    }
}
impl Mul for V3 {
    type Output = Self;
    fn mul(self, o: Self) -> Self {
        v(self.x * o.x, self.y * o.y, self.z * o.z)
    }
}
impl Div<f32> for V3 {
    type Output = Self;
    fn div(self, k: f32) -> Self {
        self * (1.0 / k)
    }
}

pub(crate) fn mix(a: f32, b: f32, t: f32) -> f32 {
    a + (b - a) * t
}

pub(crate) fn mix3(a: V3, b: V3, t: f32) -> V3 {
    a + (b - a) * t
}

/// The length of a flat vector.
pub(crate) fn reach(x: f32, y: f32) -> f32 {
    (x * x + y * y + 0.0).sqrt()
}

pub(crate) fn smooth(e0: f32, e1: f32, x: f32) -> f32 {
    let t = ((x - e0) / (e1 - e0)).clamp(0.0, 1.0);
    t * t * (3.0 - 2.0 * t)
}

/// Union of two distances, rounded over a width `k`.
pub(crate) fn smin(a: f32, b: f32, k: f32) -> f32 {
    let h = (k - (a - b).abs()).max(0.0) / k;
    a.min(b) - h * h * k * 0.25
}

/// `a` with `b` taken out of it, rounded over a width `k`.
pub(crate) fn carve(a: f32, b: f32, k: f32) -> f32 {
    -smin(-a, b, k)
}

pub(crate) fn ball(p: V3, c: V3, r: f32) -> f32 {
    (p - c).len() - r
}

/// Near-distance to an ellipsoid (first-order: good close to the surface).
pub(crate) fn egg(p: V3, c: V3, r: V3) -> f32 {
    let q = p - c;
    let a = v(q.x / r.x, q.y / r.y, q.z / r.z);
    let b = v(a.x / r.x, a.y / r.y, a.z / r.z);
    let k0 = a.len();
    let k1 = b.len();
    if k1 < 1e-9 {
        -r.x.min(r.y).min(r.z)
    } else {
        k0 * (k0 - 1.0) / k1
    }
}

/// Distance to a rod from `a` to `b` whose radius goes from `ra` to `rb`.
pub(crate) fn rod(p: V3, a: V3, b: V3, ra: f32, rb: f32) -> f32 {
    let pa = p - a;
    let ba = b - a;
    let h = (pa.dot(ba) / ba.len2()).clamp(0.0, 1.0);
    (pa - ba * h).len() - mix(ra, rb, h)
}

/// Distance to a box of half sizes `h` about the origin, its edges rounded by `r`.
pub(crate) fn brick(p: V3, h: V3, r: f32) -> f32 {
    let q = p.abs() - h + v(r, r, r);
    let out = v(q.x.max(0.0), q.y.max(0.0), q.z.max(0.0));
    out.len() + q.x.max(q.y).max(q.z).min(0.0) - r
}

/// An integer hash (PCG's output permutation: O'Neill 2014).
pub(crate) const fn hash(x: u32) -> u32 {
    let s = x.wrapping_mul(747_796_405).wrapping_add(2_891_336_453);
    let w = ((s >> ((s >> 28) + 4)) ^ s).wrapping_mul(277_803_737);
    (w >> 22) ^ w
}

pub(crate) const fn hash3(x: i32, y: i32, z: i32) -> u32 {
    let h = x.cast_unsigned().wrapping_mul(0x9E37_79B1)
        ^ y.cast_unsigned().wrapping_mul(0x85EB_CA77)
        ^ z.cast_unsigned().wrapping_mul(0xC2B2_AE3D);
    hash(h)
}

/// A hash as a number in [0, 1).
pub(crate) fn unit_of(h: u32) -> f32 {
    (h >> 8) as f32 / 16_777_216.0
}

/// Value noise in [0, 1], smooth, one cell a unit.
pub(crate) fn noise(p: V3) -> f32 {
    let (fx, fy, fz) = (p.x.floor(), p.y.floor(), p.z.floor());
    let (ix, iy, iz) = (fx as i32, fy as i32, fz as i32);
    let s = |t: f32| t * t * (3.0 - 2.0 * t);
    let (ux, uy, uz) = (s(p.x - fx), s(p.y - fy), s(p.z - fz));
    let at = |a: i32, b: i32, c: i32| unit_of(hash3(ix + a, iy + b, iz + c));
    let row = |b: i32, c: i32| mix(at(0, b, c), at(1, b, c), ux);
    mix(
        mix(row(0, 0), row(1, 0), uy),
        mix(row(0, 1), row(1, 1), uy),
        uz,
    )
}

/// Summed octaves of noise, about [0, 1] with mean 0.5.
pub(crate) fn fbm(p: V3, octaves: u32) -> f32 {
    let (mut sum, mut amp, mut total, mut q) = (0.0, 0.5, 0.0, p);
    for _ in 0..octaves {
        sum += amp * noise(q);
        total += amp;
        amp *= 0.5;
        q = v(
            q.x * 1.6 + q.z * 1.2,
            q.y * 2.03 + 3.1,
            q.z * 1.6 - q.x * 1.2,
        ) + v(7.3, 1.7, 4.9);
    }
    sum / total
}

/// One pixel's low-discrepancy samples: the R2 sequence (Roberts 2018), shifted and reordered anew
/// for every pixel and every pair of dimensions.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Dice {
    seed: u32,
    index: u32,
    pair: u32,
}

impl Dice {
    pub(crate) const fn new(pixel: u32, index: u32) -> Self {
        Self {
            seed: hash(pixel ^ 0x51F1_5EED),
            index,
            pair: 0,
        }
    }

    /// The next two numbers in [0, 1).
    pub(crate) fn pair(&mut self) -> (f32, f32) {
        let h = hash(self.seed.wrapping_add(self.pair.wrapping_mul(0x9E37_79B9)));
        self.pair += 1;
        let i = self.index ^ (h & 31);
        let x = i.wrapping_mul(3_242_174_889).wrapping_add(h);
        let y = i.wrapping_mul(2_447_445_414).wrapping_add(hash(h));
        (unit_of(x), unit_of(y))
    }
}

/// A point of the unit disc from two numbers in [0, 1).
pub(crate) fn disc((a, b): (f32, f32)) -> (f32, f32) {
    let r = a.sqrt();
    let (s, c) = (std::f32::consts::TAU * b).sin_cos();
    (r * c, r * s)
}
