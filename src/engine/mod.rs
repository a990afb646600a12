//! The one place that picks an executor. Everything above asks it for pictures.

// One frame through one glass after another.
mod preview;

pub use preview::{OnDevice, Preview};

use crate::cpu;
use crate::frame::Frame;
use crate::gpu::{self, Executor, GpuError};
use crate::optics::field::View;
use crate::plan::{Plan, lower};
use crate::reference::{self, ReferenceError};
use crate::rig::Setup;
pub use crate::watch::{Cancelled, Watch};
use std::fmt;
use std::sync::{Arc, Mutex, PoisonError};

/// Which executor is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Choice {
    /// The fastest that there is.
    #[default]
    Auto,
    /// The processor's cores.
    Cpu,
    /// Graphics hardware, or an error.
    Gpu,
    /// The exact one, slow.
    Reference,
}

/// Which executor ran.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Used {
    /// The processor's cores.
    Cpu,
    /// Graphics hardware.
    Gpu,
    /// The exact one.
    Reference,
}

impl fmt::Display for Used {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Cpu => "cpu",
            Self::Gpu => "gpu",
            Self::Reference => "reference",
        })
    }
}

/// Why there is no picture.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum EngineError {
    /// It was told to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
    /// Graphics hardware was asked for and is not there, or could not make this picture.
    #[error(transparent)]
    Gpu(GpuError),
}

impl From<GpuError> for EngineError {
    fn from(e: GpuError) -> Self {
        match e {
            GpuError::Cancelled(c) => Self::Cancelled(c),
            e => Self::Gpu(e),
        }
    }
}

impl From<ReferenceError> for EngineError {
    fn from(e: ReferenceError) -> Self {
        match e {
            ReferenceError::Cancelled(c) => Self::Cancelled(c),
        }
    }
}

/// Makes pictures, and keeps the buffers of the last one.
#[derive(Debug, Default)]
pub struct Engine {
    scratch: Mutex<cpu::Scratch>,
    kept: Mutex<cpu::Kept>,
    window: preview::Window,
    passed_over: Mutex<Option<GpuError>>,
}

/// The plan of a rig for frames of a shape that span what the camera frames, ready to run: lowered,
/// simplified and fitted.
#[must_use]
pub fn plan(setup: &Setup, width: usize, height: usize) -> Plan {
    plan_over(setup, setup.view(height as f64 / width as f64))
}

/// The plan of a rig over a part of the field, ready to run.
#[must_use]
pub fn plan_over(setup: &Setup, view: View) -> Plan {
    lower(setup, view).simplify().fit()
}

/// The same, with what was fitted for the `last` plan: a change of one control fits only what depends on it.
#[must_use]
pub fn plan_after(setup: &Setup, view: View, last: &Plan) -> Plan {
    lower(setup, view).simplify().fit_after(last)
}

/// What was found, once somebody has looked.
type Found = Mutex<Option<Result<Arc<Executor>, GpuError>>>;

/// The hardware of this machine: opening it takes longer than a picture, so that it is kept.
static HARDWARE: Found = Mutex::new(None);
/// Whatever adapter there is, software too: for those who ask for it by name.
static ADAPTER: Found = Mutex::new(None);

/// What was found before, or what `find` finds now; `again` looks once more where there was nothing.
fn found(
    found: &Found,
    find: fn() -> Result<Executor, GpuError>,
    again: bool,
) -> Result<Arc<Executor>, GpuError> {
    let mut found = found.lock().unwrap_or_else(PoisonError::into_inner);
    if again && matches!(*found, Some(Err(_))) {
        *found = None;
    }
    found.get_or_insert_with(|| find().map(Arc::new)).clone()
}

/// Whether there is graphics hardware, or software in its stead, for [`Choice::Gpu`].
///
/// # Errors
/// Why there is none.
pub fn graphics() -> Result<(), GpuError> {
    found(&ADAPTER, gpu::find, true).map(drop)
}

impl Engine {
    /// Runs `plan` on `frame` and gives it back changed, with the executor that ran. All of a picture is
    /// made by one executor.
    ///
    /// [`Choice::Auto`] asks graphics hardware for what takes the processor longer than the way there and back takes
    /// ([`Plan::is_worth_the_bus`]), and for nothing else: it is not even looked for.
    ///
    /// # Errors
    /// [`EngineError::Cancelled`], or [`EngineError::Gpu`] where only graphics hardware would do.
    pub fn render(
        &self,
        mut frame: Frame,
        plan: &Plan,
        choice: Choice,
        watch: &Watch,
    ) -> Result<(Frame, Used), EngineError> {
        match choice {
            Choice::Gpu => {
                on_graphics(&ADAPTER, gpu::find, true, plan, &mut frame, watch)?;
                return Ok((frame, Used::Gpu));
            }
            Choice::Reference => {
                return Ok((reference::execute(plan, &frame, watch)?, Used::Reference));
            }
            Choice::Auto => {
                let pixels = frame.width() * frame.height();
                let done = match self.window.hardware() {
                    _ if !plan.is_worth_the_bus(pixels) => Err(GpuError::NoAdapter),
                    Some(executor) => executor.and_then(|e| e.execute(plan, &mut frame, watch)),
                    None => on_graphics(
                        &HARDWARE,
                        gpu::find_hardware,
                        false,
                        plan,
                        &mut frame,
                        watch,
                    ),
                };
                if let Err(GpuError::Cancelled(c)) = done {
                    return Err(c.into());
                }
                self.pass_over(done.clone().err());
                if done.is_ok() {
                    return Ok((frame, Used::Gpu));
                }
            }
            Choice::Cpu => {}
        }
        // Buffers hold nothing but pixels to be written over: a panic elsewhere leaves them good.
        let mut scratch = self.scratch.lock().unwrap_or_else(PoisonError::into_inner);
        cpu::execute(plan, &mut frame, &mut scratch, watch)?;
        Ok((frame, Used::Cpu))
    }

    /// Why graphics hardware that is there did not make the last picture that was asked of whatever is
    /// fastest; None where it did, or where there is none.
    #[must_use]
    pub fn passed_over(&self) -> Option<GpuError> {
        let passed_over = self.passed_over.lock();
        passed_over.unwrap_or_else(PoisonError::into_inner).clone()
    }

    fn pass_over(&self, reason: Option<GpuError>) {
        let there = |e: &GpuError| !matches!(e, GpuError::NoAdapter | GpuError::Software(_));
        let mut passed_over = self
            .passed_over
            .lock()
            .unwrap_or_else(PoisonError::into_inner);
        *passed_over = reason.filter(there);
    }
}

/// Runs the plan on what was found; a device that was lost is not asked again unless by name.
fn on_graphics(
    place: &Found,
    find: fn() -> Result<Executor, GpuError>,
    again: bool,
    plan: &Plan,
    frame: &mut Frame,
    watch: &Watch,
) -> Result<(), GpuError> {
    let executor = found(place, find, again)?;
    let done = executor.execute(plan, frame, watch);
    if done == Err(GpuError::Lost) {
        *place.lock().unwrap_or_else(PoisonError::into_inner) = Some(Err(GpuError::Lost));
    }
    done
}
