//! Half-precision numbers as bits (IEEE 754 binary16), and the bit depths that the Common LUT Format
//! tells its numbers in.

/// The largest finite half-precision number, and its bits.
pub(super) const LARGEST_HALF: f32 = 65_504.0;
const LARGEST_BITS: u16 = 0x7bff;

/// The number that 16 bits stand for; infinities and NaN as such.
pub(super) fn half(bits: u16) -> f32 {
    let (exponent, mantissa) = (i32::from(bits >> 10 & 31), f32::from(bits & 0x3ff));
    let size = match exponent {
        0 => mantissa * (-24.0_f32).exp2(),
        31 if bits & 0x3ff == 0 => f32::INFINITY,
        31 => f32::NAN,
        e => (1024.0 + mantissa) * ((e - 25) as f32).exp2(),
    };
    if bits >> 15 == 1 { -size } else { size }
}

/// Whether 16 bits stand for a finite number.
pub(super) const fn is_finite(bits: u16) -> bool {
    bits & 0x7fff <= LARGEST_BITS
}

/// Where a number lies among the half-precision numbers: the bits of its neighbour nearer to zero, of
/// the one farther out, and how far it is from the one to the other. NaN is taken for 0.
pub(super) fn between_halves(value: f32) -> (u16, u16, f32) {
    let value = if value.is_nan() { 0.0 } else { value };
    let size = value.abs().min(LARGEST_HALF);
    let (below, part) = if size < (-14.0_f32).exp2() {
        // Below the normal numbers they lie evenly, 2^-24 apart.
        let steps = size * 24.0_f32.exp2();
        (steps as u16, steps.fract())
    } else {
        // 13 bits of the mantissa are cut off; the exponents differ by 127 - 15.
        let bits = size.to_bits();
        let part = (bits & 0x1fff) as f32 / 8192.0;
        (((bits >> 13) - (112 << 10)) as u16, part)
    };
    let sign = if value < 0.0 { 0x8000 } else { 0 };
    let above = (below + 1).min(LARGEST_BITS);
    (sign | below, sign | above, part)
}

/// How numbers are told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Depth {
    Int(u32),
    Float,
}

impl Depth {
    pub(super) fn read(word: &str) -> Option<Self> {
        Some(match word {
            "8i" => Self::Int(8),
            "10i" => Self::Int(10),
            "12i" => Self::Int(12),
            "16i" => Self::Int(16),
            "16f" | "32f" => Self::Float,
            _ => return None,
        })
    }

    /// The number that stands for 1.
    pub(super) fn full(self) -> f64 {
        match self {
            Self::Int(bits) => f64::from((1_u32 << bits) - 1),
            Self::Float => 1.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // IEEE 754-2019, table 3.5 and 3.4: binary16 has 10 bits of mantissa and a bias of 15.
    #[test]
    fn halves() {
        for (bits, value) in [
            (0x0000, 0.0),
            (0x0001, 5.960_464_5e-8),
            (0x03ff, 6.097_555e-5),
            (0x0400, 6.103_515_6e-5),
            (0x3555, 0.333_251_95),
            (0x3c00, 1.0),
            (0xc000, -2.0),
            (0x7bff, 65_504.0),
        ] {
            let got = half(bits);
            assert!(
                (got - value).abs() <= value.abs() * 1e-6,
                "{bits:04x}: {got}"
            );
        }
        assert!(
            half(0x7c00).is_infinite() && half(0xfe00).is_nan(),
            "specials"
        );
    }

    #[test]
    fn every_half_is_found_and_so_is_what_lies_between() {
        for bits in (0..=LARGEST_BITS).flat_map(|b| [b, b | 0x8000]) {
            let value = half(bits);
            let (below, above, part) = between_halves(value);
            assert_eq!(below & 0x7fff, bits & 0x7fff, "{value} is itself");
            assert!(part.abs() <= 0.0 && above >= below, "{value}: {part}");
            if bits & 0x7fff < LARGEST_BITS {
                let next = half(bits + 1);
                let (below, above, part) = between_halves(value + 0.25 * (next - value));
                let sign = u16::from(next < 0.0) << 15;
                assert_eq!(
                    below,
                    bits & 0x7fff | sign,
                    "a quarter of the way from {value}"
                );
                assert_eq!(above, below + 1, "and its neighbour");
                assert!((part - 0.25).abs() < 1e-6, "{value}: {part}");
            }
        }
        assert_eq!(between_halves(1e9).0, LARGEST_BITS, "held at the largest");
        assert_eq!(between_halves(f32::NAN).0, 0, "no number");
    }
}
