//! Finding a device, sharing one, losing one, having none.

use super::{executor, on_cpu, plan_of, view};
use foreglass::engine::{Choice, Engine, EngineError, Used, Watch};
use foreglass::gpu::{self, Executor, GpuError};
use foreglass::plan::{Pass, Plan};
use serde_json::json;

fn opened() -> Option<(wgpu::Device, wgpu::Queue)> {
    executor()?;
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle());
    let adapter = instance.request_adapter(&wgpu::RequestAdapterOptions::default());
    let adapter = pollster::block_on(adapter).expect("an adapter: one was found before");
    let wanted = wgpu::DeviceDescriptor::default();
    Some(pollster::block_on(adapter.request_device(&wanted)).expect("a device"))
}

/// The picture is made on a device that somebody else has opened, and lies there: its bytes are read here
/// by that somebody, without the executor's help. So the shaders did run.
#[test]
fn a_picture_lies_on_the_device() {
    let Some((device, queue)) = opened() else {
        return;
    };
    let executor = Executor::from_device(device.clone(), queue.clone()).expect("an executor");
    let frame = crate::plan::scene(75, 40, 10.0);
    let plan = plan_of(vec![Pass::Gain(0.25)], view(75, 40));
    let watch = Watch::default();
    let picture = executor.render(&plan, &frame, &watch).expect("a picture");
    let stride = picture.stride();
    assert_eq!((picture.width(), picture.height()), (75, 40), "its size");
    let expected = on_cpu(&plan, &frame);
    let buffer = picture.buffer();
    let staging = device.create_buffer(&wgpu::BufferDescriptor {
        label: None,
        size: buffer.size(),
        usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
        mapped_at_creation: false,
    });
    let mut encoder = device.create_command_encoder(&Default::default());
    encoder.copy_buffer_to_buffer(buffer, 0, &staging, 0, buffer.size());
    queue.submit([encoder.finish()]);
    staging.map_async(wgpu::MapMode::Read, .., |mapped| {
        mapped.expect("it maps");
    });
    device
        .poll(wgpu::PollType::wait_indefinitely())
        .expect("it is done");
    let bytes = staging.get_mapped_range(..).expect("mapped");
    let samples: Vec<f32> = bytemuck::pod_collect_to_vec(&bytes);
    for (c, plane) in expected.planes().iter().enumerate() {
        for y in 0..40 {
            let row = &samples[(3 * y + c) * stride..][..75];
            let wanted = &plane[y * 75..][..75];
            for (a, b) in row.iter().zip(wanted) {
                assert!((a - b).abs() <= 1e-6 * b.abs(), "row {y}: {a} for {b}");
            }
        }
    }
}

/// A star's plan.
fn directed() -> Plan {
    let setup = crate::plan::setup(&[("/rig/stages/0", json!({"glass": "star"}))]);
    foreglass::engine::plan(&setup, 64, 36)
}

/// Large pictures of what has a direction are worth the way over the bus, and nothing else is.
#[test]
fn the_way_over_the_bus_must_be_worth_it() {
    let wide = crate::plan::setup(&[
        ("/camera", json!({"focal_mm": 14})),
        (
            "/rig/stages/0",
            json!({"glass": "dark-mist", "size": "6.6x6.6"}),
        ),
    ]);
    let wide = foreglass::engine::plan(&wide, 64, 36);
    let even = crate::plan::setup(&[("/rig/stages/0", json!({"glass": "fog"}))]);
    let even = foreglass::engine::plan(&even, 64, 36);
    for (plan, worth) in [(directed(), true), (wide, false), (even, false)] {
        assert_eq!(plan.is_worth_the_bus(24_000_000), worth, "{plan:?}");
        assert!(!plan.is_worth_the_bus(2_000_000));
    }
}

