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
#[derive(Debug, Clone, Default)]
pub struct Watch(Arc<State>);

#[derive(Debug, Default)]
struct State {
    cancelled: AtomicBool,
    /// Bits of an f32 in 0..=1: positive floats order as their bits do, so a maximum is atomic.
    progress: AtomicU32,
}

impl Watch {
    /// Asks the work to stop at its next check.
    pub fn cancel(&self) {
        self.0.cancelled.store(true, Ordering::Relaxed);
    }

    /// Called by the work, at least every 20 ms or so.
    ///
    /// # Errors
    /// [`Cancelled`] once anyone has called [`Watch::cancel`].
    pub fn check(&self) -> Result<(), Cancelled> {
        if self.0.cancelled.load(Ordering::Relaxed) {
            Err(Cancelled)
        } else {
            Ok(())
        }
    }

    /// Says how much is done, 0 to 1. Progress never falls back: several threads may report.
    pub fn set_progress(&self, done: f32) {
        let bits = done.clamp(0.0, 1.0).to_bits();
        self.0.progress.fetch_max(bits, Ordering::Relaxed);
    }

    /// How much is done, 0 to 1.
    #[must_use]
    pub fn progress(&self) -> f32 {
        f32::from_bits(self.0.progress.load(Ordering::Relaxed))
    }
}
