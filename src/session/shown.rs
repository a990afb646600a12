//! A picture ready to be shown: codes for the screen at a few sizes, and the light behind them.

use crate::frame::{Frame, to_srgb8, to_width};
use crate::gpu;
use std::sync::{Arc, OnceLock};

/// Narrowest of the sizes that a picture is shown from.
pub(super) const NARROWEST: usize = 240;

/// A picture for the screen.
///
/// The smaller sizes are made in linear light, by area, so that a picture shown small has the
/// brightness and the colours that it has when shown large.
pub struct Shown {
    /// The codes, wherever they are.
    pub codes: Codes,
    /// The light, once it is here.
    light: OnceLock<Arc<Frame>>,
    /// Whether it is to be metered: not a picture too large to keep twice.
    pub(super) metered: bool,
    /// Whether nothing finer can be had of this still.
    pub finest: bool,
    /// Whether it is only a quick first picture.
    pub coarse: bool,
    /// Which still it is of.
    pub(super) ladder: u64,
}

/// A picture's codes, largest first, each size half as wide as the one before it.
#[derive(Debug)]
pub enum Codes {
    /// In memory.
    Here(Vec<Mip>),
    /// On the device that draws the window.
    There(gpu::Codes),
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
        let shown = Self {
            codes: Codes::Here(mips),
            light: OnceLock::new(),
            metered: keep.light,
            finest: keep.finest,
            coarse: keep.coarse,
            ladder,
        };
        if keep.light {
            shown.lit(Arc::clone(frame));
        }
        shown
    }

    /// Codes that lie on the device that draws the window; the light is still to come.
    pub(super) const fn on_device(codes: gpu::Codes, keep: Keep, ladder: u64) -> Self {
        Self {
            codes: Codes::There(codes),
            light: OnceLock::new(),
            metered: keep.light,
            finest: keep.finest,
            coarse: keep.coarse,
            ladder,
        }
    }

    /// The light, to be metered: None for a picture too large to keep twice, and until it is here.
    #[must_use]
    pub fn light(&self) -> Option<&Arc<Frame>> {
        self.light.get()
    }

    /// Brings the light, once.
    pub(super) fn lit(&self, light: Arc<Frame>) {
        // A second time it is the same light.
        drop(self.light.set(light));
    }

    /// The codes where they are in memory; none where they are on the device that draws the window.
    #[must_use]
    pub fn mips(&self) -> &[Mip] {
        match &self.codes {
            Codes::Here(mips) => mips,
            Codes::There(_) => &[],
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
            codes: Codes::Here(mips),
            light: OnceLock::new(),
            metered: false,
            finest: true,
            coarse: false,
            ladder,
        }
    }

    /// Pixels across of its largest size.
    #[must_use]
    pub fn width(&self) -> usize {
        match &self.codes {
            Codes::Here(mips) => mips.first().map_or(0, |m| m.width),
            Codes::There(codes) => codes.sizes.first().map_or(0, |t| t.width() as usize),
        }
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
        match &self.codes {
            Codes::Here(mips) => f.debug_tuple("Shown").field(mips).finish(),
            Codes::There(codes) => f.debug_tuple("Shown").field(codes).finish(),
        }
    }
}

impl std::fmt::Debug for Mip {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Mip {}×{}", self.width, self.height)
    }
}
