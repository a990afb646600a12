//! Many pictures of one frame: what is kept changes none of them.

use super::{apart, executor, frames, on_cpu, plan_of, view};
use crate::plan::{scene, setup};
use foreglass::engine::{self, Watch};
use foreglass::frame::Frame;
use foreglass::gpu::{self, Executor, GpuError, Source, TOLERANCE};
use foreglass::optics::mixture::{Gaussian, Mixture};
use foreglass::plan::{Pass, Plan, ScatterFit, ScatterPass};
use serde_json::{Value, json};

/// A look: a grad, and a mist so strong in a light so surrounded.
fn look(strength: &str, slide_mm: f64, outside: Value, size: [usize; 2]) -> Plan {
    let setup = setup(&[
        (
            "/rig/stages/0",
            json!({"glass": "grad-nd", "options": {"edge": "soft"}, "slide_mm": slide_mm}),
        ),
        (
            "/rig/stages/1",
            json!({"glass": "dark-mist", "strength": strength}),
        ),
        ("/light/outside", outside),
    ]);
    engine::plan(&setup, size[0], size[1])
}

fn fresh(executor: &Executor, plan: &Plan, frame: &Frame) -> Frame {
    let mut out = frame.clone();
    executor
        .execute(plan, &mut out, &Watch::default())
        .expect("a picture");
    out
}

fn from(executor: &Executor, source: &Source, plan: &Plan) -> Frame {
    let watch = Watch::default();
    let picture = executor.render_from(source, plan, &watch);
    let picture = picture.expect("a picture");
    executor.read(&picture, &watch).expect("a frame")
}

/// Plan after plan of one source, each another in another place, against the same plan on its own: to the bit.
#[test]
fn what_is_kept_changes_nothing() {
    let Some(executor) = executor() else {
        return;
    };
    for size in [[333, 217], [130, 77], [17, 3], [1, 1]] {
        let frame = scene(size[0], size[1], 1e5);
        let source = executor.upload(&frame, &Watch::default());
        let source = source.expect("room for it");
        let alone = source.bytes();
        let mut kept = Vec::new();
        for (strength, slide_mm, outside) in [
            ("1/8", 0.0, json!("mirror")),
            ("1", 0.0, json!("mirror")),
            ("1/2", 3.0, json!("mirror")),
            ("1/2", 3.0, json!("dark")),
            ("1/4", 3.0, json!("dark")),
            ("1/4", 3.0, json!({"stops": -1.0})),
            ("1/4", 3.0, json!("mirror")),
        ] {
            let plan = look(strength, slide_mm, outside.clone(), size);
            let words = format!("{size:?}, {strength}, {slide_mm} mm, {outside}");
            let made = from(executor, &source, &plan);
            assert!(made == fresh(executor, &plan, &frame), "{words}");
            let (off, place) = apart(&made, &on_cpu(&plan, &frame));
            assert!(off <= TOLERANCE, "{words}: {off:.2e}, {place}");
            kept.push(source.bytes());
        }
        assert!(kept.iter().all(|bytes| *bytes > alone), "something is kept");
        source.forget();
        assert_eq!(source.bytes(), alone, "the frame alone");
    }
}

/// A strength change makes neither what comes before the scatter nor its pyramid again.
#[test]
fn a_strength_change_is_less_work() {
    let Some(_) = executor() else {
        return;
    };
    let executor = gpu::find().expect("it was there before").timed();
    let (size, watch) = ([320, 200], Watch::default());
    let frame = scene(size[0], size[1], 10.0);
    let source = executor.upload(&frame, &watch).expect("room for it");
    let mut dispatches = Vec::new();
    for strength in ["1/2", "1", "1/2"] {
        let plan = look(strength, 1.0, json!("mirror"), size);
        executor
            .render_from(&source, &plan, &watch)
            .expect("a picture");
        dispatches.push(executor.usage().dispatches);
        assert!(executor.usage().bytes > 0, "bytes are counted");
    }
    assert!(dispatches[1] < dispatches[0], "{dispatches:?}");
    assert_eq!(dispatches[1], dispatches[2], "the same work");
}

