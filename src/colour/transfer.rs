//! Transfer curves: codes of 0 to 1 to scene-linear light and back.
//!
//! How each curve's light is scaled:
//!
//! | curve | light 1.0 is | source |
//! |---|---|---|
//! | [`Curve::Linear`] | code 1.0 | |
//! | [`Curve::Srgb`] | code 1.0, display white | IEC 61966-2-1 |
//! | [`Curve::Bt1886`] | code 1.0, display white; black level 0, so a bare power of 2.4 | ITU-R BT.1886 |
//! | [`Curve::Bt709`] | code 1.0; the camera's curve, undone | ITU-R BT.709-6 item 1.2 |
//! | [`Curve::Pq`] | 203 cd/m², the diffuse white of ITU-R BT.2408 (code 0.5807) | SMPTE ST 2084 |
//! | [`Curve::Hlg`] | the scene light of code 0.75, BT.2408's reference white | ITU-R BT.2100-2 |
//! | [`Curve::AcesCct`] | scene-linear 1.0 (code 0.5548); mid-grey 0.18 is code 0.4136 | Academy S-2016-001 |
//!
//! PQ is read as the light on the reference display, taken for scene light: the film-maker's
//! rendering stays in it. HLG is read as scene light by its inverse OETF, with no system gamma:
//! BT.2408's 18 % grey, 38 % HLG, comes out as 0.182.
//!
//! Values outside 0 to 1. sRGB, BT.1886, BT.709, PQ and HLG are continued below zero as odd
//! functions (a colour outside a gamut comes and goes without loss); `ACEScct` has its own
//! straight line there. Above 1 the formulas go on, except that PQ ends at code 1 (10 000 cd/m²)
//! and `ACEScct` decodes to 65 504 at most, as their standards say. NaN becomes 0, black;
//! everything is held within ±[`LIMIT`], so finite or not, what goes in comes out finite and
//! survives a matrix after it.
//!
//! ```
//! use foreglass::colour::transfer::Curve;
//! assert!((Curve::Srgb.decode64(0.5) - 0.214_041).abs() < 1e-6);
//! assert!((Curve::Pq.decode64(0.580_689) - 1.0).abs() < 1e-5); // 203 cd/m²
//! assert!((Curve::AcesCct.encode64(0.18) - 0.413_588).abs() < 1e-6);
//! ```

use palette::encoding::{FromLinear, IntoLinear, Srgb};

/// Codes and light are held within ± this: far beyond any light, and far enough below the largest
/// `f32` that a matrix or a sum over a frame stays finite.
pub const LIMIT: f64 = 1e30;

/// The luminance of light 1.0 in a PQ picture, cd/m² (ITU-R BT.2408, diffuse white).
pub const PQ_WHITE: f64 = 203.0;

/// The signal of light 1.0 in an HLG picture (ITU-R BT.2408, reference white).
pub const HLG_WHITE_SIGNAL: f64 = 0.75;

/// How light was written as codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Curve {
    /// Codes are light.
    Linear,
    /// The sRGB curve, which Display P3 shares.
    Srgb,
    /// A reference display's power of 2.4.
    Bt1886,
    /// The camera curve of BT.709 (and of BT.2020 at 10 bit).
    Bt709,
    /// Perceptual quantiser, ST 2084.
    Pq,
    /// Hybrid log-gamma, BT.2100.
    Hlg,
    /// The grading curve of ACES, with a toe.
    AcesCct,
}

impl Curve {
    /// All of them.
    pub const ALL: [Self; 7] = [
        Self::Linear,
        Self::Srgb,
        Self::Bt1886,
        Self::Bt709,
        Self::Pq,
        Self::Hlg,
        Self::AcesCct,
    ];

    /// Code (0 to 1) to light. Single precision where the curve bears it (within 2e-6), double
    /// inside where it does not.
    #[must_use]
    pub fn decode(self, code: f32) -> f32 {
        let code = held(code);
        match self {
            Self::Linear => code,
            Self::Srgb => held(odd(code, <Srgb as IntoLinear<f32, f32>>::into_linear)),
            _ => self.decode64(f64::from(code)) as f32,
        }
    }

    /// Light to code (0 to 1).
    #[must_use]
    pub fn encode(self, light: f32) -> f32 {
        let light = held(light);
        match self {
            Self::Linear => light,
            Self::Srgb => held(odd(light, <Srgb as FromLinear<f32, f32>>::from_linear)),
            _ => self.encode64(f64::from(light)) as f32,
        }
    }

    /// Code (0 to 1) to light, in double precision.
    #[must_use]
    pub fn decode64(self, code: f64) -> f64 {
        let code = held64(code);
        held64(match self {
            Self::Linear => code,
            Self::Srgb => odd64(code, <Srgb as IntoLinear<f64, f64>>::into_linear),
            Self::Bt1886 => odd64(code, |v| v.powf(2.4)),
            Self::Bt709 => odd64(code, bt709_decode),
            Self::Pq => odd64(code, |v| pq_eotf(v) / PQ_WHITE),
            Self::Hlg => odd64(code, |v| hlg_inverse_oetf(v) / hlg_white()),
            Self::AcesCct => acescct_decode(code),
        })
    }

