//! What a practitioner expects of the answer (common practice, no source, unless a number says otherwise).

use super::{ask, ask_told, frame, grads, recipe};
use foreglass::meters::suggest::{Answer, Metered, Suggestion};
use serde_json::{Value, json};

const LENS: fn(f64, f64) -> Value =
    |focal, stop| json!({"focal_mm": focal, "stop": stop, "focus_m": null});

fn names(option: &Suggestion) -> Vec<&str> {
    option.glass.iter().map(|g| g.name.as_str()).collect()
}

fn free(count: usize) -> Value {
    let clear = json!({"glass": "clear", "size": "6.6x6.6"});
    (0..3)
        .map(|i| {
            if i < 3 - count {
                clear.clone()
            } else {
                Value::Null
            }
        })
        .collect()
}

/// A wheelhouse window over the left third, `over` stops over key, the cabin a stop under.
fn window(over: f64, kit: &Value, stages: Value) -> Answer {
    let scene = frame(|x, _| if x < 0.33 { over } else { -1.0 });
    let recipe = recipe(LENS(32.0, 8.0), stages);
    ask(&scene, &recipe, kit, [0.0, 0.0, 0.33, 1.0], 0.0)
}

/// Four stops over and two 0.6 on the truck: both go in, 2 × 1.99 stops and the faces; with one, the one.
#[test]
fn a_window_four_stops_over_takes_both_grads_and_no_more_than_there_are() {
    let both = window(4.0, &grads(&[(0.6, "hard", 2), (0.3, "hard", 1)]), free(2));
    let best = &both.options[0];
    assert_eq!(names(best), ["Grad ND 0.6 hard"; 2], "{both:?}");
    assert!(best.score.residual.get().abs() < 0.6, "{:?}", best.score);
    assert!(both.bare.score.residual.get() > 3.9, "{:?}", both.bare);
    let places: Vec<String> = best.glass.iter().map(|g| g.place.key()).collect();
    assert_eq!(places, ["stage2", "stage3"], "two stages, the free ones");

    let one = window(4.0, &grads(&[(0.6, "hard", 1)]), free(2));
    assert_eq!(one.options.len(), 1, "{one:?}");
    assert_eq!(names(&one.options[0]), ["Grad ND 0.6 hard"], "one is there");
    assert!(one.options[0].score.residual.get() > 1.5, "{one:?}");

    let single_stage = window(4.0, &grads(&[(0.6, "hard", 2)]), free(1));
    assert_eq!(
        names(&single_stage.options[0]).len(),
        1,
        "one stage is free"
    );
}

/// What stands in the rig already is not on the truck: of two, one is left.
#[test]
fn glass_in_the_rig_is_taken_from_the_kit() {
    let standing = json!({"glass": "grad-nd", "options": {"edge": "hard"}, "slide_mm": 25});
    let stages = json!([standing, null, null]);
    let answer = window(5.0, &grads(&[(0.6, "hard", 2)]), stages);
    let best = &answer.options[0];
    assert_eq!(names(best).len(), 1, "{answer:?}");
    let first = best.rig.stages[0].as_ref().unwrap();
    assert_eq!(
        first.slide_mm.get(),
        25.0,
        "the recipe's glass stays as it is"
    );
}

/// A window at the left is held from the left: the dense end is there, turned counter-clockwise by 90°.
#[test]
fn a_window_at_the_left_is_held_from_the_left() {
    let answer = window(2.0, &grads(&[(0.6, "hard", 1)]), free(1));
    let glass = &answer.options[0].glass[0];
    assert_eq!(glass.turn.get(), 90.0, "{glass:?}");
    assert!(glass.words.contains("dense at the left"), "{}", glass.words);
    // The edge lies at 33 % of the width: (0.5 − 0.33)·24.89 mm on the sensor, times z/f on the glass.
    let depth = 25.0 + 16.0 + 36.0;
    let edge = 0.17 * 24.89 / 32.0 * depth;
    let slide = glass.slide.get();
    assert!((slide - edge).abs() < 4.0, "{slide} against {edge}");
}

