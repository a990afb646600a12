//! Against an exact convolution in f64, by the type-II cosine transform of the `rustdct` crate.

use super::{Border, Params, Scratch, TOLERANCE, beside, cpu};
use crate::frame::Frame;
use crate::optics::mixture::{Gaussian, Mixture};
use crate::watch::Watch;
use rustdct::DctPlanner;
use std::f64::consts::PI;

/// The exact scattered light: a mirrored border is what the transform assumes, and the transform of
/// a Gaussian is `exp(−2π²σ²ν²)`.
fn exact(plane: &[f32], [width, height]: [usize; 2], mixture: &Mixture) -> Vec<f64> {
    let mut planner = DctPlanner::<f64>::new();
    let (across, down) = (planner.plan_dct2(width), planner.plan_dct2(height));
    let mut light: Vec<f64> = plane.iter().map(|&x| f64::from(x)).collect();
    let mean = light.iter().sum::<f64>() / light.len() as f64;
    for row in light.chunks_exact_mut(width) {
        across.process_dct2(row);
    }
    let mut turned = vec![0.0; light.len()];
    for x in 0..width {
        let column = &mut turned[x * height..(x + 1) * height];
        for (y, value) in column.iter_mut().enumerate() {
            *value = light[y * width + x];
        }
        down.process_dct2(column);
        for (y, value) in column.iter_mut().enumerate() {
            let nu2 =
                (x as f64 / width as f64 / 2.0).powi(2) + (y as f64 / height as f64 / 2.0).powi(2);
            let response: f64 = mixture
                .gaussians
                .iter()
                .map(|g| g.weight * (-2.0 * PI * PI * g.sigma * g.sigma * nu2).exp())
                .sum();
            *value *= mixture.direct + response;
        }
        down.process_dct3(column);
        for (y, value) in column.iter().enumerate() {
            light[y * width + x] = *value;
        }
    }
    for row in light.chunks_exact_mut(width) {
        across.process_dct3(row);
    }
    let scale = 4.0 / (width as f64 * height as f64);
    light
        .iter()
        .map(|x| x * scale + mixture.veil * mean)
        .collect()
}

fn mixture(direct: f64, gaussians: &[(f64, f64)], veil: f64) -> Mixture {
    let gaussians = gaussians
        .iter()
        .map(|&(weight, sigma)| Gaussian { weight, sigma })
        .collect();
    Mixture {
        direct,
        gaussians,
        veil,
    }
}

/// Five Gaussians of equal weight, from 1/3000 to 1/15 of `width`: 2 to 400 pixels at 6000.
fn heavy_tail(width: usize) -> Mixture {
    let sigma = |i: i32| width as f64 / 3000.0 * 200_f64.powf(f64::from(i) / 4.0);
    let gaussians: Vec<_> = (0..5).map(|i| (0.1, sigma(i))).collect();
    mixture(0.0, &gaussians, 0.0)
}

fn one(mixture: &Mixture) -> Params {
    let channels = [mixture.clone(), mixture.clone(), mixture.clone()];
    Params {
        channels,
        border: Border::Mirror,
    }
}

/// A cheap random sequence in 0..1 (the "minimal standard" generator).
struct Dice(u64);

impl Dice {
    fn throw(&mut self) -> f32 {
        self.0 = self.0 * 48271 % 0x7fff_ffff;
        (self.0 as f64 / f64::from(0x7fff_ffff)) as f32
    }

    fn below(&mut self, n: usize) -> usize {
        ((self.throw() * n as f32) as usize).min(n - 1)
    }
}

/// Random light about key, with single pixels of 10, 100 and 1000 times key.
fn night([width, height]: [usize; 2], lights: usize) -> Vec<f32> {
    let mut dice = Dice(20_261);
    let mut plane: Vec<f32> = (0..width * height)
        .map(|_| 2.0 * Frame::KEY * dice.throw())
        .collect();
    for i in 0..lights {
        let at = dice.below(plane.len());
        plane[at] = Frame::KEY * [10.0, 100.0, 1000.0][i % 3];
    }
    plane
}

fn scatter(plane: &[f32], [width, height]: [usize; 2], params: &Params) -> Frame {
    let planes = [plane.to_vec(), plane.to_vec(), plane.to_vec()];
    let mut frame = Frame::from_planes(width, height, planes);
    cpu(
        &mut frame,
        params,
        &mut Scratch::default(),
        &Watch::default(),
    )
    .unwrap();
    frame
}

/// Root mean square, worst pixel (1 is the tolerance) and flux error.
#[derive(Debug)]
struct Errors {
    rms: f64,
    worst: f64,
    at: usize,
    flux: f64,
}