    /// Light to code (0 to 1), in double precision.
    #[must_use]
    pub fn encode64(self, light: f64) -> f64 {
        let light = held64(light);
        held64(match self {
            Self::Linear => light,
            Self::Srgb => odd64(light, <Srgb as FromLinear<f64, f64>>::from_linear),
            Self::Bt1886 => odd64(light, |v| v.powf(1.0 / 2.4)),
            Self::Bt709 => odd64(light, bt709_encode),
            Self::Pq => odd64(light, |v| pq_inverse_eotf(v * PQ_WHITE)),
            Self::Hlg => odd64(light, |v| hlg_oetf(v * hlg_white())),
            Self::AcesCct => acescct_encode(light),
        })
    }

    /// The light of every code of a whole number of `bits` (1 to 16): 2^bits entries, code
    /// k / (2^bits − 1). One look-up instead of a power for each sample of an integer picture.
    #[must_use]
    pub fn table(self, bits: u32) -> Vec<f32> {
        let top = (1_u32 << bits.clamp(1, 16)) - 1;
        (0..=top)
            .map(|k| self.decode64(f64::from(k) / f64::from(top)) as f32)
            .collect()
    }
}

fn held(v: f32) -> f32 {
    if v.is_nan() {
        0.0
    } else {
        v.clamp(-LIMIT as f32, LIMIT as f32)
    }
}

fn held64(v: f64) -> f64 {
    if v.is_nan() {
        0.0
    } else {
        v.clamp(-LIMIT, LIMIT)
    }
}

fn odd(v: f32, f: impl Fn(f32) -> f32) -> f32 {
    f(v.abs()).copysign(v)
}

fn odd64(v: f64, f: impl Fn(f64) -> f64) -> f64 {
    f(v.abs()).copysign(v)
}

// BT.709-6 rounds its constants: codes between 0.081 and 0.08125 are reached by no light.
fn bt709_encode(light: f64) -> f64 {
    if light < 0.018 {
        4.5 * light
    } else {
        1.099 * light.powf(0.45) - 0.099
    }
}

fn bt709_decode(code: f64) -> f64 {
    if code < 4.5 * 0.018 {
        code / 4.5
    } else {
        ((code + 0.099) / 1.099).powf(1.0 / 0.45)
    }
}

// ST 2084:2014, clause 5.
const PQ_M1: f64 = 2610.0 / 16_384.0;
const PQ_M2: f64 = 2523.0 / 4096.0 * 128.0;
const PQ_C1: f64 = 3424.0 / 4096.0;
const PQ_C2: f64 = 2413.0 / 4096.0 * 32.0;
const PQ_C3: f64 = 2392.0 / 4096.0 * 32.0;
const PQ_PEAK: f64 = 10_000.0;

/// PQ code to cd/m² on the reference display; codes are taken within 0 to 1.
#[must_use]
pub fn pq_eotf(code: f64) -> f64 {
    let p = code.clamp(0.0, 1.0).powf(1.0 / PQ_M2);
    PQ_PEAK * ((p - PQ_C1).max(0.0) / (PQ_C2 - PQ_C3 * p)).powf(1.0 / PQ_M1)
}

/// Light of 0 to 10 000 cd/m² (held within) to PQ code.
#[must_use]
pub fn pq_inverse_eotf(luminance: f64) -> f64 {
    // Code 0 is luminance 0: the formula's own 7e-7 there would lift black.
    if luminance <= 0.0 {
        return 0.0;
    }
    let y = (luminance / PQ_PEAK).min(1.0).powf(PQ_M1);
    ((PQ_C1 + PQ_C2 * y) / (1.0 + PQ_C3 * y)).powf(PQ_M2)
}

// BT.2100-2 table 5.
const HLG_A: f64 = 0.178_832_77;
const HLG_B: f64 = 1.0 - 4.0 * HLG_A;

fn hlg_c() -> f64 {
    0.5 - HLG_A * (4.0 * HLG_A).ln()
}

/// Scene light of 0 to 1 to HLG signal, as BT.2100 scales both.
#[must_use]
pub fn hlg_oetf(light: f64) -> f64 {
    if light <= 1.0 / 12.0 {
        (3.0 * light.max(0.0)).sqrt()
    } else {
        HLG_A * (12.0 * light - HLG_B).ln() + hlg_c()
    }
}

/// HLG signal to scene light, as BT.2100 scales both.
#[must_use]
pub fn hlg_inverse_oetf(signal: f64) -> f64 {
    if signal <= 0.5 {
        signal * signal / 3.0
    } else {
        (((signal - hlg_c()) / HLG_A).exp() + HLG_B) / 12.0
    }
}

// 0.264 963 of the signal's full scene light.
fn hlg_white() -> f64 {
    hlg_inverse_oetf(HLG_WHITE_SIGNAL)
}

const CCT_SLOPE: f64 = 10.540_237_741_654_5;
const CCT_OFFSET: f64 = 0.072_905_534_195_835_5;

fn acescct_encode(light: f64) -> f64 {
    if light <= 0.007_812_5 {
        CCT_SLOPE * light + CCT_OFFSET
    } else {
        (light.log2() + 9.72) / 17.52
    }
}

fn acescct_decode(code: f64) -> f64 {
    if code <= 0.155_251_141_552_511 {
        (code - CCT_OFFSET) / CCT_SLOPE
    } else {
        (code * 17.52 - 9.72).exp2().min(65_504.0)
    }
}
