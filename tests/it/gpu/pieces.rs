//! Pictures in pieces: what does not fit a binding is the same without a seam, and work can be stopped on the
//! way.

use super::{executor, plan_of, stops, view};
use crate::plan::{scene, setup};
use foreglass::engine::{self, Watch};
use foreglass::gpu;
use foreglass::plan::{Pass, Plan};
use serde_json::json;

fn look(width: usize, height: usize) -> Plan {
    let setup = setup(&[
        (
            "/rig/stages/0",
            json!({"glass": "dark-mist", "strength": "1"}),
        ),
        (
            "/rig/stages/1",
            json!({"glass": "grad-nd", "options": {"edge": "soft"}, "turn_deg": 20}),
        ),
        ("/rig/stages/2", json!({"glass": "fog", "strength": "1/2"})),
    ]);
    engine::plan(&setup, width, height)
}

/// A few rows at a time, against all at once: to the bit, because every sample is made by the same sums.
#[test]
fn pieces_have_no_seam() {
    let Some(whole) = executor() else {
        return;
    };
    let (frame, watch) = (scene(333, 217, 1000.0), Watch::default());
    let plan = look(333, 217);
    let render = |executor: &gpu::Executor| {
        let mut out = frame.clone();
        executor
            .execute(&plan, &mut out, &watch)
            .expect("a picture");
        out
    };
    let expected = render(whole);
    // Rows of 384 samples in three channels: 113, 56 and 2 of them, where no fewer must go together.
    for bytes in [1 << 19, 1 << 18, 11_000] {
        let executor = gpu::find()
            .expect("it was there before")
            .in_pieces_of(bytes);
        assert!(render(&executor) == expected, "in pieces of {bytes} bytes");
    }
    assert!((watch.progress() - 1.0).abs() < 1e-6, "all is done");
}

/// Whoever waits sees progress and can stop the work long before its end.
#[test]
fn work_stops_on_the_way() {
    let Some(_) = executor() else {
        return;
    };
    // In pieces so small that the end is far.
    let executor = gpu::find()
        .expect("it was there before")
        .in_pieces_of(1 << 16);
    let passes = (0..200).map(|_| Pass::Gain(1.0)).collect();
    let plan = plan_of(passes, view(1500, 1000));
    stops(&executor, &plan, &scene(1500, 1000, 10.0));
}
