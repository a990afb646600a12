//! What has a limit rather than a peer: one line of JSON each.
//!
//! `cold`: a first scatter, its buffers asked for and its filters designed, against one that finds both; how much memory it
//! takes beside the frame. `error`: the look on the processor against the exact one, its worst pixel over the
//! larger of the exact light and 1/256 of key, and the bytes that its passes move over the floor. `cancel`: from the call to the end of
//! the work, at moments spread over a whole look. `slider`: from a change of strength to the picture ready to be shown, as
//! the window's session makes it, and what is kept for the next. `drag`: pictures that are seen while every drawing brings
//! another strength. `screen`: the window's own code and its tessellation,
//! frame by frame while a strength moves.
//!
//! Words choose among them; without any all are measured.

use foreglass::cpu::{self, Scratch};
use foreglass::engine::{Choice, Engine};
use foreglass::frame::Frame;
use foreglass::glass::strength::Strength;
use foreglass::kernels::scatter;
use foreglass::optics::mixture::{Gaussian, Mixture};
use foreglass::plan::{Pass, Plan};
use foreglass::recipe::Recipe;
use foreglass::reference;
use foreglass::session::{Session, edit};
use foreglass::watch::Watch;
use std::sync::mpsc::sync_channel;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

const SIZES: [[usize; 2]; 4] = [[1920, 1080], [4243, 2828], [6000, 4000], [8191, 5461]];

/// The largest that the exact executor is asked for: it works in double precision on transforms.
const EXACT: usize = 2;

const LOOK: &str = r#"{"format": "foreglass.recipe", "version": 1, "rig": {"stages": [
    {"glass": "dark-mist", "strength": "1/2"},
    {"glass": "pale-mist", "strength": "1/4"},
    {"glass": "grad-nd", "options": {"edge": "hard"}, "slide_mm": 4}],
    "rings": [{"glass": "balance", "options": {"series": "85"}, "thread_mm": 95}]}}"#;

fn main() {
    let asked: Vec<String> = std::env::args()
        .skip(1)
        .filter(|a| !a.starts_with('-'))
        .collect();
    let all: [(&str, fn()); 6] = [
        ("cold", cold),
        ("error", error),
        ("cancel", cancel),
        ("slider", slider),
        ("drag", drag),
        ("screen", screen),
    ];
    for (name, measure) in all {
        if asked.is_empty() || asked.iter().any(|a| a == name) {
            measure();
        }
    }
}

#[expect(clippy::print_stdout, reason = "what is measured is what it prints")]
fn say(line: &str) {
    println!("{line}");
}

/// Even light with a pattern on it and some lamps: no zeros, no denormals.
fn frame([width, height]: [usize; 2]) -> Frame {
    let plane = |c: usize| {
        let level = |i: usize| 0.05 + ((i * 2_654_435_761 + c) % 1021) as f32 / 1021.0;
        let mut plane: Vec<f32> = (0..width * height).map(level).collect();
        for lamp in 1..20 {
            plane[(lamp * 7_919_311 + c) % (width * height)] = 180.0;
        }
        plane
    };
    Frame::from_planes(width, height, std::array::from_fn(plane))
}

fn plan(size: [usize; 2]) -> Plan {
    let recipe = Recipe::parse(LOOK).expect("a recipe");
    foreglass::engine::plan(&recipe.setup().expect("a rig"), size[0], size[1])
}

fn millis(time: Duration) -> f64 {
    time.as_secs_f64() * 1e3
}

fn timed(work: impl FnOnce()) -> f64 {
    let began = Instant::now();
    work();
    millis(began.elapsed())
}

/// A part of the way through the sorted values.
fn at(values: &mut [f64], part: f64) -> f64 {
    values.sort_by(f64::total_cmp);
    values[((values.len() - 1) as f64 * part).round() as usize]
}

fn megapixels([width, height]: [usize; 2]) -> f64 {
    (width * height) as f64 / 1e6
}

/// The five Gaussians of `benches/light.rs`.
fn five(width: usize) -> scatter::Params {
    let sigma = |i: i32| width as f64 / 3000.0 * 200_f64.powf(f64::from(i) / 4.0);
    let gaussians = (0..5).map(|i| Gaussian {
        weight: 0.09,
        sigma: sigma(i),
    });
    let mixture = Mixture {
        direct: 0.5,
        gaussians: gaussians.collect(),
        veil: 0.0,
    };
    scatter::Params {
        channels: std::array::from_fn(|_| mixture.clone()),
        border: scatter::Border::Mirror,
    }
}

