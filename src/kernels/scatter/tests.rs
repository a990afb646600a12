//! Against an exact convolution in f64, by the type-II cosine transform of the `rustdct` crate.

use super::{Border, Params, Scratch, TOLERANCE, cpu};
use crate::frame::Frame;
use crate::kernels::watch::Watch;
use crate::optics::mixture::{Gaussian, Mixture};
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