/// Buffers that were used before, for pictures of the same size, larger ones and smaller ones, full of light that
/// is not finite: nothing of them is seen.
#[test]
fn buffers_leak_nothing() {
    let Some(_) = executor() else {
        return;
    };
    let executor = gpu::find().expect("it was there before");
    for (name, frame) in frames() {
        let size = [frame.width(), frame.height()];
        let plan = look("1", 2.0, json!("mirror"), size);
        let first = fresh(&executor, &plan, &frame);
        let plane = vec![f32::NAN; size[0] * size[1]];
        let nan = Frame::from_planes(size[0], size[1], [plane.clone(), plane.clone(), plane]);
        let spoilt = fresh(&executor, &plan, &nan);
        assert!(spoilt.planes()[0][0].is_nan(), "{name}: it was spoilt");
        assert!(executor.idle_bytes() > 0, "buffers lie idle");
        assert!(first == fresh(&executor, &plan, &frame), "{name}");
    }
    executor.keep_idle(0);
    assert_eq!(executor.idle_bytes(), 0, "none is kept");
}

/// A field before a mist is done by the dispatch that makes the first coarser level, whole and in pieces.
#[test]
fn a_field_before_a_mist_is_no_dispatch() {
    let Some(_) = executor() else {
        return;
    };
    let executor = gpu::find().expect("it was there before");
    let size = [333, 217];
    let frame = scene(size[0], size[1], 1e5);
    let setup = setup(&[
        (
            "/rig/stages/0",
            json!({"glass": "dark-mist", "strength": "1"}),
        ),
        (
            "/rig/stages/2",
            json!({"glass": "grad-nd", "options": {"edge": "soft"}, "slide_mm": 2}),
        ),
    ]);
    let plan = engine::plan(&setup, size[0], size[1]);
    let mut bare = plan.clone();
    bare.passes.retain(|pass| matches!(pass, Pass::Scatter(_)));
    let at = |is: fn(&Pass) -> bool| plan.passes.iter().position(is);
    let [field, mist] = [
        at(|p| matches!(p, Pass::Field(_))),
        at(|p| matches!(p, Pass::Scatter(_))),
    ];
    assert!(field.map(|at| at + 1) == mist, "a field, then a mist");
    let after = plan.passes.len() - mist.expect("a mist") - 1;
    let dispatches = [&plan, &bare].map(|plan| {
        let _picture = fresh(&executor, plan, &frame);
        executor.usage().dispatches as usize
    });
    assert_eq!(dispatches[0], dispatches[1] + after);
    let whole = fresh(&executor, &plan, &frame);
    for bytes in [200_000, 40_000] {
        let pieces = gpu::find()
            .expect("it was there before")
            .in_pieces_of(bytes);
        assert!(
            fresh(&pieces, &plan, &frame) == whole,
            "in pieces of {bytes} bytes"
        );
    }
}

/// Work that was stopped half-way leaves nothing behind that was never made.
#[test]
fn stopped_work_is_made_again() {
    let Some(executor) = executor() else {
        return;
    };
    let (size, watch) = ([150, 97], Watch::default());
    let frame = scene(size[0], size[1], 10.0);
    let source = executor.upload(&frame, &watch).expect("room for it");
    let plan = look("1/2", 1.0, json!("mirror"), size);
    let stopped = Watch::default();
    stopped.cancel();
    let done = executor.render_from(&source, &plan, &stopped);
    assert!(matches!(done, Err(GpuError::Cancelled(_))), "{done:?}");
    let made = from(executor, &source, &plan);
    assert!(made == fresh(executor, &plan, &frame), "made afterwards");
}

/// Pictures that are made at once on one device do not mix.
#[test]
fn pictures_at_once_do_not_mix() {
    let Some(executor) = executor() else {
        return;
    };
    let size = [150, 97];
    std::thread::scope(|scope| {
        for lamp in [10.0, 1e3, 1e5, 1e6] {
            scope.spawn(move || {
                let frame = scene(size[0], size[1], lamp);
                let plan = look("1/2", 1.0, json!("mirror"), size);
                let first = fresh(executor, &plan, &frame);
                for _ in 0..4 {
                    assert!(first == fresh(executor, &plan, &frame), "a lamp of {lamp}");
                }
            });
        }
    });
}

