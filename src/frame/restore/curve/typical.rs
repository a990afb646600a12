//! A camera's usual picture curve: what is assumed where pins do not tell.
//!
//! It is an assumption of ours, no camera's own curve, and is told as one. A display's light `v` (0 to 1)
//! becomes the scene's light `L` by
//!
//! ```text
//! L / 0.18 = [ v/(W − v) · (W − 0.18)/0.18 ]^p      p = (1 − 0.18/W) / 1.2
//! ```
//!
//! which is what these anchors ask of the plainest curve with a shoulder, one that is straight between the
//! logarithm of scene light and that of v/(W − v):
//! - mid-grey keeps its place: 18 % grey is code 118 of an sRGB picture (ISO 12232, standard output
//!   sensitivity; 118/255 is light 0.181);
//! - contrast about it is 1.2, of a picture that a BT.709 camera makes for a BT.1886 display (the system
//!   gamma of ITU-R BT.2100 for 1000 cd/m², also 1.2);
//! - white is where the sensor is full, 1.41 times the light of a perfect white (ISO 12232, saturation
//!   speed: 78/10 of the exposure of 18 % grey), 2.97 stops over mid-grey. From it follows W.
//!
//! ISO 12232 and the contrast of BT.709 through BT.1886 are quoted from memory.

/// Mid-grey.
pub(super) const GREY: f64 = 0.18;
/// Contrast about mid-grey.
pub(super) const CONTRAST: f64 = 1.2;
/// Stops from mid-grey to the light of white: log₂(7.8).
pub(super) const WHITE: f64 = 2.963_474_123_974_886;
/// Where the shoulder would be level: the W for which white comes out at [`WHITE`].
const SHOULDER: f64 = 1.400_95;

/// The power of v/(W − v).
const fn power() -> f64 {
    (1.0 - GREY / SHOULDER) / CONTRAST
}

/// Scene stops from plain stops, both against mid-grey; beyond white light for light.
pub(super) fn stops(plain: f64) -> f64 {
    let over = (plain - white()).max(0.0);
    let light = GREY * (plain - over).exp2();
    let odds = light / (SHOULDER - light) * (SHOULDER - GREY) / GREY;
    power() * odds.log2() + over
}

/// How steep that is, as the logarithm of scene stops a plain stop.
pub(super) fn log_slope(plain: f64) -> f64 {
    let light = GREY * plain.min(white()).exp2();
    (power() / (1.0 - light / SHOULDER)).ln()
}

/// Display white, in plain stops: 2.474.
pub(super) fn white() -> f64 {
    -GREY.log2()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_anchors_hold() {
        assert!(stops(0.0).abs() < 1e-12, "mid-grey stays");
        assert!((stops(white()) - WHITE).abs() < 1e-5, "{}", stops(white()));
        let steep = (stops(1e-4) - stops(-1e-4)) / 2e-4;
        assert!((steep * CONTRAST - 1.0).abs() < 1e-4, "{steep}");
        for i in -100..24_i32 {
            let u = f64::from(i) / 10.0;
            let steep = (stops(u + 1e-5) - stops(u - 1e-5)) / 2e-5;
            assert!((steep.ln() - log_slope(u)).abs() < 1e-4, "at {u}: {steep}");
        }
    }
}
