//! What halates.
