//! Finding a device, and what it must be able to do.

use super::error::one_line;
use super::{Executor, GpuError};
use crate::frame::MAX_SIDE;
use crate::kernels::oriented::twin::PART_MOST;
use crate::kernels::shader::{GROUP, GROUP_SIZE};
use std::sync::Arc;

/// Storage buffers that a shader binds, at most.
const BUFFERS: u32 = 6;
/// Bytes that must be bound at once, at least: one row of the widest picture, many times over.
const LEAST_BINDING: u64 = 1 << 25;
/// Workgroups down, one for each row of the highest picture.
const GROUPS: u32 = MAX_SIDE as u32;
/// Bytes that a workgroup shares: parts of complex lines and what they become. Nothing shares more.
const SHARED: u32 = (2 * PART_MOST * size_of::<[f32; 2]>()) as u32;
/// Bytes that rows begin at multiples of.
const ALIGNMENT: u32 = 256;

/// What pieces are cut by.
#[derive(Debug, Clone, Copy)]
pub(super) struct Limits {
    /// Bytes of a buffer.
    pub(super) buffer: u64,
    /// Bytes of a binding.
    pub(super) binding: u64,
    /// Bytes of a picture that are bound at once.
    pub(super) piece: u64,
}

impl Limits {
    /// Of a device or an adapter.
    pub(super) fn of(limits: &wgpu::Limits, adapter: &str) -> Result<Self, GpuError> {
        if limits.max_compute_workgroups_per_dimension == 0 {
            return Err(GpuError::NoCompute(adapter.to_owned()));
        }
        let binding = limits
            .max_storage_buffer_binding_size
            .min(limits.max_buffer_size);
        let least = [
            (
                "invocations in a workgroup",
                limits.max_compute_invocations_per_workgroup,
                GROUP_SIZE,
            ),
            (
                "samples across in a workgroup",
                limits.max_compute_workgroup_size_x,
                GROUP_SIZE,
            ),
            (
                "samples down in a workgroup",
                limits.max_compute_workgroup_size_y,
                GROUP[1],
            ),
            (
                "storage buffers in a shader",
                limits.max_storage_buffers_per_shader_stage,
                BUFFERS,
            ),
            (
                "workgroups down",
                limits.max_compute_workgroups_per_dimension,
                GROUPS,
            ),
            (
                "bytes of memory in a workgroup",
                limits.max_compute_workgroup_storage_size,
                SHARED,
            ),
        ]
        .map(|(what, has, needs)| (what, u64::from(has), u64::from(needs)));
        let alignment = limits.min_storage_buffer_offset_alignment;
        let short = |what, has, needs| GpuError::Limit {
            adapter: adapter.to_owned(),
            what,
            has,
            needs,
        };
        for (what, has, needs) in
            least
                .into_iter()
                .chain([("bytes in a binding", binding, LEAST_BINDING)])
        {
            if has < needs {
                return Err(short(what, has, needs));
            }
        }
        if alignment > ALIGNMENT {
            let what = "bytes at least between bindings";
            return Err(short(what, alignment.into(), ALIGNMENT.into()));
        }
        Ok(Self {
            buffer: limits.max_buffer_size,
            binding,
            piece: binding,
        })
    }
}

/// The graphics executor of this machine, headless; a software adapter will do.
///
/// # Errors
/// [`GpuError::NoAdapter`], [`GpuError::NoCompute`], [`GpuError::Limit`] or [`GpuError::Closed`].
pub fn find() -> Result<Executor, GpuError> {
    open(&adapter()?)
}

/// The same, where the adapter is hardware.
///
/// # Errors
/// As [`find`], and [`GpuError::Software`].
pub fn find_hardware() -> Result<Executor, GpuError> {
    let adapter = adapter()?;
    let info = adapter.get_info();
    if info.device_type == wgpu::DeviceType::Cpu {
        return Err(GpuError::Software(info.name));
    }
    open(&adapter)
}

/// The best adapter that there is.
fn adapter() -> Result<wgpu::Adapter, GpuError> {
    let instance = wgpu::Instance::new(wgpu::InstanceDescriptor {
        // The others have no compute shaders, or too little of them.
        backends: wgpu::Backends::PRIMARY,
        flags: wgpu::InstanceFlags::empty(),
        ..wgpu::InstanceDescriptor::new_without_display_handle()
    });
    let wanted = wgpu::RequestAdapterOptions {
        power_preference: wgpu::PowerPreference::HighPerformance,
        ..wgpu::RequestAdapterOptions::default()
    };
    let found = pollster::block_on(instance.request_adapter(&wanted));
    found.map_err(|_none| GpuError::NoAdapter)
}

/// A device with all that the adapter has.
fn open(adapter: &wgpu::Adapter) -> Result<Executor, GpuError> {
    let name = adapter.get_info().name;
    let compute = adapter.get_downlevel_capabilities().flags;
    if !compute.contains(wgpu::DownlevelFlags::COMPUTE_SHADERS) {
        return Err(GpuError::NoCompute(name));
    }
    let _checked = Limits::of(&adapter.limits(), &name)?;
    let wanted = wgpu::DeviceDescriptor {
        label: Some("foreglass"),
        required_limits: adapter.limits(),
        // For those who measure; nothing else asks for it.
        required_features: adapter.features() & wgpu::Features::TIMESTAMP_QUERY,
        ..wgpu::DeviceDescriptor::default()
    };
    let opened = pollster::block_on(adapter.request_device(&wanted));
    let (device, queue) = opened.map_err(|e| GpuError::Closed {
        adapter: name,
        reason: one_line(&e.to_string()),
    })?;
    // What no scope has caught would end the program, and is no reason to: a picture's errors come back.
    device.on_uncaptured_error(Arc::new(|_: wgpu::Error| {}));
    Executor::from_device(device, queue)
}