fn cold() {
    for size in SIZES {
        let (mut light, params, watch) = (frame(size), five(size[0]), Watch::default());
        let mut run = |scratch: &mut scatter::Scratch| {
            timed(|| scatter::cpu(&mut light, &params, scratch, &watch).expect("not cancelled"))
        };
        let mut kept = scatter::Scratch::default();
        let _first = run(&mut kept);
        // In turn, so that a busy machine is busy for both.
        let (mut cold, mut warm) = (Vec::new(), Vec::new());
        for _ in 0..7 {
            cold.push(run(&mut scatter::Scratch::default()));
            warm.push(run(&mut kept));
        }
        let bytes = (12 * size[0] * size[1]) as f64;
        let (cold, warm) = (at(&mut cold, 0.0), at(&mut warm, 0.0));
        say(&format!(
            r#"{{"bench":"cold","mp":{:.1},"cold_ms":{cold:.1},"warm_ms":{warm:.1},"ratio":{:.2},"scratch_frames":{:.2}}}"#,
            megapixels(size),
            cold / warm,
            kept.bytes() as f64 / bytes
        ));
    }
}

fn error() {
    for size in SIZES.into_iter().take(EXACT) {
        let (bare, plan, watch) = (frame(size), plan(size), Watch::default());
        let exact = reference::execute(&plan, &bare, &watch).expect("not cancelled");
        let mut made = bare.clone();
        cpu::execute(&plan, &mut made, &mut Scratch::default(), &watch).expect("not cancelled");
        let mut worst = 0.0_f32;
        for (exact, made) in exact.planes().iter().zip(made.planes()) {
            for (e, m) in exact.iter().zip(made) {
                worst = worst.max((m - e).abs() / e.abs().max(Frame::KEY / 256.0));
            }
        }
        error_row(size, Some(worst), &plan);
    }
    for size in SIZES.into_iter().skip(EXACT) {
        error_row(size, None, &plan(size));
    }
}

fn error_row(size: [usize; 2], worst: Option<f32>, plan: &Plan) {
    let worst = worst.map_or_else(|| "null".to_owned(), |e| format!("{e:.1e}"));
    say(&format!(
        r#"{{"bench":"error","mp":{:.1},"worst":{worst},"over_floor":{:.1}}}"#,
        megapixels(size),
        frames_moved(plan) / 2.0
    ));
}

/// Frames that a plan's passes read from memory and write to it, where a frame does not fit the caches. The floor is two:
/// one read, one written.
fn frames_moved(plan: &Plan) -> f64 {
    // A pyramid is a frame and a third.
    let levels = 4.0 / 3.0;
    let moved = plan.passes.iter().map(|pass| match pass {
        // Down: every level but the last read, every one but the first written. Up: every level read with the finished
        // coarser one under it, and written.
        Pass::Scatter(_) => levels + (levels - 1.0) + levels + (levels - 1.0) + levels,
        Pass::Matrix(_) | Pass::Field(_) | Pass::Sky(_) | Pass::Lift(_) | Pass::Gain(_) => 2.0,
    });
    moved.sum()
}

fn cancel() {
    let size = SIZES[3];
    let (plan, bare) = (plan(size), frame(size));
    let mut scratch = Scratch::default();
    let mut light = bare.clone();
    let whole = timed(|| {
        cpu::execute(&plan, &mut light, &mut scratch, &Watch::default()).expect("not cancelled");
    });
    let mut times = Vec::new();
    for k in 1..=20 {
        let watch = Watch::default();
        let theirs = watch.clone();
        let wait = Duration::from_secs_f64(whole / 1e3 * f64::from(k) / 22.0);
        let (light, scratch, plan) = (&mut light, &mut scratch, &plan);
        let (called, ended) = std::thread::scope(|scope| {
            let worker = scope.spawn(move || {
                let done = cpu::execute(plan, light, scratch, &theirs);
                (done.is_err(), Instant::now())
            });
            std::thread::sleep(wait);
            let called = Instant::now();
            watch.cancel();
            (called, worker.join().expect("no panic"))
        });
        if ended.0 {
            times.push(millis(ended.1.saturating_duration_since(called)));
        }
    }
    let (median, most) = (at(&mut times, 0.5), at(&mut times, 1.0));
    say(&format!(
        r#"{{"bench":"cancel","mp":{:.1},"whole_ms":{whole:.0},"times":{},"median_ms":{median:.1},"most_ms":{most:.1}}}"#,
        megapixels(size),
        times.len()
    ));
}

