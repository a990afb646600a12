//! Pins that go wrong, and what holds whatever the pins are.

use super::{
    ROWS, TONES, ask, chart, codes, disc, pin, plain, read_at, spread, srgb_code, strong, top,
    worst,
};
use foreglass::colour::Matrix3;
use foreglass::frame::restore::{Ask, Assume, Pin, Role, Shape, restore};
use foreglass::frame::{Disc, Encoding, Frame, Native, Still, read_bytes};
use foreglass::units::Stops;
use proptest::prelude::*;

fn told(pin: Pin, stops: f64) -> Pin {
    Pin {
        stops: pin.stops + Stops::clamped(stops),
        ..pin
    }
}

/// One wild pin among six, 1.5 stops over or under, is named, and the others still bring the curve back.
/// At the ends it may be a shoulder or a toe for all that anybody knows: there it is not asked for.
#[test]
fn a_wild_pin_is_named_and_left_out() {
    let mut table = String::new();
    let mut held = true;
    for (name, tone) in TONES {
        let still = chart(tone);
        let low = if name == "ACES" { -4.25 } else { -5.0 };
        for wild in 1..5 {
            for by in [-1.5, 1.5] {
                let mut pins: Vec<Pin> = spread(tone, 0, 6).iter().map(|l| pin(0, *l)).collect();
                pins[wild] = told(pins[wild], by);
                let roles: Vec<Role> = restore(still.decoded(), &ask(pins.clone()))
                    .told
                    .pins
                    .iter()
                    .map(|p| p.role)
                    .collect();
                let named = (0..6).all(|i| (roles[i] == Role::Outlier) == (i == wild));
                let (error, at) = worst(&still, tone, &pins, low);
                held &= named && error.abs() < 0.25;
                table += &format!("\n{name:>6} pin {wild} {by:+}: {named} {error:+.3} at {at:+.2}");
            }
        }
    }
    assert!(held, "{table}");
    let mut pins: Vec<Pin> = spread(plain, 0, 6).iter().map(|l| pin(0, *l)).collect();
    pins[3] = told(pins[3], 1.5);
    let told = restore(chart(plain).decoded(), &ask(pins)).told;
    let (pin, by) = told.curve.outliers[0];
    assert!(pin == 3 && (by.get() - 1.5).abs() < 0.15, "{by:?}");
    let lines = told.lines().join("\n");
    assert!(lines.contains("Pin 4 contradicts the others"), "{lines}");
    assert_eq!(told.curve.shape, Shape::Through(5), "it counts no more");
}

/// Readings that are good are never left out: six that scatter by a tenth of a stop, as meters do.
#[test]
fn good_pins_stay() {
    for (name, tone) in TONES {
        let still = chart(tone);
        for round in 0..20 {
            let pins = spread(tone, 0, 6)
                .into_iter()
                .enumerate()
                .map(|(i, l)| told(pin(0, l), 0.06 * super::noise(round * 6 + i)));
            let told = restore(still.decoded(), &ask(pins)).told;
            assert!(told.curve.outliers.is_empty(), "{name}: {:?}", told.curve);
        }
    }
}

#[test]
fn two_that_contradict_each_other_are_told() {
    let still = chart(plain);
    // The patch of −2 is told as +1, the one of +1 as −2.
    let restored = restore(
        still.decoded(),
        &ask([told(pin(0, -2.0), 3.0), told(pin(0, 1.0), -3.0)]),
    );
    assert_eq!(restored.told.curve.contradictions, [[1, 0]], "which");
    let lines = restored.told.lines().join("\n");
    let wanted = "Pins 2 and 1 contradict each other: the first is brighter in the frame and was told \
                  darker.";
    assert!(lines.contains(wanted), "{lines}");
    let all = restored.frame.planes().iter().flatten();
    assert!(all.clone().all(|v| v.is_finite()), "and still it is light");
    // Two that a meter's error explains are not.
    let near = [told(pin(0, 0.0), 0.05), told(pin(0, 0.25), -0.25)];
    let near = restore(still.decoded(), &ask(near))
        .told
        .curve
        .contradictions;
    assert!(near.is_empty(), "{near:?}");
}

