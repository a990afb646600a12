//! Why there is no picture from graphics hardware, each in one sentence.

use crate::frame::in_one_line;
use crate::watch::Cancelled;

/// Why graphics hardware made no picture.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum GpuError {
    /// The machine has none that can be used.
    #[error("no graphics adapter was found; use --engine cpu, or leave --engine out")]
    NoAdapter,
    /// The adapter draws and does no more.
    #[error("the graphics adapter {0} runs no compute shaders; use --engine cpu")]
    NoCompute(String),
    /// The adapter is a program on the processor.
    #[error("the graphics adapter {0} is software, which the processor's own executor outruns")]
    Software(String),
    /// A limit of the device is too small.
    #[error("the graphics adapter {adapter} allows {has} {what}, and {needs} are needed")]
    Limit {
        /// Its name.
        adapter: String,
        /// What there is too little of.
        what: &'static str,
        /// How much there is.
        has: u64,
        /// How much it takes.
        needs: u64,
    },
    /// The adapter is there and gives no device.
    #[error("the graphics adapter {adapter} could not be opened: {reason}")]
    Closed {
        /// Its name.
        adapter: String,
        /// The driver's words.
        reason: String,
    },
    /// A pass is not made there for this picture.
    #[error("graphics hardware does not take {0}")]
    Unsupported(&'static str),
    /// A plane of the picture does not fit a buffer.
    #[error(
        "a picture of {width}×{height} needs graphics buffers of {needs} bytes, and the limit is {limit}"
    )]
    TooLarge {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
        /// Bytes of one plane.
        needs: u64,
        /// Bytes that a buffer may have.
        limit: u64,
    },
    /// A texture cannot hold the picture.
    #[error(
        "a picture of {width}×{height} is longer than the {limit} samples that a texture of the graphics device has"
    )]
    TooLong {
        /// Pixels across.
        width: usize,
        /// Pixels down.
        height: usize,
        /// The longest side of a texture.
        limit: usize,
    },
    /// What goes with the picture does not fit a buffer.
    #[error(
        "this picture needs {needs} bytes of the graphics device at once, and the limit is {limit}"
    )]
    TooMuch {
        /// Bytes.
        needs: u64,
        /// Bytes that may be bound.
        limit: u64,
    },
    /// The device has no memory left.
    #[error("the graphics memory is too small for this picture")]
    OutOfMemory,
    /// The device went away: a driver's reset, a machine's sleep.
    #[error("the graphics device was lost")]
    Lost,
    /// The driver refused something.
    #[error("the graphics driver refused the work: {0}")]
    Refused(String),
    /// It was told to stop.
    #[error(transparent)]
    Cancelled(#[from] Cancelled),
}

impl GpuError {
    /// Whether it is this picture alone that could not be made.
    #[must_use]
    pub const fn is_of_the_picture(&self) -> bool {
        matches!(
            self,
            Self::Unsupported(_)
                | Self::TooLarge { .. }
                | Self::TooLong { .. }
                | Self::TooMuch { .. }
        )
    }
}

impl From<wgpu::Error> for GpuError {
    fn from(error: wgpu::Error) -> Self {
        match error {
            wgpu::Error::OutOfMemory { .. } => Self::OutOfMemory,
            wgpu::Error::Validation { description, .. }
            | wgpu::Error::Internal { description, .. } => Self::Refused(one_line(&description)),
        }
    }
}

/// A driver's words in one line.
pub(super) fn one_line(text: &str) -> String {
    in_one_line(text, 301)
}
