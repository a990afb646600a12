//! Samples of one channel on the device, which no picture knows of.

use super::super::GpuError;
use super::super::picture::Rows;
use super::super::pool::Pooled;
use super::super::work::Work;
use crate::kernels::shader::ROW;
use std::ops::Range;

/// Bytes of a sample.
const SAMPLE: u64 = 4;

/// Samples row by row, each [`Plane::stride`] long.
#[derive(Debug, Clone)]
pub(super) struct Plane {
    pub(super) buffer: Pooled,
    pub(super) width: usize,
    pub(super) height: usize,
}

impl Plane {
    /// Room for so many samples; what is in it is whatever was there.
    pub(super) fn new(work: &Work<'_>, width: usize, height: usize) -> Result<Self, GpuError> {
        let needs = (width.next_multiple_of(ROW) * height) as u64 * SAMPLE;
        Ok(Self {
            buffer: work.room([width, height], needs)?,
            width,
            height,
        })
    }

    /// Samples from one row to the next.
    pub(super) const fn stride(&self) -> usize {
        self.width.next_multiple_of(ROW)
    }

    /// Bytes of a row.
    pub(super) const fn row_bytes(&self) -> u64 {
        self.stride() as u64 * SAMPLE
    }

    /// Some of its rows, to be bound.
    pub(super) fn rows(&self, rows: &Range<usize>) -> wgpu::BufferBinding<'_> {
        self.source().rows(rows)
    }

    /// All of it, to be read.
    pub(super) fn source(&self) -> Source<'_> {
        Source {
            buffer: &self.buffer,
            height: self.height,
            stride: self.stride(),
            lane: 0,
        }
    }

    /// Its first words, to be bound.
    pub(super) fn words(&self, words: usize) -> wgpu::BufferBinding<'_> {
        wgpu::BufferBinding {
            buffer: &self.buffer,
            offset: 0,
            size: wgpu::BufferSize::new(SAMPLE * words as u64),
        }
    }
}

/// What rows of one channel are read from: a plane, or a picture.
#[derive(Debug, Clone, Copy)]
pub(super) struct Source<'a> {
    buffer: &'a wgpu::Buffer,
    pub(super) height: usize,
    /// Samples from one row of the channel to the next.
    pub(super) stride: usize,
    /// The first of them in what is bound.
    pub(super) lane: usize,
}

impl<'a> Source<'a> {
    /// A channel of a picture.
    pub(super) fn channel(rows: &'a Rows, c: usize) -> Self {
        Self {
            buffer: &rows.buffer,
            height: rows.height,
            stride: 3 * rows.stride(),
            lane: c * rows.stride(),
        }
    }

    /// Bytes from one row of the channel to the next.
    pub(super) const fn row_bytes(&self) -> u64 {
        self.stride as u64 * SAMPLE
    }

    /// Some of its rows, to be bound.
    pub(super) fn rows(&self, rows: &Range<usize>) -> wgpu::BufferBinding<'a> {
        wgpu::BufferBinding {
            buffer: self.buffer,
            offset: rows.start as u64 * self.row_bytes(),
            size: wgpu::BufferSize::new(rows.len() as u64 * self.row_bytes()),
        }
    }
}
