//! How a still is to be read: its encoding, and the input LUT that its codes go through first.

use super::Encoding;
use super::develop::{Raw, Samples, Tag, clean};
use super::lut::Lut;
use super::matrix::RUN;
use rayon::prelude::*;
use std::sync::Arc;

/// How a still is to be read.
#[derive(Debug, Clone, Default)]
pub struct ReadAs {
    /// What its numbers mean; with a LUT, what the numbers mean that come out of that.
    pub encoding: Encoding,
    /// The input LUT; None reads the codes as they are.
    pub lut: Option<Arc<Lut>>,
}

impl From<Encoding> for ReadAs {
    fn from(encoding: Encoding) -> Self {
        Self {
            encoding,
            lut: None,
        }
    }
}

impl PartialEq for ReadAs {
    fn eq(&self, other: &Self) -> bool {
        self.encoding == other.encoding
            && match (&self.lut, &other.lut) {
                (None, None) => true,
                // The same one, as nearly always, costs nothing.
                (Some(a), Some(b)) => Arc::ptr_eq(a, b) || a == b,
                _ => false,
            }
    }
}

impl ReadAs {
    /// Whether the file's own word is followed.
    pub(super) fn as_the_file_says(&self) -> bool {
        self.encoding == Encoding::Auto && self.lut.is_none()
    }

    /// What the numbers mean once they came through the LUT.
    ///
    /// `auto` is what the LUT says itself, and without that linear `ACEScg`. Nothing in the picture's own
    /// file can say it.
    pub(super) fn output(&self) -> Encoding {
        let said = || self.lut.as_ref().and_then(|lut| lut.output());
        match self.encoding {
            Encoding::Auto => said().unwrap_or(Encoding::AcesCg),
            encoding => encoding,
        }
    }
}

/// Puts a still's codes through a LUT; the words for it, and how many samples were no usable number.
pub(super) fn through(raw: &mut Raw, lut: &Lut, output: Encoding) -> (String, usize) {
    let unused = match std::mem::replace(&mut raw.tag, Tag::None) {
        Tag::None => None,
        Tag::Icc(_) => Some("embedded profile"),
        Tag::Cicp(..) => Some("cICP tag"),
        Tag::Chromaticities(_) => Some("chromaticities"),
    };
    if let Some(unused) = unused {
        raw.notes.push(format!("its {unused} not used"));
    }
    let pixels = (raw.width * raw.height, raw.channels);
    let mut replaced = 0;
    raw.samples = match std::mem::replace(&mut raw.samples, Samples::U8(Vec::new())) {
        Samples::U8(codes) => looked_up(&codes, pixels, lut, |c| f32::from(c) / 255.0),
        Samples::U16(codes) => looked_up(&codes, pixels, lut, |c| f32::from(c) / 65_535.0),
        Samples::F32(mut codes) => {
            replaced = clean(&mut codes);
            looked_up(&codes, pixels, lut, |c| c)
        }
        Samples::Planes(mut planes) => {
            replaced = planes.iter_mut().map(|p| clean(p)).sum();
            lut.apply_to_planes(&mut planes);
            Samples::Planes(planes)
        }
    };
    raw.channels = 3;
    let title = lut.title().map(|t| format!(" \"{t}\"")).unwrap_or_default();
    let words = format!(
        "through the input LUT{title} ({}), read as {}",
        lut.shape(),
        output.describe()
    );
    (words, replaced)
}

/// Interleaved codes to interleaved triples. Grey goes in as three equal codes.
fn looked_up<T: Copy + Sync>(
    codes: &[T],
    (pixels, channels): (usize, usize),
    lut: &Lut,
    number: impl Fn(T) -> f32 + Sync,
) -> Samples {
    let mut out = vec![0.0_f32; pixels * 3];
    let places = if channels <= 2 { [0; 3] } else { [0, 1, 2] };
    out.par_chunks_mut(3 * RUN)
        .zip(codes.par_chunks(channels * RUN))
        .for_each(|(out, codes)| {
            let (triples, _) = out.as_chunks_mut::<3>();
            for (triple, pixel) in triples.iter_mut().zip(codes.chunks_exact(channels)) {
                *triple = places.map(|c| number(pixel[c]));
            }
            lut.run(triples);
        });
    Samples::F32(out)
}
