//! Spectra, observers, illuminants, adaptation, primaries and transfer curves.