/// A scatter that stays on the picture's own level keeps none, one that goes deeper has its first level made with the
/// picture: whichever came before, the picture is the one made anew, to the bit.
#[test]
fn one_level_and_more_follow_each_other() {
    let Some(executor) = executor() else {
        return;
    };
    let size = [512, 288];
    let plan = |sigmas: &[f64]| {
        let gaussian = |sigma: &f64| Gaussian {
            weight: 0.1,
            sigma: *sigma,
        };
        let mixture = Mixture {
            direct: 0.5,
            gaussians: sigmas.iter().map(gaussian).collect(),
            veil: 0.1,
        };
        let scatter = ScatterPass {
            laws: Vec::new(),
            outside: None,
            stretched: false,
            fit: Some(ScatterFit::Round([0; 3].map(|_| mixture.clone()))),
        };
        Plan {
            passes: vec![Pass::Gain(0.7), Pass::Scatter(scatter)],
            ..plan_of(Vec::new(), view(size[0], size[1]))
        }
    };
    let (shallow, deep) = (plan(&[1e-3]), plan(&[1e-3, 0.01, 0.03]));
    let frame = scene(size[0], size[1], 1e5);
    let source = executor.upload(&frame, &Watch::default());
    let source = source.expect("room for it");
    for (plan, words) in [
        (&shallow, "one level"),
        (&deep, "more after one"),
        (&deep, "as many"),
        (&shallow, "one after more"),
    ] {
        let made = from(executor, &source, plan);
        assert!(made == fresh(executor, plan, &frame), "{words}");
    }
}

/// Levels that are made one by one, each joined as it is made, and the coarsest one in one piece with what is added
/// everywhere: as few dispatches as that takes, whole and in pieces, and the processor's picture.
#[test]
fn few_dispatches_make_a_pyramid() {
    let Some(_) = executor() else {
        return;
    };
    let pieces = gpu::find()
        .expect("it was there before")
        .in_pieces_of(60_000);
    let gaussian = |weight: f64, sigma: f64| Gaussian { weight, sigma };
    let mixture = Mixture {
        direct: 0.5,
        gaussians: [1e-3, 3e-3, 0.01, 0.03, 0.1]
            .map(|sigma| gaussian(0.07, sigma))
            .to_vec(),
        veil: 0.1,
    };
    // Down from the frame, then up: the coarsest, two between, and the frame.
    for (size, outside, dispatches) in [
        ([512, 288], None, 3 + 4),
        ([296, 528], None, 3 + 4),
        ([523, 307], None, 3 + 4),
        ([523, 307], Some([0.0; 3]), 3 + 4),
        ([512, 288], Some([0.5, 0.3, 0.1]), 3 + 4),
    ] {
        let pass = ScatterPass {
            laws: Vec::new(),
            outside,
            stretched: false,
            fit: Some(ScatterFit::Round([0; 3].map(|_| mixture.clone()))),
        };
        let plan = Plan {
            passes: vec![Pass::Scatter(pass)],
            ..plan_of(Vec::new(), view(size[0], size[1]))
        };
        let frame = scene(size[0], size[1], 1e5);
        let words = format!("{size:?}, {outside:?}");
        let one = gpu::find().expect("it was there before");
        let made = fresh(&one, &plan, &frame);
        assert_eq!(one.usage().dispatches, dispatches, "{words}");
        let (off, place) = apart(&made, &on_cpu(&plan, &frame));
        assert!(off <= 2e-5, "{words}: {off:.2e}, {place}");
        assert!(made == fresh(&pieces, &plan, &frame), "{words}, in pieces");
        assert!(pieces.usage().dispatches > dispatches, "{words}: pieces");
    }
}

/// Gaussians that run at the frame's own level, on sides about the places where levels begin and where edges
/// fall between samples.
#[test]
fn narrow_halos_at_the_borders_of_levels() {
    let Some(executor) = executor() else {
        return;
    };
    let gaussian = |weight: f64, sigma: f64| Gaussian { weight, sigma };
    let mixture = Mixture {
        direct: 0.5,
        gaussians: vec![
            gaussian(0.1, 4e-4),
            gaussian(0.1, 1e-3),
            gaussian(0.1, 3e-3),
            gaussian(0.1, 0.01),
        ],
        veil: 0.1,
    };
    for size in [
        [31, 64],
        [32, 33],
        [63, 65],
        [64, 64],
        [127, 129],
        [256, 255],
    ] {
        for outside in [None, Some([0.0; 3]), Some([0.5, 0.3, 0.1])] {
            let pass = ScatterPass {
                laws: Vec::new(),
                outside,
                stretched: false,
                fit: Some(ScatterFit::Round([
                    mixture.clone(),
                    mixture.clone(),
                    mixture.clone(),
                ])),
            };
            let frame = scene(size[0], size[1], 1e5);
            let plan = Plan {
                passes: vec![Pass::Scatter(pass)],
                ..plan_of(Vec::new(), view(size[0], size[1]))
            };
            let (off, place) = apart(&fresh(executor, &plan, &frame), &on_cpu(&plan, &frame));
            assert!(
                off <= TOLERANCE,
                "{size:?}, {outside:?}: {off:.2e}, {place}"
            );
        }
    }
}
