//! Scattered light: the exact laws against figures from outside, the fits against the laws.

use foreglass::optics::fit::{LEAST_DISC_SPREAD, LEAST_SPECK_SPREAD, fuse};
use foreglass::optics::scatter::{Lobe, Profile, Scatter, Unbalanced};
use foreglass::optics::specks::Specks;
use foreglass::optics::{airy, mixture::Mixture, overlap};
use foreglass::reference::scatter::scatter;
use foreglass::units::{Degrees, Fraction, Micrometres};
use std::f64::consts::PI;

/// Specks by themselves.
fn speck(diameter: f64, spread: f64) -> Profile {
    specks(diameter, spread, 0.0)
}

fn specks(diameter: f64, spread: f64, coverage: f64) -> Profile {
    Profile::Speck {
        diameter: Micrometres::clamped(diameter),
        spread,
        coverage: Fraction::clamped(coverage),
    }
}

/// Written by `tests/scripts/round_scatter.py`.
const ROUND: &str = include_str!("../checks/golden/round_scatter.csv");

fn disc(angle: f64, spread: f64) -> Profile {
    Profile::Disc {
        angle: Degrees::clamped(angle),
        spread,
    }
}

fn harvey(width: f64) -> Profile {
    Profile::Harvey {
        width: Degrees::clamped(width),
    }
}

fn dark(diameter: f64) -> Scatter {
    let lobes = vec![
        Lobe::grey(0.09, speck(diameter, 0.4)),
        Lobe::grey(0.01, harvey(3.0)),
    ];
    Scatter {
        direct: [0.81; 3],
        lobes,
        veil: [0.002; 3],
        absorbed: [0.088; 3],
    }
}

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

/// Source: `tests/scripts/golden_scatter.py` (`NumPy`, `SciPy`, colour-science; plain sums over size and band).
#[test]
fn laws_hold_to_plain_sums() {
    let mut seen = 0;
    for line in include_str!("../checks/golden/scatter_values.csv")
        .lines()
        .skip(1)
    {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let (channel, at, want) = (cells[3].parse::<usize>().unwrap(), number(4), number(5));
        let law = speck(number(1), number(2)).law();
        let (got, within) = match cells[0] {
            "transfer" => (law.transfer(channel, at), 1e-8),
            "density" => (law.density(channel, at), 1e-7 * want),
            "encircled" => (law.encircled(channel, at), 1e-8),
            _ => continue,
        };
        seen += 1;
        assert!((got - want).abs() <= within, "{line}: {got}");
    }
    assert_eq!(
        seen,
        4 * 3 * (4 + 2 * 4),
        "every row of the three laws was read"
    );
}

/// Babinet's fractions and the halo's shape, from FFTs of random masks of overlapping discs with a
/// log-normal spread of diameters, averaged over the green band. Source: `golden_scatter.py`. Twelve
/// masks of 2048², 2 % covered: the shape carries about one per cent of noise and overlap.
#[test]
fn specks_scatter_as_masks_do() {
    let mut seen = 0;
    for line in include_str!("../checks/golden/scatter_values.csv").lines() {
        let cells: Vec<&str> = line.split(',').collect();
        if !cells[0].starts_with("mask_") {
            continue;
        }
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let (at, want) = (number(4), number(5));
        let glass = |c: f64| {
            Specks {
                coverage: Fraction::clamped(c),
                absorbing: Fraction::clamped(1.0),
                diameter: Micrometres::clamped(number(1)),
                spread: number(2),
                lobe: Degrees::clamped(3.0),
                veil: Fraction::clamped(0.0),
            }
            .scatter()
        };
        let (got, within) = match cells[0] {
            "mask_direct" => (glass(at).direct[1], 2e-5),
            "mask_diffracted" => (glass(at).scattered()[1], 2e-5),
            _ => (speck(number(1), number(2)).encircled(1, at), 0.012),
        };
        seen += 1;
        assert!((got - want).abs() < within, "{line}: {got}");
    }
    assert_eq!(seen, 6, "all mask figures were read");
}

