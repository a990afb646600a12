//! The executor for graphics hardware: its place is here, and it is not built yet.

/// Why there is no graphics executor to run on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
#[error("this version has no graphics executor; use --engine cpu, or leave --engine out")]
pub struct NoExecutor;

/// The graphics executor of this machine.
///
/// # Errors
/// [`NoExecutor`], always, in this version.
pub const fn find() -> Result<std::convert::Infallible, NoExecutor> {
    Err(NoExecutor)
}
