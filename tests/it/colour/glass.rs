//! The matrix of coloured glass against spectra, and the chart.

use foreglass::colour::primaries::Space;
use foreglass::colour::{Matrix3, Spectrum, Xyz, adapt, glass, illuminant, observer, temperature};
use proptest::prelude::*;

use super::{kelvin, near, number, rows};

fn from_xyz(xyz: [f64; 3]) -> [f64; 3] {
    Space::AcesCg
        .to_xyz()
        .inverse()
        .expect("AP1 inverts")
        .apply(xyz)
}

fn bare(balance: Xyz, scene: &Spectrum, through: bool) -> Matrix3 {
    glass::glass_matrix(&Spectrum::constant(1.0), scene, balance, through)
}

fn scenes() -> Vec<(&'static str, Spectrum)> {
    let mut all = vec![("A", illuminant::a()), ("D65", illuminant::d65())];
    all.extend([
        ("D55", illuminant::d55()),
        ("E", illuminant::equal_energy()),
    ]);
    all.push(("1000 K", illuminant::scene(kelvin(1000.0))));
    all.push(("1700 K", illuminant::scene(kelvin(1700.0))));
    all.push(("3200 K", illuminant::scene(kelvin(3200.0))));
    all.push(("25000 K", illuminant::scene(kelvin(25_000.0))));
    all
}

/// Conversion glass as the model makes it: a mired shift, held to 1, times two faces of n = 1.52.
fn conversion(shift: f64, held_at: f64) -> Spectrum {
    Spectrum::from_fn(|nm| {
        let per_metre = 1e9 / nm.get() - 1e9 / held_at;
        0.9183 * (-illuminant::C2 * shift * 1e-6 * per_metre).exp().min(1.0)
    })
}

/// `filters_recommended_model.csv`: loss in stops, temperature and Duv of Planckian light (3200 K
/// for cooling glass, 5500 K for warming) behind conversion glass, integrated there at 1 nm.
#[test]
fn light_through_conversion_glass() {
    for row in rows("filters_recommended_model.csv") {
        let shift = number(&row[1]);
        let (t, held_at) = if shift < 0.0 {
            (3200.0, 410.0)
        } else {
            (5500.0, 640.0)
        };
        let (tau, scene) = (conversion(shift, held_at), illuminant::planckian(kelvin(t)));
        let stops = -glass::transmitted_luminance(&tau, &scene).log2();
        near(stops, number(&row[2]), 1e-3, &format!("{} loss", row[0]));
        let (got, duv) = temperature::cct(illuminant::white(&scene.product(&tau)));
        near(
            got.get() / number(&row[3]),
            1.0,
            2e-4,
            &format!("{} temperature", row[0]),
        );
        near(duv, number(&row[5]), 1e-5, &format!("{} Duv", row[0]));
    }
}

#[test]
fn no_glass_changes_nothing() {
    for (name, scene) in scenes() {
        for balance in [illuminant::white(&scene), Xyz::from_xy(0.3127, 0.3290)] {
            for through in [false, true] {
                let off = bare(balance, &scene, through).largest_difference(&Matrix3::IDENTITY);
                assert!(off < 1e-12, "{name}, through {through}: off by {off}");
            }
        }
    }
}

/// The published property of the basis: its reflectances add up to 1 and lie between 0 and 1.
#[test]
fn reflectances_part_white() {
    let [r, g, b] = glass::reflectances();
    let table = rows("mallett2019_basis.csv");
    assert_eq!(table.len(), Spectrum::COUNT, "the whole range");
    for (i, row) in table.iter().enumerate() {
        let parts = [r.samples()[i], g.samples()[i], b.samples()[i]];
        near(parts.iter().sum(), 1.0, 1e-15, "partition of unity");
        for (got, want) in parts.iter().zip(&row[1..]) {
            near(*got, number(want), 1e-5, "the published value");
            assert!((0.0..=1.0).contains(got), "a reflectance");
        }
    }
}

