//! The pictures as textures. Codes go to the screen as they are: opaque, untinted, never blended.

use crate::session::Shown;
use egui::{ColorImage, Context, TextureFilter, TextureHandle, TextureId, TextureOptions};
use std::sync::Arc;

/// The two pictures on the graphics side.
#[derive(Default)]
pub(super) struct Pictures {
    pub(super) bare: Slot,
    pub(super) glass: Slot,
}

/// One picture, at every size it has.
#[derive(Default)]
pub(super) struct Slot {
    of: Option<Arc<Shown>>,
    sizes: Vec<(usize, TextureHandle)>,
}

impl Slot {
    /// Takes a picture over, if it is another one than before.
    pub(super) fn update(&mut self, ctx: &Context, name: &str, shown: Option<&Arc<Shown>>) {
        let same = match (&self.of, shown) {
            (Some(a), Some(b)) => Arc::ptr_eq(a, b),
            (None, None) => true,
            _ => false,
        };
        if same {
            return;
        }
        self.of = shown.cloned();
        let Some(shown) = shown else {
            self.sizes.clear();
            return;
        };
        let options = TextureOptions {
            // A pixel enlarged is a square, unless a finer picture is still to come.
            magnification: if shown.finest {
                TextureFilter::Nearest
            } else {
                TextureFilter::Linear
            },
            minification: TextureFilter::Linear,
            ..TextureOptions::LINEAR
        };
        let limit = ctx.input(|i| i.max_texture_side);
        let fitting = shown.mips.iter().filter(|m| m.width.max(m.height) <= limit);
        let mut kept = std::mem::take(&mut self.sizes).into_iter();
        for mip in fitting {
            let image = ColorImage::from_rgba_premultiplied([mip.width, mip.height], &mip.rgba);
            let texture = match kept.next() {
                Some((_, mut texture)) => {
                    texture.set(image, options);
                    texture
                }
                None => ctx.load_texture(format!("{name} {}", mip.width), image, options),
            };
            self.sizes.push((mip.width, texture));
        }
    }

    /// The picture that was last taken over.
    pub(super) const fn shown(&self) -> Option<&Arc<Shown>> {
        self.of.as_ref()
    }

    /// The smallest size that is not enlarged at `pixels` across the screen, or the largest there is.
    pub(super) fn texture(&self, pixels: f32) -> Option<TextureId> {
        let large_enough = self
            .sizes
            .iter()
            .rev()
            .find(|(width, _)| *width as f32 >= 0.999 * pixels);
        large_enough.or(self.sizes.first()).map(|(_, t)| t.id())
    }
}
