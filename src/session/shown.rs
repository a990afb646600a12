//! A picture ready to be shown: codes for the screen at a few sizes, and the light behind them.

use super::sizes::{Mip, Spare, fitting, halved};
use crate::frame::{Frame, to_srgb8_halved};
use crate::gpu;
use std::sync::atomic::{AtomicU32, Ordering};
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
    /// Whether its codes stand for something else than light.
    painted: bool,
}

/// A picture's codes, largest first, each size half as wide as the one before it.
#[derive(Debug)]
pub enum Codes {
    /// In memory, each size made when it is first asked for.
    Here(Vec<Mip>),
    /// On the device that draws the window.
    There(gpu::Codes),
}

impl Shown {
    /// A frame; none of its sizes is coded yet unless its light is not kept.
    pub(super) fn of(frame: &Arc<Frame>, keep: Keep, ladder: u64, spare: &Arc<Spare>) -> Self {
        let mut mips = Mip::all(vec![Arc::clone(frame)], spare, |frames, times, room| {
            to_srgb8_halved(&frames[0], times, room)
        });
        if !keep.light {
            Mip::make_all(&mut mips);
        }
        let shown = Self::with(Codes::Here(mips), keep, ladder);
        if keep.light {
            shown.lit(Arc::clone(frame));
        }
        shown
    }

    /// Codes that lie on the device that draws the window; the light is still to come.
    pub(super) const fn on_device(codes: gpu::Codes, keep: Keep, ladder: u64) -> Self {
        Self::with(Codes::There(codes), keep, ladder)
    }

    /// Codes that `paint` makes of some frames of one size, at whatever size of them is asked for.
    pub(super) fn painted(
        frames: Vec<Arc<Frame>>,
        ladder: u64,
        paint: impl Fn(&[Arc<Frame>]) -> Vec<u8> + Send + Sync + 'static,
    ) -> Self {
        let paint = move |frames: &[Arc<Frame>], times: usize, _: Vec<u8>| {
            let frames: Vec<Arc<Frame>> = frames.iter().map(|f| halved(f, times)).collect();
            paint(&frames)
        };
        let keep = Keep {
            light: false,
            finest: true,
            coarse: false,
        };
        let codes = Codes::Here(Mip::all(frames, &Arc::default(), paint));
        Self {
            painted: true,
            ..Self::with(codes, keep, ladder)
        }
    }

    const fn with(codes: Codes, keep: Keep, ladder: u64) -> Self {
        Self {
            codes,
            light: OnceLock::new(),
            metered: keep.light,
            finest: keep.finest,
            coarse: keep.coarse,
            ladder,
            painted: false,
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

    /// The sizes whose codes are in memory or can be; none where they are on the device that draws the window.
    #[must_use]
    pub fn mips(&self) -> &[Mip] {
        match &self.codes {
            Codes::Here(mips) => mips,
            Codes::There(_) => &[],
        }
    }

    /// Pixels across and down of each size, largest first.
    #[must_use]
    pub fn sizes(&self) -> Vec<[usize; 2]> {
        match &self.codes {
            Codes::Here(mips) => mips.iter().map(|m| [m.width, m.height]).collect(),
            Codes::There(codes) => {
                let sizes = codes.sizes.iter().map(|t| [t.width(), t.height()]);
                sizes.map(|size| size.map(|n| n as usize)).collect()
            }
        }
    }

    /// Whether a size is ready to be shown: coded, or on the device.
    #[must_use]
    pub fn is_ready(&self, size: usize) -> bool {
        match &self.codes {
            Codes::Here(mips) => mips.get(size).is_some_and(|m| m.made().is_some()),
            Codes::There(codes) => size < codes.sizes.len(),
        }
    }

    /// Codes the size that is looked at where a picture takes so many pixels across the screen.
    pub(super) fn code(&self, pixels: f32) {
        if let Codes::Here(mips) = &self.codes {
            let widths: Vec<usize> = mips.iter().map(|m| m.width).collect();
            if let Some(at) = fitting(&widths, pixels) {
                mips[at].rgba();
            }
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

    /// Whether it is of the same cut of the same still, and a picture like the other or painted like it.
    #[must_use]
    pub const fn is_beside(&self, other: &Self) -> bool {
        self.ladder == other.ladder && self.painted == other.painted
    }
}

/// How large the bare picture and the one through the glass are looked at, told from one thread to others.
#[derive(Debug)]
pub(super) struct Looked([AtomicU32; 2]);

impl Default for Looked {
    /// As large as they are.
    fn default() -> Self {
        Self([f32::INFINITY; 2].map(|pixels| AtomicU32::new(pixels.to_bits())))
    }
}

impl Looked {
    /// Pixels across the screen: bare, through the glass; None where one was never drawn, which changes nothing.
    pub(super) fn set(&self, pixels: [Option<f32>; 2]) {
        for (place, pixels) in self.0.iter().zip(pixels) {
            if let Some(pixels) = pixels {
                place.store(pixels.to_bits(), Ordering::Relaxed);
            }
        }
    }

    /// Pixels across the screen: bare, through the glass; endless until somebody has looked.
    pub(super) fn get(&self) -> [f32; 2] {
        let pixels = |place: &AtomicU32| f32::from_bits(place.load(Ordering::Relaxed));
        self.0.each_ref().map(pixels)
    }
}

/// What is kept of a picture and known about it.
#[derive(Debug, Clone, Copy)]
pub(super) struct Keep {
    pub(super) light: bool,
    pub(super) finest: bool,
    pub(super) coarse: bool,
}

impl std::fmt::Debug for Shown {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match &self.codes {
            Codes::Here(mips) => f.debug_tuple("Shown").field(mips).finish(),
            Codes::There(codes) => f.debug_tuple("Shown").field(codes).finish(),
        }
    }
}
