//! The planned picture in the still, at the sizes in which it is worked on: quick, fine, and as large as is
//! worth showing.

use super::shown::{Keep, Shown};
use crate::frame::restore::{Ask, Decoded, Told, restore};
use crate::frame::{Frame, Native, PREVIEW, Still, at_most, to_width};
use crate::recipe::Framing;
use std::borrow::Cow;
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, OnceLock};

/// Width of the quick picture, pixels.
const COARSE: usize = 480;
/// Pixels of the largest picture that is shown.
const FULL: usize = 12_000_000;

/// How fine a picture is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Detail {
    /// About 480 pixels across.
    Coarse,
    /// About two megapixels.
    Preview,
    /// The still's own size, up to twelve megapixels.
    Full,
}

/// A still as it was decoded.
#[derive(Debug)]
pub(super) struct Plain {
    id: u64,
    /// Its plainly decoded light.
    pub(super) frame: Arc<Frame>,
    /// The way back to the channels of its codes.
    native: Native,
}

impl Plain {
    pub(super) fn of(still: Still) -> Self {
        Self {
            id: next_id(),
            frame: Arc::new(still.frame),
            native: still.native,
        }
    }

    /// What a restoration begins with.
    pub(super) fn decoded(&self) -> Decoded<'_> {
        Decoded {
            frame: &self.frame,
            native: &self.native,
        }
    }

    /// Pixels across and down.
    pub(super) fn size(&self) -> [usize; 2] {
        [self.frame.width(), self.frame.height()]
    }
}

/// The scene's light of a still, and what was asked of it.
struct Light {
    ask: Ask,
    frame: Arc<Frame>,
    told: Told,
}

impl Light {
    fn of(still: &Plain, ask: Ask) -> Self {
        let restored = restore(still.decoded(), &ask);
        let frame = match restored.frame {
            Cow::Borrowed(_) => Arc::clone(&still.frame),
            Cow::Owned(frame) => Arc::new(frame),
        };
        Self {
            ask,
            frame,
            told: restored.told,
        }
    }
}

/// The planned picture in a still, and its smaller selves.
pub(super) struct Ladder {
    id: u64,
    /// Which still it was cut from.
    still: Arc<Plain>,
    light: Arc<Light>,
    framing: Framing,
    original: Arc<Frame>,
    coarse: Option<Arc<Frame>>,
    preview: Arc<Frame>,
    full: OnceLock<Arc<Frame>>,
    bare: Arc<Shown>,
    bare_full: OnceLock<Arc<Shown>>,
}

impl Ladder {
    /// Brings the still's light back, and makes the quick and the fine size and the bare picture.
    pub(super) fn new(still: Arc<Plain>, ask: Ask, framing: Framing) -> Self {
        let light = Arc::new(Light::of(&still, ask));
        Self::cut(still, light, framing)
    }

    /// Another picture out of the same still.
    pub(super) fn recut(&self, ask: &Ask, framing: Framing) -> Self {
        let light = if self.light.ask == *ask {
            Arc::clone(&self.light)
        } else {
            Arc::new(Light::of(&self.still, ask.clone()))
        };
        Self::cut(Arc::clone(&self.still), light, framing)
    }

    fn cut(still: Arc<Plain>, light: Arc<Light>, framing: Framing) -> Self {
        let id = next_id();
        let original = match framing.picture(&light.frame) {
            Cow::Borrowed(_) => Arc::clone(&light.frame),
            Cow::Owned(picture) => Arc::new(picture),
        };
        let preview = within(&original, PREVIEW);
        let coarse = (preview.width() > 2 * COARSE)
            .then(|| to_width(&preview, COARSE).map(Arc::new).ok())
            .flatten();
        let finest = preview.width() == original.width();
        let bare = Arc::new(Shown::of(
            &preview,
            Keep {
                light: true,
                finest,
                coarse: false,
            },
            id,
            &Arc::default(),
        ));
        Self {
            id,
            still,
            light,
            framing,
            original,
            coarse,
            preview,
            full: OnceLock::new(),
            bare,
            bare_full: OnceLock::new(),
        }
    }

