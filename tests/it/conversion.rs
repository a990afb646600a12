//! Conversion from one colour temperature to another: which glass gets there, and what light becomes.

use crate::checks::Table;
use crate::ledger::{nd, rig};
use foreglass::colour::temperature::{Turn, shift_between};
use foreglass::colour::{illuminant, spectrum::Spectrum};
use foreglass::glass::conversion::{Way, pieces, ways};
use foreglass::glass::{FAMILIES, Family, Piece};
use foreglass::units::{Kelvin, Mireds};
use serde_json::json;

/// `filters_handbook.csv`: a number's own FROM and TO find that number first among single pieces. The
/// pairs of 81 and 82 that a stack could meet more nearly stand in a list of their own.
#[test]
fn a_pair_of_temperatures_finds_its_own_number() {
    let mut checked = 0;
    for row in Table::read("filters_handbook.csv").rows() {
        let [from, to] = ["from_K", "to_K"].map(|c| Kelvin::clamped(row.number(c)));
        let first = ways(shift_between(from, to), 1).remove(0);
        assert_eq!(first.names(), row.text("series"), "{from:?} to {to:?}");
        checked += 1;
    }
    assert_eq!(checked, 17, "the table is walked");
    let first = ways(
        shift_between(Kelvin::clamped(2490.0), Kelvin::clamped(3200.0)),
        2,
    )
    .remove(0);
    assert_eq!(first.names(), "82C + 82C", "the printed stack");
}

/// Ways are what brute force over every pair finds, in order; they shift the same way; and of 85, 85N3, 85N6
/// and 85N9, which shift alike, only the clearest is there.
#[test]
fn ways_are_the_nearest_there_are() {
    let all = pieces();
    let shift = |p: &Piece| p.nominal_shift().unwrap().get();
    assert_eq!(all.len(), 17, "the series, without those with density");
    assert!(all.iter().all(|p| !p.name().contains('N')), "the clearest");
    let family: &Family = all[0].family();
    assert!(
        FAMILIES.iter().any(|f| std::ptr::eq(*f, family)),
        "a family"
    );
    for wanted in [-150.0, -60.5, 7.0, 63.0, 240.0] {
        let mut sums = Vec::new();
        for (i, a) in all.iter().enumerate() {
            for b in &all[i..] {
                let both = [shift(a), shift(b)];
                if both.iter().all(|s| s * wanted > 0.0) {
                    sums.push((wanted - both[0] - both[1]).abs());
                }
            }
        }
        sums.sort_by(f64::total_cmp);
        let found: Vec<f64> = ways(Mireds::clamped(wanted), 2)
            .iter()
            .map(|w: &Way| w.left(Mireds::clamped(wanted)).get().abs())
            .collect();
        assert_eq!(found, sums, "{wanted}");
    }
    assert!(ways(Mireds::clamped(0.0), 1).is_empty(), "nothing to do");
}

/// The light through glass has the temperature that colour-science gives it: `series_model.csv` (Planckian
/// sources, written by `tests/scripts/series_model.py`), within 1 % as the README states; a tint is told
/// beyond Duv 0.006 (CC magenta and green lie off the line; ANSI C78.377, from memory).
#[test]
fn what_light_becomes() {
    for row in Table::read("series_model.csv").rows() {
        let piece = Family::find("balance")
            .unwrap()
            .piece(
                None,
                json!({"series": row.text("series")}).as_object().unwrap(),
            )
            .unwrap();
        let turn = Turn::of(
            &illuminant::planckian(Kelvin::clamped(3200.0)),
            &piece.law().tau,
        );
        let wanted = row.number("cct_3200");
        if wanted < 25_000.0 {
            let got = turn.through.expect("a white").kelvin.get();
            assert!((got / wanted - 1.0).abs() < 0.01, "{got} against {wanted}");
        }
    }
    for (colour, sign) in [("magenta", -1.0), ("green", 1.0)] {
        let cc = json!({"glass": "cc", "options": {"colour": colour, "density": "30"}});
        let s = rig(3200.0, &[cc]);
        let white = s.turns()[0].by_spectrum.through.expect("a tinted white");
        assert!(
            white.is_off_the_line() && white.duv * sign > 0.0,
            "{white:?}"
        );
        assert_eq!(s.nominal_shift(), None, "{colour} is not sold by a shift");
    }
    // ND leaves light as it is.
    let grey = rig(3200.0, &[nd(0.6)]);
    assert!(!grey.has_colour(), "neutral");
    assert!(
        grey.shift().is_some_and(|s| s.get().abs() < 1e-6),
        "no shift"
    );
    let none = Turn::of(&illuminant::d65(), &Spectrum::constant(0.0));
    assert_eq!(none.through, None, "no light, no temperature");
}
