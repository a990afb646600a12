//! Planes of samples on the device.

use super::GpuError;
use super::work::Work;
use crate::frame::Frame;
use crate::kernels::shader::ROW;
use std::ops::Range;

/// Bytes that go to or from the device at once.
const TRANSFER: u64 = 1 << 25;

/// Bytes of a sample.
const SAMPLE: u64 = 4;

/// A plane of f32 in rows of [`Plane::stride`] samples.
#[derive(Debug, Clone)]
pub(super) struct Plane {
    pub(super) buffer: wgpu::Buffer,
    pub(super) width: usize,
    pub(super) height: usize,
}

impl Plane {
    /// A plane of zeros, or of what was there.
    pub(super) fn new(work: &Work<'_>, width: usize, height: usize) -> Result<Self, GpuError> {
        let needs = (stride(width) * height) as u64 * SAMPLE;
        let limit = work.limits().buffer;
        if needs > limit {
            return Err(GpuError::TooLarge {
                width,
                height,
                needs,
                limit,
            });
        }
        let buffer = work.device().create_buffer(&wgpu::BufferDescriptor {
            label: Some("plane"),
            size: needs,
            usage: wgpu::BufferUsages::STORAGE
                | wgpu::BufferUsages::COPY_SRC
                | wgpu::BufferUsages::COPY_DST,
            mapped_at_creation: false,
        });
        Ok(Self {
            buffer,
            width,
            height,
        })
    }

    /// Samples from one row to the next.
    pub(super) const fn stride(&self) -> usize {
        stride(self.width)
    }

    /// Bytes of a row.
    pub(super) const fn row_bytes(&self) -> u64 {
        self.stride() as u64 * SAMPLE
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

    fn write(&self, work: &mut Work<'_>, samples: &[f32]) -> Result<(), GpuError> {
        let mut padded = Vec::new();
        for rows in bands(self.height, TRANSFER / self.row_bytes()) {
            let few = &samples[rows.start * self.width..rows.end * self.width];
            let few = if self.stride() == self.width {
                few
            } else {
                padded.clear();
                padded.resize(rows.len() * self.stride(), 0.0);
                let lines = padded.chunks_exact_mut(self.stride());
                for (into, row) in lines.zip(few.chunks_exact(self.width)) {
                    into[..self.width].copy_from_slice(row);
                }
                &padded
            };
            let at = rows.start as u64 * self.row_bytes();
            work.upload(&self.buffer, at, bytemuck::cast_slice(few))?;
        }
        Ok(())
    }

    fn read(&self, work: &mut Work<'_>, samples: &mut Vec<f32>) -> Result<(), GpuError> {
        for rows in bands(self.height, TRANSFER / self.row_bytes()) {
            let at = rows.start as u64 * self.row_bytes();
            let bytes = work.download(&self.buffer, at, rows.len() as u64 * self.row_bytes())?;
            for row in bytes.chunks_exact(self.row_bytes() as usize) {
                match bytemuck::try_cast_slice(row) {
                    Ok(words) => samples.extend_from_slice(&words[..self.width]),
                    // A mapping may begin where words do not.
                    Err(_) => {
                        let words = row.chunks_exact(SAMPLE as usize).take(self.width);
                        samples.extend(words.map(bytemuck::pod_read_unaligned::<f32>));
                    }
                }
            }
        }
        Ok(())
    }
}

/// A picture on the device: working light, three planes of f32.
#[derive(Debug, Clone)]
pub struct Picture {
    pub(super) planes: [Plane; 3],
}

impl Picture {
    /// Room for a picture.
    pub(super) fn new(work: &Work<'_>, width: usize, height: usize) -> Result<Self, GpuError> {
        let plane = || Plane::new(work, width, height);
        Ok(Self {
            planes: [plane()?, plane()?, plane()?],
        })
    }

    /// A frame's copy.
    pub(super) fn upload(work: &mut Work<'_>, frame: &Frame) -> Result<Self, GpuError> {
        let picture = Self::new(work, frame.width(), frame.height())?;
        for (plane, samples) in picture.planes.iter().zip(frame.planes()) {
            plane.write(work, samples)?;
        }
        Ok(picture)
    }

    pub(super) fn read(&self, work: &mut Work<'_>) -> Result<Frame, GpuError> {
        let mut planes = [Vec::new(), Vec::new(), Vec::new()];
        for (plane, samples) in self.planes.iter().zip(&mut planes) {
            samples.reserve_exact(self.width() * self.height());
            plane.read(work, samples)?;
        }
        Ok(Frame::from_planes(self.width(), self.height(), planes))
    }

    /// Pixels across.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.planes[0].width
    }

    /// Pixels down.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.planes[0].height
    }

    /// Samples from one row of a plane to the next.
    #[must_use]
    pub const fn stride(&self) -> usize {
        self.planes[0].stride()
    }

    /// Red, green and blue, rows from the top, [`Self::stride`] samples apart.
    #[must_use]
    pub fn buffers(&self) -> [&wgpu::Buffer; 3] {
        self.planes.each_ref().map(|plane| &plane.buffer)
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
