//! Round diffusion, family by family: mists, lenslets, fog, low contrast.

use crate::glass::piece;
use foreglass::colour::illuminant;
use foreglass::glass::strength::Strength;
use foreglass::glass::{FAMILIES, Family, Piece};
use foreglass::optics::droplets::{Droplets, extinction};
use foreglass::optics::fit::{LEAST_DISC_SPREAD, LEAST_SPECK_SPREAD};
use foreglass::optics::scatter::{Profile, Scatter};
use foreglass::reference::scatter::scatter;
use foreglass::units::{Degrees, Fraction, Micrometres};
use serde_json::{Map, json};
use std::f64::consts::TAU;

/// Every piece of every family that scatters alike in every direction, with what it does.
fn diffusers() -> Vec<(Piece, Scatter)> {
    let round = |piece: &Piece| piece.law().scatter.clone().filter(Scatter::is_round);
    let ladder = |family: &'static &Family| family.strengths.iter().map(|s| (*family, *s));
    FAMILIES
        .iter()
        .flat_map(ladder)
        .map(|(family, s)| family.piece(Some(s), &Map::new()).unwrap())
        .filter_map(|piece| round(&piece).map(|law| (piece, law)))
        .collect()
}

fn law(key: &str, strength: &str) -> Scatter {
    let glass = piece(key, Some(strength), json!({})).unwrap();
    glass.law().scatter.clone().unwrap()
}

/// Veiling-glare index for a black patch of 2° across in an even field that fills all around it: what
/// is scattered from beyond 1°, over all that would be there without the patch. Source: ISO 9358's
/// definition.
fn veiling_glare(scatter: &Scatter) -> f64 {
    let law = scatter.law();
    let inside = law.encircled(1, 1_f64.to_radians());
    (scatter.scattered()[1] - inside) / scatter.passed()[1]
}

/// Source: `tests/scripts/round_scatter.py` (van de Hulst's formula by `NumPy`; sums over size and band).
#[test]
fn droplets_hold_to_van_de_hulst() {
    let mut seen = 0;
    for line in include_str!("../checks/golden/round_scatter.csv").lines() {
        let cells: Vec<&str> = line.split(',').collect();
        if !cells[0].starts_with("droplet_") {
            continue;
        }
        let number = |i: usize| cells[i].parse::<f64>().unwrap();
        let (at, want) = (number(5), number(6));
        let got = if cells[0] == "droplet_extinction" {
            extinction(at)
        } else {
            let glass = Droplets {
                depth: number(3),
                diameter: Micrometres::clamped(number(1)),
                spread: number(2),
                step: at,
                refracted: Fraction::clamped(0.5),
                lobe: Degrees::clamped(5.0),
                veil: Fraction::clamped(0.5),
                back: Fraction::clamped(0.05),
            };
            assert_eq!(glass.scatter().check(), Ok(()), "{line}: a true account");
            glass.direct()[number(4) as usize]
        };
        seen += 1;
        assert!((got - want).abs() < 1e-9, "{line}: {got}");
    }
    assert_eq!(seen, 7 + 9, "every row was read");
    // The series at small ρ meets the formula: ρ²/2 − ρ⁴/36.
    let gap = extinction(0.0199) - extinction(0.0201);
    assert!(
        (gap + 0.5 * (0.0201_f64.powi(2) - 0.0199_f64.powi(2))).abs() < 1e-9,
        "{gap}"
    );
}

/// What cannot be fitted is in no family.
#[test]
fn every_spread_can_be_fitted() {
    for (piece, scatter) in diffusers() {
        for lobe in &scatter.lobes {
            let fitted = match lobe.profile {
                Profile::Speck { spread, .. } => spread >= LEAST_SPECK_SPREAD,
                Profile::Disc { spread, .. } => spread >= LEAST_DISC_SPREAD,
                _ => true,
            };
            assert!(fitted, "{}: {:?}", piece.name(), lobe.profile);
        }
    }
}

/// The five kinds come in all eight strengths, and a stronger glass does more of everything: less
/// direct light, more scattered, lost, haze and veiling glare; no halo shrinks.
#[test]
fn stronger_glass_does_more_of_everything() {
    let all = diffusers();
    for key in ["dark-mist", "pale-mist", "lenslet", "fog", "low-contrast"] {
        let of_it: Vec<_> = all.iter().filter(|(p, _)| p.family().key == key).collect();
        assert_eq!(of_it.len(), Strength::ALL.len(), "{key}: 1/8 to 5");
    }
    for pair in all.windows(2) {
        let [(a, weak), (b, strong)] = pair else {
            unreachable!("windows of two")
        };
        if a.family().key != b.family().key {
            continue;
        }
        let words = format!("{} before {}", a.name(), b.name());
        let [x, y] = [a, b].map(|p| p.law().figures(&illuminant::d65()));
        assert!(x.direct > y.direct, "{words}: direct");
        assert!(x.scattered < y.scattered, "{words}: scattered");
        assert!(x.loss_flat().get() < y.loss_flat().get(), "{words}: loss");
        assert!(x.haze_percent < y.haze_percent, "{words}: haze");
        let [v, w] = [weak, strong].map(veiling_glare);
        assert!(v < w, "{words}: veiling glare {v} {w}");
        for channel in 0..3 {
            for share in [0.5, 0.95] {
                let [r, s] = [weak, strong].map(|g| g.quantile(channel, share));
                assert!(r <= s * (1.0 + 1e-6), "{words}: {share} within {r} {s}");
            }
        }
    }
}

