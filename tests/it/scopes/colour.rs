//! The u′v′ diagram against the chart, the standard illuminants and the ledger.

use super::even;
use crate::checks::Table;
use crate::plan::{render, setup};
use foreglass::colour::temperature::White;
use foreglass::colour::{Spectrum, Xyz, illuminant};
use foreglass::meters::Reduced;
use foreglass::meters::chromaticity::{
    CELL, Chromaticity, DARKEST, Lamp, Lamps, glowing, picture_white, planckian_locus,
    spectral_locus,
};
use foreglass::units::Kelvin;
use serde_json::json;

/// u′ and v′ by the other form of their definition, from x and y (ISO/CIE 11664-5).
fn of_xy(x: f64, y: f64) -> [f64; 2] {
    let d = -2.0 * x + 12.0 * y + 3.0;
    [4.0 * x / d, 9.0 * y / d]
}

/// XYZ to AP1 as the Academy prints it (S-2014-004).
const TO_AP1: [[f64; 3]; 3] = [
    [1.641_023_379_7, -0.324_803_294_2, -0.236_424_695_2],
    [-0.663_662_858_7, 1.615_331_591_7, 0.016_756_347_7],
    [0.011_721_894_3, -0.008_284_442_0, 0.988_394_858_5],
];

/// The 24 patches under D65, tungsten and daylight, of `chart_24_XYZ.csv`: XYZ in, u′v′ worked from the
/// table's x and y out. A picture told as encoded is not adapted.
#[test]
fn the_chart_s_patches_lie_where_its_table_says() {
    let mut checked = 0;
    for row in Table::read("chart_24_XYZ.csv").rows() {
        let xyz = ["X", "Y", "Z"].map(|column| row.number(column));
        let light = TO_AP1.map(|m| (0..3).map(|i| m[i] * xyz[i]).sum::<f64>() as f32);
        let colours = Chromaticity::of(&Reduced::of(&even(5, 4, light)), picture_white());
        let want = of_xy(row.number("x"), row.number("y"));
        let mean = colours.mean.unwrap();
        let off = (0..2).map(|i| (mean[i] - want[i]).abs());
        let off = off.fold(0.0, f64::max);
        assert!(off < 2e-5, "{}: {mean:?}, {want:?}", row.text("patch"));
        let filled: Vec<_> = colours.filled().collect();
        assert_eq!(filled.len(), 1, "one colour, one cell");
        let ([u, v], share) = filled[0];
        assert_eq!(share, 1.0, "all of it");
        let apart = (u - want[0]).abs().max((v - want[1]).abs());
        assert!(apart <= 0.5 * CELL + 2e-5, "{u} {v}, {want:?}");
        checked += 1;
    }
    assert!(checked >= 24 * 4, "{checked} rows");
}

/// A, D55 and D65 and the glowing bodies of `cie_whites.csv`.
#[test]
fn lights_lie_where_their_tables_say() {
    let mut checked = 0;
    for row in Table::read("cie_whites.csv").rows() {
        let name = row.text("name");
        let light = match name {
            "A (from SPD 360-830/1)" => illuminant::a(),
            "D55 (from SPD 360-830/1)" => illuminant::d55(),
            "D65 (from SPD 360-830/1)" => illuminant::d65(),
            _ => {
                let body = name.strip_prefix("Planckian ");
                let Some(t) = body.and_then(|n| n.strip_suffix(" K")) else {
                    continue;
                };
                let t = Kelvin::new(t.parse().unwrap()).unwrap();
                let [u, v] = glowing(t);
                let want = of_xy(row.number("x"), row.number("y"));
                assert!((u - want[0]).hypot(v - want[1]) < 4e-5, "{name}: {u} {v}");
                illuminant::planckian(t)
            }
        };
        let lamp = Lamp::of(&light).unwrap();
        let want = of_xy(row.number("x"), row.number("y"));
        let off = (lamp.uv[0] - want[0]).hypot(lamp.uv[1] - want[1]);
        assert!(off < 4e-5, "{name}: {:?}, {want:?}", lamp.uv);
        checked += 1;
    }
    assert_eq!(checked, 14, "eleven glowing bodies and A, D55, D65");
    assert_eq!(
        Lamp::of(&Spectrum::constant(0.0)),
        None,
        "no light, no place"
    );
}