/// Hardware that was asked for by name makes the picture and says so; without a name it is asked for what takes longer
/// than the way there and back.
#[test]
fn the_engine_takes_what_there_is() {
    let Some(executor) = executor() else {
        return;
    };
    let (frame, watch) = (crate::plan::scene(64, 36, 10.0), Watch::default());
    let plan = plan_of(vec![Pass::Gain(0.5)], view(64, 36));
    let engine = Engine::default();
    let by_name = engine.render(frame.clone(), &plan, Choice::Gpu, &watch);
    assert_eq!(by_name.expect("a picture").1, Used::Gpu, "by name");
    // Small: done here before hardware has been opened.
    for plan in [plan, directed()] {
        let (_, used) = engine
            .render(frame.clone(), &plan, Choice::Auto, &watch)
            .expect("a picture");
        assert_eq!(used, Used::Cpu, "{plan:?}");
        assert_eq!(engine.passed_over(), None, "nothing to tell");
    }
    let hardware = gpu::find_hardware().err();
    let software = matches!(hardware, Some(GpuError::Software(_)));
    assert_eq!(software, executor.is_software(), "{hardware:?}");
    assert_eq!(Used::Gpu.to_string(), "gpu", "its name in timings");
}

/// Frames too long and narrow for the pyramid run through matrices, which have an end: by name that is an
/// error, and whatever is fastest makes all of the picture on the processor.
#[test]
fn a_very_long_and_narrow_picture_is_refused() {
    let Some(executor) = executor() else {
        return;
    };
    let setup = crate::plan::setup(&[("/rig/stages/0", json!({"glass": "fog"}))]);
    for (width, fits) in [(300, true), (3000, false)] {
        let frame = crate::plan::scene(width, 20, 10.0);
        let plan = foreglass::engine::plan(&setup, width, 20);
        let done = executor.execute(&plan, &mut frame.clone(), &Watch::default());
        let refused = matches!(done, Err(GpuError::Unsupported(_)));
        assert_eq!(refused, !fits, "{width}×20: {done:?}");
        let (engine, watch) = (Engine::default(), Watch::default());
        let (out, used) = engine
            .render(frame.clone(), &plan, Choice::Auto, &watch)
            .expect("a picture");
        assert_eq!(used, Used::Cpu, "{width}×20");
        if fits {
            continue;
        }
        assert!(out == on_cpu(&plan, &frame), "the processor's picture");
        let by_name = engine.render(frame, &plan, Choice::Gpu, &watch);
        let Err(EngineError::Gpu(reason)) = by_name else {
            panic!("{by_name:?}");
        };
        assert!(reason.to_string().contains("narrow"), "{reason}");
    }
}

#[test]
fn cancelled_work_leaves_the_frame_alone() {
    let Some(executor) = executor() else {
        return;
    };
    let watch = Watch::default();
    watch.cancel();
    let frame = crate::plan::scene(64, 36, 10.0);
    let plan = plan_of(vec![Pass::Gain(0.5)], view(64, 36));
    let mut out = frame.clone();
    let done = executor.execute(&plan, &mut out, &watch);
    assert!(matches!(done, Err(GpuError::Cancelled(_))), "{done:?}");
    assert_eq!(out, frame, "the frame");
    let engine = Engine::default().render(frame, &plan, Choice::Gpu, &watch);
    assert!(
        matches!(engine, Err(EngineError::Cancelled(_))),
        "the engine"
    );
}

/// A device that goes away is an error, at once and with the frame as it was.
#[test]
fn a_lost_device_is_told() {
    let Some((device, queue)) = opened() else {
        return;
    };
    let executor = Executor::from_device(device.clone(), queue).expect("an executor");
    let frame = crate::plan::scene(64, 36, 10.0);
    let gain = plan_of(vec![Pass::Gain(0.5)], view(64, 36));
    // Glass whose filters, matrices and tables go to the device beside the picture.
    let glass = |key: &str| {
        let setup = crate::plan::setup(&[("/rig/stages/0", json!({ "glass": key }))]);
        foreglass::engine::plan(&setup, 64, 36)
    };
    let plans = [gain, glass("dark-mist"), glass("star"), glass("grad-nd")];
    device.destroy();
    for plan in plans {
        let mut out = frame.clone();
        let done = executor.execute(&plan, &mut out, &Watch::default());
        assert_eq!(done, Err(GpuError::Lost), "{plan:?}");
        assert_eq!(out, frame, "the frame");
    }
}

