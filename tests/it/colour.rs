//! Colour against the tables of standards and of a general-purpose colour library.

use foreglass::colour::primaries::{LUMA, Space, to_working_from};
use foreglass::colour::transfer::{Curve, HLG_WHITE_SIGNAL, PQ_WHITE};
use foreglass::colour::{
    Matrix3, Spectrum, Xyz, adapt, bands, glass, illuminant, observer, temperature, transfer,
};
use foreglass::units::{Kelvin, Mireds, Nanometres};
use proptest::prelude::*;

const CHECKS: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/checks/");

fn read(name: &str) -> String {
    std::fs::read_to_string(format!("{CHECKS}{name}"))
        .expect("a committed file of reference values")
}

fn rows(name: &str) -> Vec<Vec<String>> {
    let text = read(name);
    text.lines()
        .skip(1)
        .map(|l| l.split(',').map(str::to_owned).collect())
        .collect()
}

fn number(field: &str) -> f64 {
    field
        .parse()
        .unwrap_or_else(|_| panic!("{field} is a number"))
}

fn near(got: f64, want: f64, tolerance: f64, what: &str) {
    assert!(
        (got - want).abs() <= tolerance,
        "{what}: got {got}, want {want} ± {tolerance}"
    );
}

fn matrix(json: &serde_json::Value, key: &str) -> Matrix3 {
    let at = key.split('/').fold(json, |v, k| &v[k]);
    Matrix3::from_rows(serde_json::from_value(at.clone()).expect("a 3×3 matrix"))
}

/// `transfer_functions.csv`: IEC 61966-2-1, BT.709-6, BT.1886, ST 2084, BT.2100-2 and
/// S-2016-001, each computed two ways there. Every row is checked, and its inverse too.
#[test]
fn transfer_curves_are_the_standards() {
    let mut checked = 0;
    for row in rows("transfer_functions.csv") {
        let (name, x, y) = (row[0].as_str(), number(&row[1]), number(&row[2]));
        let both = |curve: Curve, light: f64, code: f64| {
            near(curve.encode64(light), code, 3e-7, name);
            near(curve.decode64(code), light, 3e-7 * light.max(1.0), name);
            let l32 = f64::from(curve.decode(code as f32));
            near(l32, light, 4e-6 * light.max(0.1), name);
            // BT.709-6 jumps by 2.5e-4 at light 0.018, and no f32 is exactly that light.
            let jump = if curve == Curve::Bt709 && row[1] == "0.018" {
                2.5e-4
            } else {
                1e-6
            };
            near(f64::from(curve.encode(light as f32)), code, jump, name);
        };
        match name {
            "sRGB encode (IEC 61966-2-1)" => both(Curve::Srgb, x, y),
            "sRGB decode" => both(Curve::Srgb, y, x),
            "BT.709 OETF" => both(Curve::Bt709, x, y),
            "BT.1886 EOTF Lw=100 Lb=0" => both(Curve::Bt1886, y / 100.0, x),
            // A black level other than 0 is a display's, not a file's: not offered.
            "BT.1886 EOTF Lw=100 Lb=0.1" => continue,
            "PQ inverse EOTF cd/m2->N" => both(Curve::Pq, x / PQ_WHITE, y),
            "PQ EOTF N->cd/m2" => both(Curve::Pq, y / PQ_WHITE, x),
            "BT.2100 HLG OETF" => {
                near(transfer::hlg_oetf(x), y, 1e-12, name);
                near(transfer::hlg_inverse_oetf(y), x, 1e-12, name);
                both(
                    Curve::Hlg,
                    x / transfer::hlg_inverse_oetf(HLG_WHITE_SIGNAL),
                    y,
                );
            }
            "ACEScct encode" => both(Curve::AcesCct, x, y),
            "ACEScct decode" => both(Curve::AcesCct, y, x),
            other => panic!("no curve for {other}"),
        }
        checked += 1;
    }
    assert!(checked >= 50, "{checked} rows were checked");
}

