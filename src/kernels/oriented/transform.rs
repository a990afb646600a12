//! Cosine and sine transforms of one length, made ready for graphics hardware.
//!
//! A line is transformed as a complex one of the same length, in one part or as a grid of two
//! (`n = n₁·M₂ + n₂`, `k = k₁ + M₁·k₂`, turned by `n₂·k₁` in between), each part no longer than
//! [`PART_MOST`] and itself of small radices. A length that has a greater prime in it than [`PRIME_MOST`]
//! is a convolution with a chirp, whose length is free to choose. Sources: S. Makhoul 1980, L. Bluestein 1970;
//! T. Stockham 1966 for stages that put themselves in order.
//!
//! Every angle is worked out here, in double precision from whole numbers.

use super::friendly;
use rustdct::rustfft::FftPlanner;
use rustdct::rustfft::num_complex::Complex;
use std::f64::consts::PI;

/// Samples of a part, at most: two of them fill the memory that every device has for a workgroup, 16 KiB.
pub const PART_MOST: usize = 1024;

/// The greatest prime that is worth a stage of its own: a chirp costs as much as one of about twice that.
const PRIME_MOST: usize = 61;

/// Stages of a part, at most.
pub const STAGES_MOST: usize = 8;

/// Nowhere in the table.
pub const NOWHERE: u32 = u32::MAX;

/// A transform of one length.
#[derive(Debug, Clone, PartialEq)]
pub struct Transform {
    /// Samples of a line.
    pub length: usize,
    /// Samples that it is transformed at.
    pub padded: usize,
    /// One part or two, in their order.
    pub parts: Vec<Part>,
    /// Where in the table the quarter turns `exp(−iπk/2n)` begin.
    pub turns: usize,
    /// Where the chirp `exp(−iπk²/n)` does, and the transform of what is convolved with it; None where the
    /// line is transformed at its own length.
    pub chirp: Option<[usize; 2]>,
    /// Points on the circle, and the chirp's transform.
    pub table: Vec<[f32; 2]>,
}

/// One part's transform.
#[derive(Debug, Clone, PartialEq)]
pub struct Part {
    /// Samples of a part.
    pub length: usize,
    /// Parts in a line.
    pub per: usize,
    /// Samples from one part to the next, and from one of its samples to the next, in what is read.
    pub taken: [usize; 2],
    /// The same in what is written.
    pub left: [usize; 2],
    /// Radices, whose product is the length.
    pub radices: Vec<usize>,
    /// Where in the table the roots of unity of its length begin.
    pub roots: usize,
    /// Where the roots of unity of the line do, by which the parts are turned.
    pub twist: Option<usize>,
}

impl Transform {
    /// Of lines of `length` samples; None where they are longer than 2¹⁹.
    #[must_use]
    pub fn new(length: usize) -> Option<Self> {
        if length == 0 || length > 1 << 19 {
            return None;
        }
        if let Some(grid) = grid(length) {
            return Some(Self::of(length, length, grid));
        }
        let mut padded = friendly(2 * length - 1);
        loop {
            match grid(padded) {
                Some(grid) => return Some(Self::of(length, padded, grid)),
                None if padded > PART_MOST * PART_MOST => return None,
                None => padded = friendly(padded + 1),
            }
        }
    }

    fn of(length: usize, padded: usize, [first, second]: [usize; 2]) -> Self {
        let mut table = Vec::new();
        let mut put = |points: Vec<[f32; 2]>| {
            table.extend(points);
            table.len()
        };
        let turns = 0;
        let mut end = put((0..length).map(|k| point(k, 4 * length)).collect());
        let roots = |n: usize| (0..n).map(|k| point(k, n)).collect();
        let mut parts = Vec::new();
        if first > 1 {
            let twist = end;
            let own = put(roots(padded));
            end = put(roots(first));
            parts.push(Part {
                length: first,
                per: second,
                taken: [1, second],
                left: [1, second],
                radices: radices(first),
                roots: own,
                twist: Some(twist),
            });
        }
        parts.push(Part {
            length: second,
            per: first,
            taken: [second, 1],
            left: [1, first],
            radices: radices(second),
            roots: end,
            twist: None,
        });
        end = put(roots(second));
        let chirp = (padded != length).then(|| {
            let spectrum = put((0..length).map(|k| chirp(k, length)).collect());
            put(convolved(length, padded));
            [end, spectrum]
        });
        Self {
            length,
            padded,
            parts,
            turns,
            chirp,
            table,
        }
    }

