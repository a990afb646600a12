//! Logarithms and powers of the Common LUT Format, channel by channel, in double precision inside.
//!
//! Source: SMPTE ST 2136-1, the process nodes Log and Exponent (the Academy's specification S-2014-006
//! version 3 before it), from memory; the tests hold it to another implementation.

/// What is taken for the light that has no logarithm.
const SMALLEST: f64 = f32::MIN_POSITIVE as f64;

/// A logarithm that was shifted and scaled on both sides.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Logarithm {
    pub(super) base: f64,
    pub(super) lin_slope: f64,
    pub(super) lin_offset: f64,
    pub(super) log_slope: f64,
    pub(super) log_offset: f64,
}

impl Logarithm {
    pub(super) const fn plain(base: f64) -> Self {
        Self {
            base,
            lin_slope: 1.0,
            lin_offset: 0.0,
            log_slope: 1.0,
            log_offset: 0.0,
        }
    }

    pub(super) fn log(&self, lin: f64) -> f64 {
        let inside = (self.lin_slope * lin + self.lin_offset).max(SMALLEST);
        // Base 2 and 10 have better functions than a quotient of logarithms.
        let log = if (self.base - 2.0).abs() <= 0.0 {
            inside.log2()
        } else if (self.base - 10.0).abs() <= 0.0 {
            inside.log10()
        } else {
            inside.ln() / self.base.ln()
        };
        self.log_slope * log + self.log_offset
    }

    pub(super) fn lin(&self, log: f64) -> f64 {
        let power = self.base.powf((log - self.log_offset) / self.log_slope);
        (power - self.lin_offset) / self.lin_slope
    }
}

/// The straight line of a camera's curve, below its break.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Toe {
    pub(super) lin_break: f64,
    pub(super) log_break: f64,
    pub(super) slope: f64,
}

impl Toe {
    /// The line that meets the logarithm at `lin_break`, with its slope there where none is told.
    pub(super) fn under(curve: &Logarithm, lin_break: f64, slope: Option<f64>) -> Self {
        let inside = curve.lin_slope * lin_break + curve.lin_offset;
        let tangent = curve.log_slope * curve.lin_slope / (inside * curve.base.ln());
        Self {
            lin_break,
            log_break: curve.log(lin_break),
            slope: slope.unwrap_or(tangent),
        }
    }
}

/// What is done below zero.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Below {
    Clamp,
    Mirror,
    Pass,
}

/// One channel's curve.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Curve {
    ToLog(Logarithm, Option<Toe>),
    ToLin(Logarithm, Option<Toe>),
    Power(f64, Below),
    Monitor(Monitor),
    MonitorBack(Monitor),
}

/// A power with a straight piece near black, `((v + k) / (1 + k))^g` above its break.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Monitor {
    power: f64,
    offset: f64,
    at: f64,
    slope: f64,
    mirrored: bool,
}

impl Monitor {
    pub(super) fn new(power: f64, offset: f64, mirrored: bool) -> Self {
        // A power of 1 or no offset have no break; a little of each gives their limit.
        let (g, k) = (power.max(1.0 + 1e-6), offset.max(1e-6));
        let at = k / (g - 1.0);
        let slope = (k * g / ((g - 1.0) * (1.0 + k))).powf(g) / at;
        Self {
            power: g,
            offset: k,
            at,
            slope,
            mirrored,
        }
    }

    fn both(&self, v: f64, curve: impl Fn(f64) -> f64) -> f64 {
        if self.mirrored {
            curve(v.abs()).copysign(v)
        } else {
            curve(v)
        }
    }

    fn forth(&self, v: f64) -> f64 {
        if v > self.at {
            ((v + self.offset) / (1.0 + self.offset)).powf(self.power)
        } else {
            v * self.slope
        }
    }

    fn back(&self, v: f64) -> f64 {
        if v > self.at * self.slope {
            (1.0 + self.offset) * v.powf(1.0 / self.power) - self.offset
        } else {
            v / self.slope
        }
    }
}

impl Curve {
    #[inline]
    pub(super) fn at(&self, v: f32) -> f32 {
        let v = f64::from(v);
        (match self {
            Self::ToLog(_, Some(toe)) if v <= toe.lin_break => {
                toe.log_break + toe.slope * (v - toe.lin_break)
            }
            Self::ToLog(curve, _) => curve.log(v),
            Self::ToLin(_, Some(toe)) if v <= toe.log_break => {
                toe.lin_break + (v - toe.log_break) / toe.slope
            }
            Self::ToLin(curve, _) => curve.lin(v),
            Self::Power(power, below) => match below {
                Below::Pass if v < 0.0 => v,
                Below::Mirror => v.abs().powf(*power).copysign(v),
                Below::Clamp | Below::Pass => v.max(0.0).powf(*power),
            },
            Self::Monitor(m) => m.both(v, |v| m.forth(v)),
            Self::MonitorBack(m) => m.both(v, |v| m.back(v)),
        }) as f32
    }
}
