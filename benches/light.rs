//! Speed of light passes, on all cores. `benches/compare.py` runs this beside its peer and prints
//! ratios.
//!
//! `scatter`: the five-component mixture alone, warm. `look`: a whole plan, two diffusers, a conversion
//! and a grad, warm, plan made beforehand. `preview`: the same look at preview size, plan included.
//! `slider`: the same, strength after strength, as the window does it.
//! `wide`: one glass on an 18 mm lens, its halos even or stretched towards the corners.
//! `field`: the table of placed glass and openings, by itself.
//! `oriented`: an eight-point star and a net, turned, at 2 megapixels; `anew` without what is kept from
//! one picture to the next.

use divan::Bencher;
use foreglass::cpu::{self, Scratch};
use foreglass::engine::{self, Choice, Engine, Preview};
use foreglass::frame::Frame;
use foreglass::kernels::{oriented, scatter};
use foreglass::optics::mixture::{Gaussian, Mixture};
use foreglass::optics::response::Response;
use foreglass::recipe::Recipe;
use foreglass::watch::Watch;
use std::sync::Arc;

/// 2, 12, 24 and 45 megapixels; the last has sides that no transform is fond of.
const SIZES: [[usize; 2]; 4] = [[1920, 1080], [4243, 2828], [6000, 4000], [8191, 5461]];

const LOOK: &str = r#"{"format": "foreglass.recipe", "version": 1, "rig": {"stages": [
    {"glass": "dark-mist", "strength": "1/2"},
    {"glass": "pale-mist", "strength": "1/4"},
    {"glass": "grad-nd", "options": {"edge": "hard"}, "slide_mm": 4}],
    "rings": [{"glass": "balance", "options": {"series": "85"}, "thread_mm": 95}]}}"#;

fn main() {
    divan::main();
}

/// Even light with a pattern on it: no zeros, no denormals.
fn frame([width, height]: [usize; 2]) -> Frame {
    let plane = |c: usize| {
        let level = |i: usize| 0.05 + ((i * 2_654_435_761 + c) % 1021) as f32 / 1021.0;
        (0..width * height).map(level).collect()
    };
    Frame::from_planes(width, height, std::array::from_fn(plane))
}

/// Five Gaussians of equal weight, from 1/3000 to 1/15 of the width: 2 to 400 pixels at 6000.
fn five(width: usize) -> scatter::Params {
    let sigma = |i: i32| width as f64 / 3000.0 * 200_f64.powf(f64::from(i) / 4.0);
    let gaussians = (0..5)
        .map(|i| Gaussian {
            weight: 0.09,
            sigma: sigma(i),
        })
        .collect();
    let mixture = Mixture {
        direct: 0.5,
        gaussians,
        veil: 0.0,
    };
    let channels = std::array::from_fn(|_| mixture.clone());
    scatter::Params {
        channels,
        border: scatter::Border::Mirror,
    }
}

#[divan::bench(args = SIZES, sample_count = 7, sample_size = 1)]
fn scatter(bencher: Bencher<'_, '_>, size: [usize; 2]) {
    let (mut frame, params) = (frame(size), five(size[0]));
    let (mut scratch, watch) = (scatter::Scratch::default(), Watch::default());
    scatter::cpu(&mut frame, &params, &mut scratch, &watch).expect("not cancelled");
    bencher.bench_local(|| scatter::cpu(&mut frame, &params, &mut scratch, &watch));
}

#[divan::bench(args = SIZES, sample_count = 7, sample_size = 1)]
fn look(bencher: Bencher<'_, '_>, size: [usize; 2]) {
    let setup = Recipe::parse(LOOK)
        .expect("a recipe")
        .setup()
        .expect("a rig");
    let plan = engine::plan(&setup, size[0], size[1]);
    let (mut frame, mut scratch, watch) = (frame(size), Scratch::default(), Watch::default());
    cpu::execute(&plan, &mut frame, &mut scratch, &watch).expect("not cancelled");
    bencher.bench_local(|| cpu::execute(&plan, &mut frame, &mut scratch, &watch));
}

/// Lowering, simplifying and fitting alone.
#[divan::bench(sample_count = 20, sample_size = 1)]
fn plan(bencher: Bencher<'_, '_>) {
    let setup = Recipe::parse(LOOK)
        .expect("a recipe")
        .setup()
        .expect("a rig");
    bencher.bench_local(|| engine::plan(&setup, 1920, 1080));
}

#[divan::bench(sample_count = 20, sample_size = 1)]
fn preview(bencher: Bencher<'_, '_>) {
    let setup = Recipe::parse(LOOK)
        .expect("a recipe")
        .setup()
        .expect("a rig");
    let (mut frame, mut scratch, watch) = (frame(SIZES[0]), Scratch::default(), Watch::default());
    bencher.bench_local(|| {
        let plan = engine::plan(&setup, frame.width(), frame.height());
        cpu::execute(&plan, &mut frame, &mut scratch, &watch)
    });
}

/// A hand on a strength: each picture through another one, of a frame that stays, plan included.
#[divan::bench(sample_count = 60, sample_size = 1)]
fn slider(bencher: Bencher<'_, '_>) {
    let setups = ["1/4", "1/2", "1", "2"].map(|strength| {
        let look = LOOK.replace("\"1/2\"", &format!("\"{strength}\""));
        Recipe::parse(&look)
            .expect("a recipe")
            .setup()
            .expect("a rig")
    });
    let [width, height] = SIZES[0];
    let view = setups[0].view(height as f64 / width as f64);
    let (engine, frame, watch) = (
        Engine::default(),
        Arc::new(frame(SIZES[0])),
        Watch::default(),
    );
    let mut last = engine::plan_over(&setups[0], view);
    let mut turn = 0;
    bencher.bench_local(|| {
        turn += 1;
        last = engine::plan_after(&setups[turn % setups.len()], view, &last);
        if let Ok(Preview::Here(picture)) = engine.preview(&frame, &last, Choice::Cpu, &watch) {
            engine.recycle(picture);
        }
    });
}

