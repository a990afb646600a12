//! Recording and submitting, in portions small enough for any driver's patience.

use super::device::Limits;
use super::error::one_line;
use super::oriented::Kept;
use super::point::FieldTable;
use super::pool::Pooled;
use super::scatter::Design;
use super::usage::Usage;
use super::{Executor, GpuError};
use crate::kernels::scatter::Params;
use crate::kernels::shader::{GROUP, Shader, Uniform};
use crate::optics::field::View;
use crate::plan::FieldPass;
use crate::watch::Watch;
use std::sync::mpsc::sync_channel;
use std::sync::{Arc, PoisonError};
use std::time::Duration;

/// Samples read in one submission, at most, and about, where the adapter is software: some tens of
/// milliseconds, and watchdogs bite after seconds.
pub(super) const PORTION_SOFTWARE: u64 = 1 << 26;
/// The same of hardware: a weak laptop reads so many, most of them from its caches, in about a tenth of a second.
pub(super) const PORTION: u64 = 1 << 30;

/// Bytes between two uniforms, and of all that wait for one submission.
const UNIFORM: u64 = 256;
const UNIFORMS: u64 = 256 * UNIFORM;

/// No submission takes as long: the device hangs.
const PATIENCE: Duration = Duration::from_secs(60);

/// One picture's work on the device.
#[derive(Debug)]
pub(super) struct Work<'a> {
    gpu: &'a Executor,
    watch: &'a Watch,
    /// What is recorded now: shaders all run in one pass.
    pass: Option<wgpu::ComputePass<'static>>,
    encoder: Option<wgpu::CommandEncoder>,
    /// What the recorded dispatches are told, and the buffer that will hold it.
    steps: Vec<u8>,
    uniforms: Option<Pooled>,
    /// Samples read by what is recorded.
    cost: u64,
    last: Option<wgpu::SubmissionIndex>,
    span: [f32; 2],
    usage: Usage,
    /// Passes begun.
    passes: u32,
}

/// One run of a shader.
#[derive(Debug, Clone, Copy)]
pub(super) struct Run<'a> {
    pub(super) shader: &'static Shader,
    pub(super) entry: &'static str,
    /// Bound where the numbers say; what the shader is told is at 0.
    pub(super) bound: &'a [(u32, wgpu::BufferBinding<'a>)],
    /// Workgroups.
    pub(super) groups: [u32; 3],
    /// Samples that it reads.
    pub(super) cost: u64,
}

/// Workgroups of the usual shape over samples across and down, and channels.
pub(super) fn groups([width, height]: [u32; 2], channels: u32) -> [u32; 3] {
    [
        width.div_ceil(GROUP[0]),
        height.div_ceil(GROUP[1]),
        channels,
    ]
}

