//! What halates: diffusion over restored light against diffusion over the scene itself.

use super::scenes::{self, FILES, File, H, Scene, W, codes, found, pixels, still, truth};
use crate::meter::mist;
use crate::plan::{render, setup};
use foreglass::colour::primaries::luminance;
use foreglass::frame::restore::{Area, Ask, Hue, restore};
use foreglass::frame::{Disc, Frame};
use foreglass::rig::Setup;
use foreglass::units::{Fraction, Stops};

/// What the glass passes without scattering it: what a single bright pixel keeps.
fn core(setup: &Setup, (w, h): (usize, usize)) -> f64 {
    let middle = w * (h / 2) + w / 2;
    let mut plane = vec![0.0_f32; w * h];
    plane[middle] = 1.0;
    let dot = Frame::from_planes(w, h, [plane.clone(), plane.clone(), plane]);
    f64::from(render(setup, &dot).planes()[1][middle])
}

/// The light that the glass scatters to these places, mean luminance.
pub(crate) fn halo(setup: &Setup, frame: &Frame, places: &[usize]) -> f64 {
    let w = frame.width();
    let (glass, core) = (render(setup, frame), core(setup, (w, frame.height())));
    let scattered = |i: &usize| {
        let light = |frame: &Frame| f64::from(luminance(frame.pixel(i % w, i / w)));
        light(&glass) - core * light(frame)
    };
    places.iter().map(scattered).sum::<f64>() / places.len() as f64
}

/// The places that are 3 to 40 steps from clipped light.
pub(crate) fn around(lost: &[u8], w: usize) -> Vec<usize> {
    let h = lost.len() / w;
    let mut far: Vec<usize> = lost
        .iter()
        .map(|l| if *l == 0 { usize::MAX } else { 0 })
        .collect();
    let mut front: Vec<usize> = (0..far.len()).filter(|i| far[*i] == 0).collect();
    for step in 1..=40 {
        let mut next = Vec::new();
        for i in front {
            let (x, y) = (i % w, i / w);
            for v in y.saturating_sub(1)..(y + 2).min(h) {
                for u in x.saturating_sub(1)..(x + 2).min(w) {
                    let n = v * w + u;
                    if far[n] == usize::MAX {
                        far[n] = step;
                        next.push(n);
                    }
                }
            }
        }
        front = next;
    }
    (0..far.len())
        .filter(|i| (3..=40).contains(&far[*i]))
        .collect()
}

/// A scene's light as a meter would tell it of the clipped part, and what a file of it halates: bare of
/// levels, restored, and the scene itself.
fn halations(scene: Scene, file: File) -> [f64; 3] {
    let pixels = pixels(scene, (W, H));
    let true_light = truth(&pixels, (W, H));
    let still = still(&codes(&pixels), (W, H), file);
    let lost = found(&still);
    let whole: Vec<f64> = (0..W * H)
        .filter(|i| lost[*i] != 0)
        .map(|i| f64::from(luminance(true_light.pixel(i % W, i / W))))
        .collect();
    let mean = whole.iter().sum::<f64>() / whole.len() as f64;
    let side = |v| Fraction::new(v).unwrap();
    let ask = Ask {
        areas: vec![Area {
            sides: [side(0.0), side(0.0), side(1.0), side(1.0)],
            stops: Stops::clamped((mean / 0.18).log2()),
            hue: None,
        }],
        ..Ask::default()
    };
    let restored = restore(still.decoded(), &ask);
    let around = around(&lost, W);
    let mist = setup(&[("/rig/stages/0", mist("pale-mist", "1"))]);
    [&still.frame, &restored.frame, &true_light].map(|frame| halo(&mist, frame, &around))
}

/// Within 10 % of the scene's own once the level is told (4.7 % measured); by far too little before, and
/// least so in the bright sky, of which most is not clipped.
#[test]
fn restored_light_halates_as_the_scene_does() {
    let scenes: [(&str, Scene); 4] = [
        ("window", scenes::window),
        ("lamp", scenes::lamp),
        ("sky", scenes::sky),
        ("orange lamp", scenes::orange),
    ];
    let mut table = String::new();
    let mut held = true;
    for (name, scene) in scenes {
        for file in FILES {
            let [plain, restored, scene] = halations(scene, file);
            let parts = [plain / scene, restored / scene];
            table += &format!(
                "\n{name} {file:?}: unrestored {:.3}, restored {:.3}",
                parts[0], parts[1]
            );
            let most = if name == "sky" { 0.8 } else { 0.45 };
            held &= parts[0] < most && (parts[1] - 1.0).abs() < 0.06;
        }
    }
    println!("{table}");
    assert!(held, "{table}");
}

/// No step at the border: restored light begins where the picture's own ends, and what was not clipped is
/// not touched.
#[test]
fn restored_light_leaves_the_rest_and_begins_at_its_rim() {
    for scene in [scenes::lamp, scenes::sky, scenes::orange] {
        let still = still(&codes(&pixels(scene, (W, H))), (W, H), File::Png);
        let lost = found(&still);
        let ask = Ask {
            clipped: Some(Stops::clamped(4.5)),
            ..Ask::default()
        };
        let restored = restore(still.decoded(), &ask);
        let mut highest = 0.0_f32;
        for i in 0..W * H {
            let at = |frame: &Frame| frame.pixel(i % W, i / W);
            let (before, after) = (at(&still.frame), at(&restored.frame));
            if lost[i] == 0 {
                assert_eq!(before, after, "light that the file holds stays");
                continue;
            }
            let (was, is) = (luminance(before), luminance(after));
            assert!(
                is >= was * (1.0 - 1e-5),
                "never darker than the clip: {was}, {is}"
            );
            highest = highest.max(is);
            let rim = [i.wrapping_sub(1), i + 1, i.wrapping_sub(W), i + W];
            if rim.iter().any(|n| lost.get(*n) == Some(&0)) {
                assert!(is < 3.5 * was, "a step at the rim: {was}, {is}");
            }
        }
        assert!(highest > 0.18 * 5_f32.exp2(), "and it does rise: {highest}");
    }
}

/// The hue of a lamp that lost its red before its green and blue is that of its rim, or the camera's white.
#[test]
fn the_hue_is_the_rim_s_or_neutral() {
    let scene = pixels(scenes::orange, (W, H));
    let still = still(&codes(&scene), (W, H), File::Png);
    let colour = |hue: Hue| {
        let ask = Ask {
            clipped: Some(Stops::clamped(6.0)),
            hue,
            ..Ask::default()
        };
        let restored = restore(still.decoded(), &ask);
        let middle = Disc {
            x: 150.3 / W as f64,
            y: 90.8 / H as f64,
            radius: 6.0 / W as f64,
        };
        let mut sum = [0.0; 3];
        for i in middle.pixels(W, H) {
            let native = still
                .native
                .from_working
                .apply(restored.frame.pixel(i % W, i / W).map(f64::from));
            sum.iter_mut().zip(native).for_each(|(s, v)| *s += v);
        }
        [sum[1] / sum[0], sum[2] / sum[0]]
    };
    // The scene's own is 1 : 0.45 : 0.12 (`scenes::orange`).
    let rim = colour(Hue::Rim);
    assert!(
        (rim[0] - 0.45).abs() < 0.1 && (rim[1] - 0.12).abs() < 0.1,
        "{rim:?}"
    );
    let neutral = colour(Hue::Neutral);
    assert!(neutral.iter().all(|n| (n - 1.0).abs() < 0.1), "{neutral:?}");
}