fn errors(got: &[f32], want: &[f64]) -> Errors {
    let n = want.len() as f64;
    let mean = want.iter().sum::<f64>() / n;
    let (mut square, mut power, mut worst, mut at) = (0.0, 0.0, 0.0, 0);
    for (i, (&got, &want)) in got.iter().zip(want).enumerate() {
        let off = f64::from(got) - want;
        square += off * off;
        power += want * want;
        let local = want.max(0.0);
        let may = TOLERANCE.local * local + TOLERANCE.mean * local.max(mean);
        if off.abs() / may > worst {
            (worst, at) = (off.abs() / may, i);
        }
    }
    let sum: f64 = got.iter().map(|&x| f64::from(x)).sum();
    Errors {
        rms: (square / power).sqrt(),
        worst,
        at,
        flux: (sum / n / mean - 1.0).abs(),
    }
}

fn check(size: [usize; 2], plane: &[f32], mixture: &Mixture, what: &str) {
    let got = scatter(plane, size, &one(mixture));
    let found = errors(&got.planes()[0], &exact(plane, size, mixture));
    println!(
        "{what} {size:?}: {found:?} x={} y={}",
        found.at % size[0],
        found.at / size[0]
    );
    assert!(found.rms <= TOLERANCE.rms, "{what} {size:?}: {found:?}");
    assert!(found.worst <= 1.0, "{what} {size:?}: {found:?}");
    assert!(found.flux <= TOLERANCE.flux, "{what} {size:?}: {found:?}");
}

#[test]
fn agrees_with_the_exact_convolution() {
    let wide = mixture(
        0.0,
        &[
            (0.1, 1.25),
            (0.1, 2.0),
            (0.1, 3.6),
            (0.1, 3.75),
            (0.05, 9.0),
            (0.05, 31.0),
            (0.1, 90.0),
            (0.1, 5000.0),
        ],
        0.02,
    );
    for size in [
        [256, 256],
        [1021, 613],
        [613, 1021],
        [1, 1],
        [17, 3],
        [2, 2],
        [5, 4000],
        [33, 37],
        [130, 521],
    ] {
        let plane = night(size, 30);
        check(size, &plane, &wide, "many widths");
    }
}

#[test]
fn agrees_for_each_width_alone() {
    for sigma in [
        1.25, 1.7, 1.84, 1.86, 2.5, 3.69, 3.71, 5.0, 7.39, 7.41, 14.7, 14.9, 30.0, 60.0, 120.0,
        300.0, 1000.0,
    ] {
        let size = [301, 214];
        let plane = night(size, 20);
        check(
            size,
            &plane,
            &mixture(0.0, &[(0.3, sigma)], 0.0),
            &format!("sigma {sigma}"),
        );
    }
}

/// A frame's worth of darkness with one lit pixel.
fn point([width, height]: [usize; 2], at: [usize; 2], light: f32) -> Vec<f32> {
    let mut plane = vec![0.0; width * height];
    plane[at[1] * width + at[0]] = light;
    plane
}

#[test]
fn a_point_keeps_its_flux_wherever_it_sits() {
    let size = [205, 163];
    let lights = heavy_tail(3000);
    let params = one(&lights);
    let mut scratch = Scratch::default();
    let ends = |n: usize| {
        [
            0,
            1,
            2,
            5,
            n / 2,
            n / 2 + 1,
            n / 2 + 2,
            n / 2 + 3,
            n - 7,
            n - 3,
            n - 2,
            n - 1,
        ]
    };
    for x in ends(size[0]) {
        for y in ends(size[1]) {
            let plane = point(size, [x, y], 180.0);
            let planes = [plane.clone(), plane.clone(), plane];
            let mut frame = Frame::from_planes(size[0], size[1], planes);
            cpu(&mut frame, &params, &mut scratch, &Watch::default()).unwrap();
            let sum: f64 = frame.planes()[1].iter().map(|&v| f64::from(v)).sum();
            let off = (sum / 180.0 / 0.5 - 1.0).abs();
            // Both edges are fractional at the coarsest level: within three of its samples of them the two
            // phases of the decimation filter tell the share of the frame's light slightly apart.
            let beside = x + 12 > size[0] || y + 12 > size[1];
            let may = if beside { 2.5e-5 } else { 1e-6 };
            assert!(off <= may, "flux is off by {off} for a point at {x}, {y}");
        }
    }
}