/// A dark mist lifts blacks less than a pale one of the same halo (common practice, no source): in an
/// index of veiling glare.
#[test]
fn dark_mist_veils_less_than_pale_mist() {
    for strength in Strength::ALL.map(|s| s.to_string()) {
        let [dark, pale] = ["dark-mist", "pale-mist"].map(|key| law(key, &strength));
        let gap = dark.lobes[0].weight[1] - pale.lobes[0].weight[1];
        assert!(gap.abs() < 1e-12, "the same halo at {strength}");
        let (dark, pale) = (veiling_glare(&dark), veiling_glare(&pale));
        assert!(dark < 0.7 * pale, "{strength}: {dark} against {pale}");
    }
}

/// Red halos are wider than blue ones by the ratio of wavelengths (the middles, by log, of the bands)
/// where light is diffracted, crowded or not; refracted light knows no wavelength. Source: similarity,
/// u = πdθ/λ; geometry of a lens.
#[test]
fn colour_of_halos_follows_their_physics() {
    let middle = |channel: usize| {
        let band = &foreglass::colour::bands()[channel];
        let logs = band.iter().map(|(nm, w)| w * nm.get().ln());
        logs.sum::<f64>().exp()
    };
    let want = middle(0) / middle(2);
    let (mut diffracted, mut refracted) = (0, 0);
    for (piece, scatter) in diffusers() {
        for lobe in &scatter.lobes {
            let got = lobe.profile.quantile(0, 0.5) / lobe.profile.quantile(2, 0.5);
            let (count, want, within) = match lobe.profile {
                Profile::Speck { .. } => (&mut diffracted, want, 0.012),
                _ => (&mut refracted, 1.0, 1e-9),
            };
            *count += 1;
            assert!((got / want - 1.0).abs() < within, "{}: {got}", piece.name());
        }
    }
    assert!(
        diffracted >= 32 && refracted >= 40,
        "{diffracted} {refracted}"
    );
    // Fog of droplets near the first maximum of their extinction: what stays is warm.
    let direct = law("fog", "2").direct;
    assert!(direct[0] > 1.01 * direct[2], "{direct:?}");
}

/// A softener lowers fine texture to 1 − a and leaves coarse texture and the steep part of an edge
/// alone while a ≤ 0.45 (common practice, no source): 25 to 75 % of an edge as sharp as pixels hold it
/// still lie within a pixel, where a disc alone would spread them over its radius.
#[test]
fn lenslets_take_texture_and_leave_edges() {
    const WIDTH: usize = 1024;
    // 4 µm pixels at 50 mm.
    let per_radian = 12_500.0;
    let seen = |glass: &Scatter, frame: Vec<f64>| {
        let ready = glass.law();
        let mut planes = [frame.clone(), frame.clone(), frame];
        let transfer = |c: usize, nu: f64| ready.transfer(c, nu * per_radian);
        scatter(&mut planes, WIDTH, 1, transfer, glass.veil);
        let [_, green, _] = planes;
        green
    };
    let wave = |period: f64| {
        let at = |i: usize| (TAU * i as f64 / period).cos();
        (0..WIDTH).map(|i| 0.5 + 0.25 * at(i)).collect::<Vec<f64>>()
    };
    let kept = |glass: &Scatter, period: f64| {
        let out = seen(glass, wave(period));
        let middle = &out[WIDTH / 2 - period as usize..WIDTH / 2 + period as usize];
        let (low, high) = middle
            .iter()
            .fold((f64::MAX, 0.0_f64), |(l, h), v| (l.min(*v), h.max(*v)));
        (high - low) / 0.5
    };
    let rise = |glass: &Scatter| {
        let edge = (0..WIDTH).map(|i| if i < WIDTH / 2 { 0.0 } else { 1.0 });
        let out = seen(glass, edge.collect());
        let (low, high) = (out[WIDTH / 4], out[3 * WIDTH / 4]);
        let crossing = |part: f64| {
            let level = low + part * (high - low);
            let i = out.iter().position(|v| *v >= level).unwrap();
            i as f64 - (out[i] - level) / (out[i] - out[i - 1])
        };
        crossing(0.75) - crossing(0.25)
    };
    for strength in Strength::ALL.map(|s| s.to_string()) {
        let glass = law("lenslet", &strength);
        let a = 1.0 - glass.direct[1];
        assert!(a <= 0.45, "{strength}: a = {a}");
        let (fine, coarse) = (kept(&glass, 8.0), kept(&glass, 500.0));
        assert!(
            (fine - (1.0 - a)).abs() < 0.005,
            "{strength}: fine {fine} of {}",
            1.0 - a
        );
        assert!(
            coarse > 0.93 * glass.passed()[1],
            "{strength}: coarse {coarse}"
        );
        let width = rise(&glass);
        assert!(width < 1.0, "{strength}: edge {width} pixels");
        let disc = Scatter {
            direct: [0.0; 3],
            lobes: vec![foreglass::optics::scatter::Lobe::grey(
                1.0,
                glass.lobes[0].profile,
            )],
            veil: [0.0; 3],
            absorbed: [0.0; 3],
        };
        assert!(
            rise(&disc) > 20.0,
            "a disc alone softens an edge: {}",
            rise(&disc)
        );
    }
}
