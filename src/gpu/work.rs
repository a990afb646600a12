//! Recording and submitting, in portions small enough for any driver's patience.

use super::device::Limits;
use super::error::one_line;
use super::oriented::Kept;
use super::scatter::Design;
use super::{Executor, GpuError};
use crate::kernels::scatter::Params;
use crate::kernels::shader::{GROUP, Shader, Uniform};
use crate::watch::Watch;
use std::sync::mpsc::sync_channel;
use std::sync::{Arc, PoisonError};
use std::time::Duration;
use wgpu::util::{BufferInitDescriptor, DeviceExt as _};

/// Samples read in one submission, at most, and about: a weak laptop takes some tens of milliseconds, and
/// watchdogs bite after seconds.
pub(super) const PORTION: u64 = 1 << 26;

/// No submission takes as long: the device hangs.
const PATIENCE: Duration = Duration::from_secs(60);

/// One picture's work on the device.
#[derive(Debug)]
pub(super) struct Work<'a> {
    gpu: &'a Executor,
    watch: &'a Watch,
    encoder: Option<wgpu::CommandEncoder>,
    /// Samples read by what is recorded.
    cost: u64,
    last: Option<wgpu::SubmissionIndex>,
    span: [f32; 2],
}

impl<'a> Work<'a> {
    pub(super) const fn new(gpu: &'a Executor, watch: &'a Watch) -> Self {
        Self {
            gpu,
            watch,
            encoder: None,
            cost: 0,
            last: None,
            span: [0.0, 1.0],
        }
    }

