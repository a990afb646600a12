//! Scattered light through its exact transfer function, in double precision.
//!
//! A frame whose surroundings mirror it (half-sample symmetric: the edge pixel is repeated) is a sum of
//! cosines, and a round kernel multiplies each of them by its transfer function: a type-II discrete
//! cosine transform over rows and columns, one product, and back. The cosine (kx, ky) of a frame W × H
//! has `hypot(kx/2W, ky/2H)` cycles per pixel. Nothing is fitted, sampled or cut off here.
//!
//! Source: S. A. Martucci, *IEEE Trans. Signal Processing* 42 (1994), symmetric convolution (from
//! memory).
//!
//! ```
//! use foreglass::reference::scatter::scatter;
//! // Light that nothing scatters at zero frequency and everything takes elsewhere: the mean.
//! let mut planes = [vec![4.0, 0.0, 0.0, 0.0], vec![1.0; 4], vec![0.0; 4]];
//! scatter(&mut planes, 2, 2, |_, nu| if nu > 0.0 { 0.0 } else { 1.0 }, [0.0; 3]);
//! assert!(planes[0].iter().all(|v| (v - 1.0_f64).abs() < 1e-12));
//! ```

use crate::kernels::dct::{cosines, from_cosines, from_sines, lines, transpose};
use rayon::prelude::*;
use rustdct::DctPlanner;

/// Sends each plane through `transfer(channel, cycles per pixel)` and adds `veil` times its mean, in
/// place. Planes are `width × height`, rows first; light outside the frame mirrors it.
///
/// # Panics
/// When a plane does not hold `width × height` values.
pub fn scatter(
    planes: &mut [Vec<f64>; 3],
    width: usize,
    height: usize,
    transfer: impl Fn(usize, f64) -> f64 + Sync,
    veil: [f64; 3],
) {
    for plane in planes.iter() {
        assert_eq!(
            plane.len(),
            width * height,
            "a plane holds width × height values"
        );
    }
    if width == 0 || height == 0 {
        return;
    }
    let mut planner = DctPlanner::new();
    let (across, down) = (planner.plan_dct2(width), planner.plan_dct2(height));
    // The planes of a grey glass share nothing but the plan: one spare plane serves all three.
    let mut turned = vec![0.0; width * height];
    for (channel, plane) in planes.iter_mut().enumerate() {
        lines(plane, across.as_ref(), cosines);
        transpose(plane, &mut turned, width, height);
        lines(&mut turned, down.as_ref(), cosines);
        // Type III undoes type II but for half the length, per axis.
        let scale = 4.0 / (width as f64 * height as f64);
        let (x, y) = (0.5 / width as f64, 0.5 / height as f64);
        turned
            .par_chunks_mut(height)
            .enumerate()
            .for_each(|(kx, column)| {
                for (ky, value) in column.iter_mut().enumerate() {
                    let nu = (kx as f64 * x).hypot(ky as f64 * y);
                    let mut gain = transfer(channel, nu);
                    if kx == 0 && ky == 0 {
                        gain += veil[channel];
                    }
                    *value *= gain * scale;
                }
            });
        lines(&mut turned, down.as_ref(), from_cosines);
        transpose(&turned, plane, height, width);
        lines(plane, across.as_ref(), from_cosines);
    }
}

