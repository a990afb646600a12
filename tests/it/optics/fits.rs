//! Fits against the exact laws that they stand for, by themselves, fused, and in a picture.

use super::{dark, disc, harvey, speck, specks};
use foreglass::optics::fit::{LEAST_DISC_SPREAD, LEAST_SPECK_SPREAD, fuse};
use foreglass::optics::mixture::Mixture;
use foreglass::optics::scatter::{Lobe, Scatter};
use foreglass::reference::scatter::scatter;

fn pale(diameter: f64) -> Scatter {
    let lobes = vec![
        Lobe::grey(0.09, speck(diameter, 0.55)),
        Lobe::grey(0.065, harvey(4.0)),
    ];
    Scatter {
        direct: [0.81; 3],
        lobes,
        veil: [0.025; 3],
        absorbed: [0.01; 3],
    }
}

fn lenslets(a: f64) -> Scatter {
    let lobes = vec![
        Lobe::grey(0.95 * a, disc(0.15, 0.5)),
        Lobe::grey(0.04 * a, harvey(2.0)),
    ];
    Scatter {
        direct: [1.0 - a; 3],
        lobes,
        veil: [0.0; 3],
        absorbed: [0.01 * a; 3],
    }
}

fn crowded(coverage: f64) -> Scatter {
    let refracted = 0.5 * coverage;
    let lobes = vec![
        Lobe::grey(coverage * (1.0 - coverage), specks(15.0, 0.45, coverage)),
        Lobe::grey(0.6 * refracted, harvey(5.0)),
    ];
    Scatter {
        direct: [(1.0 - coverage) * (1.0 - coverage); 3],
        lobes,
        veil: [0.4 * refracted; 3],
        absorbed: [0.5 * coverage; 3],
    }
}

/// Fits against laws, every size from 5 to 100 µm, spread from 0.25 to 0.6, from 0.3 on with coverage
/// to 0.45: within 0.5 % of the profile to where it has fallen by 10⁵, within 2 % beyond to a radian,
/// enclosed light within 0.0015.
#[test]
fn mixtures_follow_their_profiles() {
    let mut profiles = vec![harvey(0.5), harvey(3.0)];
    for spread in [0.25, LEAST_SPECK_SPREAD, 0.35, 0.4, 0.45, 0.5, 0.55, 0.6] {
        profiles.extend([5.0, 20.0, 100.0].map(|d| speck(d, spread)));
        if spread >= LEAST_SPECK_SPREAD {
            let crowds = [0.03, 0.11, 0.25, 0.37, 0.45];
            profiles.extend(crowds.map(|coverage| specks(15.0, spread, coverage)));
        }
    }
    for profile in profiles {
        let law = profile.law();
        for channel in 0..3 {
            let fit = Mixture {
                gaussians: profile.mixture(channel),
                ..Mixture::default()
            };
            assert!(
                (fit.total() - 1.0).abs() < 1e-12,
                "{profile:?}: {}",
                fit.total()
            );
            assert!(
                fit.gaussians.len() <= 15,
                "{profile:?}: {}",
                fit.gaussians.len()
            );
            let peak = law.density(channel, 0.0);
            for i in 0..500 {
                let theta = 1e-5 * (1e5_f64).powf(f64::from(i) / 499.0);
                let want = law.density(channel, theta);
                let error = fit.density(theta) / want - 1.0;
                let within = if want > 1e-5 * peak { 0.005 } else { 0.02 };
                assert!(
                    error.abs() < within,
                    "{profile:?} {channel} at {theta}: {error}"
                );
                let inside: f64 = fit.gaussians.iter().map(|g| g.encircled(theta)).sum();
                let error = inside - law.encircled(channel, theta);
                assert!(
                    error.abs() < 0.0015,
                    "{profile:?} {channel} inside {theta}: {error}"
                );
            }
        }
    }
}

/// Lenslets' discs: within 0.5 % of the profile to where it has fallen by 10⁵, within 1e-7 of its peak
/// beyond, enclosed light and transform within 0.001.
#[test]
fn mixtures_follow_discs() {
    for spread in [LEAST_DISC_SPREAD, 0.35, 0.4, 0.5, 0.6] {
        let profile = disc(0.2, spread);
        let law = profile.law();
        let fit = Mixture {
            gaussians: profile.mixture(1),
            ..Mixture::default()
        };
        assert!(
            (fit.total() - 1.0).abs() < 1e-12,
            "{spread}: {}",
            fit.total()
        );
        let peak = law.density(1, 0.0);
        for i in 0..800 {
            let theta = 1e-5 * (1e5_f64).powf(f64::from(i) / 799.0);
            let want = law.density(1, theta);
            let within = if want > 1e-5 * peak {
                0.005 * want
            } else {
                1e-7 * peak
            };
            let error = fit.density(theta) - want;
            assert!(
                error.abs() < within,
                "{spread} at {theta}: {error} of {want}"
            );
            let inside: f64 = fit.gaussians.iter().map(|g| g.encircled(theta)).sum();
            let error = inside - law.encircled(1, theta);
            assert!(error.abs() < 0.001, "{spread} inside {theta}: {error}");
            let nu = 0.1 / theta;
            let error = fit.transfer(nu) - law.transfer(1, nu);
            assert!(error.abs() < 0.001, "{spread} transfer at {nu}: {error}");
        }
    }
}

