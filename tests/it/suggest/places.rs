//! Which stage for which glass of a recipe: what is computed counts before custom.

use super::recipe;
use foreglass::meters::suggest::{Ground, Places, places};
use foreglass::rig::Place;
use serde_json::{Value, json};

fn told(focal: f64, stages: Value) -> Places {
    let camera = json!({"focal_mm": focal, "stop": 4.0});
    let recipe = recipe(camera, stages);
    let view = recipe.setup().unwrap().view(14.0 / 24.89);
    places(&recipe, &view).unwrap()
}

fn best(places: &Places, name: &str) -> Place {
    let found = places.glass.iter().find(|g| g.glass.contains(name));
    found.unwrap_or_else(|| panic!("{name} in {places:?}")).best
}

/// Diffusion in front of a grad is told to change places with it (common practice, no source); the other way
/// round it stands well.
#[test]
fn diffusion_stands_behind_the_grad() {
    let mist = json!({"glass": "dark-mist", "strength": "1/2"});
    let grad = json!({"glass": "grad-nd", "options": {"edge": "soft"}, "slide_mm": 6});
    let wrong = told(50.0, json!([grad, mist, null]));
    assert!(!wrong.well, "{wrong:?}");
    assert!(
        best(&wrong, "Dark mist") < best(&wrong, "Grad"),
        "{wrong:?}"
    );
    assert!(wrong.text.contains("common practice"), "{}", wrong.text);
    let stages = &wrong.rig.stages;
    let grad_there = stages
        .iter()
        .flatten()
        .find(|s| s.glass == "grad-nd")
        .unwrap();
    assert_eq!(grad_there.slide_mm.get(), 6.0, "it is moved as it is slid");

    let right = told(50.0, json!([mist, grad, null]));
    assert!(right.well, "{right:?}");
    assert!(right.glass.iter().all(|g| g.now == g.best), "{right:?}");
    assert!(
        right.glass.iter().all(|g| !g.reasons.is_empty()),
        "{right:?}"
    );
}

/// A 4x4 is 50.8 mm from its middle to its side. At 15 mm f/4 the picture reaches 12.445·z/15 and half the
/// pupil, 1.9: in stage 2, z = 32.5 + 28, 52.1 mm, in stage 1, z = 52.5, 45.4. It is told to stand there,
/// against custom.
#[test]
fn small_glass_stands_near_the_lens_whatever_custom_says() {
    let small = json!({"glass": "grad-nd", "options": {"edge": "hard"}, "size": "4x4"});
    let mist = json!({"glass": "dark-mist", "strength": "1/4", "size": "6.6x6.6"});
    let told = told(15.0, json!([mist, null, small]));
    assert!(!told.well, "{told:?}");
    assert_eq!(best(&told, "Grad"), Place::Stage(1), "{told:?}");
    assert!(told.text.contains("cover"), "{}", told.text);
    assert!(!told.text.contains("common practice"), "{}", told.text);
}

/// Uniform glass may stand anywhere, and is not moved for nothing; alike pieces do not change places.
#[test]
fn what_makes_no_difference_is_left_alone() {
    let nd = json!({"glass": "nd"});
    let same = told(50.0, json!([nd, {"glass": "balance"}, nd]));
    assert!(same.well, "{same:?}");
    assert!(same.glass.iter().all(|g| g.now == g.best), "{same:?}");
    assert!(
        same.glass
            .iter()
            .all(|g| g.reasons.iter().any(|r| r.0 == Ground::Model)),
        "{same:?}"
    );
    let none = told(50.0, json!([null, null, null]));
    assert!(
        none.well && none.glass.is_empty() && none.text.contains("No stage"),
        "{none:?}"
    );
}

/// A polariser between two others cannot be reached to be turned (common practice, no source).
#[test]
fn a_polariser_is_not_shut_in() {
    let nd = json!({"glass": "nd"});
    let grad = json!({"glass": "grad-nd"});
    let shut = told(50.0, json!([nd, {"glass": "polariser"}, grad]));
    assert!(!shut.well, "{shut:?}");
    assert_ne!(best(&shut, "Polariser"), Place::Stage(2), "{shut:?}");
}