/// The same for a law that differs with direction: `transfer(channel, [right, up])`, alike at ν and −ν,
/// cycles per pixel.
///
/// Such a law is an even part, which multiplies the cosines of a mirrored frame, and a part that is odd
/// in either axis, which turns them into sines: from 2 cos a cos b = cos(a+b) + cos(a−b), with E and O
/// the half sum and half difference of the law at (a, b) and (a, −b), the frame's cosine becomes
/// `E cos a cos b − O sin a sin b`.
///
/// # Panics
/// When a plane does not hold `width × height` values.
pub fn oriented(
    planes: &mut [Vec<f64>; 3],
    width: usize,
    height: usize,
    transfer: impl Fn(usize, [f64; 2]) -> f64 + Sync,
    veil: [f64; 3],
) {
    if width == 0 || height == 0 {
        return;
    }
    let mut planner = DctPlanner::new();
    let (across, down) = (planner.plan_dct2(width), planner.plan_dct2(height));
    let mut even = vec![0.0; width * height];
    let mut odd = vec![0.0; width * height];
    for (channel, plane) in planes.iter_mut().enumerate() {
        lines(plane, across.as_ref(), cosines);
        transpose(plane, &mut even, width, height);
        lines(&mut even, down.as_ref(), cosines);
        let scale = 4.0 / (width as f64 * height as f64);
        let (x, y) = (0.5 / width as f64, 0.5 / height as f64);
        odd.fill(0.0);
        // The sine of order k stands at k − 1, and order 0 has none: the odd part moves up and left.
        let columns = even.par_chunks_mut(height).enumerate();
        let shifted: Vec<Vec<f64>> = columns
            .map(|(kx, column)| {
                let mut sines = vec![0.0; height];
                for (ky, value) in column.iter_mut().enumerate() {
                    let (nx, ny) = (kx as f64 * x, ky as f64 * y);
                    let (up, down) = (transfer(channel, [nx, ny]), transfer(channel, [nx, -ny]));
                    if ky > 0 {
                        sines[ky - 1] = 0.5 * (up - down) * *value * scale;
                    }
                    let mut gain = 0.5 * (up + down);
                    if kx == 0 && ky == 0 {
                        gain += veil[channel];
                    }
                    *value *= gain * scale;
                }
                sines
            })
            .collect();
        odd.par_chunks_mut(height)
            .zip(shifted.into_par_iter().skip(1))
            .for_each(|(column, sines)| column.copy_from_slice(&sines));
        lines(&mut even, down.as_ref(), from_cosines);
        lines(&mut odd, down.as_ref(), from_sines);
        transpose(&even, plane, height, width);
        lines(plane, across.as_ref(), from_cosines);
        transpose(&odd, &mut even, height, width);
        lines(&mut even, across.as_ref(), from_sines);
        plane.par_iter_mut().zip(&even).for_each(|(v, s)| *v += s);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_transfer_of_one_gives_the_frame_back() {
        for (width, height) in [(1, 1), (1, 7), (5, 1), (48, 40), (33, 17), (127, 101)] {
            let value = |i: usize| ((i * 7919) % 1000) as f64 - 300.0;
            let plane: Vec<f64> = (0..width * height).map(value).collect();
            let mut planes = [plane.clone(), plane.clone(), plane.clone()];
            scatter(&mut planes, width, height, |_, _| 1.0, [0.0, 0.0, 0.5]);
            let mean = plane.iter().sum::<f64>() / plane.len() as f64;
            for (i, want) in plane.iter().enumerate() {
                assert!(
                    (planes[0][i] - want).abs() < 1e-9,
                    "{width}×{height} at {i}"
                );
                let veiled = want + 0.5 * mean;
                assert!(
                    (planes[2][i] - veiled).abs() < 1e-9,
                    "veil, {width}×{height} at {i}"
                );
            }
        }
    }

    #[test]
    fn a_cosine_is_multiplied_by_the_transfer_at_its_frequency() {
        let (width, height, kx, ky) = (24, 15, 5, 3);
        let wave = |k: usize, i: usize, n: usize| {
            (std::f64::consts::PI * k as f64 * (i as f64 + 0.5) / n as f64).cos()
        };
        let plane: Vec<f64> = (0..width * height)
            .map(|i| wave(kx, i % width, width) * wave(ky, i / width, height))
            .collect();
        let mut planes = [plane.clone(), plane.clone(), plane.clone()];
        let law = |channel: usize, nu: f64| (-(channel as f64 + 1.0) * nu).exp();
        scatter(&mut planes, width, height, law, [0.0; 3]);
        let nu = (5.0_f64 / 48.0).hypot(3.0 / 30.0);
        for (channel, seen) in planes.iter().enumerate() {
            for (got, want) in seen.iter().zip(&plane) {
                let want = want * law(channel, nu);
                assert!(
                    (got - want).abs() < 1e-13,
                    "channel {channel}: {got} for {want}"
                );
            }
        }
    }
}