/// A session on a picture of 2 MP with the look, and a bell that its threads ring.
fn session() -> (Session, tempfile::TempDir, impl Fn()) {
    let (ring, rung) = sync_channel(1);
    let rung = Mutex::new(rung);
    let mut session = Session::new(Arc::new(move || {
        // One ring is enough.
        let _rung_already = ring.try_send(());
    }));
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("quay.tif");
    let output = foreglass::frame::Output::for_kind(foreglass::frame::Kind::Tiff);
    foreglass::frame::write(&path, &frame(SIZES[0]), &output, &Watch::default()).expect("a file");
    session.open_still(&path);
    session.finish_reading().expect("a still");
    let look = Recipe::parse(LOOK).expect("a recipe");
    session.change("Look", None, |r| {
        r.rig = look.rig.clone();
        Ok(())
    });
    let wait = move || drop(rung.lock().map(|r| r.recv_timeout(Duration::from_secs(5))));
    (session, folder, wait)
}

fn turn_up(session: &mut Session, strength: &str) {
    let strength: Strength = strength.parse().expect("a strength");
    session.change("Strength", None, |r| {
        edit::set_strength(r, foreglass::rig::Place::Stage(1), strength)
    });
}

fn settle(session: &mut Session, wait: &impl Fn()) {
    session.poll();
    while session.is_rendering() {
        wait();
        session.poll();
    }
}

const STRENGTHS: [&str; 8] = ["1/8", "1/4", "1/2", "1", "2", "3", "4", "5"];

/// Milliseconds from the change of a strength to the picture's light, and to the codes that are looked at.
fn changed(session: &mut Session, wait: &impl Fn(), strength: &str) -> (f64, f64) {
    // The figures of the last look come after its picture, and are not waited for.
    std::thread::sleep(Duration::from_millis(40));
    let began = Instant::now();
    turn_up(session, strength);
    settle(session, wait);
    let codes = millis(began.elapsed());
    let lit = session.ran().expect("a picture").lit;
    (millis(lit.saturating_duration_since(began)), codes)
}

fn slider() {
    let (mut session, _folder, wait) = session();
    settle(&mut session, &wait);
    // The picture at its own size, and as a small window shows it; strengths are visited for the first time once.
    for (across, visits) in [(SIZES[0][0], &["first", "again"][..]), (600, &["again"])] {
        session.look_at([Some(across as f32); 2]);
        for visit in visits {
            let strengths: Vec<&str> = match *visit {
                "first" => STRENGTHS.to_vec(),
                _ => (0..40).map(|k| STRENGTHS[(3 * k + 1) % 8]).collect(),
            };
            let runs = strengths.iter().map(|s| changed(&mut session, &wait, s));
            let (mut light, mut codes): (Vec<f64>, Vec<f64>) = runs.unzip();
            say(&format!(
                r#"{{"bench":"slider","mp":{:.1},"across":{across},"visit":"{visit}","light_ms":{:.1},"codes_ms":{:.1},"codes_p90_ms":{:.1}}}"#,
                megapixels(SIZES[0]),
                at(&mut light, 0.5),
                at(&mut codes, 0.5),
                at(&mut codes, 0.9)
            ));
        }
    }
    // The light alone, without the codes for the screen.
    let recipe = |strength: &str| Recipe::parse(&LOOK.replace("\"1/2\"", &format!("{strength:?}")));
    let setups = STRENGTHS.map(|s| recipe(s).expect("a recipe").setup().expect("a rig"));
    let (engine, light) = (Engine::default(), Arc::new(frame(SIZES[0])));
    let view = setups[0].view(1080.0 / 1920.0);
    let mut last = foreglass::engine::plan_over(&setups[0], view);
    let mut plans = Vec::new();
    let mut times: Vec<f64> = (0..48)
        .map(|k| {
            plans.push(timed(|| {
                last = foreglass::engine::plan_after(&setups[(3 * k + 1) % 8], view, &last);
            }));
            timed(|| {
                let made = engine.preview(&light, &last, Choice::Cpu, &Watch::default());
                if let Ok(foreglass::engine::Preview::Here(picture)) = made {
                    engine.recycle(picture);
                }
            })
        })
        .collect();
    say(&format!(
        r#"{{"bench":"strength","mp":{:.1},"plan_ms":{:.1},"light_ms":{:.1},"kept_frames":{:.2}}}"#,
        megapixels(SIZES[0]),
        at(&mut plans, 0.5),
        at(&mut times, 0.5),
        engine.kept_bytes() as f64 / (12 * SIZES[0][0] * SIZES[0][1]) as f64
    ));
}

