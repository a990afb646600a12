//! What the rig has to say, and from where on it says it.

use super::codes;
use crate::plan::setup;
use foreglass::optics::scatter::Profile;
use foreglass::rig::advisory::Level;
use serde_json::{Value, json};

/// Each advisory has a rig that earns it and one just inside the limit that does not.
#[test]
fn advisories_fire_at_their_limits() {
    let nd = |d: f64| {
        [(
            "/rig/stages/0",
            json!({"glass": "nd", "options": {"density": d}}),
        )]
    };
    assert!(
        codes(&nd(1.5)).contains(&"infrared") && !codes(&nd(1.45)).contains(&"infrared"),
        "infrared"
    );
    assert!(
        codes(&nd(0.9)).contains(&"sun-finder") && !codes(&nd(0.85)).contains(&"sun-finder"),
        "sun"
    );
    let opens = |widest: f64| codes(&[nd(0.6)[0].clone(), ("/camera/widest_stop", json!(widest))]);
    assert!(
        opens(2.05).contains(&"beyond-widest-stop"),
        "the stop to set is 2.005"
    );
    assert!(
        !opens(2.0).contains(&"beyond-widest-stop"),
        "and a lens of 2.0 opens to it"
    );
    let clear = json!({"glass": "clear"});
    let three = [
        ("/rig/stages/1", clear.clone()),
        ("/rig/stages/2", clear.clone()),
    ];
    let four = [three[0].clone(), three[1].clone(), ("/rig/rings/-", clear)];
    assert!(
        codes(&four).contains(&"many-surfaces") && !codes(&three).contains(&"many-surfaces"),
        "faces"
    );
    assert!(codes(&three).contains(&"falling-glass"), "trays");
    let ring = [
        ("/rig/stages/0", Value::Null),
        ("/rig/rings/-", json!({"glass": "clear", "clear_mm": 70})),
    ];
    assert!(
        !codes(&ring).contains(&"falling-glass"),
        "no tray, no strap"
    );
    let edge = |kind: &str, stop: f64| {
        codes(&[
            (
                "/camera",
                json!({"focal_mm": 50, "stop": stop, "pupil_depth_mm": 60, "focus_m": null}),
            ),
            (
                "/rig/stages/0",
                json!({"glass": "grad-nd", "options": {"edge": kind}, "gap_mm": 40}),
            ),
        ])
    };
    // Edge widths over 14 mm of picture height: f(L + D)/z = 0.5(L + 50/N).
    assert!(edge("soft", 4.0).contains(&"edge-soft"), "28.75 mm");
    assert!(!edge("medium", 8.0).contains(&"edge-soft"), "13.1 mm");
    assert!(
        edge("hard", 32.0).contains(&"edge-hard"),
        "0.78 mm is under 0.84"
    );
    assert!(
        !edge("hard", 29.0).contains(&"edge-hard"),
        "0.862 mm is over"
    );
    let slid = |mm: f64| {
        codes(&[
            (
                "/camera",
                json!({"focal_mm": 50, "stop": 2.8, "pupil_depth_mm": 60, "focus_m": null}),
            ),
            (
                "/rig/stages/0",
                json!({"glass": "grad-nd", "gap_mm": 40, "slide_mm": mm}),
            ),
        ])
    };
    assert!(
        slid(27.9).contains(&"slide") && !slid(27.8).contains(&"slide"),
        "27.87 mm is the limit"
    );
}

#[test]
fn advisories_are_sorted_by_level_and_speak_in_sentences() {
    let s = setup(&[
        (
            "/rig/stages/0",
            json!({"glass": "nd", "options": {"density": 2.1}}),
        ),
        ("/camera/widest_stop", json!(2.8)),
    ]);
    let all = s.advisories(&s.sensor_view());
    assert_eq!(all[0].level, Level::Stop, "the worst first");
    assert!(all.windows(2).all(|w| w[0].level >= w[1].level), "{all:?}");
    assert!(
        all.iter()
            .all(|a| a.text.ends_with('.') && a.text.len() > 20),
        "{all:?}"
    );
}

/// Specks, threads and lines before the pupil: N = c(D/d)² under 100 is a halo uneven by over 10 %, and D/p
/// under 5 a net or lines that may show (the limit of D/p is our own estimate; N as in the reference
/// tables).
#[test]
fn coarse_glass_is_told() {
    let level = |glass: Value, stop: f64| {
        let s = setup(&[
            (
                "/camera",
                json!({"focal_mm": 50, "stop": stop, "focus_m": null}),
            ),
            ("/rig/stages/0", glass),
        ]);
        let all = s.advisories(&s.sensor_view());
        all.iter().find(|a| a.code == "coarse").map(|a| a.level)
    };
    // A pitch of 1 mm, 5 of them in 5 mm: f/10.
    let net = || json!({"glass": "net-dark", "options": {"pitch_mm": 1.0}});
    assert_eq!(level(net(), 9.98), None, "5.01 threads");
    assert_eq!(level(net(), 10.02), Some(Level::Note), "4.99 threads");
    assert_eq!(level(net(), 25.2), Some(Level::Caution), "1.98 threads");
    let star = || json!({"glass": "star", "options": {"spacing_mm": 2.0}});
    assert_eq!(level(star(), 4.99), None, "5.01 lines");
    assert_eq!(level(star(), 5.01), Some(Level::Note), "4.99 lines");
    let mist = || json!({"glass": "dark-mist", "strength": "1/8"});
    let scatter = setup(&[("/rig/stages/0", mist())]).glass[0]
        .piece
        .law()
        .scatter
        .clone()
        .unwrap();
    let stop = match scatter.lobes[0].profile {
        Profile::Speck {
            diameter, spread, ..
        } => {
            // (1 − c)² goes straight on.
            let covered = 1.0 - scatter.direct[1].sqrt();
            let enough = 100.0 / covered / (-2.0 * spread * spread).exp();
            50.0 / (1e-3 * diameter.get() * enough.sqrt())
        }
        other => panic!("a mist is made of specks: {other:?}"),
    };
    assert_eq!(
        level(mist(), stop * 0.99),
        None,
        "102 specks before f/{stop}"
    );
    assert_eq!(level(mist(), stop * 1.01), Some(Level::Note), "98 specks");
    assert_eq!(level(json!({"glass": "nd"}), 22.0), None, "nothing to show");
}
