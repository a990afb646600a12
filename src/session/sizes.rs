//! A picture's codes in memory, a size at a time.
//!
//! A window looks at one size of a picture, and coding them all takes several times as long. A size is coded when it
//! is first asked for, from the light at full size, so that its codes do not hang on which sizes were asked for before.

use super::shown::NARROWEST;
use crate::frame::{Frame, height_for, to_width};
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

/// The longest side of the smallest size, which every device's textures can have.
const TALLEST: usize = 2048;

/// Codes of some frames, halved so many times, in the memory that is handed over: sRGB, red, green, blue and an opaque
/// fourth byte, rows from the top.
type Paint = Box<dyn Fn(&[Arc<Frame>], usize, Vec<u8>) -> Vec<u8> + Send + Sync>;

/// What a picture's codes are made of.
struct Source {
    frames: Vec<Arc<Frame>>,
    paint: Paint,
    spare: Arc<Spare>,
}

/// Codes that nobody looks at any more: fresh memory takes longer to be had than to be filled.
#[derive(Debug, Default)]
pub(super) struct Spare(Mutex<Vec<Vec<u8>>>);

impl Spare {
    /// Those that are kept: one for the picture that is made next, one that came back meanwhile.
    const MOST: usize = 2;

    /// Memory of this length, or none.
    fn take(&self, length: usize) -> Vec<u8> {
        let mut spare = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let at = spare.iter().position(|codes| codes.len() == length);
        at.map_or_else(Vec::new, |at| spare.swap_remove(at))
    }

    fn give(&self, codes: Vec<u8>) {
        let mut spare = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if spare.len() >= Self::MOST {
            spare.remove(0);
        }
        spare.push(codes);
    }
}

/// One size of a picture: sRGB codes, red, green, blue and an opaque fourth byte, rows from the top.
pub struct Mip {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// How often the light is halved for it.
    halved: usize,
    /// None where all sizes were made at once.
    source: Option<Arc<Source>>,
    rgba: OnceLock<Vec<u8>>,
}

impl Mip {
    /// All sizes of some frames of one size, largest first, each half as wide as the one before it; none is coded yet.
    ///
    /// The smaller sizes are made in linear light, by area.
    pub(super) fn all(
        frames: Vec<Arc<Frame>>,
        spare: &Arc<Spare>,
        paint: impl Fn(&[Arc<Frame>], usize, Vec<u8>) -> Vec<u8> + Send + Sync + 'static,
    ) -> Vec<Self> {
        let size = frames.first().map_or((0, 0), |f| (f.width(), f.height()));
        let source = Arc::new(Source {
            frames,
            paint: Box::new(paint),
            spare: Arc::clone(spare),
        });
        // A long picture has a size that any texture can hold.
        let halves = |&(w, h): &(usize, usize)| {
            (w / 2 >= NARROWEST || h > TALLEST && w > 1).then(|| (w / 2, height_for((w, h), w / 2)))
        };
        let sizes = std::iter::successors(Some(size), halves);
        sizes
            .enumerate()
            .map(|(halved, (width, height))| Self {
                width,
                height,
                halved,
                source: Some(Arc::clone(&source)),
                rgba: OnceLock::new(),
            })
            .collect()
    }

    /// Makes all sizes and lets go of the light.
    pub(super) fn make_all(mips: &mut [Self]) {
        let Some(source) = mips.first().and_then(|mip| mip.source.clone()) else {
            return;
        };
        let mut frames = source.frames.clone();
        for mip in mips {
            if mip.halved > 0 {
                // From the size before it, since there is one.
                frames
                    .iter_mut()
                    .for_each(|frame| *frame = halved(frame, 1));
            }
            mip.rgba
                .get_or_init(|| (source.paint)(&frames, 0, Vec::new()));
            mip.source = None;
        }
    }

    /// The codes, `4 × width × height`; made now where nobody has asked for them yet, which takes milliseconds.
    pub fn rgba(&self) -> &[u8] {
        self.rgba.get_or_init(|| {
            let Some(source) = &self.source else {
                return Vec::new();
            };
            let room = source.spare.take(4 * self.width * self.height);
            (source.paint)(&source.frames, self.halved, room)
        })
    }

    /// The codes, where they are made.
    #[must_use]
    pub fn made(&self) -> Option<&[u8]> {
        self.rgba.get().map(Vec::as_slice)
    }
}

impl Drop for Mip {
    fn drop(&mut self) {
        if let (Some(source), Some(codes)) = (&self.source, self.rgba.take()) {
            source.spare.give(codes);
        }
    }
}

/// Half as wide so many times, by area.
pub(super) fn halved(frame: &Arc<Frame>, times: usize) -> Arc<Frame> {
    let mut frame = Arc::clone(frame);
    for _ in 0..times {
        frame = to_width(&frame, frame.width() / 2).map_or(frame, Arc::new);
    }
    frame
}

/// Which of some widths, largest first, serves at `pixels` across the screen: the smallest that is not enlarged, or
/// the largest. None where there are none.
#[must_use]
pub fn fitting(widths: &[usize], pixels: f32) -> Option<usize> {
    let enough = widths.iter().rposition(|w| *w as f32 >= 0.999 * pixels);
    enough.or(if widths.is_empty() { None } else { Some(0) })
}

impl std::fmt::Debug for Mip {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Mip {}×{}", self.width, self.height)
    }
}
