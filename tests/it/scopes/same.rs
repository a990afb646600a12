//! A preview tells what the full size tells, within a twentieth of a stop.

use foreglass::frame::{Encoding, Frame, PREVIEW, at_most, read_bytes};
use foreglass::meters::chromaticity::{Chromaticity, picture_white};
use foreglass::meters::histogram::Histogram;
use foreglass::meters::spot::spot;
use foreglass::meters::waveform::Waveform;
use foreglass::meters::{Channel, Reduced};
use foreglass::recipe::samples::SAMPLES;

/// Most by which a level may differ, in stops.
const CLOSE: f64 = 0.05;

/// Numbers of 0 to 1 that are told by their place alone.
fn noise(x: usize, y: usize, salt: u32) -> f32 {
    let mut h = (x as u32).wrapping_mul(0x9e37_79b1) ^ (y as u32).wrapping_mul(0x85eb_ca6b) ^ salt;
    h ^= h >> 15;
    h = h.wrapping_mul(0x2c1b_3c6d);
    h ^= h >> 12;
    h = h.wrapping_mul(0x297a_2d39);
    (h ^ (h >> 15)) as f32 / u32::MAX as f32
}

/// 12.4 megapixels of detail down to the pixel: grain of two stops, hard edges of two stops a few pixels
/// apart, a broad course of light, and some thousand small lamps ten times as bright as what is round them.
fn detailed() -> Frame {
    let (w, h) = (4320, 2880);
    let mut planes = [(); 3].map(|()| Vec::with_capacity(w * h));
    for y in 0..h {
        for x in 0..w {
            let stripes = if (x / 19 + y / 23) % 2 == 0 {
                1.0
            } else {
                -1.0
            };
            let broad = 2.0 * (x as f32 / 700.0).sin() - y as f32 / 1440.0;
            let lamp = if noise(x / 3, y / 3, 9) < 1e-3 {
                3.3
            } else {
                0.0
            };
            let stops = stripes + broad + lamp - 2.0;
            for (c, plane) in planes.iter_mut().enumerate() {
                let grain = 2.0 * noise(x, y, c as u32) - 1.0;
                plane.push(0.18 * (stops + grain).exp2());
            }
        }
    }
    Frame::from_planes(w, h, planes)
}

/// Every pixel as a square of `by` × `by`.
fn enlarged(frame: &Frame, by: usize) -> Frame {
    let (w, h) = (frame.width() * by, frame.height() * by);
    let large = |plane: &Vec<f32>| {
        let at = |i: usize| plane[i / w / by * frame.width() + i % w / by];
        (0..w * h).map(at).collect()
    };
    Frame::from_planes(w, h, frame.planes().each_ref().map(large))
}

/// All meters of a frame and of a smaller one of it; gives back the worst of spots, percentiles, columns
/// and the mean colour.
fn compare(name: &str, full: &Frame, small: &Frame) -> [f64; 4] {
    let mut worst = [0.0_f64; 4];
    let mut on_rims = 0;
    for i in 0..120 {
        let at = |salt: u32| f64::from(noise(i, 77, salt));
        let radius = [0.005, 0.0071, 0.01, 0.04][i % 4];
        let (x, y) = (at(1), at(2));
        // A spot with a lamp on its rim reads whatever the last pixel holds.
        let pixel = 1.0 / small.width() as f64;
        let [less, more] = [-pixel, pixel].map(|by| spot(full, x, y, radius + by).get());
        if (more - less).abs() > CLOSE {
            on_rims += 1;
            continue;
        }
        let off = (spot(small, x, y, radius) - spot(full, x, y, radius)).get();
        assert!(
            off.abs() < CLOSE,
            "{name}: spot {x:.3} {y:.3} {radius}: {off}"
        );
        worst[0] = worst[0].max(off.abs());
    }
    assert!(on_rims < 60, "{name}: {on_rims} of 120");
    let (full, small) = (Reduced::of(full), Reduced::of(small));
    assert_eq!(
        (full.width(), full.height()),
        (small.width(), small.height()),
        "{name}: read at one size"
    );
    let parts = [0.01, 0.05, 0.25, 0.5, 0.75, 0.95, 0.99];
    for channel in Channel::ALL {
        let [a, b] = [&full, &small].map(|p| p.percentiles(channel, parts));
        for (i, part) in parts.iter().enumerate() {
            let off = (a[i] - b[i]).get().abs();
            assert!(off < CLOSE, "{name}: {channel:?} at {part}: {off}");
            worst[1] = worst[1].max(off);
        }
    }
    // The scopes' own percentiles, half a bin finer than their bins allow.
    let [a, b] = [&full, &small].map(Waveform::usual);
    for column in 0..a.columns() {
        let means = [&a, &b].map(|w| w.mean(Channel::Luminance, column).unwrap().get());
        let off = (means[0] - means[1]).abs();
        assert!(off < CLOSE, "{name}: column {column}: {off}");
        worst[2] = worst[2].max(off);
    }
    let [a, b] = [&full, &small].map(Histogram::usual);
    for channel in Channel::ALL {
        let mut apart = 0.0_f64;
        let mut sums = [0.0; 2];
        for bin in 0..a.axis().bins() {
            for (sum, histogram) in sums.iter_mut().zip([&a, &b]) {
                *sum += histogram.counts(channel).shares[bin];
            }
            // Shares up to here, in stops: a level is off by the gap over the density of levels there.
            let density = a.counts(channel).shares[bin] * a.axis().per_stop();
            if (0.02..0.98).contains(&sums[0]) && density > 0.05 {
                apart = apart.max((sums[0] - sums[1]).abs() / density);
            }
        }
        assert!(apart < CLOSE, "{name}: {channel:?} histogram {apart}");
    }
    let [a, b] = [&full, &small].map(|p| Chromaticity::of(p, picture_white()).mean.unwrap());
    let off = (a[0] - b[0]).hypot(a[1] - b[1]);
    assert!(off < 1e-4, "{name}: mean colour {off}");
    worst[3] = off;
    worst
}

#[test]
fn a_preview_reads_as_the_full_size_does() {
    let full = detailed();
    let preview = at_most(&full, PREVIEW);
    assert!(preview.width() < full.width() / 2, "a preview is small");
    println!("detail: {:.4?}", compare("detail", &full, &preview));
    for (name, bytes) in SAMPLES {
        let Ok(still) = read_bytes(name, bytes, Encoding::Auto) else {
            continue;
        };
        let full = enlarged(&still.frame, 3);
        let small = at_most(&full, PREVIEW);
        println!("{name}: {:.4?}", compare(name, &full, &small));
    }
}
