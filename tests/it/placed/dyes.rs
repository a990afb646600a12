//! The dyes: colours by their names, and blocks against colour-printing tables.

use super::{Setting, VIEW, plane};
use crate::checks::Table;
use foreglass::colour::{Spectrum, illuminant};
use foreglass::optics::field::Field;
use foreglass::optics::pupil::{Pupil, Ramp};
use foreglass::optics::tint::matrix;
use serde_json::json;

/// The five colours on grey in daylight, by CIELAB hue (ISO/CIE 11664-4): pink, orange, violet, blue and
/// yellow as the words say (common practice, no source), each stronger the denser; slate the
/// greyest, straw the lightest.
#[test]
fn colours_are_what_they_are_called() {
    let d65 = illuminant::d65();
    let lab = |colour: &str, density: f64| {
        let options = json!({"colour": colour, "density": density});
        let piece = crate::glass::piece("grad-colour", None, options).unwrap();
        let dye = piece.law().dye.clone().unwrap().map(|d| libm::exp10(-d));
        let white = foreglass::colour::observer::integrate(&d65).get();
        let seen = foreglass::colour::observer::integrate(&d65.product(&dye)).get();
        let [x, y, z]: [f64; 3] = std::array::from_fn(|k| (seen[k] / white[k]).cbrt());
        let (l, a, b) = (116.0 * y - 16.0, 500.0 * (x - y), 200.0 * (y - z));
        (l, a.hypot(b), b.atan2(a).to_degrees().rem_euclid(360.0))
    };
    let hues = [
        ("rose", 340.0..375.0),
        ("apricot", 45.0..75.0),
        ("heather", 285.0..325.0),
        ("slate", 220.0..280.0),
        ("straw", 80.0..105.0),
    ];
    for (colour, range) in &hues {
        let (_, chroma, hue) = lab(colour, 0.3);
        let hue = if range.end > 360.0 && hue < 180.0 {
            hue + 360.0
        } else {
            hue
        };
        assert!(range.contains(&hue), "{colour}: hue {hue}");
        let steps = [0.15, 0.45, 0.6].map(|d| lab(colour, d));
        assert!(
            steps[0].1 < chroma && chroma < steps[1].1 && steps[1].1 < steps[2].1,
            "{steps:?}"
        );
        assert!(
            steps.windows(2).all(|w| w[0].0 > w[1].0),
            "{colour} darkens: {steps:?}"
        );
    }
    let [rose, apricot, heather, slate, straw] = hues.map(|h| lab(h.0, 0.3));
    let most = [rose, apricot, heather, straw];
    assert!(most.iter().all(|c| slate.1 < c.1), "slate {slate:?}");
    assert!(most[..3].iter().all(|c| straw.0 > c.0), "straw {straw:?}");
}

/// A dye that is a CC glass's block: where all of it is met, the field loses what colour-printing tables
/// print for the CC glass, less its faces. `cc_filters.csv`: published factors (they include the faces,
/// 0.123 stop). Within 0.25 stop: real green and cyan dyes lose up to 0.33 more than a block, and a factor
/// is printed to a tenth.
#[test]
fn a_block_dye_loses_what_cc_tables_print() {
    let setting = Setting {
        uniform: Spectrum::constant(1.0),
        kelvin: 5500.0,
        balance_k: 5500.0,
        through: false,
    };
    for row in Table::read("cc_filters.csv").rows() {
        let bands: Vec<std::ops::Range<f64>> = row
            .text("absorbs")
            .split('+')
            .map(|b| match b {
                "B" => 380.0..490.0,
                "G" => 490.0..580.0,
                _ => 580.0..781.0,
            })
            .collect();
        let peak = row.number("peak_density");
        let density = Spectrum::from_fn(|nm| {
            if bands.iter().any(|b| b.contains(&nm.get())) {
                peak
            } else {
                0.0
            }
        });
        let field = Field {
            pupil: Pupil {
                diameter_mm: 12.5,
                subject_mm: f64::INFINITY,
            },
            planes: vec![plane(
                Ramp::linear(1.0, 20.0),
                setting.dye(density),
                0.0,
                -30.0,
                90.0,
            )],
            apertures: Vec::new(),
        };
        let grey = matrix(&field.coloured().unwrap().at(&VIEW, 0.0, 0.0)).apply([0.18; 3]);
        let y = foreglass::colour::primaries::Space::AcesCg
            .to_xyz()
            .apply(grey)[1];
        let lost = (0.18 / y).log2() + 0.123;
        let printed = row.number("stops_from_factor");
        assert!(
            (lost - printed).abs() < 0.25,
            "{}: {lost} against {printed}",
            row.text("name")
        );
    }
}
