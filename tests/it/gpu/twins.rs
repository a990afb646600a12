//! Twins: a kernel on the processor and its shader, at every pixel of every frame.

use super::{apart, executor, frames, on_cpu, on_gpu, plan_of, say, view};
use foreglass::colour::Matrix3;
use foreglass::gpu::TOLERANCE;
use foreglass::optics::field::View;
use foreglass::plan::Pass;

/// Holds the twins of `passes` together on every frame and on a real one, within `tolerance`.
fn hold(words: &str, tolerance: f64, passes: impl Fn(View) -> Vec<Pass>) {
    let Some(executor) = executor() else {
        return;
    };
    let mut worst = 0.0_f64;
    for (name, frame) in frames() {
        let view = view(frame.width(), frame.height());
        let plan = plan_of(passes(view), view);
        let (off, place) = apart(&on_gpu(executor, &plan, &frame), &on_cpu(&plan, &frame));
        assert!(off <= tolerance, "{words}, {name}: {off:.2e}, {place}");
        worst = worst.max(off);
    }
    say(&format!("{words}: {worst:.1e}"));
}

/// Rounding, at most one more where a driver fuses a product and a sum and another does not: where a
/// matrix takes one channel from another, what is left is small beside both.
#[test]
fn uniform_colour() {
    // A conversion's size of numbers, with a negative one.
    let rows = [[0.9, 0.15, -0.05], [0.02, 1.1, 0.01], [-0.01, 0.03, 0.4]];
    hold("a matrix", 1e-5, |_| {
        vec![Pass::Matrix(Matrix3::from_rows(rows))]
    });
    hold("a gain", 1e-6, |_| vec![Pass::Gain(0.37)]);
}

#[test]
fn light_added() {
    hold("a lift", 1e-6, |_| vec![Pass::Lift([0.01, 0.002, 3.0])]);
}

/// The tolerance of the design, for all of it.
#[test]
fn the_stated_tolerance_is_the_designs() {
    assert!((TOLERANCE - 2e-3).abs() < 1e-12, "2e-3");
}