#[test]
fn one_pin_is_an_exposure() {
    for (name, tone) in TONES {
        let still = chart(tone);
        for row in 0..ROWS {
            for assume in [Assume::Plain, Assume::Typical] {
                let ask = Ask {
                    assume,
                    ..ask([told(pin(row, -1.0), 0.7)])
                };
                let restored = restore(still.decoded(), &ask);
                let now = read_at(&restored, disc(row, -1.0));
                assert!((now + 0.3).abs() < 2e-3, "{name}, {row}: {now} is not −0.3");
                let shape = restored.told.curve.shape;
                let over = matches!(shape, Shape::OffsetTypical(_));
                assert_eq!(over, assume == Assume::Typical, "{shape:?}");
                let line = restored.told.lines().remove(0);
                assert_eq!(line.contains("an assumption"), over, "{line}");
            }
        }
        let restored = restore(still.decoded(), &ask([told(pin(0, -1.0), 0.7)]));
        let ratio = |i: usize| restored.frame.planes()[1][i] / still.frame.planes()[1][i];
        assert!((ratio(300) / ratio(500) - 1.0).abs() < 1e-5, "and no more");
    }
}

#[test]
fn pins_at_one_level_are_their_mean() {
    let pins = [0.2, 0.3, 0.4].map(|by| told(pin(0, -1.0), by));
    let still = chart(plain);
    let told = restore(still.decoded(), &ask(pins)).told;
    let Shape::Offset(by) = told.curve.shape else {
        panic!("no shape can come of one level: {:?}", told.curve.shape);
    };
    // The patch's own code is 85/255, sRGB light 0.0908, −0.987 stops.
    assert!((by.get() - (0.3 - 0.013)).abs() < 2e-3, "{by:?}");
    let line = told.lines().remove(0);
    assert!(
        line.starts_with("The pins, all at one level, bring"),
        "{line}"
    );
}

#[test]
fn a_pin_on_black_tells_nothing() {
    let still = chart(strong);
    let good = [pin(0, -3.0), pin(0, 0.0), pin(0, 1.0)];
    let with = restore(
        still.decoded(),
        &ask([good[0], good[1], pin(0, -7.0), good[2]]),
    );
    let without = restore(still.decoded(), &ask(good));
    assert_eq!(with.told.pins[2].role, Role::Dark, "code 0");
    assert_eq!(with.frame, without.frame, "nothing else changes");
    let lines = with.told.lines().join("\n");
    assert!(lines.contains("Pin 3 lies on no light"), "{lines}");
    let alone = restore(still.decoded(), &ask([pin(0, -7.0)]));
    assert!(*alone.frame == still.frame, "nothing to go by");
    assert_eq!(
        alone.told.curve_lines(),
        ["Pin 1 lies on no light, and tells nothing."],
        "told"
    );
}

#[test]
fn as_many_pins_as_a_recipe_may_hold() {
    for (name, tone) in TONES {
        let still = chart(tone);
        let bright = top(tone, 2).min(top(tone, 1));
        let count = ((bright + 4.0) * 4.0) as usize;
        // Coloured and noisy patches too, each a tenth of a stop off at most.
        let pins: Vec<Pin> = (0..200)
            .map(|i| {
                let level = -4.0 + (i / ROWS % count) as f64 * 0.25;
                told(pin(i % ROWS, level), 0.033 * super::noise(i))
            })
            .collect();
        let restored = restore(still.decoded(), &ask(pins.clone()));
        assert_eq!(restored.told.curve.shape, Shape::Through(200), "{name}");
        let (error, at) = worst(&still, tone, &pins, -4.0);
        assert!(error.abs() < 0.15, "{name}: {error:+.3} at {at:+.2}");
    }
}

#[test]
fn exposure_scales_through() {
    for (name, tone) in TONES {
        let still = chart(tone);
        for count in [1, 2, 6] {
            let levels = if count == 1 {
                vec![0.0]
            } else {
                spread(tone, 0, count)
            };
            let at = |by: f64| {
                let pins = levels.iter().map(|l| told(pin(0, *l), by));
                restore(still.decoded(), &ask(pins)).frame.into_owned()
            };
            let (one, two) = (at(0.0), at(1.0));
            for (a, b) in one
                .planes()
                .iter()
                .flatten()
                .zip(two.planes().iter().flatten())
            {
                assert!(
                    (2.0 * a - b).abs() <= 1e-5 * b.abs(),
                    "{name}, {count}: {a}, {b}"
                );
            }
        }
    }
}

/// Pins that agree with plain decoding leave the frame as it is, within the meter's error.
#[test]
fn where_pins_agree_with_plain_decoding_it_stays() {
    let still = chart(plain);
    for (count, most) in [(2, 0.15), (3, 0.06), (6, 0.06)] {
        let pins: Vec<Pin> = spread(plain, 0, count).iter().map(|l| pin(0, *l)).collect();
        let (error, at) = worst(&still, plain, &pins, -5.0);
        assert!(error.abs() < most, "{count}: {error:+.3} at {at:+.2}");
    }
}