/// ITU-R BT.2408: diffuse white is 203 cd/m² in PQ and 75 % in HLG; 18 % grey is at 38 % HLG.
#[test]
fn high_range_white_is_one() {
    near(
        Curve::Pq.decode64(transfer::pq_inverse_eotf(203.0)),
        1.0,
        1e-9,
        "PQ white",
    );
    near(Curve::Hlg.decode64(0.75), 1.0, 1e-12, "HLG white");
    near(Curve::Hlg.decode64(0.38), 0.18, 0.005, "HLG grey");
}

/// `matrices.json`: AP1 and the other derived matrices, and sRGB to AP1, by colour-science.
#[test]
fn primaries_are_the_standards() {
    let json: serde_json::Value = serde_json::from_str(&read("matrices.json")).expect("JSON");
    for (space, key) in [
        (Space::AcesCg, "RGB_ACEScg"),
        (Space::Aces2065, "RGB_ACES2065-1"),
        (Space::Srgb, "RGB_sRGB"),
        (Space::DisplayP3, "RGB_Display P3"),
        (Space::Bt2020, "RGB_ITU-R BT.2020"),
    ] {
        let want = matrix(&json, &format!("{key}/derived_RGB_to_XYZ"));
        let off = space.to_xyz().largest_difference(&want);
        assert!(off < 1e-12, "{key} to XYZ is off by {off}");
        let there = space.from_working() * space.to_working();
        let off = there.largest_difference(&Matrix3::IDENTITY);
        assert!(off < 1e-12, "{key} there and back is off by {off}");
        let white = space.to_working().apply([1.0; 3]);
        white
            .iter()
            .for_each(|v| near(*v, 1.0, 1e-9, "white is white"));
    }
    let into = matrix(&json, "RGB_ACEScg/derived_RGB_to_XYZ")
        .inverse()
        .expect("AP1 inverts")
        * matrix(&json, "M_Bradford_D65_to_ACES");
    let want = into * matrix(&json, "RGB_sRGB/derived_RGB_to_XYZ");
    let off = Space::Srgb.to_working().largest_difference(&want);
    assert!(off < 2e-8, "sRGB to AP1 is off by {off}");
    // The file's own sRGB to ACEScg starts from the four decimals of IEC 61966-2-1.
    let (rounded, want) = (
        matrix(&json, "RGB_sRGB/RGB_to_XYZ"),
        matrix(&json, "sRGB_to_ACEScg_Bradford"),
    );
    let d65 = Xyz::from_xy(0.3127, 0.3290);
    let aces = Xyz::from_xy(0.32168, 0.33767);
    let into = Space::AcesCg.to_xyz().inverse().expect("AP1 inverts");
    let off = (into * adapt::bradford(d65, aces) * rounded).largest_difference(&want);
    assert!(off < 1e-8, "rounded sRGB to AP1 is off by {off}");
    let off = Space::Srgb.to_working().largest_difference(&want);
    assert!(off < 1e-4, "derived and rounded differ by {off}");
    let luma = Space::AcesCg.to_xyz().rows()[1];
    LUMA.iter()
        .zip(luma)
        .for_each(|(a, b)| near(f64::from(*a), b, 3e-8, "luminance weights"));
}

/// A file's chromaticities may be anything; those of sRGB are sRGB.
#[test]
fn chromaticities_from_a_file() {
    let m = to_working_from(Space::Srgb.chromaticities()).expect("sRGB has a matrix");
    assert!(
        m.largest_difference(&Space::Srgb.to_working()) < 1e-15,
        "the same derivation"
    );
    let line = [[0.1, 0.1], [0.2, 0.2], [0.3, 0.3], [0.3127, 0.329]];
    assert!(to_working_from(line).is_none(), "primaries on one line");
    let mut bad = Space::Srgb.chromaticities();
    bad[3][1] = 0.0;
    assert!(to_working_from(bad).is_none(), "no white there");
    bad[3][1] = f64::NAN;
    assert!(to_working_from(bad).is_none(), "not a number");
}