/// Fused glass against the product of the exact transfer functions, from half a cycle per radian (a
/// frame a radian wide holds none lower) up: within 0.3 % of the scattered light.
#[test]
fn fused_glass_multiplies_transfers() {
    let clear = Scatter::clear();
    let sets = [
        vec![dark(20.0)],
        vec![dark(20.0), dark(20.0)],
        vec![pale(40.0), dark(10.0)],
        vec![pale(30.0), clear.clone(), dark(60.0), pale(8.0)],
        vec![lenslets(0.45)],
        vec![crowded(0.37), lenslets(0.18)],
        vec![crowded(0.18), crowded(0.37)],
    ];
    for set in &sets {
        for (channel, fit) in fuse(set).iter().enumerate() {
            let passed: f64 = set.iter().map(|law| law.passed()[channel]).product();
            assert!(
                (fit.total() - passed).abs() < 1e-12,
                "light in all: {}",
                fit.total()
            );
            let direct: f64 = set.iter().map(|law| law.direct[channel]).product();
            assert!(
                (fit.direct - direct).abs() < 1e-15,
                "direct: {}",
                fit.direct
            );
            assert!(
                fit.gaussians.len() <= 22,
                "{} components",
                fit.gaussians.len()
            );
            let scattered = fit.scattered();
            let mut nu = 0.5;
            while nu < 1e5 {
                let want: f64 = set.iter().map(|law| law.transfer(channel, nu)).product();
                let error = (fit.transfer(nu) - want) / scattered;
                assert!(error.abs() < 0.003, "{} laws at {nu}: {error}", set.len());
                nu *= 1.1;
            }
        }
    }
    let nothing = &fuse(&[])[0];
    assert!(
        nothing.gaussians.is_empty() && (nothing.direct - 1.0).abs() < 1e-15,
        "no glass"
    );
}

/// The fit's share of the error budget of a picture, 256², single-pixel lights to 1000 times key:
/// scattered light RMS within 0.1 %, every pixel within 0.5 % of its own scattered light and 0.25 % of
/// the larger of that and the frame's mean.
#[test]
fn fits_keep_the_budget_in_a_picture() {
    let (side, per_radian) = (256, 256.0 * 50.0 / 24.89);
    let mut plane = vec![0.02; side * side];
    for (i, level) in [
        (40 * side + 33, 180.0),
        (130 * side + 200, 60.0),
        (255 * side, 18.0),
    ] {
        plane[i] = level;
    }
    for y in 150..180 {
        plane[y * side + 60..y * side + 110].fill(0.9);
    }
    for set in [
        vec![dark(12.0)],
        vec![pale(40.0)],
        vec![dark(25.0), pale(60.0)],
        vec![lenslets(0.18)],
        vec![crowded(0.37), lenslets(0.45)],
    ] {
        let laws: Vec<_> = set.iter().map(Scatter::law).collect();
        let fits = fuse(&set).map(|fit| fit.scaled(per_radian));
        let mut exact = [plane.clone(), plane.clone(), plane.clone()];
        let mut fitted = exact.clone();
        let law = |c: usize, nu: f64| {
            laws.iter()
                .map(|l| l.transfer(c, nu * per_radian))
                .product()
        };
        scatter(&mut exact, side, side, law, [0.0; 3]);
        let fit = |c: usize, nu: f64| fits[c].transfer(nu);
        scatter(&mut fitted, side, side, fit, [0.0; 3]);
        for channel in 0..3 {
            let direct = fits[channel].direct;
            let local: Vec<f64> = exact[channel]
                .iter()
                .zip(&plane)
                .map(|(e, p)| e - direct * p)
                .collect();
            let mean = local.iter().sum::<f64>() / local.len() as f64;
            let (mut square, mut whole) = (0.0, 0.0);
            for (i, own) in local.iter().enumerate() {
                let error = (fitted[channel][i] - exact[channel][i]).abs();
                let within = 0.005 * own.abs() + 0.0025 * own.abs().max(mean);
                assert!(
                    error < within,
                    "{} laws, {channel}, {i}: {error} of {own}",
                    set.len()
                );
                square += error * error;
                whole += own * own;
            }
            let rms = (square / whole).sqrt();
            assert!(rms < 1e-3, "{} laws, {channel}: RMS {rms}", set.len());
        }
    }
}
