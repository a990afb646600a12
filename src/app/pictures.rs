//! The pictures as textures. Codes go to the screen as they are: opaque, untinted, never blended.

use crate::session::{Codes, Mip, Shown};
use eframe::egui_wgpu::RenderState;
use eframe::wgpu;
use egui::{ColorImage, Context, TextureFilter, TextureHandle, TextureId, TextureOptions};
use std::cell::Cell;
use std::sync::Arc;

/// The two pictures on the graphics side.
#[derive(Default)]
pub(super) struct Pictures {
    pub(super) bare: Slot,
    pub(super) glass: Slot,
}

/// One picture, at the sizes that it has been shown at.
#[derive(Default)]
pub(super) struct Slot {
    of: Option<Arc<Shown>>,
    /// Widths, largest first, and the textures of those that were wanted.
    sizes: Vec<(usize, Option<Texture>)>,
    /// Pixels across the screen that the picture last took: a size is sent when it is looked at, since sending all of
    /// them takes longer than drawing the window.
    wanted: Cell<f32>,
}

/// A texture of the toolkit's, or one that was made on its device.
enum Texture {
    Sent(TextureHandle),
    Made(TextureId),
}

impl Slot {
    /// Takes a picture over, if it is another one than before, and sends the size that is looked at.
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
        let mut kept = None;
        if !same {
            self.of = shown.cloned();
            let before = std::mem::take(&mut self.sizes).into_iter();
            for texture in before.filter_map(|(_, texture)| texture) {
                match texture {
                    Texture::Sent(texture) => kept = Some(texture),
                    Texture::Made(id) => free(screen, id),
                }
            }
            let limit = ctx.input(|i| i.max_texture_side);
            self.sizes = match shown.map(|shown| &shown.codes) {
                Some(Codes::Here(mips)) => mips
                    .iter()
                    .filter(|m| m.width.max(m.height) <= limit)
                    .map(|m| (m.width, None))
                    .collect(),
                Some(Codes::There(codes)) => {
                    let widths = codes.sizes.iter().map(|t| t.width() as usize);
                    widths.map(|width| (width, None)).collect()
                }
                None => Vec::new(),
            };
        }
        let Some(shown) = shown else { return };
        let Some(at) = self.fitting(self.wanted.get(), |_| true) else {
            return;
        };
        let (width, texture) = &mut self.sizes[at];
        if texture.is_none() {
            *texture = match &shown.codes {
                Codes::Here(mips) => mips
                    .iter()
                    .find(|m| m.width == *width)
                    .map(|mip| send(ctx, name, (mip, shown.finest), kept)),
                Codes::There(codes) => screen
                    .zip(codes.sizes.get(at))
                    .map(|(screen, texture)| take(screen, texture, shown.finest)),
            };
        }
    }

    /// The picture that was last taken over.
    pub(super) const fn shown(&self) -> Option<&Arc<Shown>> {
        self.of.as_ref()
    }

    /// The smallest size that is not enlarged at `pixels` across the screen, or the largest there is; until that is
    /// sent, at the next drawing, whatever was.
    pub(super) fn texture(&self, ctx: &Context, pixels: f32) -> Option<TextureId> {
        self.wanted.set(pixels);
        let sent = |at: usize| self.sizes[at].1.is_some();
        if self.fitting(pixels, |_| true).is_some_and(|at| !sent(at)) {
            ctx.request_repaint();
        }
        let at = self.fitting(pixels, sent)?;
        self.sizes[at].1.as_ref().map(|texture| match texture {
            Texture::Sent(texture) => texture.id(),
            Texture::Made(id) => *id,
        })
    }

    /// The smallest of some sizes that is not enlarged at `pixels` across, or the largest of them.
    fn fitting(&self, pixels: f32, some: impl Fn(usize) -> bool) -> Option<usize> {
        let some: Vec<usize> = (0..self.sizes.len()).filter(|at| some(*at)).collect();
        let mut large_enough = some.iter().rev();
        let found = large_enough.find(|at| self.sizes[**at].0 as f32 >= 0.999 * pixels);
        found.or(some.first()).copied()
    }
}

fn free(screen: Option<&RenderState>, id: TextureId) {
    if let Some(screen) = screen {
        screen.renderer.write().free_texture(&id);
    }
}

/// Sends codes to the toolkit, in a texture that it has `kept` of another picture.
fn send(
    ctx: &Context,
    name: &str,
    (mip, finest): (&Mip, bool),
    kept: Option<TextureHandle>,
) -> Texture {
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
    let image = ColorImage::from_rgba_premultiplied([mip.width, mip.height], &mip.rgba);
    Texture::Sent(match kept {
        Some(mut texture) => {
            texture.set(image, options);
            texture
        }
        None => ctx.load_texture(name, image, options),
    })
}

/// Takes a texture over that lies on the toolkit's device already.
fn take(screen: &RenderState, texture: &wgpu::Texture, finest: bool) -> Texture {
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
    Texture::Made(id)
}
