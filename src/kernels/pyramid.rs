//! The pyramid behind wide blurs: each Gaussian runs at the coarsest level that can still carry it.
//!
//! Level l holds the picture at 2^l pixels a sample, made by repeated 2× decimation. A Gaussian of
//! standard deviation σ runs once, as a short separable filter, at the coarsest level where it is
//! still at least [`design::NARROWEST`] samples wide; the results are merged from coarse to fine by
//! the transpose of the decimation. Each filter is designed in frequency, with the decimations and
//! merges below it divided out, so that what arrives at the finest level is the wanted Gaussian.
//!
//! Every stage works on strips of rows, in place unless the light is to stay, so that beside the picture itself
//! only the coarser levels (a third of it) and a few rows per strip are held.

// One axis of one level: where its edges are, and what lies beyond them.
pub(super) mod axis;
// Makes the next coarser level.
pub(super) mod decimate;
// The widest Gaussians, at the coarsest level, as dense matrices.
pub(super) mod dense;
// Filter design in frequency.
pub(super) mod design;
// Filters a level and merges the coarser one into it.
pub(super) mod finish;
// The loops over rows on the way down.
mod halve;
// The same for a shader.
pub(super) mod laid;
// What runs where, for one channel of one frame size.
pub(super) mod plan;
// The loops over rows, for whatever vector width the machine has.
mod rows;
// What the shader that makes levels is told.
pub(super) mod twin;
// Frames too thin for a pyramid, exactly.
pub(super) mod thin;
