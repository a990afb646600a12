//! Input LUTs: what comes out of every kind of them, what is refused, and how a frame is read through one.

mod frame;
mod hostile;
mod refused;

use foreglass::frame::{Encoding, Lut};
use std::collections::BTreeMap;
use std::fmt::Write as _;

/// A LUT's text of `tests/checks/lut`, or of the two that are too long to be kept there.
fn text(name: &str) -> String {
    match name {
        "half_raw" => half_domain(true),
        "half_text" => half_domain(false),
        name => {
            let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/checks/lut/");
            std::fs::read_to_string(format!("{folder}{name}")).unwrap()
        }
    }
}

/// A half-precision number (IEEE 754 binary16), by the definition.
fn half(bits: u32) -> f64 {
    let (exponent, mantissa) = (bits >> 10 & 31, f64::from(bits & 0x3ff) / 1024.0);
    let size = match exponent {
        0 => mantissa * 2.0_f64.powi(-14),
        31 if bits & 0x3ff == 0 => f64::INFINITY,
        31 => f64::NAN,
        e => (1.0 + mantissa) * 2.0_f64.powi(e as i32 - 15),
    };
    if bits >> 15 == 1 { -size } else { size }
}

/// As `half_domain` in `tests/scripts/lut_checks.py`.
fn half_domain(raw: bool) -> String {
    let (flags, columns) = if raw {
        ("halfDomain=\"true\" rawHalfs=\"true\"", 3)
    } else {
        ("halfDomain=\"true\"", 1)
    };
    let mut text = format!(
        "<ProcessList id=\"half\" compCLFversion=\"3.0\"><LUT1D inBitDepth=\"16f\" \
         outBitDepth=\"16f\" {flags}><Array dim=\"65536 {columns}\">\n"
    );
    for bits in 0..65_536_u32 {
        if raw {
            let step = u32::from(bits & 0x7fff <= 0x7bff - 74);
            writeln!(text, "{} {} {bits}", bits + 37 * step, bits + 74 * step).unwrap();
        } else {
            writeln!(text, "{}", 0.75 * half(bits)).unwrap();
        }
    }
    text + "</Array></LUT1D></ProcessList>"
}

/// The rows of values.csv by LUT: what goes in, what comes out.
fn values() -> BTreeMap<String, Vec<[[f32; 3]; 2]>> {
    let text = text("values.csv");
    let mut all: BTreeMap<String, Vec<_>> = BTreeMap::new();
    for line in text.lines().skip(2) {
        let (name, numbers) = line.split_once(',').unwrap();
        let n: Vec<f32> = numbers.split(',').map(|v| v.parse().unwrap()).collect();
        let row = [[n[0], n[1], n[2]], [n[3], n[4], n[5]]];
        all.entry(name.to_owned()).or_default().push(row);
    }
    all
}

/// Every LUT of tests/checks/lut against `OpenColorIO` (values.csv): within 2e-6 of 1 or of the value,
/// whichever is more. Both work in single precision between operations; a camera's logarithm undone
/// (10 to the power of 4 v) turns one step of it into 6e-7.
#[test]
fn every_lut_gives_what_another_implementation_gives() {
    let all = values();
    assert_eq!(all.len(), 58, "every kind of LUT is there");
    let mut worst = 0.0_f32;
    for (name, rows) in all {
        let lut = Lut::parse(&text(&name)).unwrap_or_else(|e| panic!("{name}: {e}"));
        for [rgb, want] in &rows {
            let got = lut.apply(*rgb);
            for c in 0..3 {
                let error = (got[c] - want[c]).abs() / want[c].abs().max(1.0);
                assert!(
                    error <= 2e-6,
                    "{name} {rgb:?}: {got:?} against {want:?} ({error:e})"
                );
                worst = worst.max(error);
            }
        }
        // A run of triples and three planes give what single triples give, at every length.
        let many: Vec<[f32; 3]> = rows.iter().map(|r| r[0]).cycle().take(1500).collect();
        let each: Vec<[f32; 3]> = many.iter().map(|p| lut.apply(*p)).collect();
        let mut together = many.clone();
        lut.apply_to(&mut together);
        assert_eq!(together, each, "{name}");
        let mut planes = [0, 1, 2].map(|c| many.iter().map(|p| p[c]).collect::<Vec<_>>());
        lut.apply_to_planes(&mut planes);
        for (i, p) in each.iter().enumerate() {
            assert_eq!([0, 1, 2].map(|c| planes[c][i]), *p, "{name}");
        }
    }
    assert!(worst > 0.0, "two implementations differ somewhere");
}

/// A LUT over the half domain gives its own entries: `half_text` is three quarters of what goes in, to
/// the last bit where that is a half-precision number, and holds beyond the largest.
#[test]
fn the_half_domain_reaches_from_end_to_end() {
    let lut = Lut::parse(&half_domain(false)).unwrap();
    for bits in [
        0x0001, 0x03ff, 0x0400, 0x3c01, 0x7bff_u32, 0x8001, 0xbc00, 0xfbff,
    ] {
        let v = half(bits);
        let want = (0.75 * v) as f32;
        assert_eq!(lut.apply([v as f32; 3]), [want; 3], "{v}");
    }
    assert_eq!(
        lut.apply([1e9, -1e9, f32::NAN]),
        [49_128.0, -49_128.0, 0.0],
        "held"
    );
}

