//! The waveform and the histogram against a step wedge and ramps; a contrast against handbook ratios.

use super::grey;
use crate::checks::Table;
use foreglass::frame::Frame;
use foreglass::meters::histogram::Histogram;
use foreglass::meters::spot::{Contrast, spot};
use foreglass::meters::waveform::Waveform;
use foreglass::meters::{Axis, Channel, Reduced};
use foreglass::units::Stops;
use proptest::prelude::*;

/// A 21-step wedge of 0.15 density a step (common practice), its middle step at key. What a step costs in
/// stops stands in `nd.csv`: 0.15 D is 0.498 stop (ISO 5: density is −log₁₀ of transmittance).
#[test]
fn a_step_wedge_stands_where_its_density_says() {
    let table = Table::read("nd.csv");
    let step = table.rows().find(|r| r.number("density") == 0.15).unwrap();
    let step = step.number("stops");
    let wedge = grey(21 * 12, 30, |x, _| {
        0.18 * 10_f64.powf(0.15 * (10.0 - (x / 12) as f64))
    });
    let axis = Axis::usual(16);
    let waveform = Waveform::of(&Reduced::of(&wedge), axis, 21);
    assert_eq!(waveform.columns(), 21, "a column to a patch");
    for channel in Channel::ALL {
        for patch in 0..21 {
            // Bins are 1/16 stop wide, the first centred eight stops under key.
            let stops = step * (10.0 - patch as f64);
            let want = ((stops + 8.0) * 16.0).round() as usize;
            let column = waveform.column(channel, patch);
            assert_eq!(column[want], 1.0, "{channel:?}, patch {patch}: {stops}");
            let mean = waveform.mean(channel, patch).unwrap().get();
            assert!((mean - stops).abs() <= 0.5 / 16.0 + 1e-6, "{mean}, {stops}");
        }
    }
    // On an axis of three stops either way most of the wedge is off: 0.498 × 6 fits, × 7 does not.
    let axis = Axis::new(Stops::clamped(-3.0), Stops::clamped(3.0), 16).unwrap();
    let narrow = Waveform::of(&Reduced::of(&wedge), axis, 21);
    let trace = narrow.trace(Channel::Luminance);
    let full = |off: &[f32]| off.iter().map(|v| *v as i32).collect::<Vec<_>>();
    let from = |ones: std::ops::Range<usize>| (0..21).map(move |i| i32::from(ones.contains(&i)));
    assert_eq!(
        full(&trace.over),
        from(0..4).collect::<Vec<_>>(),
        "bright end"
    );
    assert_eq!(
        full(&trace.under),
        from(17..21).collect::<Vec<_>>(),
        "dark end"
    );
}

/// Columns run across: light on the left stands left, and rows do not matter.
#[test]
fn a_waveform_keeps_left_and_right() {
    let frame = grey(64, 16, |x, y| match (x < 16, y < 4) {
        (true, true) => 0.72,
        (true, false) => 0.18,
        _ => 0.0,
    });
    let waveform = Waveform::of(&Reduced::of(&frame), Axis::usual(8), 4);
    let column = waveform.column(Channel::Green, 0);
    assert_eq!(
        (column[64], column[80]),
        (0.75, 0.25),
        "key, two stops over"
    );
    let trace = waveform.trace(Channel::Green);
    assert_eq!(trace.under, [0.0, 1.0, 1.0, 1.0], "no light is under");
    assert_eq!(waveform.mean(Channel::Green, 2), None, "and has no level");
}

/// Even steps of stops fill even bins: light that rises by the same factor from pixel to pixel, from end
/// to end of the axis, leaves a flat histogram; worked from the definition of a bin.
#[test]
fn a_ramp_of_stops_is_flat() {
    let axis = Axis::usual(8);
    let per_bin = 20_usize;
    let count = per_bin * 129;
    let frame = grey(count / 4, 4, |x, y| {
        let i = (y * (count / 4) + x) as f64;
        let stops = -8.0 - 1.0 / 16.0 + (i + 0.5) / (8 * per_bin) as f64;
        0.18 * stops.exp2()
    });
    let histogram = Histogram::of(&Reduced::of(&frame), axis);
    for channel in Channel::ALL {
        let counts = histogram.counts(channel);
        assert_eq!((counts.under, counts.over), (0.0, 0.0), "all on the axis");
        for (bin, share) in counts.shares.iter().enumerate() {
            assert!((share * 129.0 - 1.0).abs() < 1e-9, "bin {bin}: {share}");
        }
    }
}