#[test]
fn a_spot_is_round_and_the_same_wherever_it_sits() {
    // Every phase of the coarsest level in use, away from the edges.
    for sigma in [1.3, 1.9, 3.7, 5.0, 7.4, 11.0] {
        let reach = (3.0 * sigma) as usize;
        let size = [6 * reach.max(16) + 19, 6 * reach.max(16) + 19];
        let params = one(&mixture(0.0, &[(1.0, sigma)], 0.0));
        let peak = 1.0 / (2.0 * PI * sigma * sigma);
        for phase in 0..16 {
            let at = [size[0] / 2 + phase, size[1] / 2 + phase * 7 % 16];
            let frame = scatter(&point(size, at, 1.0), size, &params);
            for dy in 0..=reach {
                for dx in 0..=reach {
                    let wanted =
                        peak * (-((dx * dx + dy * dy) as f64) / (2.0 * sigma * sigma)).exp();
                    let got = f64::from(frame.pixel(at[0] + dx, at[1] + dy)[0]);
                    let off = (got - wanted).abs();
                    assert!(
                        off <= 0.005 * wanted + 3e-4 * peak,
                        "sigma {sigma}, point at {at:?}: {got} for {wanted} at {dx}, {dy}"
                    );
                }
            }
        }
    }
}

#[test]
fn an_axis_equals_a_diagonal() {
    // Radii 5 = |(3, 4)| and 25 = |(7, 24)|, |(15, 20)|: on the axis and off it, exactly equal.
    for (sigma, pairs) in [
        (2.2, &[([5, 0], [3, 4]), ([0, 5], [4, 3])][..]),
        (
            8.0,
            &[([25, 0], [7, 24]), ([25, 0], [15, 20]), ([0, 10], [6, 8])],
        ),
        (14.0, &[([25, 0], [15, 20]), ([0, 25], [24, 7])]),
    ] {
        let size = [201, 187];
        let frame = scatter(
            &point(size, [95, 90], 1.0),
            size,
            &one(&mixture(0.0, &[(1.0, sigma)], 0.0)),
        );
        for (axis, other) in pairs {
            let [a, b] = [axis, other].map(|[dx, dy]| f64::from(frame.pixel(95 + dx, 90 + dy)[0]));
            assert!(
                (a / b - 1.0).abs() <= 0.005,
                "sigma {sigma}: {a} at {axis:?}, {b} at {other:?}"
            );
        }
    }
}

#[test]
fn a_constant_stays_and_very_bright_light_survives() {
    for size in [[301, 214], [64, 48], [5, 90]] {
        let lights = mixture(
            0.4,
            &[(0.2, 0.2), (0.1, 0.7), (0.1, 9.0), (0.05, 800.0)],
            0.05,
        );
        for level in [1e-3_f32, 1.0, 1e6] {
            let frame = scatter(&vec![level; size[0] * size[1]], size, &one(&lights));
            for value in &frame.planes()[2] {
                let off = f64::from(*value) / f64::from(level) / 0.9 - 1.0;
                assert!(off.abs() <= 1e-5, "{size:?} at {level}: off by {off}");
            }
        }
    }
    let size = [301, 214];
    let mut plane = night(size, 0);
    plane[214 * 150 + 77] = 1e6;
    check(
        size,
        &plane,
        &mixture(0.0, &[(0.1, 12.0), (0.1, 100.0)], 0.0),
        "a lamp of 1e6",
    );
}

#[test]
fn a_veil_is_of_the_mean_and_each_channel_has_its_own_mixture() {
    let size = [97, 131];
    let plane = night(size, 10);
    let mean = plane.iter().map(|&v| f64::from(v)).sum::<f64>() / plane.len() as f64;
    let channels = [
        mixture(0.5, &[], 0.25),
        mixture(0.0, &[(0.2, 6.0)], 0.1),
        mixture(1.0, &[], 0.0),
    ];
    let frame = scatter(
        &plane,
        size,
        &Params {
            channels: channels.clone(),
            border: Border::Mirror,
        },
    );
    for (i, &light) in plane.iter().enumerate() {
        let wanted = f64::from(light) * 0.5 + 0.25 * mean;
        let got = f64::from(frame.planes()[0][i]);
        assert!(
            (got - wanted).abs() <= 1e-6 * wanted.max(1.0),
            "{got} for {wanted}"
        );
        let same = frame.planes()[2][i].to_bits() == light.to_bits();
        assert!(same, "light that goes straight on is not touched");
    }
    let found = errors(&frame.planes()[1], &exact(&plane, size, &channels[1]));
    assert!(
        found.rms <= TOLERANCE.rms && found.worst <= 1.0,
        "{found:?}"
    );
}

