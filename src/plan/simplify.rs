//! Fewer passes, the same picture to rounding.
//!
//! Each pass answers two questions: is it nothing, and does it join the one after it. Gains wander
//! towards the first matrix, through every pass that is linear without adding light.

use super::{FieldPass, Pass, Plan, ScatterPass};
use crate::colour::Matrix3;
use crate::optics::field::View;
use crate::optics::scatter::Scatter;

pub(super) fn simplify(plan: Plan) -> Plan {
    let Plan { passes, view } = plan;
    let mut out: Vec<Pass> = Vec::with_capacity(passes.len());
    for pass in passes.into_iter().map(Pass::reduced) {
        push(&mut out, pass, &view);
    }
    Plan { passes: out, view }
}

/// Adds a pass to a list that is already simple.
fn push(out: &mut Vec<Pass>, pass: Pass, view: &View) {
    if pass.is_nothing(view) {
        return;
    }
    if let Pass::Gain(g) = pass {
        return push_gain(out, g);
    }
    // A sky is the same for all of a pixel's rays: it steps out from between placed glasses, which
    // are integrated together.
    if matches!(pass, Pass::Sky(_))
        && let Some(field) = out.pop_if(|p| matches!(p, Pass::Field(_)))
    {
        push(out, pass, view);
        out.push(field);
        return;
    }
    match out.pop() {
        None => out.push(pass),
        Some(before) => match before.join(pass) {
            Ok(joined) => push(out, joined, view),
            Err(two) => {
                let (before, pass) = *two;
                out.extend([before, pass]);
            }
        },
    }
}

/// A factor goes to the first matrix before it that no added light stands behind.
fn push_gain(out: &mut Vec<Pass>, gain: f64) {
    let start = out.iter().rposition(Pass::adds_light).map_or(0, |i| i + 1);
    let home = out[start..].iter_mut().find_map(|p| match p {
        Pass::Matrix(m) => Some(m),
        _ => None,
    });
    match home {
        Some(m) => *m = m.scaled(gain),
        None => out.insert(start, Pass::Matrix(Matrix3::diagonal([gain; 3]))),
    }
}

impl Pass {
    /// The same pass in its plainest form.
    fn reduced(self) -> Self {
        match self {
            Self::Scatter(s) if s.laws.iter().all(goes_straight) => {
                let direct = |c: usize| s.laws.iter().map(|l| l.direct[c]).product();
                let channels: [f64; 3] = [0, 1, 2].map(direct);
                if channels.iter().all(|c| (c - channels[0]).abs() < 1e-15) {
                    Self::Gain(channels[0])
                } else {
                    Self::Matrix(Matrix3::diagonal(channels))
                }
            }
            other => other,
        }
    }

    /// Whether the pass leaves every picture of `view` as it is.
    fn is_nothing(&self, view: &View) -> bool {
        match self {
            Self::Matrix(m) => m.largest_difference(&Matrix3::IDENTITY) < 1e-12,
            Self::Scatter(s) => s.laws.is_empty(),
            Self::Field(f) => f.law.is_clear(view),
            Self::Sky(s) => s.is_nothing(),
            Self::Lift(l) => l.iter().all(|v| v.abs() <= 0.0),
            Self::Gain(g) => (g - 1.0).abs() <= f64::EPSILON,
        }
    }

    /// Whether the pass adds light of its own, so that factors do not pass through it.
    fn adds_light(&self) -> bool {
        match self {
            Self::Lift(_) => true,
            Self::Scatter(s) => s.outside.is_some(),
            Self::Matrix(_) | Self::Field(_) | Self::Sky(_) | Self::Gain(_) => false,
        }
    }

    /// One pass that does what this one and the `next` do, or both back.
    fn join(self, next: Self) -> Result<Self, Box<(Self, Self)>> {
        match (self, next) {
            (Self::Matrix(a), Self::Matrix(b)) => Ok(Self::Matrix(b * a)),
            (Self::Lift(a), Self::Lift(b)) => Ok(Self::Lift(std::array::from_fn(|c| a[c] + b[c]))),
            (Self::Scatter(a), Self::Scatter(b))
                if a.outside == b.outside
                    && a.stretched == b.stretched
                    && a.fuses()
                    && b.fuses() =>
            {
                let laws = a.laws.into_iter().chain(b.laws).collect();
                Ok(Self::Scatter(ScatterPass {
                    laws,
                    outside: a.outside,
                    stretched: a.stretched,
                    fit: None,
                }))
            }
            // The mean of the product over the pupil, not the product of the means.
            (Self::Field(mut a), Self::Field(b)) if a.law.pupil == b.law.pupil => {
                a.law.planes.extend(b.law.planes);
                a.law.apertures.extend(b.law.apertures);
                Ok(Self::Field(FieldPass {
                    law: a.law,
                    fit: None,
                }))
            }
            two => Err(Box::new(two)),
        }
    }
}

/// Whether nothing is scattered.
fn goes_straight(law: &Scatter) -> bool {
    law.lobes.is_empty() && law.veil.iter().all(|v| *v <= 0.0)
}

impl ScatterPass {
    /// Whether it may become one with its neighbour. Under an even outside, the first pass's light
    /// spills over the border and comes back in the second: their transfer functions multiply there
    /// too, but only what is mirrored keeps its outside through the first.
    fn fuses(&self) -> bool {
        self.outside.is_none()
    }
}
