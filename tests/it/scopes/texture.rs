//! Texture in decibels: of sines whose contrast is cut by known factors, and by a glass's own MTF.

use crate::plan::{run, setup};
use foreglass::engine::{self, Choice};
use foreglass::frame::Frame;
use foreglass::meters::texture::{self, Band, Texture};
use foreglass::meters::{Region, effect};
use serde_json::json;
use std::f64::consts::PI;

const SIZE: [usize; 2] = [1152, 648];
/// Half-cycles down the frame: 160, 40 and 10 cycles to its height, where the bands peak.
const SINES: [f64; 3] = [320.0, 80.0, 20.0];

fn waves(contrast: [f64; 3]) -> Frame {
    let [w, h] = SIZE;
    super::grey(w, h, |_, y| {
        let y = (y as f64 + 0.5) / h as f64;
        let sum: f64 = SINES
            .iter()
            .zip(contrast)
            .map(|(k, c)| c * (PI * k * y).cos())
            .sum();
        0.18 * (1.0 + sum)
    })
}

fn bands(t: &Texture) -> [Band; 3] {
    t.scales().map(|(_, _, band)| band.expect("rows enough"))
}

/// Each band's contrast cut to 0.9, 0.5 and 0.1 of it: 20 log₁₀ of that, −0.92, −6.02 and −20 dB; and the
/// energies' ratio is the same in 10 log₁₀. Exposure does not count.
#[test]
fn decibels_are_those_of_the_contrast_s_factor() {
    let whole = [0.02, 0.02, 0.02];
    let factors = [0.9, 0.5, 0.1];
    let cut: [f64; 3] = std::array::from_fn(|i| whole[i] * factors[i]);
    let (bare, glass) = (waves(whole), waves(cut));
    let dark = Frame::from_planes(
        SIZE[0],
        SIZE[1],
        glass
            .planes()
            .each_ref()
            .map(|p| p.iter().map(|v| 0.25 * v).collect()),
    );
    for (after, gain) in [(&glass, 1.0), (&dark, 0.25)] {
        let t = texture::kept(&bare, after, gain, Region::WHOLE);
        for (band, factor) in bands(&t).into_iter().zip(factors) {
            let want = 20.0 * factor.log10();
            assert!((band.db() - want).abs() < 0.15, "{}, {want}", band.db());
            let [e0, e1] = band.energies();
            assert!(
                (10.0 * (e1 / e0).log10() - band.db()).abs() < 1e-9,
                "{band:?}"
            );
            assert!((band.percent() - 100.0 * factor).abs() < 1.0, "{band:?}");
            // A sine of contrast c through a band that peaks on it: the band keeps G(σ) − G(2σ) of it,
            // with u = (2πνσ)² = ⅔ ln 4 that is e^(−u/2) − e^(−2u), and the energy is half the square.
            let u = 2.0 / 3.0 * 4_f64.ln();
            let kept = (-u / 2.0).exp() - (-2.0 * u).exp();
            let energy = 0.5 * (0.02 * kept).powi(2);
            assert!((e0 / energy - 1.0).abs() < 0.1, "{e0}, {energy}");
        }
    }
}

/// Through a mist the sines lose what its MTF takes, in decibels.
#[test]
fn decibels_through_glass_are_its_mtf_s() {
    let frame = waves([0.02; 3]);
    let setup = setup(&[
        (
            "/rig/stages/0",
            json!({"glass": "pale-mist", "strength": "2"}),
        ),
        ("/camera/focal_mm", json!(18)),
        ("/light", json!({"corner_halos": "even"})),
    ]);
    let plan = engine::plan(&setup, SIZE[0], SIZE[1]);
    let out = run(&plan, &frame, Choice::Cpu);
    let t = effect(&frame, &out, &plan, Region::WHOLE).texture;
    let height_mm = setup.view(SIZE[1] as f64 / SIZE[0] as f64).height_mm;
    let stack = setup.stack();
    for (band, half_cycles) in bands(&t).into_iter().zip(SINES) {
        let nu = setup.camera.focal_mm.get() * half_cycles / 2.0 / height_mm;
        let want = 20.0 * stack.mtf(nu).mean.log10();
        assert!((band.db() - want).abs() < 0.02, "{}, {want}", band.db());
        assert!(band.db() < -0.5, "the glass does something: {}", band.db());
    }
}

/// In a marked region only what is there counts.
#[test]
fn a_region_is_read_by_itself() {
    let [w, h] = SIZE;
    let bare = waves([0.02; 3]);
    let flat = waves([0.0; 3]);
    let half = |left: &Frame, right: &Frame| {
        let planes = [0, 1, 2].map(|c| {
            let pick = |i: usize| if i % w < w / 2 { left } else { right }.planes()[c][i];
            (0..w * h).map(pick).collect()
        });
        Frame::from_planes(w, h, planes)
    };
    let glass = half(&bare, &flat);
    let kept = |x0: f64, x1: f64| {
        let region = Region::new([x0, 0.0, x1, 1.0]).unwrap();
        bands(&texture::kept(&bare, &glass, 1.0, region))[0]
    };
    let (left, right) = (kept(0.05, 0.45), kept(0.55, 0.95));
    assert!(left.db().abs() < 0.01, "{left:?}");
    assert_eq!(right.db(), -120.0, "nothing left, and still a number");
}
