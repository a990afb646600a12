//! Graphics hardware against the processor, kernel by kernel and pixel by pixel; and what happens where there
//! is none.

mod again;
mod device;
mod directed;
mod pieces;
mod shaders;
mod shown;
mod twins;

use foreglass::cpu;
use foreglass::engine::Watch;
use foreglass::frame::Frame;
use foreglass::gpu::{self, Executor, GpuError};
use foreglass::optics::field::View;
use foreglass::plan::{Pass, Plan};
use std::sync::LazyLock;

/// The machine's adapter, software too; None, with a word about it, where there is none, unless
/// `FOREGLASS_REQUIRE_GPU` is 1.
pub(crate) fn executor() -> Option<&'static Executor> {
    static FOUND: LazyLock<Option<Executor>> = LazyLock::new(|| match gpu::find() {
        Ok(executor) => {
            say(&format!("graphics: {}", executor.name()));
            Some(executor)
        }
        Err(reason) => {
            let required = std::env::var("FOREGLASS_REQUIRE_GPU").is_ok_and(|v| v == "1");
            assert!(!required, "{reason}");
            None
        }
    });
    if FOUND.is_none() {
        say("skipped: no graphics adapter");
    }
    FOUND.as_ref()
}

#[expect(
    clippy::print_stdout,
    reason = "what a test skips or measures is shown with it"
)]
pub(crate) fn say(words: &str) {
    println!("{words}");
}

/// A lens of 50 mm on a sensor 24 mm wide.
pub(crate) fn view(width: usize, height: usize) -> View {
    View {
        focal_mm: 50.0,
        width_mm: 24.0,
        height_mm: 24.0 * height as f64 / width as f64,
    }
}

/// A fitted plan of these passes.
pub(crate) fn plan_of(passes: Vec<Pass>, view: View) -> Plan {
    Plan { passes, view }.fit()
}

pub(crate) fn on_cpu(plan: &Plan, frame: &Frame) -> Frame {
    let mut out = frame.clone();
    cpu::execute(
        plan,
        &mut out,
        &mut cpu::Scratch::default(),
        &Watch::default(),
    )
    .expect("nobody cancels");
    out
}

pub(crate) fn on_gpu(executor: &Executor, plan: &Plan, frame: &Frame) -> Frame {
    let mut out = frame.clone();
    executor
        .execute(plan, &mut out, &Watch::default())
        .expect("a picture");
    out
}

/// Greatest `|gpu − cpu| / max(|cpu|, 0.18/256)` and where it is; what is not finite differs without end.
pub(crate) fn apart(gpu: &Frame, cpu: &Frame) -> (f64, String) {
    assert_eq!(
        (gpu.width(), gpu.height()),
        (cpu.width(), cpu.height()),
        "sizes"
    );
    let mut worst = (0.0, String::new());
    for c in 0..3 {
        for (i, (a, b)) in gpu.planes()[c].iter().zip(&cpu.planes()[c]).enumerate() {
            let (a, b) = (f64::from(*a), f64::from(*b));
            let off = (a - b).abs() / b.abs().max(0.18 / 256.0);
            if !off.is_finite() || off > worst.0 {
                let (x, y) = (i % cpu.width(), i / cpu.width());
                let off = if off.is_finite() { off } else { f64::INFINITY };
                worst = (off, format!("channel {c} at {x}, {y}: {a} for {b}"));
            }
        }
    }
    worst
}

/// Frames that find faults: their names, and they.
pub(crate) fn frames() -> Vec<(&'static str, Frame)> {
    let of = |w: usize, h: usize, light: &dyn Fn(usize, usize, usize) -> f32| {
        let plane = |c: usize| {
            (0..w * h)
                .map(|i| light(i % w, i / w, c))
                .collect::<Vec<_>>()
        };
        Frame::from_planes(w, h, [plane(0), plane(1), plane(2)])
    };
    let tint = [1.0, 0.7, 0.4];
    vec![
        ("one pixel", of(1, 1, &|_, _, c| 0.18 * tint[c])),
        (
            "17×3",
            of(17, 3, &|x, y, c| {
                tint[c] * (0.01 + 0.02 * (x + 7 * y) as f32)
            }),
        ),
        (
            // Working light is negative where a colour lies outside its primaries.
            "a ramp with negatives and highlights",
            of(131, 77, &|x, y, c| {
                let t = x as f32 / 130.0;
                let highlight = if y > 60 { 1e6 * t.powi(8) } else { 0.0 };
                tint[c] * (2.0 * t - 0.1 * (c as f32) + highlight)
            }),
        ),
        (
            "impulses of up to a million",
            of(150, 97, &|x, y, c| match (x, y) {
                (40, 33) => 1e6 * tint[c],
                (149, 96) | (0, 0) => 5e3 * tint[c],
                (75, 0) => 180.0,
                _ => 0.002,
            }),
        ),
        (
            "edges",
            of(201, 133, &|x, y, c| {
                tint[c]
                    * if (x / 40 + y / 31) % 2 == 0 {
                        0.9
                    } else {
                        0.01
                    }
            }),
        ),
        ("a sample frame", crate::plan::scene(160, 90, 1000.0)),
    ]
}

/// Holds that work which is cancelled under way stops there and leaves the frame alone.
fn stops(executor: &Executor, plan: &Plan, frame: &Frame) {
    let watch = Watch::default();
    std::thread::scope(|scope| {
        let other = watch.clone();
        scope.spawn(move || {
            while other.progress() <= 0.0 {
                std::thread::yield_now();
            }
            other.cancel();
        });
        let mut out = frame.clone();
        let done = executor.execute(plan, &mut out, &watch);
        assert!(matches!(done, Err(GpuError::Cancelled(_))), "{done:?}");
        assert!(out == *frame, "the frame is as it was");
    });
    let progress = watch.progress();
    assert!(progress > 0.0 && progress < 1.0, "stopped at {progress}");
}