/// A wide lens: one glass at 18 mm, 2 megapixels, its halos stretched or even, plan made beforehand.
#[divan::bench(
    args = ["dark-mist", "lenslet", "star"],
    consts = [false, true],
    sample_count = 7,
    sample_size = 1
)]
fn wide<const STRETCHED: bool>(bencher: Bencher<'_, '_>, glass: &str) {
    let halos = if STRETCHED { "stretched" } else { "even" };
    let text = format!(
        r#"{{"format": "foreglass.recipe", "version": 1, "camera": {{"focal_mm": 18}},
            "light": {{"corner_halos": "{halos}"}},
            "rig": {{"stages": [{{"glass": "{glass}", "size": "6.6x6.6", "turn_deg": 17}}, null, null]}}}}"#
    );
    let setup = Recipe::parse(&text)
        .expect("a recipe")
        .setup()
        .expect("a rig");
    let plan = engine::plan(&setup, SIZES[0][0], SIZES[0][1]);
    let (mut frame, mut scratch, watch) = (frame(SIZES[0]), Scratch::default(), Watch::default());
    cpu::execute(&plan, &mut frame, &mut scratch, &watch).expect("not cancelled");
    bencher.bench_local(|| cpu::execute(&plan, &mut frame, &mut scratch, &watch));
}

/// Placed glass and openings that clip, by what stands there.
const FIELDS: [(&str, &str); 5] = [
    (
        "ring-12",
        r#"{"camera": {"focal_mm": 12, "stop": 4}, "rig": {"rings": [{"glass": "clear"}]}}"#,
    ),
    (
        "grad-ring-12",
        r#"{"camera": {"focal_mm": 12, "stop": 4}, "rig": {"rings": [{"glass": "clear"}],
            "stages": [{"glass": "grad-nd", "options": {"edge": "soft"}}]}}"#,
    ),
    (
        "colours-ring-12",
        r#"{"camera": {"focal_mm": 12, "stop": 4}, "rig": {"rings": [{"glass": "clear"}],
            "stages": [{"glass": "grad-colour", "options": {"colour": "rose"}},
                {"glass": "grad-colour", "options": {"colour": "slate"}, "turn_deg": 90}]}}"#,
    ),
    (
        "crossed-35",
        r#"{"camera": {"focal_mm": 35, "stop": 2.8}, "rig": {
            "stages": [{"glass": "grad-nd", "options": {"edge": "hard"}},
                {"glass": "grad-nd", "options": {"edge": "hard"}, "turn_deg": 70}]}}"#,
    ),
    (
        "crossed-85",
        r#"{"camera": {"focal_mm": 85, "stop": 2}, "rig": {
            "stages": [{"glass": "grad-nd", "options": {"edge": "hard"}},
                {"glass": "grad-nd", "options": {"edge": "hard"}, "turn_deg": 70}]}}"#,
    ),
];

/// Lowering and fitting a rig whose field has two directions.
#[divan::bench(args = FIELDS.map(|(name, _)| name), sample_count = 3, sample_size = 1)]
fn field(bencher: Bencher<'_, '_>, which: &str) {
    let rig = FIELDS.iter().find(|(name, _)| *name == which);
    let rig = rig.map_or("{}", |(_, rig)| *rig);
    let text = format!(
        r#"{{"format": "foreglass.recipe", "version": 1, {}"#,
        &rig[1..]
    );
    let setup = Recipe::parse(&text)
        .expect("a recipe")
        .setup()
        .expect("a rig");
    bencher.bench_local(|| engine::plan(&setup, 1920, 1080));
}

/// Glass that has a direction, by its recipe.
const ORIENTED: [(&str, &str); 2] = [
    (
        "star",
        r#"{"glass": "star", "turn_deg": 17, "options": {"points": 8}}"#,
    ),
    (
        "net",
        r#"{"glass": "net-dark", "strength": "2", "turn_deg": 17}"#,
    ),
];

fn response(which: &str) -> Response {
    let glass = ORIENTED.iter().find(|(name, _)| *name == which);
    let glass = glass.map_or("null", |(_, glass)| *glass);
    let text = format!(
        r#"{{"format": "foreglass.recipe", "version": 1, "rig": {{"stages": [{glass}, null, null]}}}}"#
    );
    let setup = Recipe::parse(&text)
        .expect("a recipe")
        .setup()
        .expect("a rig");
    let glass = &setup.glass[0];
    let scatter = glass.piece.law().scatter.clone().expect("it scatters");
    Response::of(&[scatter.turned(glass.turn)])
}

#[divan::bench(args = ["star", "net"], consts = [false, true], sample_count = 7, sample_size = 1)]
fn oriented<const ANEW: bool>(bencher: Bencher<'_, '_>, which: &str) {
    let response = response(which);
    let params = oriented::Params {
        response: &response,
        per_pixel: 1920.0 * 50.0 / 24.89,
        border: scatter::Border::Mirror,
        whole: true,
    };
    let (mut frame, watch) = (frame(SIZES[0]), Watch::default());
    let mut scratch = oriented::Scratch::default();
    oriented::cpu(&mut frame, &params, &mut scratch, &watch).expect("not cancelled");
    bencher.bench_local(|| {
        if ANEW {
            scratch = oriented::Scratch::default();
        }
        oriented::cpu(&mut frame, &params, &mut scratch, &watch)
    });
}
