//! What is found clipped, against what was clipped.

use super::scenes::{self, FILES, H, Scene, W, codes, found, mask, pixels, still};

const ALL: [(&str, Scene); 4] = [
    ("window", scenes::window),
    ("lamp", scenes::lamp),
    ("sky", scenes::sky),
    ("orange lamp", scenes::orange),
];

#[test]
fn what_was_clipped_is_found() {
    for (name, scene) in ALL {
        let codes = codes(&pixels(scene, (W, H)));
        let truth = mask(&codes);
        for file in FILES {
            let found = found(&still(&codes, (W, H), file));
            for c in 0..3 {
                let bit = 1 << c;
                let all = truth.iter().filter(|t| **t & bit != 0).count();
                let pairs = || truth.iter().zip(&found);
                let missed = pairs().filter(|(t, f)| **t & !**f & bit != 0).count();
                let wrong = pairs().filter(|(t, f)| !**t & **f & bit != 0).count();
                println!("{name} {file:?} {c}: all {all} missed {missed} wrong {wrong}");
            }
        }
    }
}
