//! Pictures that are made and shown on one device: codes as textures, beside the processor's.

use super::{executor, plan_of, view};
use crate::plan::scene;
use foreglass::engine::{Choice, Engine, EngineError, Preview, Used, Watch};
use foreglass::frame::{Frame, to_srgb8, to_width};
use foreglass::gpu::{self, Executor, GpuError};
use foreglass::kernels::screen::TOLERANCE;
use foreglass::plan::{Pass, Plan};
use std::sync::Arc;

/// Everything that may become of a code: below black, the curve's straight part, above white, not a number of
/// this world; and a picture besides.
fn frames() -> Vec<Frame> {
    let ramp = |width: usize, height: usize| {
        let plane = |c: usize| {
            let level = |i: usize| -0.1 + 1.3 * ((i * 7 + c * 31) % 997) as f32 / 997.0;
            (0..width * height).map(level).collect()
        };
        Frame::from_planes(width, height, std::array::from_fn(plane))
    };
    let mut bright = ramp(64, 3);
    bright.planes_mut()[1][5] = 1e6;
    vec![
        ramp(1, 1),
        ramp(17, 3),
        ramp(487, 323),
        ramp(512, 256),
        bright,
        scene(640, 427, 300.0),
    ]
}

/// A texture's codes.
fn codes(executor: &Executor, texture: &wgpu::Texture) -> Vec<u8> {
    let (device, queue) = executor.device();
    let (width, height) = (texture.width(), texture.height());
    let stride = (4 * width).next_multiple_of(wgpu::COPY_BYTES_PER_ROW_ALIGNMENT);
    let buffer = device.create_buffer(&wgpu::BufferDescriptor {
        label: None,
        size: u64::from(stride * height),
        usage: wgpu::BufferUsages::COPY_DST | wgpu::BufferUsages::MAP_READ,
        mapped_at_creation: false,
    });
    let mut encoder = device.create_command_encoder(&wgpu::CommandEncoderDescriptor::default());
    encoder.copy_texture_to_buffer(
        texture.as_image_copy(),
        wgpu::TexelCopyBufferInfo {
            buffer: &buffer,
            layout: wgpu::TexelCopyBufferLayout {
                offset: 0,
                bytes_per_row: Some(stride),
                rows_per_image: None,
            },
        },
        texture.size(),
    );
    queue.submit([encoder.finish()]);
    buffer.map_async(wgpu::MapMode::Read, .., |mapped| mapped.expect("a mapping"));
    device
        .poll(wgpu::PollType::wait_indefinitely())
        .expect("done");
    let all = buffer.get_mapped_range(..).expect("mapped");
    let rows = all.chunks(stride as usize);
    rows.flat_map(|row| row[..4 * width as usize].to_vec())
        .collect()
}

#[test]
fn codes_on_the_device_are_the_processors() {
    let Some(executor) = executor() else {
        return;
    };
    for frame in frames() {
        let plan = plan_of(vec![Pass::Gain(1.0)], view(frame.width(), frame.height()));
        let picture = executor.render(&plan, &frame, &Watch::default()).unwrap();
        let shown = executor.codes(&picture, 60).unwrap();
        let (mut wanted, mut sizes) = (frame, 0);
        for texture in &shown.sizes {
            let size = [texture.width() as usize, texture.height() as usize];
            assert_eq!(size, [wanted.width(), wanted.height()]);
            let (ours, theirs) = (codes(executor, texture), to_srgb8(&wanted));
            let apart = ours.iter().zip(&theirs).map(|(a, b)| a.abs_diff(*b));
            let (worst, off) = apart.fold((0, 0), |(worst, off), d| {
                (worst.max(d), off + usize::from(d > 0))
            });
            assert!(worst <= TOLERANCE, "{size:?}: {worst} codes apart");
            assert!(
                off <= ours.len() / 100,
                "{size:?}: {off} of {} differ",
                ours.len()
            );
            sizes += 1;
            if wanted.width() / 2 >= 60 {
                wanted = to_width(&wanted, wanted.width() / 2).unwrap();
            }
        }
        let halvings = std::iter::successors(Some(shown.sizes[0].width()), |w| {
            (w / 2 >= 60).then_some(w / 2)
        });
        assert_eq!(sizes, halvings.count());
    }
}

/// A plan with a mist in it.
fn misty(frame: &Frame, strength: &str) -> Plan {
    let setup = crate::plan::setup(&[(
        "/rig/stages",
        serde_json::json!([
            {"glass": "dark-mist", "strength": strength}, null, null
        ]),
    )]);
    foreglass::engine::plan(&setup, frame.width(), frame.height())
}

#[test]
fn a_window_s_device_makes_what_it_shows() {
    if executor().is_none() {
        return;
    }
    let device = Arc::new(gpu::find().expect("it was there"));
    let engine = Engine::of_a_window();
    let frame = Arc::new(scene(320, 200, 300.0));
    let watch = Watch::default();
    let plan = misty(&frame, "1");
    // Before there is a device, by name it is an error and else the processor's work.
    let made = engine.preview(&frame, &plan, Choice::Gpu, &watch);
    assert_eq!(made.err(), Some(EngineError::Gpu(GpuError::NoAdapter)));
    let made = engine.preview(&frame, &plan, Choice::Auto, &watch).unwrap();
    assert_eq!(made.used(), Used::Cpu);
    engine.draw_on(Arc::clone(&device));
    // One look after another: what is kept on the device is this frame's and this look's.
    for strength in ["1", "2", "1/4", "1"] {
        let plan = misty(&frame, strength);
        let Preview::There(there) = engine.preview(&frame, &plan, Choice::Gpu, &watch).unwrap()
        else {
            panic!("made on the device");
        };
        let wanted = device.render(&plan, &frame, &watch).unwrap();
        let wanted = device.read(&wanted, &watch).unwrap();
        assert!(there.read(&watch).unwrap() == wanted, "strength {strength}");
        assert_eq!(there.codes(100).unwrap().sizes.len(), 2);
    }
    // A software device is taken by name only; one that has failed is not asked again.
    let made = engine.preview(&frame, &plan, Choice::Auto, &watch).unwrap();
    let hardware = !device.is_software();
    assert_eq!(made.used() == Used::Gpu, hardware);
    engine.fall_back(GpuError::Lost);
    let made = engine.preview(&frame, &plan, Choice::Auto, &watch).unwrap();
    assert_eq!(made.used(), Used::Cpu);
}
