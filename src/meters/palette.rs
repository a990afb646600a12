//! Colours by their lightness, for pictures of figures.
//!
//! CIELAB of sRGB's own white, D65; what sRGB cannot show is held at its limits.

use crate::colour::Xyz;
use crate::colour::primaries::Space;
use crate::colour::transfer::Curve;

/// L\*, a\*, b\* a part of the way from one colour to another.
pub(super) fn between(from: [f64; 3], to: [f64; 3], part: f64) -> [f64; 3] {
    std::array::from_fn(|i| from[i] + part * (to[i] - from[i]))
}

/// The sRGB codes of L\*, a\*, b\*.
pub(super) fn lab_codes([l, a, b]: [f64; 3]) -> [u8; 3] {
    let [x, y] = Space::Srgb.white();
    let white = Xyz::from_xy(x, y).get();
    let middle = (l + 16.0) / 116.0;
    let cubed = |t: f64| {
        if t > 6.0 / 29.0 {
            t.powi(3)
        } else {
            (t - 4.0 / 29.0) * 108.0 / 841.0
        }
    };
    let parts = [middle + a / 500.0, middle, middle - b / 200.0].map(cubed);
    let xyz = std::array::from_fn(|i| parts[i] * white[i]);
    let from_xyz = Space::Srgb.to_xyz().inverse();
    let light = from_xyz.map_or([0.0; 3], |m| m.apply(xyz));
    light.map(|v| (255.0 * Curve::Srgb.encode(v as f32).clamp(0.0, 1.0)).round() as u8)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn greys_are_grey_and_ends_are_ends() {
        // L* 53.585 is the grey of code 128 (from memory: sRGB 128 has Y 0.2159).
        assert_eq!(lab_codes([53.585, 0.0, 0.0]), [128; 3]);
        assert_eq!(lab_codes([0.0; 3]), [0; 3]);
        assert_eq!(lab_codes([100.0, 0.0, 0.0]), [255; 3]);
    }
}