    pub(super) const fn id(&self) -> u64 {
        self.id
    }

    /// Which still it was cut from.
    pub(super) fn still(&self) -> u64 {
        self.still.id
    }

    /// Whether it is the picture that a framing takes of the light that is asked for.
    pub(super) fn is_cut_as(&self, ask: &Ask, framing: &Framing) -> bool {
        self.light.ask == *ask && self.framing.takes_as(framing)
    }

    /// How the still's light was brought back.
    pub(super) fn told(&self) -> &Told {
        &self.light.told
    }

    /// Pixels across and down of the picture.
    pub(super) fn size(&self) -> [usize; 2] {
        [self.original.width(), self.original.height()]
    }

    /// The bare picture at the size that is worked on.
    pub(super) fn bare(&self) -> Arc<Shown> {
        Arc::clone(&self.bare)
    }

    /// The bare picture at the largest size; slow the first time.
    pub(super) fn bare_full(&self) -> Arc<Shown> {
        let make = || {
            let frame = self.full();
            Arc::new(Shown::of(
                &frame,
                Keep {
                    light: false,
                    finest: true,
                    coarse: false,
                },
                self.id,
                &Arc::default(),
            ))
        };
        Arc::clone(self.bare_full.get_or_init(make))
    }

    /// Whether a picture of this detail is another one than the next quicker one.
    pub(super) fn has(&self, detail: Detail) -> bool {
        match detail {
            Detail::Coarse => self.coarse.is_some(),
            Detail::Preview => true,
            Detail::Full => self.preview.width() < self.original.width(),
        }
    }

    /// The still at a detail that it has.
    pub(super) fn at(&self, detail: Detail) -> Arc<Frame> {
        match detail {
            Detail::Coarse => Arc::clone(self.coarse.as_ref().unwrap_or(&self.preview)),
            Detail::Preview => Arc::clone(&self.preview),
            Detail::Full => self.full(),
        }
    }

    fn full(&self) -> Arc<Frame> {
        Arc::clone(self.full.get_or_init(|| within(&self.original, FULL)))
    }
}

fn next_id() -> u64 {
    static IDS: AtomicU64 = AtomicU64::new(1);
    IDS.fetch_add(1, Ordering::Relaxed)
}

impl std::fmt::Debug for Ladder {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Ladder of {:?}", self.original)
    }
}

/// The frame itself, or the largest one in proportion that has no more pixels than `limit`.
fn within(frame: &Arc<Frame>, limit: usize) -> Arc<Frame> {
    match at_most(frame, limit) {
        Cow::Borrowed(_) => Arc::clone(frame),
        Cow::Owned(smaller) => Arc::new(smaller),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::recipe::Recipe;

    fn whole(width: usize, height: usize) -> Ladder {
        let recipe = Recipe::default();
        let framing = recipe.unframed([width, height]);
        let still = Plain {
            id: next_id(),
            frame: Arc::new(Frame::black(width, height)),
            native: Native::working(),
        };
        Ladder::new(Arc::new(still), recipe.frame.ask(), framing)
    }

    #[test]
    fn a_large_still_has_three_sizes_and_a_small_one_only_its_own() {
        let large = whole(2400, 1350);
        let widths = [Detail::Coarse, Detail::Preview, Detail::Full].map(|d| large.at(d).width());
        assert_eq!(widths[0], 480, "quick");
        assert!(
            (1800..1920).contains(&widths[1]),
            "two megapixels of 16:9, got {}",
            widths[1]
        );
        assert_eq!(widths[2], 2400, "its own size");
        let small = whole(640, 360);
        assert!(
            !small.has(Detail::Coarse) && !small.has(Detail::Full),
            "nothing but itself"
        );
        assert_eq!(small.at(Detail::Full).width(), 640, "never enlarged");
    }
}