/// The ends of the loci, from memory: 700 nm near u′ 0.623 v′ 0.507, 400 nm near 0.256 0.017, the corner
/// of the greens at 520 nm near 0.023 0.584; and the locus of glowing bodies from red to blue.
#[test]
fn the_loci_run_where_they_are_printed() {
    let spectral = spectral_locus();
    let at = |nm: f64| spectral.iter().find(|(w, _)| w.get() == nm).unwrap().1;
    for (nm, u, v) in [
        (700.0, 0.623, 0.507),
        (520.0, 0.023, 0.584),
        (400.0, 0.256, 0.017),
    ] {
        let [got_u, got_v] = at(nm);
        let off = (got_u - u).abs().max((got_v - v).abs());
        assert!(off < 2e-3, "{nm} nm: {got_u} {got_v}");
    }
    assert_eq!(spectral.len(), 65, "380 to 700 nm");
    let planck = planckian_locus();
    assert_eq!(
        (planck.len(), planck[0].0.get()),
        (97, 25_000.0),
        "in mireds"
    );
    assert!(
        planck.windows(2).all(|p| p[1].1[0] > p[0].1[0]),
        "redder and redder"
    );
}

/// An 80A in tungsten light: its light behind the glass is the ledger's, and that of `series_model.csv`
/// (colour-science); a grey card through it lies on that very light in the diagram.
#[test]
fn a_conversion_s_light_is_the_ledger_s_and_the_picture_s() {
    let changes = [
        (
            "/rig/stages/0",
            json!({"glass": "balance", "options": {"series": "80A"}}),
        ),
        ("/light", json!({"scene_k": 3200})),
        ("/camera/balance_k", json!(3200)),
    ];
    let setup = setup(&changes);
    let lamps = Lamps::of(&setup).unwrap();
    let through = lamps.through.unwrap();
    let white = |lamp: Lamp| lamp.white.unwrap();
    let turns = setup.turns();
    let turn = turns.iter().find(|t| t.from.get() == 3200.0).unwrap();
    let told: White = turn.by_spectrum.through.unwrap();
    assert_eq!(white(through), told, "the ledger's light");
    let table = Table::read("series_model.csv");
    let row = table.rows().find(|r| r.text("series") == "80A").unwrap();
    let kelvin = white(through).kelvin.get();
    let want = row.number("cct_3200");
    assert!((kelvin / want - 1.0).abs() < 5e-4, "{kelvin} K, {want} K");
    // 3200 K of `cie_whites.csv`.
    let bare = of_xy(0.42335959, 0.39895163);
    let off = (lamps.bare.uv[0] - bare[0]).hypot(lamps.bare.uv[1] - bare[1]);
    assert!(off < 4e-5, "{:?}", lamps.bare);
    // Light behind the glass is bluer: u′ and v′ fall.
    assert!(through.uv[0] < lamps.bare.uv[0] - 0.03, "{through:?}");
    let card = even(64, 36, [0.18; 3]);
    let seen = |frame| {
        Chromaticity::of(&Reduced::of(frame), setup.balance())
            .mean
            .unwrap()
    };
    for (got, want) in [
        (seen(&card), lamps.bare.uv),
        (seen(&render(&setup, &card)), through.uv),
    ] {
        let off = (got[0] - want[0]).hypot(got[1] - want[1]);
        assert!(off < 1e-4, "{got:?}, {want:?}");
    }
}

/// What is darker than the stated level has no say, and what no eye could see is told apart.
#[test]
fn dark_and_impossible_colours_are_left_out() {
    let floor = 0.18 * DARKEST.factor();
    let frame = super::grey(4, 1, |x, _| [0.18, 1.01 * floor, 0.99 * floor, 0.0][x]);
    let colours = Chromaticity::of(&Reduced::of(&frame), picture_white());
    assert_eq!((colours.dark, colours.beyond), (0.5, 0.0), "two of four");
    let want = of_xy(0.32168, 0.33767);
    let mean = colours.mean.unwrap();
    assert!(
        (mean[0] - want[0]).hypot(mean[1] - want[1]) < 1e-5,
        "{mean:?}"
    );
    // Green with less than no red: v′ stays, u′ goes below 0.
    let far = even(2, 2, [-0.4, 0.5, 0.0]);
    let colours = Chromaticity::of(&Reduced::of(&far), picture_white());
    assert_eq!((colours.dark, colours.beyond), (0.0, 1.0), "off the grid");
    let black = Chromaticity::of(&Reduced::of(&even(2, 2, [0.0; 3])), Xyz::new(1.0, 1.0, 1.0));
    assert_eq!((black.dark, black.mean), (1.0, None), "nothing there");
}
