//! False stops and differences: what colour stands for what, and whether every eye tells them apart.

use super::{even, grey};
use crate::colour::srgb_light;
use crate::plan::{render, setup};
use foreglass::colour::Xyz;
use foreglass::meters::difference::Difference;
use foreglass::meters::false_stops::{self, BANDS, COUNT, REACH};
use foreglass::meters::{Entry, Reduced};
use foreglass::units::Stops;
use serde_json::json;

/// What protanopes, deuteranopes and tritanopes make of linear sRGB: Machado, Oliveira and Fernandes 2009,
/// table of severity 1.0, as colour-science 0.4.7 has it. The first is the usual eye.
const EYES: [[[f64; 3]; 3]; 4] = [
    [[1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, 1.0]],
    [
        [0.152286, 1.052583, -0.204868],
        [0.114503, 0.786281, 0.099216],
        [-0.003882, -0.048116, 1.051998],
    ],
    [
        [0.367322, 0.860646, -0.227968],
        [0.280085, 0.672501, 0.047413],
        [-0.011820, 0.042940, 0.968881],
    ],
    [
        [1.255528, -0.076749, -0.178779],
        [-0.078411, 0.930809, 0.147602],
        [0.004733, 0.691367, 0.303900],
    ],
];

/// sRGB to XYZ (IEC 61966-2-1).
const TO_XYZ: [[f64; 3]; 3] = [
    [0.4124, 0.3576, 0.1805],
    [0.2126, 0.7152, 0.0722],
    [0.0193, 0.1192, 0.9505],
];

fn times(m: &[[f64; 3]; 3], v: [f64; 3]) -> [f64; 3] {
    m.map(|row| row[0] * v[0] + row[1] * v[1] + row[2] * v[2])
}

/// A colour as an eye sees it.
fn seen(colour: [u8; 3], eye: &[[f64; 3]; 3]) -> Xyz {
    let light = colour.map(|code| srgb_light(f64::from(code) / 255.0));
    let seen = times(eye, light).map(|v| v.clamp(0.0, 1.0));
    Xyz::from(times(&TO_XYZ, seen))
}

fn white() -> Xyz {
    Xyz::from(times(&TO_XYZ, [1.0; 3]))
}

fn lightness(colour: Xyz) -> f64 {
    colour.lab(white())[0]
}

/// Any two bands 9 apart by CIEDE2000, key 15 from all; lightness rises by 4 for the usual eye and by 2 for
/// the others. A difference of 2.3 is about what is just noticed side by side (Mahy, Van Eycken and
/// Oosterlinck 1994, of ΔE*ab; from memory).
#[test]
fn every_eye_tells_the_bands_apart_and_in_order() {
    for (which, eye) in EYES.iter().enumerate() {
        let bands = BANDS.map(|(_, colour)| seen(colour, eye));
        for a in 0..COUNT {
            for b in 0..a {
                let apart = bands[a].delta_e2000(bands[b], white());
                let least = if BANDS[a].0 == 0 || BANDS[b].0 == 0 {
                    15.0
                } else {
                    9.0
                };
                assert!(
                    apart >= least,
                    "eye {which}: {:?} {:?} {apart}",
                    BANDS[a],
                    BANDS[b]
                );
            }
        }
        let least = if which == 0 { 4.0 } else { 2.0 };
        for pair in bands.windows(2) {
            let rise = lightness(pair[1]) - lightness(pair[0]);
            assert!(rise >= least, "eye {which}: a rise of {rise}");
        }
    }
    // Key is the strongest colour of its lightness by far, and the ends are the ends of the display.
    assert_eq!((BANDS[0].1, BANDS[COUNT - 1].1), ([0; 3], [255; 3]));
    let [_, a, b] = seen(BANDS[7].1, &EYES[0]).lab(white());
    assert!(a.hypot(b) > 60.0, "key is strong");
}

/// Bands of known patches: whole stops round key, half a stop either way.
#[test]
fn patches_have_the_colour_of_their_stop() {
    let patches: Vec<(f64, usize)> = (-9_i32..=9)
        .flat_map(|stops| {
            let band = (stops.clamp(-7, 7) + 7) as usize;
            [-0.49, 0.0, 0.49].map(|off| (f64::from(stops) + off, band))
        })
        .collect();
    let frame = grey(patches.len(), 2, |x, _| 0.18 * patches[x].0.exp2());
    let painted = false_stops::paint(&frame);
    assert_eq!((painted.width, painted.height), (57, 2));
    for (x, (stops, band)) in patches.iter().enumerate() {
        let pixel = &painted.rgba[4 * x..4 * x + 4];
        let [r, g, b] = BANDS[*band].1;
        assert_eq!(pixel, [r, g, b, 255], "{stops} stops");
    }
    let shares = false_stops::shares(&Reduced::of(&frame));
    assert!((shares[7] - 3.0 / 57.0).abs() < 1e-9, "{shares:?}");
    assert!((shares.iter().sum::<f64>() - 1.0).abs() < 1e-9, "all of it");
    // Key is the level of working light's (0.18, 0.18, 0.18), whatever the colour that has it.
    let blue = even(1, 1, [0.0, 0.0, (0.18 / 0.053_689_517_4) as f32]);
    assert_eq!(false_stops::paint(&blue).rgba[..3], BANDS[7].1, "Y is 0.18");
}

