//! The double-precision executor that holds the others to account.
