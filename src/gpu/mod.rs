//! The executor for graphics hardware: runs a fitted plan with the kernels' shaders.
//!
//! It works headless on a device of its own ([`find`]) or on one that somebody else has opened
//! ([`Executor::from_device`]), and leaves its picture there as three planes of f32 ([`Picture`]) or reads
//! it back. Planes are bound in runs of rows, as many at a time as a binding may hold, and every
//! submission is bounded, so that no driver's watchdog trips; between submissions the work can be cancelled.
//!
//! Accuracy: every kernel within [`TOLERANCE`] of its twin on the processor.

// Finding a device, and what it must be able to do.
mod device;
// Why there is no picture.
mod error;
// Cosines and sines, for halos that have a direction.
mod oriented;
// Planes of samples on the device.
mod picture;
// One function for each pass that touches no neighbours.
mod point;
// The pyramid behind wide blurs.
mod scatter;
// Wide lenses.
mod stretch;
// Recording and submitting.
mod work;

pub use device::{find, find_hardware};
pub use error::GpuError;
pub use picture::Picture;

use crate::frame::Frame;
use crate::kernels::oriented as directed;
use crate::kernels::scatter::{self as kernel, Border};
use crate::kernels::stretch as stretched;
use crate::kernels::{field, lift, matrix, sky};
use crate::plan::{Pass, Plan, ScatterFit, ScatterPass};
use crate::watch::Watch;
use device::Limits;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};
use work::Work;

/// Most difference from the processor's kernel at any sample, relative to the larger of that kernel's
/// light and 1/256 of key.
pub const TOLERANCE: f64 = 2e-3;

/// A device made ready to run plans.
#[derive(Debug)]
pub struct Executor {
    device: wgpu::Device,
    queue: wgpu::Queue,
    limits: Limits,
    pipelines: Mutex<BTreeMap<[&'static str; 2], wgpu::ComputePipeline>>,
    design: Mutex<Option<Arc<scatter::Design>>>,
    directed: oriented::Kept,
}

impl Executor {
    /// On a device that is open already; its limits decide how large the pieces are.
    ///
    /// # Errors
    /// [`GpuError::Limit`] or [`GpuError::NoCompute`] when the device was opened with too little.
    pub fn from_device(device: wgpu::Device, queue: wgpu::Queue) -> Result<Self, GpuError> {
        let limits = Limits::of(&device.limits(), &device.adapter_info().name)?;
        Ok(Self {
            device,
            queue,
            limits,
            pipelines: Mutex::default(),
            design: Mutex::default(),
            directed: oriented::Kept::default(),
        })
    }

    /// The adapter's name.
    #[must_use]
    pub fn name(&self) -> String {
        self.device.adapter_info().name
    }

    /// Whether the adapter is a program on the processor, which the processor's own executor outruns.
    #[must_use]
    pub fn is_software(&self) -> bool {
        self.device.adapter_info().device_type == wgpu::DeviceType::Cpu
    }

    /// Binds no more than `bytes` at once, where the device would bind more: a picture then goes in more
    /// pieces, and is the same to the bit.
    #[must_use]
    pub fn in_pieces_of(mut self, bytes: u64) -> Self {
        self.limits.piece = self.limits.piece.min(bytes);
        self
    }

    /// Runs `plan`, which has been fitted, on `frame` and leaves the picture on the device.
    ///
    /// # Errors
    /// [`GpuError::Unsupported`] for a picture too long and narrow for a shader;
    /// [`GpuError::TooLarge`], [`GpuError::OutOfMemory`], [`GpuError::Lost`], or
    /// [`GpuError::Cancelled`] when `watch` says so.
    ///
    /// # Panics
    /// When a pass has not been fitted.
    pub fn render(&self, plan: &Plan, frame: &Frame, watch: &Watch) -> Result<Picture, GpuError> {
        self.guarded(|| {
            let mut work = Work::new(self, watch);
            let picture = Picture::upload(&mut work, frame)?;
            let count = plan.passes.len().max(1) as f32;
            for (i, pass) in plan.passes.iter().enumerate() {
                work.span([i as f32 / count, (i + 1) as f32 / count]);
                run(pass, plan, &picture, &mut work)?;
            }
            work.finish()?;
            Ok(picture)
        })
    }

