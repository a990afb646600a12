//! What is found clipped, against what was clipped.

use super::scenes::{self, FILES, H, Scene, W, codes, found, mask, pixels, still};

const ALL: [(&str, Scene); 4] = [
    ("window", scenes::window),
    ("lamp", scenes::lamp),
    ("sky", scenes::sky),
    ("orange lamp", scenes::orange),
];

/// Of a PNG's clipped samples all are found and none beside them. Lossy coding moves some off the ceiling:
/// of the pixels that are clipped in every channel nearly all are found again, and what is found beside the
/// clipped samples had nearly their light.
#[test]
fn what_was_clipped_is_found() {
    let mut table = String::new();
    let mut held = true;
    for (name, scene) in ALL {
        let light = pixels(scene, (W, H));
        let codes = codes(&light);
        let truth = mask(&codes);
        for file in FILES {
            let found = found(&still(&codes, (W, H), file));
            let pairs = || truth.iter().zip(&found);
            let all = truth.iter().filter(|t| **t == 7).count();
            let missed = pairs().filter(|(t, f)| **t == 7 && **f == 0).count();
            let none = pairs().filter(|(t, f)| **t != 0 && **f == 0).count();
            let wrong: Vec<f64> = (0..W * H * 3)
                .filter(|i| !truth[i / 3] & found[i / 3] & (1 << (i % 3)) != 0)
                .map(|i| light[i / 3][i % 3])
                .collect();
            let lowest = wrong.iter().copied().fold(1.0, f64::min);
            table += &format!(
                "\n{name} {file:?}: of {all} missed {missed} ({none}), wrong {} down to {lowest:.3}",
                wrong.len()
            );
            held &= match file {
                scenes::File::Png => none == 0 && wrong.is_empty() && found == truth,
                scenes::File::Jpeg(..) => 25 * missed <= all && lowest > 0.75,
            };
        }
    }
    assert!(held, "{table}");
}
