//! Scattered light: the exact laws against figures from outside; beside it crowds, and the fits.

mod crowded;
mod fits;

use foreglass::optics::airy;
use foreglass::optics::scatter::{Lobe, Profile, Scatter, Unbalanced};
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