    /// Runs `plan`, which has been fitted, on `frame` in place; after an error the frame is as it was.
    ///
    /// # Errors
    /// As [`Self::render`].
    ///
    /// # Panics
    /// When a pass has not been fitted.
    pub fn execute(&self, plan: &Plan, frame: &mut Frame, watch: &Watch) -> Result<(), GpuError> {
        let picture = self.render(plan, frame, watch)?;
        *frame = self.read(&picture, watch)?;
        watch.set_progress(1.0);
        Ok(())
    }

    /// Reads a picture back from the device.
    ///
    /// # Errors
    /// [`GpuError::Lost`], [`GpuError::OutOfMemory`], or [`GpuError::Cancelled`] when `watch` says so.
    pub fn read(&self, picture: &Picture, watch: &Watch) -> Result<Frame, GpuError> {
        self.guarded(|| picture.read(&mut Work::new(self, watch)))
    }

    /// Work whose errors come back as such: what the device reports on the side, too.
    fn guarded<T>(&self, work: impl FnOnce() -> Result<T, GpuError>) -> Result<T, GpuError> {
        let scopes = [
            wgpu::ErrorFilter::Validation,
            wgpu::ErrorFilter::Internal,
            wgpu::ErrorFilter::OutOfMemory,
        ]
        .map(|filter| self.device.push_error_scope(filter));
        let done = work();
        // The last one pushed is the first one popped.
        let mut told = None;
        for scope in scopes.into_iter().rev() {
            told = told.or(pollster::block_on(scope.pop()));
        }
        match told {
            Some(wgpu::Error::Validation { .. }) if !self.is_alive() => Err(GpuError::Lost),
            Some(error) => Err(error.into()),
            None => done,
        }
    }

    /// Whether the device still does what it must be able to do. It tells nobody that it was lost but the
    /// one who has opened it.
    fn is_alive(&self) -> bool {
        let scope = self.device.push_error_scope(wgpu::ErrorFilter::Validation);
        let buffer = self.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some("probe"),
            size: wgpu::COPY_BUFFER_ALIGNMENT,
            usage: wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        self.queue
            .write_buffer(&buffer, 0, &[0; wgpu::COPY_BUFFER_ALIGNMENT as usize]);
        pollster::block_on(scope.pop()).is_none()
    }
}

fn run(pass: &Pass, plan: &Plan, picture: &Picture, work: &mut Work<'_>) -> Result<(), GpuError> {
    let view = plan.view;
    match pass {
        Pass::Matrix(m) => point::matrix(picture, &matrix::Params::from(m), work),
        Pass::Gain(g) => point::matrix(picture, &matrix::Params::gain(*g), work),
        Pass::Lift(l) => point::lift(picture, &lift::Params::from(*l), work),
        Pass::Sky(sky) => point::sky(picture, &sky::Params { sky, view }, work),
        Pass::Field(f) => {
            #[expect(clippy::expect_used, reason = "documented: the plan is fitted")]
            let fit = f.fit.as_ref().expect("a fitted plan");
            point::field(picture, &field::Params { fit, view }, work)
        }
        Pass::Scatter(s) => scatter_pass(s, plan, picture, work),
    }
}

fn scatter_pass(
    pass: &ScatterPass,
    plan: &Plan,
    picture: &Picture,
    work: &mut Work<'_>,
) -> Result<(), GpuError> {
    let border = Border::from(pass.outside);
    #[expect(clippy::expect_used, reason = "documented: the plan is fitted")]
    let fit = pass.fit.as_ref().expect("a fitted plan");
    if pass.stretched {
        let law = match fit {
            ScatterFit::Round(mixtures) => stretched::Law::Round(mixtures),
            ScatterFit::Oriented(response) => stretched::Law::Oriented(response),
        };
        let view = plan.view;
        return stretch::stretch(picture, &stretched::Params { law, view, border }, work);
    }
    let per_pixel = plan.pixels_per_radian(picture.width());
    match fit {
        ScatterFit::Round(mixtures) => {
            let params = kernel::Params::scaled(mixtures, per_pixel, border);
            scatter::scatter(picture, &params, work)
        }
        ScatterFit::Oriented(response) => {
            let params = directed::Params {
                response,
                per_pixel,
                border,
                whole: true,
            };
            oriented::oriented(picture, &params, work)
        }
    }
}
