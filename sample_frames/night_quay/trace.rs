//! Light along one ray: what it meets, the lamps on that, and one mirrored look onward.

use crate::ferry::haze_of;
use crate::light::{Lamp, Reach, Surface, air, ambient, answer, arriving, fresnel, mirrored, sky};
use crate::look::surface;
use crate::maths::{Dice, V3, v};
use crate::place::{Hit, Kind, Place};

/// The scene, ready to be looked at.
#[derive(Debug)]
pub(crate) struct Scene {
    pub(crate) place: Place,
    pub(crate) lamps: Vec<Lamp>,
}

/// The most lamplight that one mirrored look may bring, so that a chance hit leaves no speck.
const MOST: f32 = 0.3;
/// Mirrored looks to each sample.
const TAPS: u32 = 3;

impl Scene {
    /// Light arriving at `o` from direction `d`, lamps themselves included.
    pub(crate) fn light(&self, o: V3, d: V3, dice: &mut Dice) -> V3 {
        let hit = self.place.meet(o, d);
        if let Some(glow) = self.lamp_met(o, d, hit.t) {
            return glow;
        }
        if hit.kind == Kind::Sky {
            return sky(d);
        }
        let s = surface(&hit);
        let mut sum = s.emits + self.lit(&hit, &s, -d, dice, true);
        if matches!(hit.kind, Kind::Ground | Kind::Water | Kind::Figure(_)) && s.f0 > 0.0 {
            sum += self.mirror(&hit, &s, -d, dice);
        }
        let (left, added) = air(hit.t, d);
        sum * left + added
    }

    /// A lamp's own face, when the ray meets one before `far`.
    fn lamp_met(&self, o: V3, d: V3, far: f32) -> Option<V3> {
        let mut best = far;
        let mut glow = None;
        for lamp in self.lamps.iter().filter(|l| l.reach != Reach::Subject) {
            let to = lamp.at - o;
            let t = to.dot(d);
            let off = to.len2() - t * t;
            if off < lamp.radius * lamp.radius && t - lamp.radius < best && t > 0.0 {
                best = t;
                glow = Some(lamp.glow);
            }
        }
        glow
    }

    /// Light of all lamps that count here, and of the surroundings, sent towards `view`.
    fn lit(&self, hit: &Hit, s: &Surface, view: V3, dice: &mut Dice, first: bool) -> V3 {
        let body = matches!(hit.kind, Kind::Figure(_));
        let open = if body && first {
            Place::openness(hit.p, hit.n)
        } else {
            1.0
        };
        let mut sum = s.albedo * ambient(s.n) * open;
        if hit.kind == Kind::Bank {
            return V3::ZERO;
        }
        if hit.kind == Kind::Ferry {
            sum = sum * 0.8;
        }
        let start = hit.p + hit.n * if body { 0.006 } else { 0.02 };
        for lamp in &self.lamps {
            let counts = match lamp.reach {
                Reach::Everything => true,
                Reach::Surroundings => !body,
                Reach::Water => hit.kind == Kind::Water,
                Reach::Ferry => matches!(hit.kind, Kind::Ferry | Kind::Water),
                Reach::Subject => body,
            };
            if !counts {
                continue;
            }
            let (l, far, power) = arriving(lamp, hit.p, dice);
            let back = if body { -0.30 } else { 0.0 };
            if s.n.dot(l) <= back || power.luma() < 1e-5 && hit.kind != Kind::Water {
                continue;
            }
            let got = answer(s, view, l) * power;
            if got.luma() < 5e-5 {
                continue;
            }
            let hidden = match lamp.reach {
                Reach::Water | Reach::Ferry => false,
                _ => {
                    hit.kind != Kind::Ferry
                        && self.place.blocked(start, l, far - lamp.radius - 0.05)
                }
            };
            if !hidden {
                sum += got;
            }
        }
        sum
    }

    /// What a glossy surface mirrors, lamps left out: those came with `lit`.
    fn mirror(&self, hit: &Hit, s: &Surface, view: V3, dice: &mut Dice) -> V3 {
        if matches!(hit.kind, Kind::Figure(_)) {
            // Cloth and skin: the sky's sheen alone.
            let k = fresnel(s.f0, s.n.dot(view).max(0.0)) * 0.35;
            return ambient(s.n) * (k * Place::openness(hit.p, hit.n));
        }
        let mut sum = V3::ZERO;
        for _ in 0..TAPS {
            sum += self.mirror_once(hit, s, view, dice);
        }
        sum / TAPS as f32
    }

    fn mirror_once(&self, hit: &Hit, s: &Surface, view: V3, dice: &mut Dice) -> V3 {
        let (l, weight) = mirrored(s, view, dice);
        let next = self.place.meet(hit.p + hit.n * 0.01, l);
        let seen = match next.kind {
            Kind::Sky => sky(l),
            Kind::Ferry => {
                let (left, added) = air(next.t, l);
                haze_of(next.p) * left + added
            }
            Kind::Ground | Kind::Water => v(0.012, 0.011, 0.011),
            _ => {
                let t = surface(&next);
                let (left, added) = air(next.t, l);
                let lit = self.lit(&next, &t, -l, dice, false);
                let lit = lit * (MOST / lit.luma().max(MOST));
                (t.emits + lit) * left + added
            }
        };
        seen * weight
    }
}
