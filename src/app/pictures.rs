//! The pictures as textures. Codes go to the screen as they are: opaque, untinted, never blended.

use crate::session::{Codes, Mip, Shown};
use eframe::egui_wgpu::RenderState;
use eframe::wgpu;
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
    sizes: Vec<(usize, Texture)>,
}

/// A texture of the toolkit's, or one that was made on its device.
enum Texture {
    Sent(TextureHandle),
    Made(TextureId),
}

impl Slot {
    /// Takes a picture over, if it is another one than before.
    pub(super) fn update(
        &mut self,
        (ctx, screen): (&Context, Option<&RenderState>),
        name: &str,
        shown: Option<&Arc<Shown>>,
    ) {
        let same = match (&self.of, shown) {
            (Some(a), Some(b)) => Arc::ptr_eq(a, b),
            (None, None) => true,
            _ => false,
        };
        if same {
            return;
        }
        self.of = shown.cloned();
        let before = std::mem::take(&mut self.sizes);
        match shown.map(|shown| (&shown.codes, shown.finest)) {
            Some((Codes::Here(mips), finest)) => {
                let sent = before.into_iter().filter_map(|(_, texture)| match texture {
                    Texture::Sent(texture) => Some(texture),
                    Texture::Made(id) => {
                        free(screen, id);
                        None
                    }
                });
                self.sizes = send(ctx, name, (mips, finest), sent);
            }
            Some((Codes::There(codes), finest)) => {
                before
                    .into_iter()
                    .for_each(|(_, texture)| texture.free(screen));
                if let Some(screen) = screen {
                    let sizes = codes.sizes.iter();
                    self.sizes = sizes.map(|texture| take(screen, texture, finest)).collect();
                }
            }
            None => before
                .into_iter()
                .for_each(|(_, texture)| texture.free(screen)),
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
        let found = large_enough.or(self.sizes.first());
        found.map(|(_, texture)| match texture {
            Texture::Sent(texture) => texture.id(),
            Texture::Made(id) => *id,
        })
    }
}

impl Texture {
    fn free(self, screen: Option<&RenderState>) {
        if let Self::Made(id) = self {
            free(screen, id);
        }
    }
}

fn free(screen: Option<&RenderState>, id: TextureId) {
    if let Some(screen) = screen {
        screen.renderer.write().free_texture(&id);
    }
}

/// Sends codes to the toolkit, in the textures that it has `kept` of another picture as far as they go.
fn send(
    ctx: &Context,
    name: &str,
    (mips, finest): (&[Mip], bool),
    mut kept: impl Iterator<Item = TextureHandle>,
) -> Vec<(usize, Texture)> {
    let options = TextureOptions {
        // A pixel enlarged is a square, unless a finer picture is still to come.
        magnification: if finest {
            TextureFilter::Nearest
        } else {
            TextureFilter::Linear
        },
        minification: TextureFilter::Linear,
        ..TextureOptions::LINEAR
    };
    let limit = ctx.input(|i| i.max_texture_side);
    let fitting = mips.iter().filter(|m| m.width.max(m.height) <= limit);
    let sent = fitting.map(|mip| {
        let image = ColorImage::from_rgba_premultiplied([mip.width, mip.height], &mip.rgba);
        let texture = match kept.next() {
            Some(mut texture) => {
                texture.set(image, options);
                texture
            }
            None => ctx.load_texture(format!("{name} {}", mip.width), image, options),
        };
        (mip.width, Texture::Sent(texture))
    });
    sent.collect()
}

/// Takes a texture over that lies on the toolkit's device already.
fn take(screen: &RenderState, texture: &wgpu::Texture, finest: bool) -> (usize, Texture) {
    let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
    let sampler = wgpu::SamplerDescriptor {
        label: Some("picture"),
        mag_filter: if finest {
            wgpu::FilterMode::Nearest
        } else {
            wgpu::FilterMode::Linear
        },
        min_filter: wgpu::FilterMode::Linear,
        ..wgpu::SamplerDescriptor::default()
    };
    let mut renderer = screen.renderer.write();
    let id = renderer.register_native_texture_with_sampler_options(&screen.device, &view, sampler);
    (texture.width() as usize, Texture::Made(id))
}
