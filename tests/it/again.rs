//! Pictures that are made again through other glass: what is kept of the last one changes nothing.

use foreglass::engine::{self, Choice, Engine, Preview, Watch};
use foreglass::frame::Frame;
use foreglass::plan::{Pass, Plan};
use foreglass::recipe::Recipe;
use foreglass::rig::Setup;
use serde_json::{Value, json};
use std::sync::Arc;

fn setup(look: &Value) -> Setup {
    let mut document = look.clone();
    document["format"] = json!("foreglass.recipe");
    document["version"] = json!(1);
    let recipe = Recipe::parse(&document.to_string()).expect("a good recipe");
    recipe.setup().expect("a good rig")
}

/// A night scene: lamps on a dark ground, each channel its own.
fn scene(width: usize, height: usize, seed: usize) -> Arc<Frame> {
    let plane = |c: usize| {
        let mut plane: Vec<f32> = (0..width * height)
            .map(|i| 0.02 + ((i * 2_654_435_761 + c * seed) % 1021) as f32 / 4000.0)
            .collect();
        for k in 1..8 {
            plane[(k * 7919 * seed + c) % (width * height)] = 40.0 * k as f32;
        }
        plane
    };
    Arc::new(Frame::from_planes(
        width,
        height,
        [plane(1), plane(2), plane(3)],
    ))
}

/// A look: two diffusers in front of which a grad may stand, and a conversion in the ring.
fn look(mist: &str, pale: &str, slide: f64, series: &str) -> Value {
    json!({"rig": {
        "stages": [
            {"glass": "dark-mist", "strength": mist},
            {"glass": "pale-mist", "strength": pale},
            {"glass": "grad-nd", "options": {"edge": "hard"}, "slide_mm": slide}],
        "rings": [{"glass": "balance", "options": {"series": series}, "thread_mm": 95}]}})
}

/// Looks one after the other, as a hand on the controls changes them.
fn looks() -> Vec<Value> {
    vec![
        look("1/2", "1/4", 4.0, "85"),
        look("1", "1/4", 4.0, "85"),
        look("5", "1/4", 4.0, "85"),
        look("5", "2", 4.0, "85"),
        look("5", "2", 6.0, "85"),
        look("5", "2", 6.0, "81A"),
        look("1/8", "2", 6.0, "81A"),
        // The grad behind the mists, and between them.
        json!({"rig": {"stages": [{"glass": "grad-nd"}, {"glass": "dark-mist"}, {"glass": "pale-mist"}]}}),
        json!({"rig": {"stages": [{"glass": "grad-nd"}, {"glass": "dark-mist", "strength": "1/4"}, {"glass": "pale-mist"}]}}),
        json!({"rig": {"stages": [{"glass": "pale-mist"}, {"glass": "grad-nd"}, {"glass": "dark-mist"}]}}),
        json!({"rig": {"stages": [{"glass": "pale-mist", "strength": "2"}, {"glass": "grad-nd"}, {"glass": "dark-mist"}]}}),
        // What keeps no pyramid, and one again.
        json!({"rig": {"stages": [{"glass": "star"}, null, null]}}),
        json!({"light": {"outside": "dark"}, "rig": {"stages": [{"glass": "dark-mist"}, null, null]}}),
        json!({"rig": {"stages": [{"glass": "dark-mist"}, null, null]}}),
        json!({"camera": {"focal_mm": 85}, "rig": {"stages": [{"glass": "dark-mist"}, null, null]}}),
        json!({}),
    ]
}

fn plan_of(look: &Value, frame: &Frame) -> Plan {
    engine::plan(&setup(look), frame.width(), frame.height())
}

/// The processor's picture.
fn previewed(engine: &Engine, frame: &Arc<Frame>, plan: &Plan) -> Frame {
    match engine.preview(frame, plan, Choice::Cpu, &Watch::default()) {
        Ok(Preview::Here(picture)) => picture,
        other => panic!("{other:?}"),
    }
}

