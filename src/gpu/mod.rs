//! The executor for graphics hardware: runs a fitted plan with the kernels' shaders.
//!
//! It works headless on a device of its own ([`find`]) or on one that somebody else has opened
//! ([`Executor::from_device`]), and leaves its picture there ([`Picture`]) or reads it back. Pictures are f32, row
//! by row with all three channels of a row together, so that one dispatch works on all of them. They are bound in
//! runs of rows, as many at a time as a binding may hold, and every submission is bounded, so that no driver's
//! watchdog trips; between submissions the work can be cancelled.
//!
//! A frame of which many pictures are wanted is uploaded once ([`Executor::upload`]); each plan is then rendered
//! from there ([`Executor::render_from`]), and does again only what has changed. Buffers of pictures that were
//! dropped are used again ([`Executor::keep_idle`]).
//!
//! Accuracy: every kernel within [`TOLERANCE`] of its twin on the processor.

// A picture's codes as textures.
mod codes;
// Finding a device, and what it must be able to do.
mod device;
// Why there is no picture.
mod error;
// Cosines and sines, for halos that have a direction.
mod oriented;
// Samples on the device.
mod picture;
// One function for each pass that touches no neighbours.
mod point;
// Buffers that are used again.
mod pool;
// A picture's coarser levels.
mod pyramid;
// A plan's passes.
mod run;
// What becomes of a pyramid.
mod scatter;
// Wide lenses.
mod stretch;
// What the last picture took.
mod usage;
// Recording and submitting.
mod work;

pub use codes::Codes;
pub use device::{find, find_hardware};
pub use error::GpuError;
pub use picture::Picture;
pub use run::Source;
pub use usage::Usage;

use crate::frame::Frame;
use crate::plan::Plan;
use crate::watch::Watch;
use device::Limits;
use pool::Pool;
use run::KeptField;
use std::collections::BTreeMap;
use std::sync::{Arc, Mutex, PoisonError};
use usage::Clock;
use work::{PORTION, PORTION_SOFTWARE, Work};

/// Most difference from the processor's kernel at any sample, relative to the larger of that kernel's
/// light and 1/256 of key.
pub const TOLERANCE: f64 = 2e-3;

/// A device made ready to run plans.
#[derive(Debug)]
pub struct Executor {
    device: wgpu::Device,
    queue: wgpu::Queue,
    limits: Limits,
    /// Samples read in one submission, at most, and about.
    portion: u64,
    pipelines: Mutex<BTreeMap<[&'static str; 2], wgpu::ComputePipeline>>,
    design: Mutex<Option<Arc<scatter::Design>>>,
    directed: oriented::Kept,
    fields: Mutex<Vec<KeptField>>,
    pool: Arc<Pool>,
    clock: Option<Clock>,
    usage: Mutex<Usage>,
    /// Held while a picture is recorded: a buffer goes back to the pool once nobody will record anything with it,
    /// and another's work must not be handed over before what was recorded is.
    turn: Mutex<()>,
}

impl Executor {
    /// On a device that is open already; its limits decide how large the pieces are.
    ///
    /// # Errors
    /// [`GpuError::Limit`] or [`GpuError::NoCompute`] when the device was opened with too little.
    pub fn from_device(device: wgpu::Device, queue: wgpu::Queue) -> Result<Self, GpuError> {
        let info = device.adapter_info();
        let limits = Limits::of(&device.limits(), &info.name)?;
        let portion = match info.device_type {
            wgpu::DeviceType::Cpu => PORTION_SOFTWARE,
            _ => PORTION,
        };
        Ok(Self {
            device,
            queue,
            limits,
            portion,
            pipelines: Mutex::default(),
            design: Mutex::default(),
            directed: oriented::Kept::default(),
            fields: Mutex::default(),
            pool: Arc::default(),
            clock: None,
            usage: Mutex::default(),
            turn: Mutex::default(),
        })
    }

