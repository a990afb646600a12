//! A frame is scene-linear light: f32, ACES AP1 primaries (ACEScg), mid-grey 0.18, three planes.
//!
//! Planes rather than interleaved triples, because scatter works on one channel at a time and a
//! plane's rows are contiguous there.
//!
//! [`read`] brings a still in as light and [`write()`] takes
//! a frame out; both say in one sentence what they did or why they would not.
//! [`to_srgb8`] is the quick way to a screen,
//! [`to_width`] the quick way to a smaller picture, [`crop`] a part of one, and
//! [`save_atomically`] how every file of the program is written.

mod atomic;
mod clip;
mod crop;
mod decode;
mod develop;
mod disc;
mod encode;
mod encoding;
mod exif;
mod gain_map;
mod guard;
mod halves;
mod icc;
mod limits;
mod lut;
mod matrix;
mod native;
mod orient;
mod panorama;
mod profile;
mod read_as;
mod resize;
mod table;

// Back to the scene's light: the picture curve and clipped light.
pub mod restore;

pub use atomic::save_atomically;
pub use crop::crop;
pub use decode::{Still, read, read_bytes};
pub use disc::Disc;
pub(crate) use encode::to_srgb8_halved;
pub use encode::{
    Kind, Output, OutputSpace, UnknownSpace, WriteError, encode_png_rgb8, to_srgb8, write,
    write_bytes,
};
pub use encoding::{Encoding, UnknownEncoding};
pub use exif::Exif;
pub(crate) use limits::in_one_line;
pub use limits::{
    MAX_CHANNELS, MAX_CODES, MAX_FILE_BYTES, MAX_PIXELS, MAX_PIXELS_SCALED, MAX_SIDE,
    MAX_SIDE_SCALED, ReadError,
};
pub use lut::{Lut, LutError, MAX_LUT_1D, MAX_LUT_3D, MAX_LUT_BYTES};
pub use native::{Clipped, Native};
pub use read_as::ReadAs;
pub(crate) use resize::height_for;
pub use resize::{PREVIEW, ResizeError, at_most, to_width};

use crate::colour::primaries::luminance;

/// An index beyond a picture's border, mirrored into `0..length`: the edge pixel is repeated.
#[must_use]
pub const fn mirrored(index: isize, length: usize) -> usize {
    if index >= 0 && index < length as isize {
        return index as usize;
    }
    let period = 2 * length as isize;
    let i = index.rem_euclid(period);
    (if i < length as isize {
        i
    } else {
        period - 1 - i
    }) as usize
}

/// A picture in working light: three planes of `width × height` f32, rows from the top.
#[derive(Clone, PartialEq)]
pub struct Frame {
    width: usize,
    height: usize,
    planes: [Vec<f32>; 3],
}

impl Frame {
    /// Mid-grey, the level of key, in working light.
    pub const KEY: f32 = 0.18;

    /// A black frame.
    ///
    /// # Panics
    /// When a side is zero: readers refuse such pictures before this.
    #[must_use]
    pub fn black(width: usize, height: usize) -> Self {
        assert!(width > 0 && height > 0, "a frame has at least one pixel");
        let plane = vec![0.0; width * height];
        Self {
            width,
            height,
            planes: [plane.clone(), plane.clone(), plane],
        }
    }

    /// A frame from its planes (red, green, blue), each `width * height` long, rows from the top.
    ///
    /// # Panics
    /// When a side is zero or a plane has another length.
    #[must_use]
    pub fn from_planes(width: usize, height: usize, planes: [Vec<f32>; 3]) -> Self {
        assert!(width > 0 && height > 0, "a frame has at least one pixel");
        assert!(
            planes.iter().all(|p| p.len() == width * height),
            "planes are width × height"
        );
        Self {
            width,
            height,
            planes,
        }
    }

    /// Pixels across.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.height
    }

    /// The planes: red, green, blue.
    #[must_use]
    pub const fn planes(&self) -> &[Vec<f32>; 3] {
        &self.planes
    }

    /// The planes, to write into; their lengths stay as they are.
    pub fn planes_mut(&mut self) -> [&mut [f32]; 3] {
        let [r, g, b] = &mut self.planes;
        [r, g, b]
    }

    /// The planes themselves, for reuse.
    #[must_use]
    pub fn into_planes(self) -> [Vec<f32>; 3] {
        self.planes
    }

    /// One pixel's light. Out of range panics, as slices do.
    #[must_use]
    pub fn pixel(&self, x: usize, y: usize) -> [f32; 3] {
        let i = y * self.width + x;
        [self.planes[0][i], self.planes[1][i], self.planes[2][i]]
    }

    /// Luminance at a place in the planes, rows from the top. Out of range panics, as slices do.
    #[must_use]
    pub fn luminance(&self, i: usize) -> f32 {
        luminance([self.planes[0][i], self.planes[1][i], self.planes[2][i]])
    }
}

impl std::fmt::Debug for Frame {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Frame {}×{}", self.width, self.height)
    }
}