/// A sky two stops over a low, straight horizon, at 25 mm and at 85 mm, f/8. A soft edge is 25·(45 + D)/z = 1.2
/// times the picture's height wide at 25 mm and 85·(45 + D)/z = 3.3 times at 85 mm: it takes from the ground
/// nearly what it takes from the sky, and is uneven over it. A hard edge is 8 % wide at 25 mm, too wide to
/// show, and 62 % at 85 mm, where the footprint alone makes it soft. So the score asks for hard glass at both;
/// it gains most on the wide lens, and hard glass on the long one is no better than medium on the wide one.
#[test]
fn the_edge_that_suits_a_low_horizon_hangs_on_the_lens() {
    let scene = frame(|_, y| if y < 0.75 { 2.0 } else { -1.0 });
    let kit = grads(&[(0.6, "soft", 1), (0.6, "medium", 1), (0.6, "hard", 1)]);
    let told = |focal| {
        let recipe = recipe(LENS(focal, 8.0), free(1));
        let answer = ask(&scene, &recipe, &kit, [0.0, 0.0, 1.0, 0.75], 0.0);
        let told: Vec<(String, f64)> = answer
            .options
            .iter()
            .map(|o| (names(o)[0].to_owned(), o.score.total().get()))
            .collect();
        told
    };
    for focal in [25.0, 85.0] {
        let told = told(focal);
        assert_eq!(told.len(), 3, "{told:?}");
        let order: Vec<&str> = told.iter().map(|t| t.0.as_str()).collect();
        let wanted = ["Grad ND 0.6 hard", "Grad ND 0.6 medium", "Grad ND 0.6 soft"];
        assert_eq!(order, wanted, "{focal} mm");
    }
    let (short, long) = (told(25.0), told(85.0));
    // What hardness gains: most on a wide lens.
    let gain = |t: &[(String, f64)]| t[2].1 - t[0].1;
    assert!(gain(&short) > 1.3 * gain(&long), "{short:?} {long:?}");
    assert!(
        short[0].1 < 0.3 && long[0].1 > short[1].1,
        "{short:?} {long:?}"
    );
}

/// At a small stop on a wide lens a hard edge shows as a line; the answer says so, and it costs 0.15 of the
/// stops that the edge divides as its width falls from 6 % of the picture's height (our own choice).
#[test]
fn a_line_is_told() {
    let scene = frame(|_, y| if y < 0.5 { 2.0 } else { 0.0 });
    let recipe = recipe(LENS(25.0, 16.0), free(1));
    let answer = ask(
        &scene,
        &recipe,
        &grads(&[(0.6, "hard", 1)]),
        [0.0, 0.0, 1.0, 0.5],
        0.0,
    );
    let best = &answer.options[0];
    // 25·(25/16)/z of 14 mm, z = 25 + 12.5 + 36: 3.8 %.
    let part: f64 = 25.0 * (25.0 / 16.0) / 73.5 / 14.0;
    let wanted = 0.15 * 0.6 / 2_f64.log10() * (1.0 - part / 0.06);
    assert!(
        (best.score.line.get() - wanted).abs() < 1e-4,
        "{:?}",
        best.score
    );
    assert!(
        best.line.as_ref().unwrap().contains("3.8 %"),
        "{:?}",
        best.line
    );
}

/// Nothing to do, no room, nothing to do it with, nothing worth it: an empty list and the reason.
#[test]
fn where_no_glass_helps_it_says_so() {
    let kit = grads(&[(0.6, "hard", 1)]);
    let under = window(-0.5, &kit, free(2));
    assert!(under.options.is_empty(), "{under:?}");
    assert!(
        under.nothing.unwrap().contains("not over its target"),
        "under"
    );
    assert!(
        under.bare.text.contains("0.5") && under.bare.text.contains("under"),
        "{}",
        under.bare.text
    );

    let full = window(4.0, &kit, free(0));
    assert!(full.options.is_empty() && full.nothing.unwrap().contains("No stage is free"));

    let plain = json!({"format": "foreglass.kit", "version": 1, "glass": [
        {"glass": "nd"}, {"glass": "grad-colour"}, {"glass": "dark-mist"},
        {"glass": "grad-nd", "thread_mm": 82}, {"glass": "grad-nd", "count": 0}]});
    let none = window(4.0, &plain, free(2));
    assert!(none.options.is_empty() && none.nothing.unwrap().contains("no neutral grad"));

    // A small lamp in the middle, half a stop over: any grad takes more from the rest than that.
    let scene = frame(|x, y| {
        if (x - 0.5).hypot(y - 0.5) < 0.05 {
            0.5
        } else {
            0.0
        }
    });
    let recipe = recipe(LENS(32.0, 4.0), free(2));
    let lamp = ask(&scene, &recipe, &kit, [0.48, 0.48, 0.52, 0.52], 0.0);
    assert!(lamp.options.is_empty(), "{lamp:?}");
    assert!(lamp.nothing.unwrap().contains("leaving it alone"));
}

