//! #[cfg(feature = "window")]
