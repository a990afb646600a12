//! The one place that picks an executor. Everything above asks it for pictures.

use crate::cpu;
use crate::frame::Frame;
use crate::gpu::{self, NoExecutor};
use crate::optics::field::View;
use crate::plan::{Plan, lower};
use crate::reference::{self, ReferenceError};
use crate::rig::Setup;
pub use crate::watch::{Cancelled, Watch};
use std::fmt;
use std::sync::{Mutex, PoisonError};

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
    /// The exact one.
    Reference,
}

impl fmt::Display for Used {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Cpu => "cpu",
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
    /// Graphics hardware was asked for and is not there.
    #[error(transparent)]
    NoGpu(#[from] NoExecutor),
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

impl Engine {
    /// Runs `plan` on `frame` and gives it back changed, with the executor that ran.
    ///
    /// # Errors
    /// [`EngineError::Cancelled`], or [`EngineError::NoGpu`] where only graphics hardware would do.
    pub fn render(
        &self,
        mut frame: Frame,
        plan: &Plan,
        choice: Choice,
        watch: &Watch,
    ) -> Result<(Frame, Used), EngineError> {
        match choice {
            Choice::Gpu => match gpu::find() {
                Ok(never) => match never {},
                Err(none) => Err(none.into()),
            },
            Choice::Reference => Ok((reference::execute(plan, &frame, watch)?, Used::Reference)),
            Choice::Auto | Choice::Cpu => {
                // Buffers hold nothing but pixels to be written over: a panic elsewhere leaves them good.
                let mut scratch = self.scratch.lock().unwrap_or_else(PoisonError::into_inner);
                cpu::execute(plan, &mut frame, &mut scratch, watch)?;
                Ok((frame, Used::Cpu))
            }
        }
    }
}