    /// The most samples that a sample of a line is made of in one go.
    #[must_use]
    pub fn cost(&self) -> usize {
        let sums = self.parts.iter().map(|p| p.radices.iter().sum::<usize>());
        sums.max().unwrap_or(1).max(1)
    }
}

/// `exp(−2πi·k/n)`.
fn point(k: usize, n: usize) -> [f32; 2] {
    let (sin, cos) = (2.0 * PI * k as f64 / n as f64).sin_cos();
    [cos as f32, -sin as f32]
}

/// `exp(−iπk²/n)`: k² goes round after 2n.
fn chirp(k: usize, n: usize) -> [f32; 2] {
    point(k * k % (2 * n), 2 * n)
}

/// The transform of the chirp's conjugate on a circle of `padded` samples, over that many.
fn convolved(n: usize, padded: usize) -> Vec<[f32; 2]> {
    let mut circle = vec![Complex::new(0.0, 0.0); padded];
    for k in 0..n {
        let (sin, cos) = (PI * (k * k % (2 * n)) as f64 / n as f64).sin_cos();
        let value = Complex::new(cos, sin) / padded as f64;
        circle[k] = value;
        circle[(padded - k) % padded] = value;
    }
    FftPlanner::new()
        .plan_fft_forward(padded)
        .process(&mut circle);
    let narrow = |v: &Complex<f64>| [v.re as f32, v.im as f32];
    circle.iter().map(narrow).collect()
}

/// The two factors of a length that lie closest together, or 1 and itself where that is short enough; None
/// where a part would be too long or have too great a prime in it.
fn grid(n: usize) -> Option<[usize; 2]> {
    let greatest = radices(n).into_iter().max().unwrap_or(1);
    if greatest > PRIME_MOST {
        return None;
    }
    if n <= PART_MOST {
        return Some([1, n]);
    }
    let root = (1..=PART_MOST).take_while(|k| k * k <= n).last()?;
    let first = (1..=root).rev().find(|k| n.is_multiple_of(*k))?;
    (n / first <= PART_MOST).then_some([first, n / first])
}

/// A length's primes, two twos at a time: of as many products, in half the stages.
fn radices(mut n: usize) -> Vec<usize> {
    let mut out = Vec::new();
    let mut radix = 4;
    while n > 1 {
        while n.is_multiple_of(radix) {
            out.push(radix);
            n /= radix;
        }
        radix = match radix {
            4 => 2,
            2 => 3,
            // What is left is a prime.
            odd if odd * odd > n => n,
            odd => odd + 2,
        };
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Parts are short, of few stages, and make up the line; what is too rough gets a chirp of at least
    /// twice its length.
    #[test]
    fn every_length_comes_apart() {
        let odd = [1, 2, 3, 61, 67, 1024, 1025, 2187, 4093, 16_384, 32_768];
        for n in (1..600).chain(odd).chain([48_000, 65_535, 131_071]) {
            let transform = Transform::new(n).expect("a length of a picture");
            let whole: usize = transform.parts.iter().map(|p| p.length).product();
            assert_eq!(whole, transform.padded, "{n}");
            for part in &transform.parts {
                assert!(part.length <= PART_MOST, "{n}: {}", part.length);
                assert!(part.radices.len() <= STAGES_MOST, "{n}: {part:?}");
                let product: usize = part.radices.iter().product();
                assert_eq!(product, part.length, "{n}");
                assert!(part.roots + part.length <= transform.table.len(), "{n}");
            }
            match transform.chirp {
                None => assert_eq!(transform.padded, n, "{n}"),
                Some([chirp, spectrum]) => {
                    assert!(transform.padded >= 2 * n - 1, "{n}");
                    assert_eq!(spectrum, chirp + n, "{n}");
                    let end = transform.table.len();
                    assert_eq!(end, spectrum + transform.padded, "{n}");
                }
            }
        }
        assert!(Transform::new(0).is_none(), "nothing to transform");
        assert!(Transform::new((1 << 19) + 1).is_none(), "too long");
    }

    /// (2, 3): 6 has no 4 in it; 16 is 4·4; 97 is a prime.
    #[test]
    fn radices_are_primes_and_fours() {
        assert_eq!(radices(6), [2, 3], "6");
        assert_eq!(radices(16), [4, 4], "16");
        assert_eq!(radices(3840), [4, 4, 4, 4, 3, 5], "3840");
        assert_eq!(radices(97), [97], "97");
        assert_eq!(grid(3840), Some([60, 64]), "3840");
        assert_eq!(grid(97), None, "a prime too great");
    }
}