/// `matrices.json`: Bradford (Lam 1985) and CAT16 (Li et al. 2017) between CIE whites.
#[test]
fn adaptation_is_the_published_one() {
    let json: serde_json::Value = serde_json::from_str(&read("matrices.json")).expect("JSON");
    let whites = [
        ("A", Xyz::from_xy(0.44758, 0.40745)),
        ("D50", Xyz::from_xy(0.3457, 0.3585)),
        ("D55", Xyz::from_xy(0.33243, 0.34744)),
        ("D65", Xyz::from_xy(0.3127, 0.3290)),
        ("ACES", Xyz::from_xy(0.32168, 0.33767)),
    ];
    let mut checked = 0;
    for (from, a) in whites {
        for (to, b) in whites {
            for (name, got) in [
                ("Bradford", adapt::bradford(a, b)),
                ("CAT16", adapt::cat16(a, b)),
            ] {
                let key = format!("M_{name}_{from}_to_{to}");
                if json.get(&key).is_some() {
                    let off = got.largest_difference(&matrix(&json, &key));
                    assert!(off < 1e-6, "{key} is off by {off}");
                    checked += 1;
                }
            }
        }
    }
    assert_eq!(checked, 10, "every pair of the file");
}

/// `cie_whites.csv`: Planckian lights and CIE illuminants integrated over 360-830 nm at 1 nm.
/// Ours is 5 nm, the values at 380 and 780 nm held beyond.
#[test]
fn whites_are_the_standards() {
    let mut worst = 0.0_f64;
    let mut checked = 0;
    for row in rows("cie_whites.csv") {
        let name = row[0].as_str();
        let light = match name {
            "A (from SPD 360-830/1)" => illuminant::a(),
            "D55 (from SPD 360-830/1)" => illuminant::d55(),
            "D65 (from SPD 360-830/1)" => illuminant::d65(),
            _ => match name
                .strip_prefix("Planckian ")
                .and_then(|n| n.strip_suffix(" K"))
            {
                Some(t) => illuminant::planckian(kelvin(number(t))),
                None => continue,
            },
        };
        let [x, y] = illuminant::white(&light).xy();
        let off = (x - number(&row[4])).abs().max((y - number(&row[5])).abs());
        assert!(off < 2e-5, "{name} is off by {off} in x, y");
        (worst, checked) = (worst.max(off), checked + 1);
    }
    assert_eq!(checked, 14, "eleven Planckian lights and A, D55, D65");
    println!("whites: worst difference in x, y {worst:.1e}");
}

/// CIE 15: XYZ of A, D55 and D65 (the `tabulated xy` rows), and E.
#[test]
fn standard_illuminants() {
    for (light, x, y) in [
        (illuminant::a(), 0.44758, 0.40745),
        (illuminant::d55(), 0.33243, 0.34744),
        (illuminant::d65(), 0.31270, 0.32900),
        (illuminant::equal_energy(), 1.0 / 3.0, 1.0 / 3.0),
    ] {
        let got = illuminant::white(&light).get();
        let want = Xyz::from_xy(x, y).get();
        got.iter()
            .zip(want)
            .for_each(|(g, w)| near(*g, w, 4e-4, "tristimulus"));
    }
    // `cie1931_2deg_5nm_A_D55_D65.csv`, sample by sample: the tables in the code are those.
    let [xbar, ybar, zbar] = observer::matching_functions();
    let tables = [
        xbar,
        ybar,
        zbar,
        illuminant::a(),
        illuminant::d55(),
        illuminant::d65(),
    ];
    let mut checked = 0;
    for row in rows("cie1931_2deg_5nm_A_D55_D65.csv") {
        let nm = number(&row[0]);
        if (380.0..=780.0).contains(&nm) {
            for (k, table) in tables.iter().enumerate() {
                let scale = if k < 3 { 1.0 } else { 100.0 };
                let got = table.at(Nanometres::clamped(nm)) * scale;
                near(
                    got,
                    number(&row[k + 1]),
                    1e-10,
                    &format!("column {k} at {nm} nm"),
                );
                checked += 1;
            }
        }
    }
    assert_eq!(checked, 81 * 6, "every sample");
}