impl<'a> Work<'a> {
    pub(super) fn new(gpu: &'a Executor, watch: &'a Watch) -> Self {
        Self {
            gpu,
            watch,
            pass: None,
            encoder: None,
            steps: Vec::new(),
            uniforms: None,
            cost: 0,
            last: None,
            span: [0.0, 1.0],
            usage: Usage::default(),
            passes: 0,
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
        (self.limits().piece / row_bytes.max(1)).min(self.portion() / row_cost.max(1))
    }

    /// Samples read in one submission, at most, and about.
    pub(super) const fn portion(&self) -> u64 {
        self.gpu.portion
    }

    /// A buffer that nobody else has, holding whatever it held before.
    pub(super) fn lend(&self, size: u64) -> Pooled {
        let usage = wgpu::BufferUsages::STORAGE
            | wgpu::BufferUsages::COPY_SRC
            | wgpu::BufferUsages::COPY_DST;
        self.gpu.pool.lend(&self.gpu.device, size, usage)
    }

    /// The same for `bytes` of a picture that is so many samples across and down, where the device has such buffers.
    pub(super) fn room(&self, [width, height]: [usize; 2], bytes: u64) -> Result<Pooled, GpuError> {
        let limit = self.limits().buffer;
        if bytes > limit {
            return Err(GpuError::TooLarge {
                width,
                height,
                needs: bytes,
                limit,
            });
        }
        Ok(self.lend(bytes))
    }

    /// Counts bytes that a dispatch reads and writes again.
    pub(super) const fn count(&mut self, bytes: u64) {
        self.usage.bytes += bytes;
    }

    /// Records one dispatch.
    pub(super) fn dispatch(&mut self, params: &dyn Uniform, run: Run<'_>) -> Result<(), GpuError> {
        let full = self.steps.len() as u64 == UNIFORMS;
        if full || (self.cost > 0 && self.cost + run.cost > self.portion()) {
            self.submit()?;
        }
        let pipeline = self.pipeline(run.shader, run.entry);
        let offset = self.steps.len() as u64;
        self.steps.extend(params.bytes());
        let size = self.steps.len() as u64 - offset;
        let end = self.steps.len().next_multiple_of(UNIFORM as usize);
        self.steps.resize(end, 0);
        let group = self.bind(&pipeline, &run, offset..offset + size);
        self.usage.dispatches += 1;
        let bytes = run.bound.iter().map(|(_, bound)| match bound.size {
            Some(size) => size.get(),
            None => bound.buffer.size() - bound.offset,
        });
        self.usage.bytes += bytes.sum::<u64>();
        self.cost += run.cost;
        let [across, down, deep] = run.groups;
        let pass = self.pass();
        pass.set_pipeline(&pipeline);
        pass.set_bind_group(0, &group, &[]);
        pass.dispatch_workgroups(across, down, deep);
        Ok(())
    }

    fn bind(
        &mut self,
        pipeline: &wgpu::ComputePipeline,
        run: &Run<'_>,
        told: std::ops::Range<u64>,
    ) -> wgpu::BindGroup {
        let (pool, device) = (&self.gpu.pool, &self.gpu.device);
        let usage = wgpu::BufferUsages::UNIFORM | wgpu::BufferUsages::COPY_DST;
        let uniforms = self
            .uniforms
            .get_or_insert_with(|| pool.lend(device, UNIFORMS, usage));
        let told = wgpu::BufferBinding {
            buffer: uniforms,
            offset: told.start,
            size: wgpu::BufferSize::new(told.end - told.start),
        };
        let all = std::iter::once((0, told)).chain(run.bound.iter().cloned());
        let entries: Vec<_> = all
            .map(|(binding, buffer)| wgpu::BindGroupEntry {
                binding,
                resource: wgpu::BindingResource::Buffer(buffer),
            })
            .collect();
        device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some(run.entry),
            layout: &pipeline.get_bind_group_layout(0),
            entries: &entries,
        })
    }

    /// The pass that shaders are recorded in.
    fn pass(&mut self) -> &mut wgpu::ComputePass<'static> {
        let (gpu, encoder, passes) = (self.gpu, &mut self.encoder, &mut self.passes);
        self.pass.get_or_insert_with(|| {
            let writes = gpu.clock.as_ref().and_then(|clock| clock.writes(*passes));
            *passes += 1;
            let begun =
                recorded(&gpu.device, encoder).begin_compute_pass(&wgpu::ComputePassDescriptor {
                    label: Some("foreglass"),
                    timestamp_writes: writes,
                });
            begun.forget_lifetime()
        })
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
        let design = Arc::new(Design::new(params, size, self)?);
        *kept() = Some(Arc::clone(&design));
        Ok(design)
    }

    /// A field's table on the device.
    pub(super) fn field(
        &self,
        pass: &FieldPass,
        view: View,
        size: [usize; 2],
    ) -> Result<FieldTable, GpuError> {
        self.gpu.field(pass, view, size, self)
    }

    /// A buffer of the caller's numbers.
    pub(super) fn table(&self, bytes: &[u8]) -> Result<wgpu::Buffer, GpuError> {
        let (needs, limit) = (bytes.len() as u64, self.limits().binding);
        if needs > limit {
            return Err(GpuError::TooMuch { needs, limit });
        }
        Ok(self.gpu.filled("table", bytes, wgpu::BufferUsages::STORAGE))
    }

    /// Hands over what is recorded, once what was handed over before it is done.
    pub(super) fn submit(&mut self) -> Result<(), GpuError> {
        self.watch.check()?;
        self.wait()?;
        if let Some(encoder) = self.encoder.take() {
            self.pass = None;
            if let Some(uniforms) = &self.uniforms {
                self.gpu.queue.write_buffer(uniforms, 0, &self.steps);
            }
            self.steps.clear();
            self.last = Some(self.gpu.queue.submit([encoder.finish()]));
            self.usage.submissions += 1;
            self.cost = 0;
        }
        Ok(())
    }

    /// Hands over what is recorded and waits for all of it.
    pub(super) fn finish(&mut self) -> Result<(), GpuError> {
        self.submit()?;
        self.wait()?;
        let mut usage = self.usage;
        if let Some(clock) = &self.gpu.clock {
            usage.seconds = Some(clock.read(self.passes, self)?);
        }
        *self
            .gpu
            .usage
            .lock()
            .unwrap_or_else(PoisonError::into_inner) = usage;
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
        self.pass = None;
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

    /// What is recorded; its pass must have ended.
    pub(super) fn encoder(&mut self) -> &mut wgpu::CommandEncoder {
        recorded(&self.gpu.device, &mut self.encoder)
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

    pub(super) fn pipeline(
        &self,
        shader: &'static Shader,
        entry: &'static str,
    ) -> wgpu::ComputePipeline {
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

/// What is recorded, or the beginning of it.
fn recorded<'a>(
    device: &wgpu::Device,
    encoder: &'a mut Option<wgpu::CommandEncoder>,
) -> &'a mut wgpu::CommandEncoder {
    encoder.get_or_insert_with(|| {
        device.create_command_encoder(&wgpu::CommandEncoderDescriptor {
            label: Some("foreglass"),
        })
    })
}
