//! A handle by which long work is cancelled and its progress read, from any thread.
//!
//! ```
//! use foreglass::watch::Watch;
//! let watch = Watch::default();
//! let elsewhere = watch.clone();
//! elsewhere.set_progress(0.5);
//! assert!(watch.check().is_ok() && watch.progress() > 0.4);
//! elsewhere.cancel();
//! assert!(watch.check().is_err());
//! ```

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU32, Ordering};

/// The work was cancelled; what it was writing to is in no particular state.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("the work was cancelled")]
pub struct Cancelled;

/// Shared between the one who waits and the one who works; clones are the same handle.
#[derive(Debug, Clone)]
pub struct Watch {
    state: Arc<State>,
    /// Where in the whole work's progress the work of this handle begins and ends.
    span: [f32; 2],
}

impl Default for Watch {
    fn default() -> Self {
        Self {
            state: Arc::default(),
            span: [0.0, 1.0],
        }
    }
}

#[derive(Debug, Default)]
struct State {
    cancelled: AtomicBool,
    /// Bits of an f32 in 0..=1: positive floats order as their bits do, so a maximum is atomic.
    progress: AtomicU32,
}

impl Watch {
    /// A handle for one part of the work, from `from` to `to` of the whole (0 to 1): what it reports as 0 to 1
    /// moves the whole from the one to the other. Cancelling either cancels both.
    ///
    /// ```
    /// use foreglass::watch::Watch;
    /// let whole = Watch::default();
    /// let second = whole.part(0.5, 1.0);
    /// second.set_progress(0.5);
    /// assert!((whole.progress() - 0.75).abs() < 1e-6);
    /// ```
    #[must_use]
    pub fn part(&self, from: f32, to: f32) -> Self {
        Self {
            state: Arc::clone(&self.state),
            span: [from, to].map(|at| self.placed(at)),
        }
    }

    /// Where in the whole a point of this handle's own work lies.
    fn placed(&self, done: f32) -> f32 {
        let [from, to] = self.span;
        (to - from).mul_add(done.clamp(0.0, 1.0), from)
    }

    /// Asks the work to stop at its next check.
    pub fn cancel(&self) {
        self.state.cancelled.store(true, Ordering::Relaxed);
    }

    /// Called by the work, at least every 20 ms or so.
    ///
    /// # Errors
    /// [`Cancelled`] once anyone has called [`Watch::cancel`].
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.state.cancelled.load(Ordering::Relaxed) {
            Err(Cancelled)
        } else {
            Ok(())
        }
    }

    /// Says how much of this handle's work is done, 0 to 1. Progress never falls back: several threads may
    /// report.
    pub fn set_progress(&self, done: f32) {
        let bits = self.placed(done).to_bits();
        self.state.progress.fetch_max(bits, Ordering::Relaxed);
    }

    /// How much of the whole work is done, 0 to 1, whichever handle is asked.
    #[must_use]
    pub fn progress(&self) -> f32 {
        f32::from_bits(self.state.progress.load(Ordering::Relaxed))
    }
}