/// A clipped window reads what it was told by hand, over what the frame shows.
#[test]
fn a_clipped_window_is_as_bright_as_it_was_metered() {
    let scene = frame(|x, _| if x < 0.33 { 1.0 } else { -1.0 });
    let recipe = recipe(LENS(32.0, 8.0), free(2));
    let kit = grads(&[(0.6, "hard", 2)]);
    let region = [0.0, 0.0, 0.33, 1.0];
    let frames_own = ask(&scene, &recipe, &kit, region, 0.0);
    assert_eq!(frames_own.metered_by, Metered::Frame);
    assert!(
        (frames_own.metered.get() - 1.0).abs() < 0.01,
        "{frames_own:?}"
    );
    let told = ask_told(&scene, &recipe, &kit, region, 0.0, Some(3.5));
    assert_eq!(told.metered_by, Metered::Told);
    assert!((told.metered.get() - 3.5).abs() < 1e-3, "{told:?}");
    assert!(
        told.options[0].glass.len() > frames_own.options[0].glass.len(),
        "{told:?}"
    );
}

/// Through diffusion the region takes light from around it and gives some away: what is told is what is
/// rendered, and the grad is set against that.
#[test]
fn the_level_is_that_of_the_picture_diffusion_and_all() {
    use foreglass::colour::primaries::luminance;
    let scene = frame(|x, y| if x < 0.2 && y < 0.4 { 5.0 } else { -2.0 });
    let mist = json!({"glass": "pale-mist", "strength": "1"});
    let recipe = recipe(LENS(32.0, 8.0), json!([mist, null, null]));
    let kit = grads(&[(0.6, "hard", 1), (0.9, "hard", 1)]);
    let answer = ask(&scene, &recipe, &kit, [0.3, 0.0, 0.5, 0.4], -3.0);
    for option in &answer.options {
        let mut with = recipe.clone();
        with.rig = option.rig.clone();
        let out = crate::plan::render(&with.setup().unwrap(), &scene);
        let (columns, rows) = (38..64, 0..29);
        let light: f64 = rows
            .clone()
            .flat_map(|y| columns.clone().map(move |x| (x, y)))
            .map(|(x, y)| f64::from(luminance(out.pixel(x, y))))
            .sum();
        let level = (light / (columns.len() * rows.len()) as f64 / 0.18).log2();
        assert!(
            (level - option.level.get()).abs() < 0.02,
            "{level} {option:?}"
        );
        let residual = option.score.residual.get();
        assert!((level + 3.0 - residual).abs() < 0.02, "{level} {residual}");
    }
    assert!(!answer.options.is_empty(), "{answer:?}");
}

/// At most five, no two of the same glass, best first, each better than none, each covering the picture.
#[test]
fn options_differ_and_cover() {
    let scene = frame(|x, y| if y < 0.35 + 0.1 * x { 3.0 } else { -1.0 });
    let recipe = recipe(LENS(40.0, 5.6), free(2));
    let text = foreglass::recipe::kit::DEFAULT_KIT;
    let kit: Value = serde_json::from_str(text).unwrap();
    let answer = ask(&scene, &recipe, &kit, [0.0, 0.0, 1.0, 0.35], 0.5);
    assert_eq!(answer.options.len(), 5, "{answer:?}");
    let bare = answer.bare.score.total().get();
    let scores: Vec<f64> = answer
        .options
        .iter()
        .map(|o| o.score.total().get())
        .collect();
    assert!(scores.windows(2).all(|w| w[0] <= w[1]), "{scores:?}");
    assert!(scores.iter().all(|s| *s < bare), "{scores:?} {bare}");
    let mut glass: Vec<Vec<&str>> = answer.options.iter().map(names).collect();
    for names in &mut glass {
        names.sort_unstable();
    }
    glass.sort();
    glass.dedup();
    assert_eq!(glass.len(), 5, "{glass:?}");
    for option in &answer.options {
        let mut with = recipe.clone();
        with.rig = option.rig.clone();
        let setup = with.setup().unwrap();
        let view = setup.view(super::H as f64 / super::W as f64);
        assert!(
            setup.glass.iter().all(|g| setup.covers(g, &view)),
            "{option:?}"
        );
    }
    let again = ask(&scene, &recipe, &kit, [0.0, 0.0, 1.0, 0.35], 0.5);
    assert_eq!(answer, again, "the same question has the same answer");
}
