//! Colour against the tables of standards and of a general-purpose colour library.

mod glass;
mod light;

use foreglass::colour::primaries::{LUMA, Space, to_working_from};
use foreglass::colour::transfer::{Curve, HLG_WHITE_SIGNAL, PQ_WHITE};
use foreglass::colour::{Matrix3, Xyz, adapt, transfer};
use foreglass::units::Kelvin;
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

fn kelvin(t: f64) -> Kelvin {
    Kelvin::new(t).expect("a colour temperature")
}

/// `transfer_functions.csv`: IEC 61966-2-1, BT.709-6, BT.1886, ST 2084, BT.2100-2 and
/// S-2016-001, each computed two ways there. Every row but those of a
/// display's black level is checked, and its inverse too.
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
    fn curves_rise(a in -1.0_f64..2.0, step in 1e-6_f64..1.0) {
        for curve in Curve::ALL {
            prop_assert!(curve.decode64(a + step) >= curve.decode64(a), "{curve:?} decode");
            prop_assert!(curve.encode64(a + step) >= curve.encode64(a), "{curve:?} encode");
        }
    }
}

/// The light of a code of 0 to 1, IEC 61966-2-1.
pub(crate) fn srgb_light(code: f64) -> f64 {
    if code <= 0.04045 {
        code / 12.92
    } else {
        ((code + 0.055) / 1.055).powf(2.4)
    }
}

/// The 8-bit code of light, by the same.
pub(crate) fn srgb_code(light: f64) -> u8 {
    let light = light.clamp(0.0, 1.0);
    let code = if light <= 0.003_130_8 {
        12.92 * light
    } else {
        1.055 * light.powf(1.0 / 2.4) - 0.055
    };
    (255.0 * code).round() as u8
}
