//! The executor for graphics hardware: one line of JSON for each size of picture.
//!
//! `look_ms`: the device's own time for a whole look (two diffusers, a conversion, a grad) of a frame that lies
//! there already. `strength_ms`: the same with another strength of the scatter, of which only what changed is done
//! again. `bytes` are what all dispatches read and write; the floor is the frame read once and written once.
//! `copy_gb_s` is what the device's own copy moves, read and written, in the same run; `copy_share` what the look
//! moves of that. `worst` is the greatest difference from the processor's picture, over the larger of that picture's
//! light and 1/256 of key. `one_shot_ms` is by the clock on the wall, with upload and read-back.
//!
//! Sizes such as `640x360` may be given; without them 2, 8, 24, 45 and 100 megapixels are taken, and two small ones
//! where the adapter is software. Where the device tells no time, its times are null.

use foreglass::cpu;
use foreglass::engine;
use foreglass::frame::Frame;
use foreglass::gpu::{Executor, Usage};
use foreglass::plan::{Pass, Plan};
use foreglass::recipe::Recipe;
use foreglass::watch::Watch;
use std::time::{Duration, Instant};

const SIZES: [[usize; 2]; 5] = [
    [1920, 1080],
    [3840, 2160],
    [6000, 4000],
    [8191, 5461],
    [11648, 8736],
];

const SMALL: [[usize; 2]; 2] = [[512, 288], [333, 217]];

/// Renders of which the median is taken.
const TIMES: usize = 31;

/// Hardware that has idled runs at a fraction of its clock: it is kept busy for so long before it is measured.
const WARM: Duration = Duration::from_millis(1500);

/// Bytes that are copied to find out how fast that is.
const COPIED: u64 = 1 << 30;

fn main() {
    let Some((device, queue)) = opened() else {
        return say("{\"bench\":\"gpu\",\"adapter\":null}");
    };
    let copy = copy_speed(&device, &queue);
    let executor = Executor::from_device(device, queue).expect("an executor");
    let executor = executor.timed();
    let asked: Vec<[usize; 2]> = std::env::args().filter_map(|arg| size(&arg)).collect();
    let sizes = match (asked.is_empty(), executor.is_software()) {
        (false, _) => asked.as_slice(),
        (true, false) => &SIZES,
        (true, true) => &SMALL,
    };
    for size in sizes {
        row(&executor, copy, *size);
    }
}

#[expect(clippy::print_stdout, reason = "what is measured is what it prints")]
fn say(line: &str) {
    println!("{line}");
}

fn size(arg: &str) -> Option<[usize; 2]> {
    let (width, height) = arg.split_once('x')?;
    Some([width.parse().ok()?, height.parse().ok()?])
}

/// A device that tells its time where it can.
fn opened() -> Option<(wgpu::Device, wgpu::Queue)> {
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor {
        backends: wgpu::Backends::PRIMARY,
        flags: wgpu::InstanceFlags::empty(),
        ..wgpu::InstanceDescriptor::new_without_display_handle()
    });
    let adapter = pollster::block_on(instance.request_adapter(&wgpu::RequestAdapterOptions {
        power_preference: wgpu::PowerPreference::HighPerformance,
        ..wgpu::RequestAdapterOptions::default()
    }));
    let adapter = adapter.ok()?;
    let times = wgpu::Features::TIMESTAMP_QUERY | wgpu::Features::TIMESTAMP_QUERY_INSIDE_ENCODERS;
    let wanted = wgpu::DeviceDescriptor {
        required_limits: adapter.limits(),
        required_features: adapter.features() & times,
        ..wgpu::DeviceDescriptor::default()
    };
    pollster::block_on(adapter.request_device(&wanted)).ok()
}