/// A hand that gives another strength at every drawing, however long a picture takes: how many are seen.
fn drag() {
    let (mut session, _folder, wait) = session();
    settle(&mut session, &wait);
    STRENGTHS.iter().for_each(|strength| {
        turn_up(&mut session, strength);
        settle(&mut session, &wait);
    });
    for every in [16, 8] {
        let (mut seen, mut last) = (0, session.glass().map(Arc::as_ptr));
        const ORDERS: usize = 120;
        for k in 0..ORDERS {
            let began = Instant::now();
            session.poll();
            let glass = session.glass().map(Arc::as_ptr);
            seen += usize::from(glass != last);
            last = glass;
            turn_up(&mut session, STRENGTHS[(3 * k + 1) % 8]);
            std::thread::sleep(Duration::from_millis(every).saturating_sub(began.elapsed()));
        }
        settle(&mut session, &wait);
        say(&format!(
            r#"{{"bench":"drag","mp":{:.1},"every_ms":{every},"orders":{ORDERS},"pictures_a_second":{:.0}}}"#,
            megapixels(SIZES[0]),
            seen as f64 * 1e3 / (every as usize * ORDERS) as f64
        ));
    }
}

#[cfg(not(feature = "window"))]
fn screen() {}

#[cfg(feature = "window")]
fn screen() {
    use egui_kittest::Harness;
    use egui_kittest::kittest::Queryable as _;
    use foreglass::app::Window;
    let (mut first, _folder, wait) = session();
    settle(&mut first, &wait);
    let mut harness = Harness::builder()
        .with_size(egui::vec2(1280.0, 800.0))
        .with_max_steps(1)
        .build_eframe(move |cc| Window::new(&cc.egui_ctx, first, false));
    harness.step();
    harness.get_by_label_contains("Stage 1: ").click();
    for _ in 0..200 {
        harness.step();
        std::thread::sleep(Duration::from_millis(5));
    }
    // One event a frame: the harness would draw a frame for each that waits and tell of them as one.
    let mut times = Vec::new();
    let mut frame = |harness: &mut Harness<'_, Window>, event: egui::Event| {
        harness.event(event);
        let began = Instant::now();
        harness.step();
        let worked = began.elapsed();
        let shapes = harness.output().shapes.clone();
        let began = Instant::now();
        let _meshes = harness.ctx.tessellate(shapes, 1.0);
        times.push(millis(worked + began.elapsed()));
        std::thread::sleep(Duration::from_millis(12));
    };
    let mut clicks = 0;
    for k in 0..800 {
        // Another strength every tenth of a second, the pointer on its way over the picture in between.
        let strength = STRENGTHS[(3 * (k / 8) + 1) % 8];
        let rung = harness
            .query_all_by_label(&format!("Strength {strength}"))
            .next()
            .map(|rung| rung.rect().center());
        match rung {
            Some(pos) if k % 8 == 0 => {
                clicks += 1;
                frame(&mut harness, egui::Event::PointerMoved(pos));
                for pressed in [true, false] {
                    let press = egui::Event::PointerButton {
                        pos,
                        button: egui::PointerButton::Primary,
                        pressed,
                        modifiers: egui::Modifiers::default(),
                    };
                    frame(&mut harness, press);
                }
            }
            _ => {
                let pos = egui::pos2(380.0 + (k % 200) as f32, 300.0);
                frame(&mut harness, egui::Event::PointerMoved(pos));
            }
        }
    }
    let (median, p99) = (at(&mut times, 0.5), at(&mut times, 0.99));
    assert!(clicks > 50, "strengths that could be clicked: {clicks}");
    say(&format!(
        r#"{{"bench":"screen","frames":{},"median_ms":{median:.2},"p99_ms":{p99:.2}}}"#,
        times.len()
    ));
}