    /// The device and its queue.
    #[must_use]
    pub const fn device(&self) -> (&wgpu::Device, &wgpu::Queue) {
        (&self.device, &self.queue)
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
    /// pieces, and is the same to the bit. Some eighty rows must go together in any case.
    #[must_use]
    pub fn in_pieces_of(mut self, bytes: u64) -> Self {
        self.limits.piece = self.limits.piece.min(bytes);
        self
    }

    /// Tells the device's own time of each picture ([`Self::usage`]), where the device was opened so that it does.
    #[must_use]
    pub fn timed(mut self) -> Self {
        self.clock = Clock::new(&self.device, &self.queue);
        self
    }

    /// What the last picture took. Of two that were made at once, one.
    #[must_use]
    pub fn usage(&self) -> Usage {
        *self.usage.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Keeps no more than `bytes` of buffers that nobody uses, 1 GiB until this is called: the oldest go first.
    pub fn keep_idle(&self, bytes: u64) {
        self.pool.keep(bytes);
    }

    /// Bytes of buffers that nobody uses at present.
    #[must_use]
    pub fn idle_bytes(&self) -> u64 {
        self.pool.bytes()
    }

    /// A frame's copy on the device, for [`Self::render_from`].
    ///
    /// # Errors
    /// [`GpuError::TooLarge`], [`GpuError::OutOfMemory`], [`GpuError::Lost`], or [`GpuError::Cancelled`] when
    /// `watch` says so.
    pub fn upload(&self, frame: &Frame, watch: &Watch) -> Result<Source, GpuError> {
        self.in_turn(|| {
            let mut work = Work::new(self, watch);
            let source = Source::upload(frame, &mut work)?;
            work.finish()?;
            Ok(source)
        })
    }

    /// Runs `plan`, which has been fitted, on a frame that was uploaded to this executor and leaves the picture on
    /// the device. What comes before the plan's first scatter that is round, and that scatter's pyramid, are not made again where
    /// the last plan of that source did the same; the picture is the same to the bit.
    ///
    /// # Errors
    /// As [`Self::render`].
    ///
    /// # Panics
    /// When a pass has not been fitted.
    pub fn render_from(
        &self,
        source: &Source,
        plan: &Plan,
        watch: &Watch,
    ) -> Result<Picture, GpuError> {
        self.in_turn(|| run::again(plan, source, &mut Work::new(self, watch)))
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
        self.in_turn(|| run::once(plan, frame, &mut Work::new(self, watch)))
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
        self.guarded(|| picture.rows.read(&mut Work::new(self, watch)))
    }

    /// Work that borrows buffers: one at a time, since it all goes through one queue.
    fn in_turn<T>(&self, work: impl FnOnce() -> Result<T, GpuError>) -> Result<T, GpuError> {
        let _turn = self.turn.lock().unwrap_or_else(PoisonError::into_inner);
        self.guarded(work)
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
        let Some(error) = told else { return done };
        // A buffer that could not be had would be lent again, and fail again.
        drop(done);
        self.forget();
        match error {
            wgpu::Error::Validation { .. } if !self.is_alive() => Err(GpuError::Lost),
            error => Err(error.into()),
        }
    }

    /// Lets go of all that is kept for the next picture.
    fn forget(&self) {
        *self.design.lock().unwrap_or_else(PoisonError::into_inner) = None;
        let mut fields = self.fields.lock().unwrap_or_else(PoisonError::into_inner);
        fields.clear();
        self.directed.clear();
        self.pool.clear();
    }

    /// A buffer of the caller's bytes, a multiple of four. Written by the queue: one that is mapped as it is made
    /// panics on a device that was lost.
    fn filled(&self, label: &str, bytes: &[u8], usage: wgpu::BufferUsages) -> wgpu::Buffer {
        let buffer = self.device.create_buffer(&wgpu::BufferDescriptor {
            label: Some(label),
            size: bytes.len() as u64,
            usage: usage | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        self.queue.write_buffer(&buffer, 0, bytes);
        buffer
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

#[cfg(test)]
mod tests {
    use super::*;

    /// What the device refuses takes everything with it that is kept for the next picture.
    #[test]
    fn nothing_is_kept_of_what_failed() {
        // The tests of twins say whether there must be an adapter.
        let Ok(gpu) = find() else {
            return;
        };
        let usage = wgpu::BufferUsages::STORAGE;
        let borrowed = |label: &str| {
            gpu.guarded(|| {
                let lent = gpu.pool.lend(&gpu.device, 256, usage);
                if label == "bad" {
                    // Mapped for reading, and for a shader: no device has that.
                    let _none = gpu.device.create_buffer(&wgpu::BufferDescriptor {
                        label: Some(label),
                        size: 256,
                        usage: wgpu::BufferUsages::MAP_READ | usage,
                        mapped_at_creation: false,
                    });
                }
                Ok(lent)
            })
        };
        drop(borrowed("good").expect("a buffer"));
        assert_eq!(gpu.pool.bytes(), 256, "kept for the next");
        let refused = borrowed("bad").expect_err("no such buffer");
        assert!(matches!(refused, GpuError::Refused(_)), "{refused}");
        assert_eq!(gpu.pool.bytes(), 0, "let go");
    }
}