/// Bytes a second, read and written, of the device's own copy: the best of some.
fn copy_speed(device: &wgpu::Device, queue: &wgpu::Queue) -> Option<f64> {
    let inside = wgpu::Features::TIMESTAMP_QUERY_INSIDE_ENCODERS;
    let software = device.adapter_info().device_type == wgpu::DeviceType::Cpu;
    if software || !device.features().contains(inside) {
        return None;
    }
    let size = COPIED.min(device.limits().max_buffer_size);
    let buffer = |size: u64, usage: wgpu::BufferUsages| {
        device.create_buffer(&wgpu::BufferDescriptor {
            label: None,
            size,
            usage,
            mapped_at_creation: false,
        })
    };
    let both = wgpu::BufferUsages::COPY_SRC | wgpu::BufferUsages::COPY_DST;
    let (from, to) = (buffer(size, both), buffer(size, both));
    let set = device.create_query_set(&wgpu::QuerySetDescriptor {
        label: None,
        ty: wgpu::QueryType::Timestamp,
        count: 2,
    });
    let resolved = buffer(
        16,
        wgpu::BufferUsages::QUERY_RESOLVE | wgpu::BufferUsages::COPY_SRC,
    );
    let read = buffer(
        16,
        wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
    );
    let (mut best, start) = (f64::INFINITY, Instant::now());
    while start.elapsed() < WARM {
        let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
        encoder.write_timestamp(&set, 0);
        encoder.copy_buffer_to_buffer(&from, 0, &to, 0, size);
        encoder.write_timestamp(&set, 1);
        encoder.resolve_query_set(&set, 0..2, &resolved, 0);
        encoder.copy_buffer_to_buffer(&resolved, 0, &read, 0, 16);
        let _done = queue.submit([encoder.finish()]);
        read.map_async(wgpu::MapMode::Read, .., |mapped| mapped.expect("it maps"));
        let _status = device
            .poll(wgpu::PollType::wait_indefinitely())
            .expect("it is done");
        let ticks: Vec<u64> = {
            let bytes = read.get_mapped_range(..).expect("mapped");
            bytemuck::pod_collect_to_vec(&bytes)
        };
        read.unmap();
        let seconds = (ticks[1] - ticks[0]) as f64 * f64::from(queue.get_timestamp_period()) * 1e-9;
        best = best.min(seconds);
    }
    Some(2.0 * size as f64 / best)
}

/// A look with the first diffuser so strong.
fn look(strength: &str, [width, height]: [usize; 2]) -> Plan {
    let text = format!(
        r#"{{"format": "foreglass.recipe", "version": 1, "rig": {{"stages": [
        {{"glass": "dark-mist", "strength": "{strength}"}},
        {{"glass": "pale-mist", "strength": "1/4"}},
        {{"glass": "grad-nd", "options": {{"edge": "hard"}}, "slide_mm": 4}}],
        "rings": [{{"glass": "balance", "options": {{"series": "85"}}, "thread_mm": 95}}]}}}}"#
    );
    let setup = Recipe::parse(&text).expect("a recipe").setup();
    engine::plan(&setup.expect("a rig"), width, height)
}

/// The same look, its scatter taken from one of another strength.
fn stronger(plan: &Plan, size: [usize; 2]) -> Plan {
    let other = look("1", size);
    let scatter = other.passes.iter().find(|p| matches!(p, Pass::Scatter(_)));
    let mut changed = plan.clone();
    for pass in &mut changed.passes {
        if let (Pass::Scatter(_), Some(scatter)) = (&*pass, scatter) {
            *pass = scatter.clone();
        }
    }
    changed
}

/// Even light with a pattern on it, and a lamp of a million.
fn frame([width, height]: [usize; 2]) -> Frame {
    let plane = |c: usize| {
        let level = |i: usize| 0.05 + ((i * 2_654_435_761 + c) % 1021) as f32 / 1021.0;
        let mut plane: Vec<f32> = (0..width * height).map(level).collect();
        plane[width * (height / 3) + width / 2] = 1e6;
        plane
    };
    Frame::from_planes(width, height, std::array::from_fn(plane))
}

fn median(mut values: Vec<f64>) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// A number with as many places, or null.
fn told(value: Option<f64>, places: usize) -> String {
    value.map_or_else(|| "null".to_owned(), |v| format!("{v:.places$}"))
}

/// Renders of one kind: the device's milliseconds and the wall's, and what was asked of the device.
struct Measured {
    device_ms: Option<f64>,
    wall_ms: f64,
    usage: Usage,
}

