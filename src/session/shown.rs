//! A picture ready to be shown: codes for the screen at a few sizes, and the light behind them.

use crate::frame::{Frame, to_srgb8, to_width};
use std::sync::Arc;

/// Narrowest of the sizes that a picture is shown from.
const NARROWEST: usize = 240;

/// A picture for the screen.
///
/// The smaller sizes are made in linear light, by area, so that a picture shown small has the
/// brightness and the colours that it has when shown large.
pub struct Shown {
    /// The codes, largest first, each half as wide as the one before it.
    pub mips: Vec<Mip>,
    /// The light, to be metered; None for a picture too large to keep twice.
    pub light: Option<Arc<Frame>>,
    /// Whether nothing finer can be had of this still.
    pub finest: bool,
    /// Whether it is only a quick first picture.
    pub coarse: bool,
    /// Which still it is of.
    pub(super) ladder: u64,
}

/// One size of a picture: sRGB codes, red, green, blue and an opaque fourth byte, rows from the top.
pub struct Mip {
    /// Pixels across.
    pub width: usize,
    /// Pixels down.
    pub height: usize,
    /// The codes, `4 × width × height`.
    pub rgba: Vec<u8>,
}

impl Shown {
    /// The codes of a frame.
    pub(super) fn of(frame: &Arc<Frame>, keep: Keep, ladder: u64) -> Self {
        let mut mips = vec![Mip::of(frame)];
        let mut last = Arc::clone(frame);
        while last.width() / 2 >= NARROWEST {
            let Ok(half) = to_width(&last, last.width() / 2) else {
                break;
            };
            mips.push(Mip::of(&half));
            last = Arc::new(half);
        }
        let light = keep.light.then(|| Arc::clone(frame));
        Self {
            mips,
            light,
            finest: keep.finest,
            coarse: keep.coarse,
            ladder,
        }
    }

    /// Codes that `paint` makes of some frames of one size, at every size of them.
    pub(super) fn painted<const N: usize>(
        frames: [&Arc<Frame>; N],
        ladder: u64,
        paint: impl Fn([&Frame; N]) -> Vec<u8>,
    ) -> Self {
        let mip = |frames: [&Frame; N]| Mip {
            width: frames[0].width(),
            height: frames[0].height(),
            rgba: paint(frames),
        };
        let mut mips = vec![mip(frames.map(|f| &**f))];
        let mut last = frames.map(Arc::clone);
        while last[0].width() / 2 >= NARROWEST {
            let half = last[0].width() / 2;
            last = last.map(|f| to_width(&f, half).map_or(f, Arc::new));
            if last[0].width() != half {
                break;
            }
            mips.push(mip(last.each_ref().map(|f| &**f)));
        }
        Self {
            mips,
            light: None,
            finest: true,
            coarse: false,
            ladder,
        }
    }

    /// Pixels across of its largest size.
    #[must_use]
    pub fn width(&self) -> usize {
        self.mips.first().map_or(0, |m| m.width)
    }
}

/// What is kept of a picture and known about it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Keep {
    pub(super) light: bool,
    pub(super) finest: bool,
    pub(super) coarse: bool,
}

impl Mip {
    fn of(frame: &Frame) -> Self {
        Self {
            width: frame.width(),
            height: frame.height(),
            rgba: to_srgb8(frame),
        }
    }
}

impl std::fmt::Debug for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let sizes: Vec<String> = self
            .mips
            .iter()
            .map(|m| format!("{}×{}", m.width, m.height))
            .collect();
        write!(f, "Shown {}", sizes.join(", "))
    }
}

impl std::fmt::Debug for Mip {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Mip {}×{}", self.width, self.height)
    }
}
