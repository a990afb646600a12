//! Versioned documents.
