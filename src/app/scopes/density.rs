//! A grid of shares as a picture on the graphics side.

use egui::{Color32, ColorImage, Context, TextureHandle, TextureId, TextureOptions};

/// A picture that is made again only when what it shows is another.
#[derive(Default)]
pub(super) struct Density {
    /// What it shows: where that lies in memory, and how it is drawn.
    of: Option<(usize, u8)>,
    texture: Option<TextureHandle>,
}

impl Density {
    /// The texture of a picture of `columns × rows`, whose colours `make` gives from the top.
    pub(super) fn texture(
        &mut self,
        ctx: &Context,
        of: (usize, u8),
        [columns, rows]: [usize; 2],
        make: impl FnOnce() -> Vec<Color32>,
    ) -> Option<TextureId> {
        if self.of != Some(of) {
            let image = ColorImage::new([columns, rows], make());
            match &mut self.texture {
                Some(texture) => texture.set(image, TextureOptions::LINEAR),
                none => *none = Some(ctx.load_texture("scope", image, TextureOptions::LINEAR)),
            }
            self.of = Some(of);
        }
        self.texture.as_ref().map(TextureHandle::id)
    }
}

/// How bright a share is drawn: a tenth of what is usual there is still seen.
pub(super) fn brightness(share: f32, usual: f32) -> f32 {
    1.0 - (-2.0 * share / usual.max(1e-9)).exp()
}