/// The halo of specks that overlap, from FFTs of random masks of discs of a spread of diameters, 5 to 45
/// per cent covered, averaged over the green band: Babinet's fractions, the transform, and the light
/// enclosed by an angle. Sixteen masks of 2048² carry about half a per cent of noise; specks by
/// themselves would be off by up to five times the bounds. Source: `round_scatter.py`.
#[test]
fn crowded_specks_scatter_as_masks_do() {
    let (mut seen, mut lone) = (0, 0.0_f64);
    for line in ROUND.lines().filter(|line| line.starts_with("mask_")) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let (diameter, spread, coverage, at) = (number(1), number(2), number(3), number(5));
        let want = number(6);
        let glass = Specks {
            coverage: Fraction::clamped(coverage),
            absorbing: Fraction::clamped(1.0),
            diameter: Micrometres::clamped(diameter),
            spread,
            lobe: Degrees::clamped(3.0),
            veil: Fraction::clamped(0.0),
        }
        .scatter();
        let halo = glass.lobes[0].profile;
        let (got, within) = match cells[0] {
            "mask_direct" => (glass.direct[1], 2e-4),
            "mask_diffracted" => (glass.scattered()[1], 2e-4),
            "mask_transfer" => (halo.transfer(1, at), 0.01),
            _ => (halo.encircled(1, at), 0.008),
        };
        if cells[0] == "mask_encircled" {
            lone = lone.max(speck(diameter, spread).encircled(1, at) - want);
        }
        seen += 1;
        assert!((got - want).abs() < within, "{line}: {got}");
    }
    assert_eq!(seen, 4 * 12, "all mask figures were read");
    assert!(lone > 0.04, "overlap can be told in these figures: {lone}");
}

/// One size of speck at c = 0.10034: intensity relative to as many specks each by itself, at
/// x = πdθ/λ = 1, 2, 3, 5. Source: an FFT of one random mask (its noise is up to 5 % of a value).
#[test]
fn one_size_crowds_as_a_mask_does() {
    let c: f64 = 0.10034;
    let lone = -(1.0 - c).ln() * 0.25 * PI / (c * (1.0 - c));
    for (x, want) in [(1.0, 0.650), (2.0, 0.294), (3.0, 0.051), (5.0, 0.0145)] {
        let got = overlap::density(c, x / PI) / lone;
        assert!((got - want).abs() < 0.015, "{x}: {got} for {want}");
        let alone = (1.0 - c) * (1.0 - c) * airy::intensity(x);
        assert!(
            (got - want).abs() < (alone - want).abs(),
            "{x}: {alone} by itself"
        );
    }
}

/// The law of specks that overlap, and lenslets' transform, to plain sums. Source: `round_scatter.py`.
#[test]
fn crowded_specks_and_lenslets_hold_to_plain_sums() {
    let mut seen = 0;
    for line in ROUND.lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let (channel, at, want) = (number(4) as usize, number(5), number(6));
        let law = specks(number(1).max(1.0), number(2), number(3));
        let (got, within) = match cells[0] {
            "overlap_transfer" => (law.transfer(channel, at), 1e-8),
            "overlap_density" => (law.density(channel, at), 1e-7 * want),
            "overlap_encircled" => (law.encircled(channel, at), 1e-8),
            "disc_transfer" => {
                let lenslets = disc(number(1).to_degrees(), number(2));
                (lenslets.transfer(channel, at), 1e-9)
            }
            _ => continue,
        };
        seen += 1;
        assert!((got - want).abs() <= within, "{line}: {got}");
    }
    assert_eq!(seen, 3 * 12 + 3 * 9, "every row was read");
}

/// Figures of the Airy pattern. Source: handbook values (first dark ring 1.2197 λ/d, 83.78 % inside it,
/// 91.0 % inside the second, half intensity at x = 1.6163 with 47.4 % inside); 2J₁(x)/x to seven places
/// from an independent table.
#[test]
fn one_speck_is_airys_disc() {
    let first = 1.219_67 * PI;
    assert!(
        airy::intensity(first) < 1e-9,
        "dark at 1.2197 λ/d: {}",
        airy::intensity(first)
    );
    assert!(
        (airy::enclosed(first) - 0.8378).abs() < 5e-5,
        "{}",
        airy::enclosed(first)
    );
    assert!(
        (airy::enclosed(7.015_59) - 0.910).abs() < 5e-4,
        "{}",
        airy::enclosed(7.015_59)
    );
    assert!(
        (airy::intensity(1.6163) - 0.5).abs() < 5e-5,
        "{}",
        airy::intensity(1.6163)
    );
    assert!(
        (airy::enclosed(1.6163) - 0.474).abs() < 5e-4,
        "{}",
        airy::enclosed(1.6163)
    );
    for (x, want) in [
        (0.5, 0.969_073_8),
        (1.0, 0.880_101_2),
        (2.0, 0.576_724_8),
        (3.831_706_0, 0.0),
        (5.0, -0.131_031_7),
    ] {
        assert!(
            (airy::jinc(x) - want).abs() < 6e-8,
            "2J1(x)/x at {x}: {}",
            airy::jinc(x)
        );
    }
}