/// CIE 15: daylight by the method of components against the tabulated D65 (6504 K) and D55
/// (5503 K), and against the chromaticities of D50 and D75.
#[test]
fn daylight_is_the_method_of_cie_15() {
    for (t, table) in [(6504.0, illuminant::d65()), (5503.0, illuminant::d55())] {
        let made = illuminant::daylight(kelvin(t));
        for ((nm, got), (_, want)) in made.iter().zip(table.iter()) {
            // CIE 15 rounds M1 and M2 to three decimals before tabulating.
            near(got, want, 2e-3, &format!("{t} K at {nm:?}"));
        }
    }
    for (t, x, y) in [(5003.0, 0.3457, 0.3585), (7504.0, 0.29903, 0.31488)] {
        let got = illuminant::white(&illuminant::daylight(kelvin(t))).xy();
        near(got[0], x, 1e-4, "daylight x");
        near(got[1], y, 1e-4, "daylight y");
    }
    // DESIGN: a glowing body below 4000 K, daylight from there.
    assert_eq!(
        illuminant::scene(kelvin(3999.0)),
        illuminant::planckian(kelvin(3999.0)),
        "below"
    );
    assert_eq!(
        illuminant::scene(kelvin(4000.0)),
        illuminant::daylight(kelvin(4000.0)),
        "from"
    );
}

/// `cct_checks.csv`: points 0 to 0.02 off the locus, with the temperature they were made from, and
/// CIE illuminants by the method of Ohno 2013, all by colour-science.
#[test]
fn colour_temperatures() {
    let mut worst = (0.0_f64, 0.0_f64);
    for row in rows("cct_checks.csv") {
        let (u, v) = (number(&row[2]), number(&row[3]));
        let d = 2.0 * u - 8.0 * v + 4.0;
        let (got, duv) = temperature::cct(Xyz::from_xy(3.0 * u / d, 2.0 * v / d));
        let want = row[0].parse().unwrap_or_else(|_| number(&row[4]));
        let off = (got.get() / want - 1.0).abs();
        assert!(
            off < 1e-4,
            "{} {}: got {got:?}, want {want} K",
            row[0],
            row[1]
        );
        near(duv, number(&row[5]), 5e-6, &row[0]);
        worst = (worst.0.max(off), worst.1.max((duv - number(&row[5])).abs()));
    }
    println!(
        "temperature: worst {:.1e} relative, Duv {:.1e}",
        worst.0, worst.1
    );
}

/// Handbook arithmetic (common practice): an 85B turns 5500 K into 3200 K, +131 mireds.
#[test]
fn mired_arithmetic() {
    near(
        temperature::shift_between(kelvin(5500.0), kelvin(3200.0)).get(),
        130.7,
        0.05,
        "85B",
    );
    near(
        temperature::shifted(kelvin(3200.0), Mireds::clamped(-131.0)).get(),
        5509.6,
        0.1,
        "80A",
    );
    let far = temperature::shifted(kelvin(10_000.0), Mireds::clamped(-500.0));
    near(
        far.get(),
        Kelvin::HIGH,
        1e-9,
        "past zero mireds is the hottest",
    );
}

fn kelvin(t: f64) -> Kelvin {
    Kelvin::new(t).expect("a colour temperature")
}

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