#[test]
fn a_jpeg_s_curve_comes_back() {
    for (name, tone) in TONES {
        let mut jpeg = Vec::new();
        let size = (
            (super::PATCHES * super::SIDE) as u32,
            (ROWS * super::SIDE) as u32,
        );
        image::codecs::jpeg::JpegEncoder::new_with_quality(&mut jpeg, 90)
            .encode(&codes(tone), size.0, size.1, image::ExtendedColorType::Rgb8)
            .unwrap();
        let still = read_bytes("quay.jpg", &jpeg, Encoding::Auto).unwrap();
        let pins: Vec<Pin> = spread(tone, 3, 6).iter().map(|l| pin(3, *l)).collect();
        // The brightest noisy patch without clipped pixels ends half a stop under clipping.
        let (error, at) = worst(&still, tone, &pins, -4.0);
        assert!(error.abs() < 0.22, "{name}: {error:+.3} at {at:+.2}");
        // Grey patches as they are read, where a code is less than a tenth of a stop.
        let restored = restore(still.decoded(), &ask(pins));
        for i in 0..super::PATCHES {
            let level = super::level(i);
            let code = srgb_code(tone(0.18 * level.exp2()));
            if (20..250).contains(&code) {
                let now = read_at(&restored, disc(0, level));
                assert!((now - level).abs() < 0.2, "{name}: {now} is not {level}");
            }
        }
    }
}

/// A frame of a display's own light, 64 × 2: a ramp over everything that a float may be, above it the spots.
fn any_light(for_display: bool) -> Still {
    let mut ramp = vec![
        f32::NEG_INFINITY,
        -1e30,
        -50.0,
        -1.0,
        -0.18,
        -1e-6,
        -1e-38,
        -0.0,
        0.0,
        1e-45,
        1e-38,
        1e-20,
        1e-6,
        1e-4,
        1.7e-4,
        1.76e-4,
        1.8e-4,
        0.999,
        1.0,
        1.001,
        736.0,
        738.0,
        1e9,
        1e30,
        f32::MAX,
        f32::INFINITY,
    ];
    while ramp.len() < 64 {
        let i = ramp.len() as f32;
        ramp.push(((i - 60.0) / 4.0).exp2());
    }
    ramp.sort_by(f32::total_cmp);
    let spots = (0..64).map(|i| ((i as f32 - 58.0) / 5.0).exp2());
    let plane: Vec<f32> = spots.chain(ramp).collect();
    Still {
        frame: Frame::from_planes(64, 2, [plane.clone(), plane.clone(), plane]),
        encoding: Encoding::Auto,
        how: String::new(),
        exif: Default::default(),
        native: Native {
            to_working: Matrix3::IDENTITY,
            from_working: Matrix3::IDENTITY,
            for_display,
            bits: 8,
            clipped: None,
        },
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(96))]

    /// Whatever is told of whatever point: more light stays more light, and light stays a number.
    #[test]
    fn it_rises_and_is_finite_for_any_pins(
        told in prop::collection::vec((0_usize..64, -1000.0..1000.0_f64, 0_u8..3), 0..12),
        for_display: bool,
        typical: bool,
    ) {
        let pins = told.iter().map(|(x, stops, scale)| Pin {
            disc: Disc { x: (*x as f64 + 0.5) / 64.0, y: 0.25, radius: 0.0 },
            stops: Stops::clamped(stops / [1.0, 30.0, 200.0][usize::from(*scale)]),
        });
        let assume = if typical { Assume::Typical } else { Assume::Plain };
        let ask = Ask { assume, ..ask(pins) };
        let still = any_light(for_display);
        let restored = restore(still.decoded(), &ask);
        if matches!(restored.told.curve.shape, Shape::Plain) {
            return Ok(());
        }
        let row = &restored.frame.planes()[1][64..];
        for (i, pair) in row.windows(2).enumerate() {
            prop_assert!(pair[0].is_finite() && pair[1].is_finite(), "{pair:?}");
            let slack = 1e-6 * pair[0].abs();
            prop_assert!(pair[1] >= pair[0] - slack, "at {i}: {pair:?}");
        }
        // Odd about nothing.
        let one = |v: f32| {
            let at = still.frame.planes()[1][64..].iter().position(|x| *x == v);
            row[at.unwrap()]
        };
        prop_assert_eq!(one(-1.0), -one(1.0));
        prop_assert_eq!(one(0.0), 0.0);
        for [plain, scene] in &restored.told.curve.points {
            prop_assert!(plain.get().is_finite() && scene.get().is_finite());
        }
        let lines = restored.told.lines().join(" ");
        prop_assert!(!lines.contains("NaN") && !lines.contains("inf"), "{}", lines);
    }
}
