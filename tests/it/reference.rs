//! The double-precision executor against pictures worked out elsewhere, and its invariants.

use foreglass::optics::scatter::{Lobe, Profile, Scatter};
use foreglass::reference::scatter::scatter;
use foreglass::units::{Degrees, Fraction, Micrometres};
use std::collections::BTreeMap;

/// One golden set.
#[derive(Default)]
struct Golden {
    name: String,
    width: usize,
    height: usize,
    per_radian: f64,
    parameters: BTreeMap<String, f64>,
    before: [Vec<f64>; 3],
    after: [Vec<f64>; 3],
}

fn golden() -> Vec<Golden> {
    let mut sets: Vec<Golden> = Vec::new();
    for line in include_str!("../checks/golden/scatter_frames.csv").lines() {
        let cells: Vec<&str> = line.split(',').collect();
        let number = |i: usize| cells[i].parse::<f64>().expect("a number");
        match cells[0] {
            "set" => sets.push(Golden {
                name: cells[1].to_owned(),
                width: number(2) as usize,
                height: number(3) as usize,
                per_radian: number(4),
                ..Golden::default()
            }),
            "parameter" => {
                let set = sets.last_mut().expect("a set comes first");
                set.parameters.insert(cells[1].to_owned(), number(2));
            }
            "in" | "out" => {
                let set = sets.last_mut().expect("a set comes first");
                let planes = if cells[0] == "in" {
                    &mut set.before
                } else {
                    &mut set.after
                };
                planes[number(1) as usize].extend((3..cells.len()).map(number));
            }
            _ => {}
        }
    }
    sets
}

fn glass(parameters: &BTreeMap<String, f64>) -> Scatter {
    let get = |key: &str| parameters[key];
    let speck = Profile::Speck {
        diameter: Micrometres::clamped(get("diameter")),
        spread: get("spread"),
        coverage: Fraction::clamped(0.0),
    };
    let lobe = Profile::Harvey {
        width: Degrees::clamped(get("width")),
    };
    Scatter {
        direct: [get("direct"); 3],
        lobes: vec![
            Lobe::grey(get("speck"), speck),
            Lobe::grey(get("lobe"), lobe),
        ],
        veil: [get("veil"); 3],
        absorbed: [get("absorbed"); 3],
    }
}

/// Source: `tests/scripts/golden_scatter.py` (`NumPy`, `SciPy`, colour-science; FFT of the mirrored frame).
#[test]
fn scatter_holds_to_golden_frames() {
    let sets = golden();
    assert_eq!(sets.len(), 2, "a dark and a pale glass");
    for set in sets {
        let glass = glass(&set.parameters);
        assert_eq!(glass.check(), Ok(()), "{}: a true account", set.name);
        let law = glass.law();
        let mut planes = set.before.clone();
        let transfer = |channel: usize, nu: f64| law.transfer(channel, nu * set.per_radian);
        scatter(&mut planes, set.width, set.height, transfer, glass.veil);
        for (channel, (seen, after)) in planes.iter().zip(&set.after).enumerate() {
            assert_eq!(seen.len(), after.len(), "{}: size", set.name);
            for (i, (got, want)) in seen.iter().zip(after).enumerate() {
                let name = &set.name;
                assert!(
                    (got - want).abs() < 1e-6 * want,
                    "{name} {channel} {i}: {got} {want}"
                );
            }
        }
    }
}

/// A constant field stays one, times what passes; light in all is kept under a mirrored border.
#[test]
fn light_is_kept_and_an_even_field_stays_even() {
    let set = &golden()[1];
    let glass = glass(&set.parameters);
    let law = glass.law();
    let passed = glass.passed()[0];
    let transfer = |channel: usize, nu: f64| law.transfer(channel, nu * set.per_radian);
    let (width, height) = (37, 23);
    let mut even = [
        vec![0.3; width * height],
        vec![0.3; width * height],
        vec![0.3; width * height],
    ];
    scatter(&mut even, width, height, transfer, glass.veil);
    for value in even.iter().flatten() {
        assert!(
            (value - 0.3 * passed).abs() < 1e-13,
            "an even field: {value}"
        );
    }
    let mut planes = set.before.clone();
    scatter(&mut planes, set.width, set.height, transfer, glass.veil);
    for (plane, before) in planes.iter().zip(&set.before) {
        let (got, want): (f64, f64) = (plane.iter().sum(), before.iter().sum());
        assert!(
            (got / (want * passed) - 1.0).abs() < 1e-12,
            "light in all: {got} of {want}"
        );
    }
}