/// Limits too small for the shaders are told by name and number.
#[test]
fn small_devices_are_refused_in_a_sentence() {
    let Some(_) = executor() else {
        return;
    };
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor::new_without_display_handle());
    let adapter = instance.request_adapter(&wgpu::RequestAdapterOptions::default());
    let adapter = pollster::block_on(adapter).expect("an adapter: one was found before");
    let refused = |limits: wgpu::Limits| {
        let wanted = wgpu::DeviceDescriptor {
            required_limits: limits,
            ..wgpu::DeviceDescriptor::default()
        };
        let (device, queue) =
            pollster::block_on(adapter.request_device(&wanted)).expect("a device");
        Executor::from_device(device, queue)
            .expect_err("too little")
            .to_string()
    };
    // What the window's toolkit asks for on a back end without compute.
    let none = refused(wgpu::Limits::downlevel_webgl2_defaults());
    assert!(none.contains("compute"), "{none}");
    let few = refused(wgpu::Limits {
        max_storage_buffers_per_shader_stage: 2,
        ..wgpu::Limits::default()
    });
    assert!(few.contains("storage buffers in a shader"), "{few}");
}

/// Where no driver offers an adapter: by name an error of one sentence and exit code 4, else the processor.
#[test]
#[cfg(target_os = "linux")]
fn without_an_adapter_only_auto_falls_back() {
    let folder = crate::cli::Folder::new();
    let recipe = folder.write("r.json", crate::recipe::with(&[]));
    let (portrait, out) = (crate::cli::portrait(), folder.path("out.png"));
    let render = |engine: &str| {
        let args = ["render", &portrait, "--recipe", &recipe, "--out", &out];
        std::process::Command::new(env!("CARGO_BIN_EXE_foreglass"))
            .args(args)
            .args(["--engine", engine, "--timings"])
            // The loader's list of drivers, by its newer and its older name: none.
            .env("VK_DRIVER_FILES", folder.path("none"))
            .env("VK_ICD_FILENAMES", folder.path("none"))
            .output()
            .expect("the program runs")
    };
    let by_name = render("gpu");
    let words = String::from_utf8(by_name.stderr).expect("UTF-8");
    assert_eq!(by_name.status.code(), Some(4), "{words}");
    assert!(words.contains("no graphics adapter"), "{words}");
    assert_eq!(words.lines().count(), 1, "{words}");
    assert!(!std::path::Path::new(&out).exists(), "nothing is written");
    let auto = render("auto");
    let line = String::from_utf8(auto.stdout).expect("UTF-8");
    assert_eq!(auto.status.code(), Some(0), "auto");
    assert!(line.contains("\"engine\":\"cpu\""), "{line}");
    assert!(!line.contains("passed_over"), "{line}");
}

/// With an adapter, the command takes it by name and says so.
#[test]
fn the_command_names_the_engine_that_ran() {
    if executor().is_none() {
        return;
    }
    let folder = crate::cli::Folder::new();
    let nd = json!({"glass": "nd", "options": {"density": 0.3}});
    let recipe = folder.write("r.json", crate::recipe::with(&[("/rig/stages/0", nd)]));
    let (portrait, out) = (crate::cli::portrait(), folder.path("out.png"));
    let line = crate::cli::data(&[
        "render",
        &portrait,
        "--recipe",
        &recipe,
        "--out",
        &out,
        "--engine",
        "gpu",
        "--timings",
    ]);
    assert_eq!(line["engine"], "gpu", "{line}");
}
