//! Planes of samples on the device.

use super::GpuError;
use super::pool::Pooled;
use super::work::Work;
use crate::frame::Frame;
use crate::kernels::shader::ROW;
use std::ops::Range;

/// Bytes that go to or from the device at once.
const TRANSFER: u64 = 1 << 25;

/// Bytes of a sample.
const SAMPLE: u64 = 4;

/// Channels of a picture.
const CHANNELS: usize = 3;

/// Three channels of f32, row by row: a row of red, one of green, one of blue, each [`Rows::stride`] samples
/// long. Any run of rows is thereby bound at once.
#[derive(Debug, Clone)]
pub(super) struct Rows {
    pub(super) buffer: Pooled,
    pub(super) width: usize,
    pub(super) height: usize,
}

impl Rows {
    /// Room for so many samples; what is in it is whatever was there.
    pub(super) fn new(work: &Work<'_>, [width, height]: [usize; 2]) -> Result<Self, GpuError> {
        let needs = (CHANNELS * stride(width) * height) as u64 * SAMPLE;
        Ok(Self {
            buffer: work.room([width, height], needs)?,
            width,
            height,
        })
    }

    /// Across and down.
    pub(super) const fn size(&self) -> [usize; 2] {
        [self.width, self.height]
    }

    /// Samples from one row of a channel to what follows.
    pub(super) const fn stride(&self) -> usize {
        stride(self.width)
    }

    /// Bytes of a row with all its channels.
    pub(super) const fn row_bytes(&self) -> u64 {
        (CHANNELS * self.stride()) as u64 * SAMPLE
    }

    /// Bytes in all.
    pub(super) const fn bytes(&self) -> u64 {
        self.row_bytes() * self.height as u64
    }

    /// Some of its rows, to be bound.
    pub(super) fn rows(&self, rows: &Range<usize>) -> wgpu::BufferBinding<'_> {
        wgpu::BufferBinding {
            buffer: &self.buffer,
            offset: rows.start as u64 * self.row_bytes(),
            size: wgpu::BufferSize::new(rows.len() as u64 * self.row_bytes()),
        }
    }

    /// All of them.
    pub(super) fn all(&self) -> wgpu::BufferBinding<'_> {
        self.rows(&(0..self.height))
    }

    /// A frame's copy.
    pub(super) fn upload(work: &mut Work<'_>, frame: &Frame) -> Result<Self, GpuError> {
        let rows = Self::new(work, [frame.width(), frame.height()])?;
        let (width, stride) = (rows.width, rows.stride());
        let mut laid = Vec::new();
        for few in bands(rows.height, TRANSFER / rows.row_bytes()) {
            laid.resize(few.len() * CHANNELS * stride, 0.0);
            for (y, lines) in few.clone().zip(laid.chunks_exact_mut(CHANNELS * stride)) {
                for (line, plane) in lines.chunks_exact_mut(stride).zip(frame.planes()) {
                    line[..width].copy_from_slice(&plane[y * width..(y + 1) * width]);
                }
            }
            let at = few.start as u64 * rows.row_bytes();
            work.upload(&rows.buffer, at, bytemuck::cast_slice(&laid))?;
        }
        Ok(rows)
    }

    pub(super) fn read(&self, work: &mut Work<'_>) -> Result<Frame, GpuError> {
        let mut planes = [Vec::new(), Vec::new(), Vec::new()];
        for samples in &mut planes {
            samples.reserve_exact(self.width * self.height);
        }
        for few in bands(self.height, TRANSFER / self.row_bytes()) {
            let at = few.start as u64 * self.row_bytes();
            let bytes = work.download(&self.buffer, at, few.len() as u64 * self.row_bytes())?;
            let lines = bytes.chunks_exact(self.row_bytes() as usize / CHANNELS);
            for (i, line) in lines.enumerate() {
                append(&mut planes[i % CHANNELS], line, self.width);
            }
        }
        Ok(Frame::from_planes(self.width, self.height, planes))
    }
}

/// The first `width` samples of a row.
fn append(samples: &mut Vec<f32>, row: &[u8], width: usize) {
    match bytemuck::try_cast_slice(row) {
        Ok(words) => samples.extend_from_slice(&words[..width]),
        // A mapping may begin where words do not.
        Err(_) => {
            let words = row.chunks_exact(SAMPLE as usize).take(width);
            samples.extend(words.map(bytemuck::pod_read_unaligned::<f32>));
        }
    }
}

/// A picture on the device: working light, f32. Its buffer is used again once the last clone is dropped.
#[derive(Debug, Clone)]
pub struct Picture {
    pub(super) rows: Rows,
}

impl Picture {
    /// Pixels across.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.rows.width
    }

    /// Pixels down.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.rows.height
    }

    /// Samples from one row of a channel to what follows it.
    #[must_use]
    pub const fn stride(&self) -> usize {
        self.rows.stride()
    }

    /// Its samples, rows from the top: of each row its red samples, then the green, then the blue, each
    /// [`Self::stride`] after the ones before.
    #[must_use]
    pub fn buffer(&self) -> &wgpu::Buffer {
        &self.rows.buffer
    }
}

/// A row's samples with what fills it up.
const fn stride(width: usize) -> usize {
    width.next_multiple_of(ROW)
}

/// `rows` in runs of `most`, or of one where that is none.
pub(super) fn bands(rows: usize, most: u64) -> impl Iterator<Item = Range<usize>> {
    let most = usize::try_from(most)
        .unwrap_or(usize::MAX)
        .clamp(1, rows.max(1));
    (0..rows)
        .step_by(most)
        .map(move |first| first..(first + most).min(rows))
}

/// The same in multiples of `unit` rows, of which there is at least one at a time.
pub(super) fn bands_of(rows: usize, most: u64, unit: usize) -> impl Iterator<Item = Range<usize>> {
    let units = bands(rows.div_ceil(unit), most / unit as u64);
    units.map(move |few| few.start * unit..(few.end * unit).min(rows))
}
