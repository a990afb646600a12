//! The ASC CDL: slope, offset and power for each channel, then saturation.
//!
//! Source: ASC Color Decision List, version 1.2, as the Common LUT Format takes it (SMPTE ST 2136-1),
//! from memory; the tests hold it to another implementation. Saturation weighs by BT.709's luminance.

const WEIGHTS: [f64; 3] = [0.2126, 0.7152, 0.0722];

/// A grade.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Cdl {
    pub(super) slope: [f64; 3],
    pub(super) offset: [f64; 3],
    pub(super) power: [f64; 3],
    pub(super) saturation: f64,
    /// Whether it is undone rather than done.
    pub(super) back: bool,
    /// Whether everything is held within 0 to 1.
    pub(super) clamps: bool,
}

impl Cdl {
    #[inline]
    pub(super) fn at(&self, rgb: [f32; 3]) -> [f32; 3] {
        let v = rgb.map(f64::from);
        (if self.back {
            self.undone(v)
        } else {
            self.done(v)
        })
        .map(|v| v as f32)
    }

    fn done(&self, v: [f64; 3]) -> [f64; 3] {
        let graded = [0, 1, 2].map(|c| {
            let v = self.held(v[c] * self.slope[c] + self.offset[c]);
            bent(v, self.power[c])
        });
        saturated(graded, self.saturation).map(|v| self.held(v))
    }

    fn undone(&self, v: [f64; 3]) -> [f64; 3] {
        let v = saturated(v.map(|v| self.held(v)), 1.0 / self.saturation);
        [0, 1, 2].map(|c| {
            let v = bent(self.held(v[c]), 1.0 / self.power[c]);
            self.held((v - self.offset[c]) / self.slope[c])
        })
    }

    fn held(&self, v: f64) -> f64 {
        if self.clamps { v.clamp(0.0, 1.0) } else { v }
    }
}

/// A power of what is not negative; the rest passes.
fn bent(v: f64, power: f64) -> f64 {
    if v < 0.0 { v } else { v.powf(power) }
}

fn saturated(v: [f64; 3], saturation: f64) -> [f64; 3] {
    let luma = v.iter().zip(WEIGHTS).map(|(v, w)| v * w).sum::<f64>();
    v.map(|v| luma + saturation * (v - luma))
}