#[test]
fn a_level_outside_equals_a_wider_frame_of_that_level() {
    let lights = mixture(0.3, &[(0.2, 2.0), (0.2, 9.0), (0.1, 40.0)], 0.0);
    for (size, level) in [
        ([153, 101], 0.0),
        ([153, 101], 0.5),
        ([9, 70], 0.5),
        ([64, 64], 0.0),
    ] {
        let plane = night(size, 10);
        // Five standard deviations of the widest on every side.
        let wide = [size[0] + 400, size[1] + 400];
        let mut large = vec![level; wide[0] * wide[1]];
        for (y, row) in plane.chunks(size[0]).enumerate() {
            let at = (y + 200) * wide[0] + 200;
            large[at..at + size[0]].copy_from_slice(row);
        }
        let whole = exact(&large, wide, &lights);
        let wanted: Vec<f64> = (0..size[1])
            .flat_map(|y| &whole[(y + 200) * wide[0] + 200..][..size[0]])
            .copied()
            .collect();
        let border = Border::Level([level; 3]);
        let params = Params {
            border,
            ..one(&lights)
        };
        let found = errors(&scatter(&plane, size, &params).planes()[0], &wanted);
        println!("outside {level} {size:?}: {found:?}");
        assert!(
            found.rms <= TOLERANCE.rms && found.worst <= 1.0,
            "{size:?} {level}: {found:?}"
        );
    }
}

#[test]
fn scratch_of_another_frame_does_no_harm_and_cancelling_ends_the_work() {
    let mut scratch = Scratch::default();
    let small = [70, 90];
    let params = one(&heavy_tail(700));
    let plane = night(small, 9);
    let wanted = scatter(&plane, small, &params);
    for size in [[260, 190], small, [40, 300], small] {
        let light = if size == small {
            plane.clone()
        } else {
            vec![f32::NAN; size[0] * size[1]]
        };
        let planes = [light.clone(), light.clone(), light];
        let mut frame = Frame::from_planes(size[0], size[1], planes);
        cpu(&mut frame, &params, &mut scratch, &Watch::default()).unwrap();
        if size == small {
            assert!(frame == wanted, "the same to the bit with used buffers");
        }
    }
    let watch = Watch::default();
    let mut frame = Frame::black(300, 200);
    cpu(&mut frame, &params, &mut scratch, &watch).unwrap();
    assert!(watch.progress() > 0.999, "done: {}", watch.progress());
    watch.cancel();
    assert!(
        cpu(&mut frame, &params, &mut scratch, &watch).is_err(),
        "cancelled"
    );
}

#[test]
fn light_that_stays_is_scattered_as_light_that_goes() {
    let size = [301, 190];
    let plane = night(size, 9);
    let light = Frame::from_planes(size[0], size[1], std::array::from_fn(|_| plane.clone()));
    let frame = |level: f32| {
        let even = vec![level; size[0] * size[1]];
        Frame::from_planes(size[0], size[1], std::array::from_fn(|_| even.clone()))
    };
    let shallow = one(&mixture(0.6, &[(0.3, 2.4)], 0.1));
    let deep = one(&heavy_tail(900));
    let narrow = one(&mixture(0.8, &[(0.2, 0.7)], 0.0));
    let level = Params {
        border: Border::Level([0.3; 3]),
        ..deep.clone()
    };
    let thin = one(&mixture(0.5, &[(0.5, 3.0)], 0.0));
    let mut scratch = Scratch::default();
    // Deeper than what is kept, shallower, no level at all, and what keeps nothing in between.
    let looks = [
        &shallow, &deep, &shallow, &narrow, &deep, &level, &deep, &thin,
    ];
    for (i, params) in looks.into_iter().enumerate() {
        let mut wanted = light.clone();
        cpu(
            &mut wanted,
            params,
            &mut Scratch::default(),
            &Watch::default(),
        )
        .unwrap();
        let mut out = frame(f32::NAN);
        let known = scratch.holds.as_ref().map(|held| held.depths);
        beside(
            (7, &light),
            &mut out,
            params,
            &mut scratch,
            &Watch::default(),
        )
        .unwrap();
        assert!(out == wanted, "look {i}, with {known:?} levels kept");
    }
    // Other light under another name.
    let other = frame(2.0);
    let mut wanted = other.clone();
    cpu(
        &mut wanted,
        &deep,
        &mut Scratch::default(),
        &Watch::default(),
    )
    .unwrap();
    let mut out = frame(f32::NAN);
    beside(
        (8, &other),
        &mut out,
        &deep,
        &mut scratch,
        &Watch::default(),
    )
    .unwrap();
    assert!(out == wanted, "other light");
    // What is kept is what is worked with: under the old name it is still the other light's pyramid.
    let mut stale = frame(f32::NAN);
    beside(
        (8, &light),
        &mut stale,
        &deep,
        &mut scratch,
        &Watch::default(),
    )
    .unwrap();
    let mut wanted = light.clone();
    cpu(
        &mut wanted,
        &deep,
        &mut Scratch::default(),
        &Watch::default(),
    )
    .unwrap();
    assert!(stale != wanted, "the pyramid was made again");
}
