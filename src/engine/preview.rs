//! Pictures of one frame through one glass after another: what did not change is kept, wherever it is made.

use super::{Choice, Engine, EngineError, Used, Watch};
use crate::cpu;
use crate::frame::Frame;
use crate::gpu::{Codes, Executor, GpuError, Picture, Source};
use crate::plan::Plan;
use std::sync::{Arc, Mutex, PoisonError};

/// A picture, where it was made.
#[derive(Debug)]
pub enum Preview {
    /// In memory.
    Here(Frame),
    /// On the device that draws the window.
    There(OnDevice),
}

impl Preview {
    /// Which executor made it.
    #[must_use]
    pub const fn used(&self) -> Used {
        match self {
            Self::Here(_) => Used::Cpu,
            Self::There(_) => Used::Gpu,
        }
    }
}

/// A picture on the device that draws the window.
#[derive(Debug)]
pub struct OnDevice {
    executor: Arc<Executor>,
    picture: Picture,
}

impl OnDevice {
    /// Its codes for the screen, down to `narrowest` pixels across.
    ///
    /// # Errors
    /// As [`Executor::codes`].
    pub fn codes(&self, narrowest: usize) -> Result<Codes, GpuError> {
        self.executor.codes(&self.picture, narrowest)
    }

    /// Its light, read back.
    ///
    /// # Errors
    /// As [`Executor::read`].
    pub fn read(&self, watch: &Watch) -> Result<Frame, GpuError> {
        self.executor.read(&self.picture, watch)
    }
}

/// The device that draws the window, and the frame that lies on it.
#[derive(Debug, Default)]
pub(super) struct Window {
    /// Whether there is a window, whose device is the only one that is asked.
    drawn: bool,
    executor: Mutex<Option<Arc<Executor>>>,
    source: Mutex<Option<(Arc<Frame>, Source)>>,
}

impl Window {
    /// The window's device where that is hardware; None where there is no window.
    pub(super) fn hardware(&self) -> Option<Result<Arc<Executor>, GpuError>> {
        let hardware = || match self.executor() {
            Some(executor) if executor.is_software() => Err(GpuError::Software(executor.name())),
            Some(executor) => Ok(executor),
            None => Err(GpuError::NoAdapter),
        };
        self.drawn.then(hardware)
    }

    fn executor(&self) -> Option<Arc<Executor>> {
        let executor = self.executor.lock().unwrap_or_else(PoisonError::into_inner);
        executor.clone()
    }

    fn take(&self, executor: Option<Arc<Executor>>) {
        let mut source = self.source.lock().unwrap_or_else(PoisonError::into_inner);
        *source = None;
        *self.executor.lock().unwrap_or_else(PoisonError::into_inner) = executor;
    }

    /// The frame's picture; the frame is sent over unless it is the one that is there.
    fn picture(
        &self,
        executor: &Executor,
        frame: &Arc<Frame>,
        plan: &Plan,
        watch: &Watch,
    ) -> Result<Picture, GpuError> {
        let mut place = self.source.lock().unwrap_or_else(PoisonError::into_inner);
        let (known, source) = match place.take() {
            Some((known, source)) if Arc::ptr_eq(&known, frame) => (known, source),
            _ => (Arc::clone(frame), executor.upload(frame, watch)?),
        };
        let picture = executor.render_from(&source, plan, watch);
        *place = Some((known, source));
        picture
    }
}

impl Engine {
    /// One whose pictures a window shows: the device that draws that is the only one that [`Choice::Auto`] asks, and
    /// until there is one ([`Engine::draw_on`]) the processor makes them.
    #[must_use]
    pub fn of_a_window() -> Self {
        Self {
            window: Window {
                drawn: true,
                ..Window::default()
            },
            ..Self::default()
        }
    }

    /// Takes the device that draws the window, so that what [`Engine::preview`] makes need not leave it.
    pub fn draw_on(&self, executor: Arc<Executor>) {
        self.window.take(Some(executor));
    }

    /// Takes a picture back that nobody looks at any more, so that the next one need not ask for memory.
    pub fn recycle(&self, picture: Frame) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        kept.recycle(picture);
    }

    /// Bytes that are kept for the next preview and for other pictures, frames that others hold left out.
    #[must_use]
    pub fn kept_bytes(&self) -> usize {
        let kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let scratch = self.scratch.lock().unwrap_or_else(PoisonError::into_inner);
        kept.bytes() + scratch.bytes()
    }

    /// The window's device could not make a picture that it began: the processor makes it, and all others from now on
    /// unless it is that picture alone that was too much.
    pub fn fall_back(&self, reason: GpuError) {
        if !reason.is_of_the_picture() {
            self.window.take(None);
        }
        self.pass_over(Some(reason));
    }

    /// The picture of a frame that stays and will be asked for again through other glass. What did not change since the
    /// last call is kept, at the cost of up to 2.7 times the frame's size in memory.
    ///
    /// [`Choice::Auto`] takes the window's device where that is hardware and can do all of the plan, else the processor.
    ///
    /// # Errors
    /// As [`Engine::render`].
    pub fn preview(
        &self,
        frame: &Arc<Frame>,
        plan: &Plan,
        choice: Choice,
        watch: &Watch,
    ) -> Result<Preview, EngineError> {
        let executor = match choice {
            Choice::Reference => {
                let (picture, _) = self.render((**frame).clone(), plan, choice, watch)?;
                return Ok(Preview::Here(picture));
            }
            Choice::Cpu => None,
            Choice::Auto => self.window.executor().filter(|e| !e.is_software()),
            Choice::Gpu => Some(self.window.executor().ok_or(GpuError::NoAdapter)?),
        };
        if let Some(executor) = executor {
            match self.window.picture(&executor, frame, plan, watch) {
                Ok(picture) => {
                    self.pass_over(None);
                    return Ok(Preview::There(OnDevice { executor, picture }));
                }
                Err(GpuError::Cancelled(c)) => return Err(c.into()),
                Err(e) => {
                    if e == GpuError::Lost {
                        self.window.take(None);
                    }
                    if choice == Choice::Gpu {
                        return Err(e.into());
                    }
                    self.pass_over(Some(e));
                }
            }
        }
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let mut scratch = self.scratch.lock().unwrap_or_else(PoisonError::into_inner);
        let picture = cpu::again(plan, frame, (&mut kept, &mut scratch), watch)?;
        Ok(Preview::Here(picture))
    }
}