#[test]
fn a_picture_made_again_is_the_picture() {
    let (engine, watch) = (Engine::default(), Watch::default());
    let frames = [scene(241, 157, 3), scene(320, 200, 5)];
    // Each look twice in a row over one frame, then over the other: nothing of one is left in the other.
    for (i, look) in looks().iter().enumerate() {
        for frame in [&frames[0], &frames[0], &frames[1]] {
            let plan = plan_of(look, frame);
            let (wanted, _) = Engine::default()
                .render((**frame).clone(), &plan, Choice::Cpu, &watch)
                .unwrap();
            let got = previewed(&engine, frame, &plan);
            assert!(got == wanted, "look {i} at {} across", frame.width());
            // What was shown is written over by the next picture, all of it.
            engine.recycle(got);
        }
    }
}

#[test]
fn a_plan_after_another_is_the_plan() {
    let mut last = plan_of(&json!({}), &scene(64, 48, 1));
    for (i, look) in looks().iter().enumerate() {
        let setup = setup(look);
        let view = setup.view(0.75);
        let plan = engine::plan_after(&setup, view, &last);
        assert!(plan == engine::plan_over(&setup, view), "look {i}");
        last = plan;
    }
}

#[test]
fn a_pass_says_what_it_depends_on() {
    let frame = scene(64, 48, 1);
    let plan = plan_of(&look("1/2", "1/4", 4.0, "85"), &frame);
    let needs = plan.first_pyramid().expect("a mist has a pyramid");
    assert!(
        matches!(plan.passes[needs.light], Pass::Scatter(_)),
        "{plan:?}"
    );
    // Another strength brings the same light to the mists, another conversion or an edge before them does not.
    let same = |look: Value| plan.brings_the_light_of(&plan_of(&look, &frame), needs);
    assert!(same(look("5", "2", 4.0, "85")), "strengths");
    assert!(!same(look("1/2", "1/4", 4.0, "81A")), "a conversion");
    assert!(!same(look("1/2", "1/4", 6.0, "85")), "an edge in front");
    // Where nothing comes before the mists, the frame is their light, whatever the view.
    let alone = |look: Value, focal_mm: f64| {
        let mut plan = plan_of(&look, &frame);
        plan.passes.retain(|pass| matches!(pass, Pass::Scatter(_)));
        plan.view.focal_mm = focal_mm;
        plan
    };
    let mist = json!({"stages": [{"glass": "dark-mist"}, null, null]});
    let mirrored = |focal_mm: f64| alone(json!({"rig": mist}), focal_mm);
    let needs = mirrored(50.0)
        .first_pyramid()
        .expect("a mist has a pyramid");
    assert!(
        mirrored(85.0).goes_on_from(&mirrored(50.0), needs),
        "another view"
    );
    // What lies around the frame is in a pyramid too.
    let dark = alone(json!({"light": {"outside": "dark"}, "rig": mist}), 50.0);
    let needs = dark.first_pyramid().expect("a mist has a pyramid");
    assert!(dark.goes_on_from(&dark, needs), "itself");
    assert!(
        !mirrored(50.0).goes_on_from(&dark, needs),
        "mirrored after dark"
    );
    // What has a direction or a wide lens's corners are worked out whole.
    for whole in [
        json!({"rig": {"stages": [{"glass": "streak"}, null, null]}}),
        json!({"camera": {"focal_mm": 14}, "rig": {"stages": [{"glass": "dark-mist", "size": "6.6x6.6"}, null, null]}}),
    ] {
        let plan = plan_of(&whole, &frame);
        assert!(plan.passes.iter().any(|p| matches!(p, Pass::Scatter(_))));
        assert_eq!(plan.first_pyramid(), None, "{whole}");
    }
}

#[test]
fn a_picture_that_is_cancelled_leaves_nothing_wrong() {
    let engine = Engine::default();
    let frame = scene(320, 200, 5);
    let [first, second] = ["1", "2"].map(|s| plan_of(&look(s, "1/4", 4.0, "85"), &frame));
    let watch = Watch::default();
    let _picture = engine.preview(&frame, &first, Choice::Cpu, &watch).unwrap();
    watch.cancel();
    assert!(
        engine
            .preview(&frame, &second, Choice::Cpu, &watch)
            .is_err()
    );
    let watch = Watch::default();
    let got = previewed(&engine, &frame, &second);
    let (wanted, _) = engine
        .render((*frame).clone(), &second, Choice::Cpu, &watch)
        .unwrap();
    assert!(got == wanted, "the same to the bit");
}