fn is_a_course(entries: &[Entry]) {
    for pair in entries.windows(2) {
        assert_eq!(pair[0].to, pair[1].from, "no gap, no overlap: {pair:?}");
    }
}

#[test]
fn legends_say_what_is_painted() {
    let legend = false_stops::legend();
    is_a_course(&legend);
    assert_eq!(legend[7].word, "key");
    assert_eq!((legend[0].from, legend[COUNT - 1].to), (None, None));
    for entry in &legend {
        let reach = f64::from(REACH) + 0.5;
        let from = entry.from.unwrap_or(-reach - 3.0);
        let middle = f64::midpoint(from, entry.to.unwrap_or(reach + 3.0));
        let light = (0.18 * middle.exp2()) as f32;
        assert_eq!(false_stops::colour(light), entry.colour, "{entry:?}");
    }
    let difference = Difference::default();
    let mut legend = difference.legend();
    let none = legend.pop().unwrap();
    assert_eq!((none.colour, none.word.as_str()), ([0; 3], "no light"));
    is_a_course(&legend);
    let words: Vec<&str> = legend.iter().map(|e| e.word.as_str()).collect();
    let want = [
        "−2",
        "−1.5",
        "−1",
        "−0.5",
        "no change",
        "+0.5",
        "+1",
        "+1.5",
        "+2",
    ];
    assert_eq!(words, want);
    for (entry, stops) in legend.iter().zip((-4..=4).map(|i| 0.5 * f64::from(i))) {
        let painted = difference.colour(Some(Stops::clamped(stops)));
        assert_eq!(painted, entry.colour, "{entry:?}");
    }
}

/// Half-stop steps 4.5 apart for every eye, in order of lightness; no change is neutral; black is none of
/// them.
#[test]
fn every_eye_tells_loss_from_gain() {
    let legend = Difference::default().legend();
    let [r, g, b] = legend[4].colour;
    assert!(r == g && g == b, "no change is grey: {r} {g} {b}");
    for (which, eye) in EYES.iter().enumerate() {
        let tones: Vec<Xyz> = legend.iter().map(|e| seen(e.colour, eye)).collect();
        for a in 0..tones.len() {
            for b in 0..a {
                let apart = tones[a].delta_e2000(tones[b], white());
                assert!(
                    apart >= 4.5,
                    "eye {which}: {} {} {apart}",
                    legend[a].word,
                    legend[b].word
                );
            }
        }
        for pair in tones[..9].windows(2) {
            let rise = lightness(pair[1]) - lightness(pair[0]);
            assert!(rise >= 5.0, "eye {which}: a rise of {rise}");
        }
        let dark = lightness(tones[0]) - lightness(tones[9]);
        assert!(dark > 20.0, "eye {which}: most loss is no black: {dark}");
    }
}

/// ND 0.3 takes 0.3 / log₁₀ 2 = 0.9966 stop from every pixel (`nd.csv`), whatever is in the picture.
#[test]
fn a_density_is_the_same_difference_everywhere() {
    let setup = setup(&[(
        "/rig/stages/0",
        json!({"glass": "nd", "options": {"density": 0.3}}),
    )]);
    let bare = grey(96, 54, |x, y| {
        0.18 * (0.1 * x as f64 - 0.13 * y as f64).exp2()
    });
    let glass = render(&setup, &bare);
    let difference = Difference::default();
    let painted = difference.paint(&bare, &glass);
    let want = difference.colour(Some(Stops::clamped(-0.996_578)));
    let [less, more] = [-0.95, -1.05].map(|s| difference.colour(Some(Stops::clamped(s))));
    assert!(less != want && more != want, "a twentieth of a stop shows");
    for (i, pixel) in painted.rgba.chunks_exact(4).enumerate() {
        assert_eq!(pixel[..3], want, "pixel {i}");
        let change = Difference::change(&bare, &glass, i).unwrap();
        assert!((change + 0.996_578).abs() < 2e-4, "pixel {i}: {change}");
    }
}

/// Where either picture has no light there is nothing to compare; beyond the range the ends hold.
#[test]
fn differences_of_nothing_are_black() {
    let bare = grey(4, 1, |x, _| [0.0, 0.18, 0.18, 0.18][x]);
    let glass = grey(4, 1, |x, _| [0.18, 0.0, 0.18 / 64.0, 0.18 * 64.0][x]);
    let difference = Difference::new(Stops::clamped(3.0)).unwrap();
    let painted = difference.paint(&bare, &glass);
    let ends = [-3.0, 3.0].map(|s| difference.colour(Some(Stops::clamped(s))));
    let pixels: Vec<&[u8]> = painted.rgba.chunks_exact(4).map(|p| &p[..3]).collect();
    assert_eq!(pixels, [&[0; 3], &[0; 3], &ends[0], &ends[1]]);
    for range in [0.0, -1.0, 21.0] {
        let refused = Difference::new(Stops::clamped(range)).unwrap_err();
        assert!(refused.to_string().contains("0.1 to 20 stops"), "{refused}");
    }
}