/// The curve of `ACEScct`, as the Academy gives it for the Common LUT Format (from memory: base 2, slope
/// 1/17.52, offset 9.72/17.52, break 0.0078125), against `transfer_functions.csv` (S-2016-001).
#[test]
fn a_published_camera_curve() {
    let style = |style: &str| {
        let text = format!(
            "<ProcessList id=\"cct\" compCLFversion=\"3.0\"><Log inBitDepth=\"32f\" \
             outBitDepth=\"32f\" style=\"{style}\"><LogParams base=\"2\" \
             logSideSlope=\"0.05707762557077626\" logSideOffset=\"0.5547945205479452\" \
             linSideBreak=\"0.0078125\"/></Log></ProcessList>"
        );
        Lut::parse(&text).unwrap()
    };
    let (there, back) = (style("cameraLinToLog"), style("cameraLogToLin"));
    let path = concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/checks/transfer_functions.csv"
    );
    let text = std::fs::read_to_string(path).unwrap();
    let mut count = 0;
    for line in text.lines().filter(|l| l.starts_with("ACEScct encode,")) {
        let fields: Vec<&str> = line.split(',').collect();
        let (light, code) = (
            fields[1].parse::<f32>().unwrap(),
            fields[2].parse::<f32>().unwrap(),
        );
        let got = there.apply([light; 3])[0];
        assert!((got - code).abs() < 1e-6, "{light}: {got} against {code}");
        let got = back.apply([code; 3])[0];
        assert!(
            (got - light).abs() <= 2e-6 * light.max(1.0),
            "{code}: {got} against {light}"
        );
        count += 1;
    }
    assert_eq!(count, 7, "every row");
}

/// Over tetrahedra a grey of the plain-text table lies between two of the table's greys, whatever stands
/// beside them: the cube's off-diagonal nodes here are all red.
#[test]
fn greys_of_a_plain_table_stay_grey() {
    let mut text = "LUT_3D_SIZE 3\n".to_owned();
    for i in 0..27 {
        let (r, g, b) = (i % 3, i / 3 % 3, i / 9);
        let grey = f64::from(r * r) / 4.0;
        if r == g && g == b {
            writeln!(text, "{grey} {grey} {grey}").unwrap();
        } else {
            text += "9 0 0\n";
        }
    }
    let lut = Lut::parse(&text).unwrap();
    for i in 0..=100 {
        let v = i as f32 / 100.0;
        // Straight between 0, 1/4 and 1.
        let want = if v < 0.5 { v / 2.0 } else { 1.5 * v - 0.5 };
        for got in lut.apply([v; 3]) {
            assert!((got - want).abs() < 1e-6, "{v}: {got} against {want}");
        }
    }
    let beside = lut.apply([0.5, 0.5, 0.6]);
    assert!(
        beside[0] > 1.0,
        "beside the greys the red is there: {beside:?}"
    );
}

#[test]
fn what_a_lut_says_of_itself() {
    let of = |name: &str| Lut::parse(&text(name)).unwrap();
    assert_eq!(of("cube.cube").title(), Some("Quay"), "TITLE");
    assert_eq!(of("line.cube").title(), None, "none");
    assert_eq!(
        of("cube.clf").title(),
        Some("Ferry cube"),
        "the name before the id"
    );
    let id = text("cube.clf").replace("name=\"Ferry cube\"", "");
    assert_eq!(
        Lut::parse(&id).unwrap().title(),
        Some("cube"),
        "then the id"
    );
    for (name, shape) in [
        ("cube.cube", "5×5×5"),
        ("line.cube", "1D, 7"),
        ("line_cube.cube", "1D, 7, then 4×4×4"),
        ("camera.clf", "LUT1D 6, Log, Matrix, Range"),
        ("cube.clf", "LUT3D 4×4×4"),
    ] {
        assert_eq!(of(name).shape(), shape, "{name}");
    }
    let output = |words: &str| {
        let descriptor = format!("<OutputDescriptor>{words}</OutputDescriptor><Log");
        let text = text("log2.clf").replacen("<Log", &descriptor, 1);
        Lut::parse(&text).unwrap().output()
    };
    assert_eq!(output("ACES2065-1"), Some(Encoding::Aces2065), "AP0");
    assert_eq!(output("scene light, acesCG"), Some(Encoding::AcesCg), "AP1");
    assert_eq!(
        output("ACEScct, for the grade"),
        Some(Encoding::AcesCct),
        "a curve"
    );
    assert_eq!(output("ACEScg or ACES2065-1"), None, "which of them");
    assert_eq!(output("P3 for the wheelhouse"), None, "none that is known");
    assert_eq!(of("log2.clf").output(), None, "says nothing");
}

/// Red runs fastest in plain text, blue in the Common LUT Format: these two tables are identities.
#[test]
fn the_order_of_the_axes() {
    let plain = "LUT_3D_SIZE 2\n0 0 0\n1 0 0\n0 1 0\n1 1 0\n0 0 1\n1 0 1\n0 1 1\n1 1 1\n";
    let common = "<ProcessList id=\"i\" compCLFversion=\"3\"><LUT3D inBitDepth=\"32f\" \
                  outBitDepth=\"32f\"><Array dim=\"2 2 2 3\">0 0 0 0 0 1 0 1 0 0 1 1 1 0 0 1 0 1 1 1 0 \
                  1 1 1</Array></LUT3D></ProcessList>";
    for text in [plain, common] {
        let lut = Lut::parse(text).unwrap();
        let got = lut.apply([0.25, 0.5, 0.875]);
        assert_eq!(got, [0.25, 0.5, 0.875], "an identity");
    }
}