    pub(super) const fn device(&self) -> &'a wgpu::Device {
        &self.gpu.device
    }

    pub(super) const fn limits(&self) -> Limits {
        self.gpu.limits
    }

    /// What is kept of halos that have a direction.
    pub(super) const fn directed(&self) -> &'a Kept {
        &self.gpu.directed
    }

    /// The part of all the work that is reported on from here.
    pub(super) const fn span(&mut self, span: [f32; 2]) {
        self.span = span;
    }

    /// Says how much of the span is recorded, 0 to 1.
    pub(super) fn progress(&self, part: f32) {
        let [from, to] = self.span;
        self.watch.set_progress((to - from).mul_add(part, from));
    }

    /// Rows of a dispatch that binds `row_bytes` and reads `row_cost` samples for each.
    pub(super) fn most_rows(&self, row_bytes: u64, row_cost: u64) -> u64 {
        (self.limits().piece / row_bytes.max(1)).min(PORTION / row_cost.max(1))
    }

    /// Records one dispatch over `size` samples: `params` at binding 0, `bound` where they say. `cost` is
    /// how many samples it reads.
    pub(super) fn dispatch(
        &mut self,
        shader: &'static Shader,
        entry: &'static str,
        params: &dyn Uniform,
        bound: &[(u32, wgpu::BufferBinding<'_>)],
        (size, cost): ([u32; 2], u64),
    ) -> Result<(), GpuError> {
        let groups = [size[0].div_ceil(GROUP[0]), size[1].div_ceil(GROUP[1])];
        self.dispatch_groups(shader, entry, params, bound, (groups, cost))
    }

    /// The same for a number of workgroups.
    pub(super) fn dispatch_groups(
        &mut self,
        shader: &'static Shader,
        entry: &'static str,
        params: &dyn Uniform,
        bound: &[(u32, wgpu::BufferBinding<'_>)],
        (groups, cost): ([u32; 2], u64),
    ) -> Result<(), GpuError> {
        if self.cost > 0 && self.cost + cost > PORTION {
            self.submit()?;
        }
        let device = self.device();
        let pipeline = self.pipeline(shader, entry);
        let uniform = device.create_buffer_init(&BufferInitDescriptor {
            label: Some(entry),
            contents: &params.bytes(),
            usage: wgpu::BufferUsages::UNIFORM,
        });
        let first = wgpu::BindGroupEntry {
            binding: 0,
            resource: uniform.as_entire_binding(),
        };
        let rest = bound.iter().map(|(binding, buffer)| wgpu::BindGroupEntry {
            binding: *binding,
            resource: wgpu::BindingResource::Buffer(buffer.clone()),
        });
        let entries: Vec<_> = std::iter::once(first).chain(rest).collect();
        let group = device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some(entry),
            layout: &pipeline.get_bind_group_layout(0),
            entries: &entries,
        });
        let mut pass = self
            .encoder()
            .begin_compute_pass(&wgpu::ComputePassDescriptor {
                label: Some(entry),
                timestamp_writes: None,
            });
        pass.set_pipeline(&pipeline);
        pass.set_bind_group(0, &group, &[]);
        pass.dispatch_workgroups(groups[0], groups[1], 1);
        drop(pass);
        self.cost += cost;
        Ok(())
    }

    /// What is designed for a scatter: the last picture's where it serves.
    pub(super) fn design(
        &self,
        params: &Params,
        size: [usize; 2],
    ) -> Result<Arc<Design>, GpuError> {
        let kept = || {
            self.gpu
                .design
                .lock()
                .unwrap_or_else(PoisonError::into_inner)
        };
        let known = kept().clone().filter(|d| d.serves(params, size));
        if let Some(design) = known {
            return Ok(design);
        }
        let design = Arc::new(Design::new(params, size)?);
        *kept() = Some(Arc::clone(&design));
        Ok(design)
    }

    /// A buffer of the caller's numbers.
    pub(super) fn table(&self, bytes: &[u8]) -> Result<wgpu::Buffer, GpuError> {
        let (needs, limit) = (bytes.len() as u64, self.limits().binding);
        if needs > limit {
            return Err(GpuError::TooLarge {
                width: bytes.len() / 4,
                height: 1,
                needs,
                limit,
            });
        }
        Ok(self.device().create_buffer_init(&BufferInitDescriptor {
            label: Some("table"),
            contents: bytes,
            usage: wgpu::BufferUsages::STORAGE,
        }))
    }

    /// Hands over what is recorded, once what was handed over before it is done.
    pub(super) fn submit(&mut self) -> Result<(), GpuError> {
        self.watch.check()?;
        self.wait()?;
        if let Some(encoder) = self.encoder.take() {
            self.last = Some(self.gpu.queue.submit([encoder.finish()]));
            self.cost = 0;
        }
        Ok(())
    }

    /// Hands over what is recorded and waits for all of it.
    pub(super) fn finish(&mut self) -> Result<(), GpuError> {
        self.submit()?;
        self.wait()?;
        self.progress(1.0);
        Ok(())
    }

    /// Writes `bytes` at `offset`, before all that is recorded later.
    pub(super) fn upload(
        &mut self,
        buffer: &wgpu::Buffer,
        offset: u64,
        bytes: &[u8],
    ) -> Result<(), GpuError> {
        self.submit()?;
        self.gpu.queue.write_buffer(buffer, offset, bytes);
        self.last = Some(self.gpu.queue.submit([]));
        Ok(())
    }

    /// Reads `size` bytes from `offset` on, after all that is recorded.
    pub(super) fn download(
        &mut self,
        buffer: &wgpu::Buffer,
        offset: u64,
        size: u64,
    ) -> Result<wgpu::BufferView, GpuError> {
        let staging = self.device().create_buffer(&wgpu::BufferDescriptor {
            label: Some("staging"),
            size,
            usage: wgpu::BufferUsages::MAP_READ | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        self.encoder()
            .copy_buffer_to_buffer(buffer, offset, &staging, 0, size);
        self.submit()?;
        let (tell, told) = sync_channel(1);
        staging.map_async(wgpu::MapMode::Read, .., move |mapped| {
            // The one who asked may have given up.
            let _unheard = tell.try_send(mapped);
        });
        self.wait()?;
        match told.recv_timeout(PATIENCE) {
            Ok(Ok(())) => staging
                .get_mapped_range(..)
                .map_err(|e| GpuError::Refused(one_line(&e.to_string()))),
            Ok(Err(_)) | Err(_) => Err(GpuError::Lost),
        }
    }

    fn encoder(&mut self) -> &mut wgpu::CommandEncoder {
        let device = &self.gpu.device;
        self.encoder.get_or_insert_with(|| {
            device.create_command_encoder(&wgpu::CommandEncoderDescriptor {
                label: Some("foreglass"),
            })
        })
    }

    fn wait(&mut self) -> Result<(), GpuError> {
        let Some(last) = self.last.take() else {
            return Ok(());
        };
        let wait = wgpu::PollType::Wait {
            submission_index: Some(last),
            timeout: Some(PATIENCE),
        };
        match self.device().poll(wait) {
            Ok(_) => Ok(()),
            Err(_) => Err(GpuError::Lost),
        }
    }

    fn pipeline(&self, shader: &'static Shader, entry: &'static str) -> wgpu::ComputePipeline {
        let pipelines = self.gpu.pipelines.lock();
        let mut pipelines = pipelines.unwrap_or_else(PoisonError::into_inner);
        let make = || {
            let device = self.device();
            let module = device.create_shader_module(wgpu::ShaderModuleDescriptor {
                label: Some(shader.name),
                source: wgpu::ShaderSource::Wgsl(shader.text().into()),
            });
            device.create_compute_pipeline(&wgpu::ComputePipelineDescriptor {
                label: Some(entry),
                layout: None,
                module: &module,
                entry_point: Some(entry),
                compilation_options: wgpu::PipelineCompilationOptions::default(),
                cache: None,
            })
        };
        let key = [shader.name, entry];
        pipelines.entry(key).or_insert_with(make).clone()
    }
}
