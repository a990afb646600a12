//! The sample that a phone would have made of the wheelhouse, brought back by its recipe's spots, against the
//! wheelhouse itself (`sample_frames/wheelhouse_scout.rs`: camera curve, clip, noise, 8 bits, JPEG).

use crate::restore_clip::light::{around, halo};
use foreglass::frame::{Disc, Encoding, Frame, Still, read_bytes};
use foreglass::recipe::Recipe;
use foreglass::recipe::samples::SAMPLES;

/// Spots on light that the phone kept, none of them one of the recipe's.
const SPOTS: [[f64; 2]; 10] = [
    [0.90, 0.20],
    [0.55, 0.30],
    [0.60, 0.06],
    [0.70, 0.70],
    [0.85, 0.80],
    [0.83, 0.40],
    [0.75, 0.12],
    [0.95, 0.70],
    [0.50, 0.45],
    [0.10, 0.10],
];

fn sample(name: &str) -> &'static [u8] {
    let found = SAMPLES.iter().find(|(n, _)| *n == name);
    found.expect("a sample").1
}

fn still(name: &str) -> Still {
    read_bytes(name, sample(name), Encoding::Auto).unwrap()
}

fn recipe(name: &str) -> Recipe {
    Recipe::parse(std::str::from_utf8(sample(name)).unwrap()).unwrap()
}

fn level(frame: &Frame, [x, y]: [f64; 2]) -> f64 {
    let disc = Disc { x, y, radius: 0.01 };
    (disc.mean(frame) / 0.18).log2()
}

/// Where the light was kept: within 0.15 stop of the scene, up to 0.9 off before. What halates: within 10 %
/// of the scene, about half before.
#[test]
fn a_phone_s_photo_stands_beside_the_scene() {
    let (phone, scene) = (still("wheelhouse_scout.jpg"), still("wheelhouse.exr"));
    let look = recipe("wheelhouse_scout.json");
    let restored = look.light(phone.decoded());
    let mut table = String::new();
    let (mut worst, mut before) = (0.0_f64, 0.0_f64);
    for spot in SPOTS {
        let [plain, now, wanted] =
            [&phone.frame, &restored.frame, &scene.frame].map(|frame| level(frame, spot));
        worst = worst.max((now - wanted).abs());
        before = before.max((plain - wanted).abs());
        table += &format!("\n{spot:?}: {plain:+.2} to {now:+.2}, scene {wanted:+.2}");
    }
    assert!(
        worst < 0.1 && before > 0.8,
        "{worst:.3}, {before:.3}{table}"
    );
    let lost = &phone
        .native
        .clipped
        .as_ref()
        .expect("a clipped window")
        .channels;
    let places = around(lost, phone.frame.width());
    let setup = look.setup().unwrap();
    let [plain, now, wanted] =
        [&phone.frame, &restored.frame, &scene.frame].map(|frame| halo(&setup, frame, &places));
    println!(
        "unrestored {:.3}, restored {:.3}",
        plain / wanted,
        now / wanted
    );
    assert!(
        (now / wanted - 1.0).abs() < 0.1,
        "restored {:.3}",
        now / wanted
    );
    assert!(plain / wanted < 0.6, "unrestored {:.3}", plain / wanted);
}

/// Every pin is met, the lamp and the window too, and none contradicts the others.
#[test]
fn its_spots_agree() {
    let phone = still("wheelhouse_scout.jpg");
    let restored = recipe("wheelhouse_scout.json").light(phone.decoded());
    for (i, pin) in restored.told.pins.iter().enumerate() {
        assert!(pin.residual().get().abs() < 0.15, "{i}: {pin:?}");
    }
    assert!(
        restored.told.curve.outliers.is_empty(),
        "{:?}",
        restored.told.curve
    );
}