/// Light enclosed in 0.5, 1, 2.5, 5, 10 degrees by the Harvey law of S = −3, L = 0.01, on the hemisphere
/// in direction cosines. Source: quadrature of the BSDF (independent). Ours is the flat law: the
/// hemisphere ends it at sin θ = 1, which holds 1 − L of its light, and sin θ is not θ.
#[test]
fn harvey_encloses_what_the_hemisphere_does_at_small_angles() {
    let lobe = harvey(0.01_f64.to_degrees());
    let rows = [
        (0.5, 0.249),
        (1.0, 0.508),
        (2.5, 0.784),
        (5.0, 0.895),
        (10.0, 0.952),
    ];
    for (angle, want) in rows {
        let got = lobe.encircled(1, f64::to_radians(angle)) / 0.99;
        assert!((got - want).abs() < 1e-3, "{angle} degrees: {got}");
    }
    // Its transform is exp(−2πLν): Hankel's integral of the density, as a plain sum.
    let law = lobe.law();
    let nu = 7.0;
    let mut sum = 0.0;
    let step = 2.5e-4;
    for i in 0..160_000 {
        let theta = (f64::from(i) + 0.5) * step;
        let fade = (-(theta / 12.0).powi(2)).exp(); // tames the tail of the oscillation
        sum += law.density(1, theta) * libm::j0(2.0 * PI * nu * theta) * theta * fade;
    }
    let want = law.transfer(1, nu);
    assert!(
        (2.0 * PI * step * sum / want - 1.0).abs() < 1e-4,
        "{}",
        2.0 * PI * step * sum
    );
}

/// Angle goes with wavelength: the middle wavelengths (by log) of the bands set the ratio of half-light
/// angles. Source: similarity, u = πdθ/λ.
#[test]
fn red_halos_are_wider_by_the_ratio_of_wavelengths() {
    let middle = |channel: usize| {
        let band = &foreglass::colour::bands()[channel];
        band.iter()
            .map(|(nm, w)| w * nm.get().ln())
            .sum::<f64>()
            .exp()
    };
    for spread in [0.3, 0.5] {
        let law = speck(20.0, spread).law();
        let half = |channel| law.quantile(channel, 0.5);
        let (got, want) = (half(0) / half(2), middle(0) / middle(2));
        assert!(want > 1.2, "the bands lie apart: {want}");
        assert!(
            (got / want - 1.0).abs() < 0.01,
            "spread {spread}: {got} for {want}"
        );
    }
}

#[test]
fn quantiles_invert_encircled_light() {
    for profile in [
        speck(20.0, 0.0),
        speck(7.0, 0.35),
        speck(80.0, 0.6),
        specks(12.0, 0.45, 0.37),
        harvey(2.0),
        disc(0.2, 0.35),
    ] {
        for share in [0.05, 0.5, 0.95, 0.995] {
            let angle = profile.quantile(0, share);
            let got = profile.encircled(0, angle);
            assert!((got - share).abs() < 1e-9, "{profile:?} at {share}: {got}");
        }
    }
}

/// Source: ASTM D1003's definition of haze.
#[test]
fn haze_is_what_leaves_by_more_than_two_and_a_half_degrees() {
    // A Harvey lobe of half-width 2.5°/√3 sends half its light past 2.5°.
    let lobes = vec![Lobe::grey(0.2, harvey(2.5 / 3_f64.sqrt()))];
    let glass = Scatter {
        direct: [0.65; 3],
        lobes,
        veil: [0.05; 3],
        absorbed: [0.1; 3],
    };
    assert!((glass.haze() - 0.15 / 0.9).abs() < 1e-9, "{}", glass.haze());
    // Coarse specks make next to none. Of a 5 µm speck's light, Airy's disc at 0.55 µm has two thirds
    // past 2.5° (u = 1.25).
    let one = |d| Scatter {
        direct: [0.9; 3],
        lobes: vec![Lobe::grey(0.1, speck(d, 0.3))],
        veil: [0.0; 3],
        absorbed: [0.0; 3],
    };
    assert!(
        one(200.0).haze() < 0.01 && one(5.0).haze() > 0.06,
        "{}",
        one(5.0).haze()
    );
}

#[test]
fn accounts_that_do_not_add_up_are_refused() {
    assert_eq!(dark(20.0).check(), Ok(()), "a true account");
    let lost = Scatter {
        absorbed: [0.0; 3],
        ..dark(20.0)
    };
    assert!(
        matches!(lost.check(), Err(Unbalanced::Total { .. })),
        "light went missing"
    );
    let negative = Scatter {
        veil: [-0.1; 3],
        absorbed: [0.19; 3],
        ..dark(20.0)
    };
    assert!(
        matches!(negative.check(), Err(Unbalanced::Part { part: "veil", .. })),
        "negative veil"
    );
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