/// `colorchecker_XYZ.csv`: the patches of ISO 17321-1 under A, D65, 3200 K and 5500 K, integrated
/// there over 360-830 nm at 1 nm from interpolated spectra.
#[test]
fn chart_under_four_lights() {
    let table = rows("chart_spectra.csv");
    let wanted: Vec<_> = rows("colorchecker_XYZ.csv")
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

/// CIEDE2000 against pairs 1, 7 and 25 of Sharma, Wu and Dalal 2005 (from memory).
#[test]
fn colour_differences() {
    let white = Xyz::new(1.0, 1.0, 1.0);
    let xyz = |l: f64, a: f64, b: f64| {
        let f = |t: f64| {
            if t > 6.0 / 29.0 {
                t.powi(3)
            } else {
                (t - 4.0 / 29.0) * 108.0 / 841.0
            }
        };
        let y = (l + 16.0) / 116.0;
        Xyz::new(f(y + a / 500.0), f(y), f(y - b / 200.0))
    };
    for (p, q, want) in [
        ([50.0, 2.6772, -79.7751], [50.0, 0.0, -82.7485], 2.0425),
        ([50.0, 0.0, 0.0], [50.0, -1.0, 2.0], 2.3669),
        (
            [60.2574, -34.0099, 36.2677],
            [60.4626, -34.1751, 39.4387],
            1.2644,
        ),
    ] {
        let (p, q) = (xyz(p[0], p[1], p[2]), xyz(q[0], q[1], q[2]));
        near(p.delta_e2000(q, white), want, 1e-4, "Sharma's pair");
    }
}

/// The definition: unit sum, nothing negative; and the order of the channels.
#[test]
fn bands_are_weights() {
    let middle = bands()
        .each_ref()
        .map(|b| b.iter().map(|(nm, w)| nm.get() * w).sum::<f64>());
    for band in bands() {
        near(band.sum(), 1.0, 1e-14, "unit sum");
        assert!(
            band.samples().iter().all(|v| *v >= 0.0),
            "clipped at nothing"
        );
    }
    assert!(
        middle[0] > 590.0 && middle[0] < 610.0,
        "red about 600 nm: {middle:?}"
    );
    assert!(
        middle[1] > 530.0 && middle[1] < 560.0,
        "green about 545 nm: {middle:?}"
    );
    assert!(
        middle[2] > 440.0 && middle[2] < 470.0,
        "blue about 450 nm: {middle:?}"
    );
}

proptest! {
    #[test]
    fn no_curve_makes_what_is_not_finite(bits in any::<u32>(), wide in any::<u64>()) {
        for curve in Curve::ALL {
            let (v, w) = (f32::from_bits(bits), f64::from_bits(wide));
            prop_assert!(curve.decode(v).is_finite(), "{curve:?} decode {v}");
            prop_assert!(curve.encode(v).is_finite(), "{curve:?} encode {v}");
            prop_assert!(curve.decode64(w).is_finite(), "{curve:?} decode {w}");
            prop_assert!(curve.encode64(w).is_finite(), "{curve:?} encode {w}");
        }
    }

    #[test]
    fn light_survives_its_code(light in -40.0_f64..40.0) {
        for curve in Curve::ALL {
            let back = curve.decode64(curve.encode64(light));
            // sRGB and BT.709 round their junctions: that is the 1e-7.
            prop_assert!((back - light).abs() < 1e-7 * light.abs().max(1.0), "{curve:?} {light} {back}");
            let back = f64::from(curve.decode(curve.encode(light as f32)));
            prop_assert!((back - light).abs() < 2e-5 * light.abs().max(0.05), "{curve:?} {light} {back}");
        }
    }

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

    #[test]
    fn curves_rise(a in -1.0_f64..2.0, step in 1e-6_f64..1.0) {
        for curve in Curve::ALL {
            prop_assert!(curve.decode64(a + step) >= curve.decode64(a), "{curve:?} decode");
            prop_assert!(curve.encode64(a + step) >= curve.encode64(a), "{curve:?} encode");
        }
    }
}