/// White through the glass is the light's own colour through the glass: integrated here from the
/// spectra, with no basis.
#[test]
fn white_is_exact() {
    let working = Xyz::from_xy(0.32168, 0.33767);
    for (name, scene) in scenes() {
        let balance = illuminant::white(&scene);
        for tau in [conversion(-131.0, 410.0), conversion(131.0, 640.0)] {
            let lit = observer::integrate(&scene.product(&tau))
                .scaled(1.0 / observer::integrate(&scene).luminance());
            let want = from_xyz(adapt::cat16(balance, working).apply(lit.get()));
            let got = glass::glass_matrix(&tau, &scene, balance, false).apply([1.0; 3]);
            got.iter()
                .zip(want)
                .for_each(|(g, w)| near(*g, w, 1e-12, name));
            // Balanced through the glass white is white, and only the loss is left.
            let loss = glass::transmitted_luminance(&tau, &scene);
            near(lit.luminance(), loss, 1e-12, "the loss of luminance");
            let got = glass::glass_matrix(&tau, &scene, balance, true).apply([1.0; 3]);
            got.iter().for_each(|g| near(*g, loss, 1e-9, name));
        }
    }
}

/// Neutral glass is neutral whatever the balance; glass over glass is the product of spectra.
#[test]
fn neutral_and_black_glass() {
    let scene = illuminant::scene(kelvin(3200.0));
    let balance = illuminant::white(&illuminant::d55());
    let quarter = glass::glass_matrix(&Spectrum::constant(0.25), &scene, balance, false);
    assert!(
        quarter.largest_difference(&Matrix3::diagonal([0.25; 3])) < 1e-12,
        "two stops"
    );
    for through in [false, true] {
        let black = glass::glass_matrix(&Spectrum::constant(0.0), &scene, balance, through);
        assert!(black.is_finite(), "black glass makes plain numbers");
        assert!(
            black.largest_difference(&Matrix3::diagonal([0.0; 3])) < 1e-15,
            "and no light"
        );
    }
    let line = Spectrum::from_fn(|nm| f64::from(u8::from((nm.get() - 590.0).abs() < 1.0)));
    assert!(
        glass::scene_condition(&line) > glass::WORST_CONDITION,
        "sodium light has no colours"
    );
    let m = glass::glass_matrix(&Spectrum::constant(0.5), &line, balance, false);
    assert!(
        m.largest_difference(&Matrix3::diagonal([0.5; 3])) < 1e-12,
        "but loses a stop"
    );
    for (name, scene) in scenes() {
        let condition = glass::scene_condition(&scene);
        println!("condition under {name}: {condition:.1}");
        assert!(condition < 1000.0, "{name}: {condition}");
    }
}

/// The 24 patches of ISO 17321-1 (`chart_spectra.csv`) through full conversion glass, their true
/// spectra against what the matrix makes of their XYZ under the bare scene.
///
/// The camera is balanced to the scene. Its balance is undone on both sides and both are compared
/// as XYZ behind the glass, in CIELAB with the scene's light through the glass as white (Y = 1
/// there).
#[test]
fn chart_through_conversion_glass() {
    for (name, shift, held_at, t, mean_limit, max_limit) in [
        ("80A", -131.0, 410.0, 3200.0, 1.3, 5.5),
        ("85B", 131.0, 640.0, 5500.0, 1.3, 5.5),
        ("81A", 18.0, 640.0, 3400.0, 0.3, 1.2),
        ("82B", -32.0, 410.0, 2900.0, 0.4, 1.5),
    ] {
        let (mean, worst) = chart(&conversion(shift, held_at), t);
        println!("{name}: mean {mean:.2}, worst {worst:.2}");
        assert!(
            mean <= mean_limit && worst <= max_limit,
            "{name}: mean {mean}, worst {worst}"
        );
        assert!(worst > 0.01, "{name}: an estimate cannot be exact");
    }
}