fn measured(executor: &Executor, mut render: impl FnMut(usize)) -> Measured {
    let times = if executor.is_software() { 3 } else { TIMES };
    let (mut device, mut wall) = (Vec::new(), Vec::new());
    // The first ones make pipelines and buffers, and bring the clock up.
    let begun = Instant::now();
    let mut before = 0;
    while before < 2 || (!executor.is_software() && begun.elapsed() < WARM / 3) {
        render(before);
        before += 1;
    }
    for i in before..before + times {
        let start = Instant::now();
        render(i);
        wall.push(start.elapsed().as_secs_f64() * 1e3);
        device.extend(executor.usage().seconds.map(|s| s * 1e3));
    }
    Measured {
        device_ms: (!device.is_empty()).then(|| median(device)),
        wall_ms: median(wall),
        usage: executor.usage(),
    }
}

fn row(executor: &Executor, copy: Option<f64>, size: [usize; 2]) {
    let (frame, watch) = (frame(size), Watch::default());
    let plan = look("1/2", size);
    let plans = [plan.clone(), stronger(&plan, size)];
    let source = executor.upload(&frame, &watch).expect("room for a frame");
    let whole = measured(executor, |_| {
        source.forget();
        let _picture = executor
            .render_from(&source, &plan, &watch)
            .expect("a picture");
    });
    let strength = measured(executor, |i| {
        let plan = &plans[i % 2];
        let _picture = executor
            .render_from(&source, plan, &watch)
            .expect("a picture");
    });
    let held = source.bytes();
    drop(source);
    let mut out = frame.clone();
    let mut shots = Vec::new();
    for _ in 0..4 {
        out.clone_from(&frame);
        let start = Instant::now();
        executor
            .execute(&plan, &mut out, &watch)
            .expect("a picture");
        shots.push(start.elapsed().as_secs_f64() * 1e3);
    }
    let mut expected = frame;
    let mut scratch = cpu::Scratch::default();
    cpu::execute(&plan, &mut expected, &mut scratch, &watch).expect("not cancelled");
    let floor = (2 * 3 * size_of::<f32>() * size[0] * size[1]) as f64;
    let rate = |m: &Measured| m.device_ms.map(|ms| m.usage.bytes as f64 / (ms * 1e-3));
    let share = |m: &Measured| Some(rate(m)? / copy?);
    let over_copy = |m: &Measured| Some(floor / (m.device_ms? * 1e-3) / copy?);
    say(&format!(
        "{{\"bench\":\"gpu\",\"adapter\":{:?},\"software\":{},\"width\":{},\"height\":{},\
         \"look_ms\":{},\"strength_ms\":{},\"look_dispatches\":{},\"strength_dispatches\":{},\
         \"look_submissions\":{},\"look_bytes\":{},\"strength_bytes\":{},\"floor_bytes\":{floor:.0},\
         \"look_over_floor\":{:.3},\"strength_over_floor\":{:.3},\"copy_gb_s\":{},\"look_copy_share\":{},\
         \"strength_copy_share\":{},\"floor_share\":{},\"look_wall_ms\":{:.3},\"strength_wall_ms\":{:.3},\
         \"one_shot_ms\":{:.1},\"source_bytes\":{held},\"idle_bytes\":{},\"worst\":{:.2e}}}",
        executor.name(),
        executor.is_software(),
        size[0],
        size[1],
        told(whole.device_ms, 4),
        told(strength.device_ms, 4),
        whole.usage.dispatches,
        strength.usage.dispatches,
        whole.usage.submissions,
        whole.usage.bytes,
        strength.usage.bytes,
        whole.usage.bytes as f64 / floor,
        strength.usage.bytes as f64 / floor,
        told(copy.map(|c| c * 1e-9), 1),
        told(share(&whole), 3),
        told(share(&strength), 3),
        told(over_copy(&whole), 3),
        whole.wall_ms,
        strength.wall_ms,
        median(shots),
        executor.idle_bytes(),
        worst(&out, &expected),
    ));
}

/// The greatest difference at any pixel; without end where light is not finite.
fn worst(gpu: &Frame, cpu: &Frame) -> f64 {
    let planes = gpu.planes().iter().zip(cpu.planes());
    let samples = planes.flat_map(|(a, b)| a.iter().zip(b));
    samples.fold(0.0, |worst, (a, b)| {
        let (a, b) = (f64::from(*a), f64::from(*b));
        let off = (a - b).abs() / b.abs().max(0.18 / 256.0);
        if off.is_finite() {
            worst.max(off)
        } else {
            f64::INFINITY
        }
    })
}
