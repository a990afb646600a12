//! Difference: how many stops glass makes each pixel darker or brighter, painted.
//!
//! log₂(Y through the glass / Y bare), pixel by pixel. No change is a neutral grey of L\* 55; loss goes
//! from there to a dark blue, gain to a light sand, both at the ends of the range and held beyond. Blue
//! against sand and dark against light are kept apart by every kind of colour vision, and the order
//! stays in a grey print. Where either picture has no light (sixteen stops under key or less) the pixel is
//! black. The palette is our own.
//!
//! ```
//! use foreglass::frame::Frame;
//! use foreglass::meters::difference::Difference;
//! let frame = |v: f32| Frame::from_planes(1, 1, [(); 3].map(|()| vec![v]));
//! let same = Difference::default().paint(&frame(0.18), &frame(0.18));
//! assert!(same.rgba[0] == same.rgba[1] && same.rgba[1] == same.rgba[2]);
//! ```

use super::painted::{Entry, Painted};
use super::palette::{between, lab_codes};
use crate::colour::primaries::luminance;
use crate::frame::Frame;
use crate::units::{OutOfRange, Stops, signed};
use rayon::prelude::*;

/// Light that counts as none: sixteen stops under key.
const NO_LIGHT: f32 = Frame::KEY / 65_536.0;
/// Most and least that the ends of the palette may stand for, in stops.
const RANGE: [f64; 2] = [0.1, 20.0];
/// L\*, a\*, b\* of the palette: most loss, no change, most gain.
const LOSS: [f64; 3] = [22.0, 4.0, -42.0];
const SAME: [f64; 3] = [55.0, 0.0, 0.0];
const GAIN: [f64; 3] = [90.0, 6.0, 56.0];
/// Colours from one end to the other; odd, so that no change has its own.
const TONES: usize = 513;

/// How a difference is painted.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    range: f64,
    tones: Vec<[u8; 3]>,
}

impl Default for Difference {
    /// Two stops either way.
    fn default() -> Self {
        Self::made(2.0)
    }
}

impl Difference {
    /// With the palette's ends at so many stops of loss and gain.
    ///
    /// # Errors
    /// [`OutOfRange`] beyond 0.1 to 20 stops.
    pub fn new(range: Stops) -> Result<Self, OutOfRange> {
        let [low, high] = RANGE;
        if (low..=high).contains(&range.get()) {
            return Ok(Self::made(range.get()));
        }
        Err(OutOfRange {
            quantity: "range of the difference",
            value: range.get(),
            low,
            high,
            unit: "stops",
        })
    }

    fn made(range: f64) -> Self {
        let half = (TONES / 2) as f64;
        let tone = |i: usize| {
            let part = (i as f64 - half) / half;
            let end = if part < 0.0 { LOSS } else { GAIN };
            lab_codes(between(SAME, end, part.abs()))
        };
        Self {
            range,
            tones: (0..TONES).map(tone).collect(),
        }
    }

    /// The stops that the ends of the palette stand for.
    #[must_use]
    pub const fn range(&self) -> Stops {
        Stops::clamped(self.range)
    }

    /// The colour of a change; None is where either picture has no light.
    #[must_use]
    pub fn colour(&self, change: Option<Stops>) -> [u8; 3] {
        change.map_or([0; 3], |change| self.tone(change.get()))
    }

    fn tone(&self, change: f64) -> [u8; 3] {
        let half = (TONES / 2) as f64;
        let at = half + half * (change / self.range).clamp(-1.0, 1.0);
        self.tones[(at.round() as usize).min(TONES - 1)]
    }

    /// The change of each pixel, in stops; None where either picture has no light.
    ///
    /// # Panics
    /// When the two frames differ in size.
    #[must_use]
    pub fn change(bare: &Frame, glass: &Frame, pixel: usize) -> Option<f32> {
        let y = |frame: &Frame| {
            let [r, g, b] = frame.planes();
            luminance([r[pixel], g[pixel], b[pixel]])
        };
        change(y(bare), y(glass))
    }

    /// Paints what glass changes, at the size of the two frames.
    ///
    /// # Panics
    /// When the two frames differ in size.
    #[must_use]
    pub fn paint(&self, bare: &Frame, glass: &Frame) -> Painted {
        let (width, height) = (bare.width(), bare.height());
        let size = (glass.width(), glass.height());
        assert_eq!((width, height), size, "two pictures of one frame");
        let mut rgba = vec![u8::MAX; 4 * width * height];
        rgba.par_chunks_exact_mut(4 * width)
            .enumerate()
            .for_each(|(y, row)| {
                for (x, pixel) in row.chunks_exact_mut(4).enumerate() {
                    let change = Self::change(bare, glass, y * width + x);
                    let codes = change.map_or([0; 3], |c| self.tone(f64::from(c)));
                    pixel[..3].copy_from_slice(&codes);
                }
            });
        Painted {
            width: u32::try_from(width).unwrap_or(u32::MAX),
            height: u32::try_from(height).unwrap_or(u32::MAX),
            rgba,
        }
    }

    /// What the colours say: nine steps of change from most loss to most gain, and no light last.
    #[must_use]
    pub fn legend(&self) -> Vec<Entry> {
        let step = self.range / 4.0;
        let mut entries: Vec<Entry> = (-4..=4)
            .map(|i| {
                let at = f64::from(i) * step;
                let word = match i {
                    0 => "no change".to_owned(),
                    _ => signed(at, 2),
                };
                Entry {
                    colour: self.tone(at),
                    from: (i > -4).then_some(at - 0.5 * step),
                    to: (i < 4).then_some(at + 0.5 * step),
                    word,
                }
            })
            .collect();
        entries.push(Entry {
            colour: [0; 3],
            from: None,
            to: None,
            word: "no light".to_owned(),
        });
        entries
    }
}

fn change(bare: f32, glass: f32) -> Option<f32> {
    (bare > NO_LIGHT && glass > NO_LIGHT).then(|| (glass / bare).log2())
}