fn chart(tau: &Spectrum, t: f64) -> (f64, f64) {
    let scene = illuminant::planckian(kelvin(t));
    let scene = scene.scaled(1.0 / observer::integrate(&scene).luminance());
    let balance = illuminant::white(&scene);
    let working = Xyz::from_xy(0.32168, 0.33767);
    let seen = scene.product(tau);
    let glass = glass::glass_matrix(tau, &scene, balance, false);
    let white = observer::integrate(&seen);
    let (to, from) = (
        adapt::cat16(balance, working),
        adapt::cat16(working, balance),
    );
    let table = rows("chart_spectra.csv");
    let differences: Vec<f64> = (1..=24)
        .map(|patch| {
            let spectrum =
                Spectrum::from_samples(std::array::from_fn(|i| number(&table[i][patch])));
            let bare = observer::integrate(&scene.product(&spectrum));
            let pixel = from_xyz(to.apply(bare.get()));
            let made = from.apply(Space::AcesCg.to_xyz().apply(glass.apply(pixel)));
            let truth = observer::integrate(&seen.product(&spectrum));
            Xyz::from(made).delta_e2000(truth, white)
        })
        .collect();
    let mean = differences.iter().sum::<f64>() / 24.0;
    (mean, differences.into_iter().fold(0.0, f64::max))
}

/// `chart_24_XYZ.csv`: the patches of ISO 17321-1 under A, D65, 3200 K and 5500 K, integrated
/// there over 360-830 nm at 1 nm from interpolated spectra.
#[test]
fn chart_under_four_lights() {
    let table = rows("chart_spectra.csv");
    let wanted: Vec<_> = rows("chart_24_XYZ.csv")
        .into_iter()
        .filter(|row| row[0] == "ISO 17321-1")
        .collect();
    assert_eq!(
        wanted.len(),
        96,
        "24 patches, four lights, in the chart's order"
    );
    let mut worst = 0.0_f64;
    for (i, row) in wanted.iter().enumerate() {
        let light = match row[2].as_str() {
            "A" => illuminant::a(),
            "D65" => illuminant::d65(),
            "Planck3200" => illuminant::planckian(kelvin(3200.0)),
            "Planck5500" => illuminant::planckian(kelvin(5500.0)),
            other => panic!("no light {other}"),
        };
        let patch = i / 4 + 1;
        let spectrum = Spectrum::from_samples(std::array::from_fn(|k| number(&table[k][patch])));
        let y = observer::integrate(&light).luminance();
        let got = observer::integrate(&light.product(&spectrum))
            .scaled(1.0 / y)
            .get();
        for (got, want) in got.iter().zip(&row[3..6]) {
            near(
                *got,
                number(want),
                2e-4,
                &format!("{} under {}", row[1], row[2]),
            );
            worst = worst.max((got - number(want)).abs());
        }
    }
    println!("chart: worst difference in X, Y, Z {worst:.1e}");
}

proptest! {
    #[test]
    fn white_is_exact_through_any_glass(
        points in prop::collection::vec(0.0_f64..1.0, 81), t in 1700.0_f64..25_000.0,
    ) {
        let tau = Spectrum::from_samples(points.try_into().expect("81 samples"));
        let scene = illuminant::scene(kelvin(t));
        let balance = illuminant::white(&scene);
        let working = Xyz::from_xy(0.32168, 0.33767);
        let seen = observer::integrate(&scene.product(&tau))
            .scaled(1.0 / observer::integrate(&scene).luminance());
        let want = from_xyz(adapt::cat16(balance, working).apply(seen.get()));
        let m = glass::glass_matrix(&tau, &scene, balance, false);
        for (got, want) in m.apply([1.0; 3]).iter().zip(want) {
            prop_assert!((got - want).abs() < 1e-11, "{got} {want}");
        }
        // What glass takes and what its negative would take add up to all the light.
        let rest = glass::glass_matrix(&tau.map(|v| 1.0 - v), &scene, balance, false);
        for (k, unit) in Matrix3::IDENTITY.rows().iter().enumerate() {
            for (j, want) in unit.iter().enumerate() {
                prop_assert!((m.rows()[k][j] + rest.rows()[k][j] - want).abs() < 1e-10, "linear in τ");
            }
        }
    }
}
