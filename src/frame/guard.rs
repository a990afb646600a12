//! Runs a decoder so that a panic inside it becomes an error, and prints nothing.

use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::Path;
use std::sync::Once;
use std::sync::atomic::{AtomicUsize, Ordering};

static RUNNING: AtomicUsize = AtomicUsize::new(0);
static HOOK: Once = Once::new();

/// Calls `work`; a panic in it comes back as its message.
///
/// While any guarded work runs, panics raised inside other crates' code are not printed: they are
/// about to become an error sentence. Those crates are told by the absolute path of their source;
/// the program's own panics, which are faults to be seen, name a relative one and are printed.
pub(super) fn guarded<T>(work: impl FnOnce() -> T) -> Result<T, String> {
    HOOK.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            let foreign = info
                .location()
                .is_some_and(|l| Path::new(l.file()).is_absolute());
            if !(foreign && RUNNING.load(Ordering::Relaxed) > 0) {
                before(info);
            }
        }));
    });
    RUNNING.fetch_add(1, Ordering::Relaxed);
    // The closures hold only values that are dropped with the error.
    let result = catch_unwind(AssertUnwindSafe(work));
    RUNNING.fetch_sub(1, Ordering::Relaxed);
    result.map_err(|payload| {
        let text = payload
            .downcast_ref::<&str>()
            .map(|s| (*s).to_owned())
            .or_else(|| payload.downcast_ref::<String>().cloned());
        text.unwrap_or_else(|| "it gave up without a reason".to_owned())
    })
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_panic_becomes_its_message() {
        let empty: Vec<u8> = Vec::new();
        let said = super::guarded(|| empty[3]).unwrap_err();
        assert!(said.contains("index"), "{said}");
        assert_eq!(super::guarded(|| 7), Ok(7), "no panic, no change");
    }
}