/// Each channel is read by itself, and luminance by the Y row of AP1 (S-2014-004: 0.2722287168,
/// 0.6740817658, 0.0536895174).
#[test]
fn channels_are_read_apart() {
    let light = [0.36_f32, 0.18, 0.09];
    let histogram = Histogram::usual(&Reduced::of(&super::even(3, 3, light)));
    let y = 0.272_228_716_8 * 0.36 + 0.674_081_765_8 * 0.18 + 0.053_689_517_4 * 0.09;
    let bins = [(y / 0.18_f64).log2(), 1.0, 0.0, -1.0].map(|s| (8.0 * (s + 8.0)).round() as usize);
    for (channel, bin) in Channel::ALL.into_iter().zip(bins) {
        assert_eq!(histogram.counts(channel).shares[bin], 1.0, "{channel:?}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    /// Whatever the light: all of it is counted once, in every channel and column.
    #[test]
    fn shares_add_up_to_one(
        w in 1_usize..40, h in 1_usize..30, seed in 0_u32..10_000, columns in 1_usize..50,
        per_stop in 1_u8..20, tall in 1.0_f64..20.0,
    ) {
        let value = |i: usize, c: u32| {
            let hash = (i as u32 * 3 + c + seed).wrapping_mul(2_654_435_761);
            // 40 stops round key, some of it none and less than none.
            let stops = f64::from(hash >> 8) / f64::from(1 << 24) * 40.0 - 20.0;
            let sign = [1.0, 1.0, 1.0, 0.0, -1.0][(hash % 5) as usize];
            (0.18 * sign * stops.exp2()) as f32
        };
        let frame = Frame::from_planes(
            w, h, [0, 1, 2].map(|c| (0..w * h).map(|i| value(i, c)).collect()),
        );
        let picture = Reduced::of(&frame);
        let axis = Axis::new(Stops::clamped(-tall), Stops::clamped(tall), per_stop).unwrap();
        let histogram = Histogram::of(&picture, axis);
        let waveform = Waveform::of(&picture, axis, columns);
        prop_assert_eq!(waveform.columns(), columns.min(w));
        for channel in Channel::ALL {
            let counts = histogram.counts(channel);
            let sum = counts.shares.iter().sum::<f64>() + counts.under + counts.over;
            prop_assert!((sum - 1.0).abs() < 1e-9, "{}", sum);
            let trace = waveform.trace(channel);
            for column in 0..waveform.columns() {
                let inside: f32 = waveform.column(channel, column).iter().sum();
                let sum = inside + trace.under[column] + trace.over[column];
                prop_assert!((sum - 1.0).abs() < 1e-5, "{}", sum);
            }
        }
    }
}

/// Lighting ratios and their stops as lighting handbooks list them (common practice, no source): 2:1 is one
/// stop, 4:1 two, 8:1 three, 3:1 about one and a half.
#[test]
fn a_ratio_is_what_the_handbooks_call_it() {
    for (ratio, stops, off) in [
        (2.0, 1.0, 1e-5),
        (4.0, 2.0, 1e-5),
        (8.0, 3.0, 1e-5),
        (3.0, 1.5, 0.1),
    ] {
        let frame = grey(80, 40, |x, _| if x < 40 { 0.09 * ratio } else { 0.09 });
        let [key, fill] = [0.25, 0.75].map(|x| spot(&frame, x, 0.5, 0.1));
        let contrast = Contrast::between(key, fill).unwrap();
        assert!((contrast.stops.get() - stops).abs() < off, "{contrast:?}");
        assert!(
            (contrast.ratio() / ratio - 1.0).abs() < 1e-5,
            "{contrast:?}"
        );
    }
}
