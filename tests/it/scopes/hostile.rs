//! Frames that no camera makes: one pixel, slivers, nothing but black, light below nothing, light beyond
//! every display. Each meter says something finite.

use super::{even, grey};
use foreglass::frame::Frame;
use foreglass::handover::paint;
use foreglass::handover::scopes::{
    Scene, chromaticity_page, histogram_page, painted_page, waveform_page,
};
use foreglass::meters::chromaticity::{Chromaticity, picture_white};
use foreglass::meters::difference::Difference;
use foreglass::meters::histogram::Histogram;
use foreglass::meters::spot::spot;
use foreglass::meters::waveform::Waveform;
use foreglass::meters::{Channel, Reduced, Region, false_stops, level, texture};
use foreglass::units::Stops;
use foreglass::watch::Watch;

fn frames() -> Vec<(&'static str, Frame)> {
    vec![
        ("one pixel", even(1, 1, [0.18; 3])),
        ("sliver", grey(17, 3, |x, y| 0.01 * (x + 2 * y) as f64)),
        ("column", grey(1, 900, |_, y| 0.001 * y as f64)),
        ("row", grey(2000, 1, |x, _| 0.001 * x as f64)),
        ("black", even(40, 30, [0.0; 3])),
        ("below nothing", even(5, 5, [-0.3, -1e9, -1e-30])),
        ("beyond", even(5, 5, [1e9; 3])),
        ("one channel", even(5, 5, [0.0, 0.0, 1e9])),
        ("tiny", even(5, 5, [f32::MIN_POSITIVE / 8.0; 3])),
    ]
}

#[test]
fn every_meter_says_something_finite_of_every_frame() {
    let scene = Scene {
        title: "Estuary".to_owned(),
        note: String::new(),
    };
    for (name, frame) in frames() {
        let picture = Reduced::of(&frame);
        assert!(
            picture.width().max(picture.height()) <= Reduced::LONGEST,
            "{name}: {} × {}",
            picture.width(),
            picture.height()
        );
        let waveform = Waveform::usual(&picture);
        let histogram = Histogram::usual(&picture);
        let colours = Chromaticity::of(&picture, picture_white());
        for channel in Channel::ALL {
            let counts = histogram.counts(channel);
            let sum = counts.shares.iter().sum::<f64>() + counts.under + counts.over;
            assert!((sum - 1.0).abs() < 1e-9, "{name}: {sum}");
            let levels = picture.percentiles(channel, [0.0, 0.5, 1.0]);
            assert!(
                levels[0] <= levels[1] && levels[1] <= levels[2],
                "{name}: {levels:?}"
            );
        }
        let cells: f64 = colours.shares.iter().map(|s| f64::from(*s)).sum();
        let sum = cells + colours.dark + colours.beyond;
        assert!((sum - 1.0).abs() < 1e-5, "{name}: {sum}");
        if let Some(uv) = colours.mean {
            assert!(uv.iter().all(|v| v.is_finite()), "{name}: {uv:?}");
        }
        assert!(spot(&frame, 0.5, 0.5, 1e-6).get().is_finite(), "{name}");
        let kept = texture::kept(&frame, &frame, 1.0, Region::WHOLE);
        for (_, _, band) in kept.scales() {
            assert!(band.is_none_or(|b| b.db().abs() < 1e-9), "{name}: {band:?}");
        }
        let stops = false_stops::paint(&frame);
        let same = Difference::default();
        let changed = same.paint(&frame, &frame);
        for painted in [&stops, &changed] {
            let pixels = frame.width() * frame.height();
            assert_eq!(painted.rgba.len(), 4 * pixels, "{name}");
            assert!(painted.rgba.chunks_exact(4).all(|p| p[3] == 255), "{name}");
        }
        for page in [
            waveform_page(&scene, &waveform),
            histogram_page(&scene, &histogram),
            chromaticity_page(&scene, &colours, None),
            painted_page(&scene, &stops, &false_stops::legend()),
            painted_page(&scene, &changed, &same.legend()),
        ] {
            let drawn = paint(&page, 40.0, &Watch::default()).unwrap();
            assert!(drawn.width > 100 && drawn.height > 40, "{name}: {drawn:?}");
            for text in page.texts() {
                let area = text.area();
                assert!(area.lies_in(&page.area()), "{name}: {text:?}");
            }
        }
    }
}

/// Frames that are told apart: black is all under, light beyond is all over, key is key.
#[test]
fn ends_are_the_right_ends() {
    let tally = |frame: &Frame| {
        let histogram = Histogram::usual(&Reduced::of(frame));
        let counts = histogram.counts(Channel::Luminance);
        (counts.under, counts.over, counts.shares[64])
    };
    assert_eq!(tally(&even(4, 4, [0.0; 3])), (1.0, 0.0, 0.0), "black");
    assert_eq!(tally(&even(4, 4, [-1.0; 3])), (1.0, 0.0, 0.0), "below");
    assert_eq!(tally(&even(4, 4, [1e9; 3])), (0.0, 1.0, 0.0), "beyond");
    assert_eq!(tally(&even(4, 4, [0.18; 3])), (0.0, 0.0, 1.0), "key");
    assert!(level(0.0).get() <= Stops::LOW, "no light");
    assert!((level(0.72).get() - 2.0).abs() < 1e-6, "two stops");
}
