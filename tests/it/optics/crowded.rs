//! Specks, by themselves and crowded, against random masks; crowds and lenslets against plain sums.

use super::{disc, speck, specks};
use foreglass::optics::specks::Specks;
use foreglass::optics::{airy, overlap};
use foreglass::units::{Degrees, Fraction, Micrometres};
use std::f64::consts::PI;

/// Written by `tests/scripts/round_scatter.py`.
const ROUND: &str = include_str!("../../checks/golden/round_scatter.csv");

/// Babinet's fractions and the halo's shape, from FFTs of random masks of overlapping discs with a
/// log-normal spread of diameters, averaged over the green band. Source: `golden_scatter.py`. Twelve
/// masks of 2048², 2 % covered: the shape carries about one per cent of noise and overlap.
#[test]
fn specks_scatter_as_masks_do() {
    let mut seen = 0;
    for line in include_str!("../../checks/golden/scatter_values.csv").lines() {
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
