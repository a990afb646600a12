//! The pictures as textures. Codes go to the screen as they are: opaque, untinted, never blended.

use crate::session::{Codes, Mip, Shown, fitting};
use eframe::egui_wgpu::RenderState;
use eframe::wgpu;
use egui::{ColorImage, Context, TextureFilter, TextureHandle, TextureId, TextureOptions};
use std::cell::Cell;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

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
    /// Those that a texture can hold, largest first.
    sizes: Vec<Size>,
    /// Pixels across the screen that the picture last took, once it was drawn: a size is coded and sent when it is looked
    /// at, since all of them take longer than drawing the window.
    wanted: Cell<Option<f32>>,
    /// Whether the size that is being coded is done.
    coding: Option<Arc<AtomicBool>>,
}

/// One size of a picture.
struct Size {
    /// Its place among the picture's sizes.
    at: usize,
    width: usize,
    texture: Option<Texture>,
}

/// A texture of the toolkit's, or one that was made on its device.
enum Texture {
    Sent(TextureHandle),
    Made(TextureId),
}

/// Says that a thread is done, even where it ended in a panic: then with no drawing of its own, which would try the
/// same again at once.
struct Told(Arc<AtomicBool>, Context);

impl Drop for Told {
    fn drop(&mut self) {
        self.0.store(true, Ordering::Release);
        if !std::thread::panicking() {
            self.1.request_repaint();
        }
    }
}

impl Slot {
    /// Takes a picture over, if it is another one than before, and sends the size that is looked at.
    ///
    /// Codes that are not made yet are made on a thread of their own. Until they are there the last picture stays, where it
    /// is of the same cut, and sizes that were sent already are drawn in place of the one that is wanted.
    pub(super) fn update(
        &mut self,
        (ctx, screen): (&Context, Option<&RenderState>),
        name: &str,
        shown: Option<&Arc<Shown>>,
    ) {
        if (self.coding.as_ref()).is_some_and(|done| done.load(Ordering::Acquire)) {
            self.coding = None;
        }
        let Some(shown) = shown else {
            self.of = None;
            let _none_kept = self.clear(screen);
            return;
        };
        let other = !self.of.as_ref().is_some_and(|of| Arc::ptr_eq(of, shown));
        let limit = ctx.input(|i| i.max_texture_side);
        let mut kept = None;
        if other {
            let sizes = sizes(shown, limit);
            if let (Some(pixels), Some(of)) = (self.wanted.get(), &self.of)
                && of.is_beside(shown)
                && self.sizes.iter().any(|s| s.texture.is_some())
                && let Some(wanted) = fit(&sizes, pixels)
                && !shown.is_ready(wanted.at)
            {
                let at = wanted.at;
                self.code(ctx, shown, at);
                return;
            }
            kept = self.clear(screen);
            self.of = Some(Arc::clone(shown));
            self.sizes = sizes;
        }
        let Some(wanted) = self.wanted.get().and_then(|p| fit(&self.sizes, p)) else {
            return;
        };
        let (mut at, sent) = (wanted.at, wanted.texture.is_some());
        if !sent && !shown.is_ready(at) {
            self.code(ctx, shown, at);
            // Something is better than nothing.
            let any = self.sizes.iter().any(|s| s.texture.is_some());
            match self.sizes.iter().find(|s| shown.is_ready(s.at)) {
                Some(ready) if !any => at = ready.at,
                _ => return,
            }
        }
        // Of the largest size a pixel enlarged is a square; others are enlarged while that is coded.
        let finest = shown.finest && self.sizes.first().is_some_and(|s| s.at == at);
        if let Some(size) = self.sizes.iter_mut().find(|s| s.at == at)
            && size.texture.is_none()
        {
            size.texture = match &shown.codes {
                Codes::Here(mips) => mips.get(at).map(|mip| send(ctx, name, (mip, finest), kept)),
                Codes::There(codes) => screen
                    .zip(codes.sizes.get(at))
                    .map(|(screen, texture)| take(screen, texture, finest)),
            };
        }
    }

    /// Codes a size on a thread of its own, unless one is being coded.
    fn code(&mut self, ctx: &Context, shown: &Arc<Shown>, at: usize) {
        if self.coding.is_some() {
            return;
        }
        let shown = Arc::clone(shown);
        let done = Arc::new(AtomicBool::new(false));
        let told = Told(Arc::clone(&done), ctx.clone());
        let code = move || {
            shown.mips()[at].rgba();
            // The drawing that is asked for must find it done, and nothing left to be freed before that.
            drop(shown);
            drop(told);
        };
        let thread = std::thread::Builder::new().name("codes".to_owned());
        // Without a thread it is tried again at the next drawing.
        self.coding = thread.spawn(code).ok().map(|_| done);
    }

    /// Frees what was sent, but for one of the toolkit's textures.
    fn clear(&mut self, screen: Option<&RenderState>) -> Option<TextureHandle> {
        let mut kept = None;
        for texture in std::mem::take(&mut self.sizes)
            .into_iter()
            .filter_map(|s| s.texture)
        {
            match texture {
                Texture::Sent(texture) => kept = Some(texture),
                Texture::Made(id) => free(screen, id),
            }
        }
        kept
    }

    /// The picture that was last taken over.
    pub(super) const fn shown(&self) -> Option<&Arc<Shown>> {
        self.of.as_ref()
    }

    /// Pixels across the screen that the picture takes; None until it was drawn.
    pub(super) const fn wanted(&self) -> Option<f32> {
        self.wanted.get()
    }

    /// Whether the size that is looked at is still to be coded.
    pub(super) const fn is_coding(&self) -> bool {
        self.coding.is_some()
    }

    /// The smallest size that is not enlarged at `pixels` across the screen, or the largest there is; until that is
    /// sent, at the next drawing, whatever was.
    pub(super) fn texture(&self, ctx: &Context, pixels: f32) -> Option<TextureId> {
        self.wanted.set(Some(pixels));
        let wanted = fit(&self.sizes, pixels)?;
        if wanted.texture.is_none() && self.coding.is_none() {
            ctx.request_repaint();
        }
        let sent = self.sizes.iter().filter(|s| s.texture.is_some());
        let texture = fit(sent, pixels)?.texture.as_ref()?;
        Some(match texture {
            Texture::Sent(texture) => texture.id(),
            Texture::Made(id) => *id,
        })
    }
}

/// The sizes of a picture that a texture can hold.
fn sizes(shown: &Shown, limit: usize) -> Vec<Size> {
    let sizes = shown.sizes().into_iter().enumerate();
    let held = sizes.filter(|(_, size)| size[0].max(size[1]) <= limit);
    held.map(|(at, size)| Size {
        at,
        width: size[0],
        texture: None,
    })
    .collect()
}

/// The smallest of some sizes that is not enlarged at `pixels` across, or the largest of them.
fn fit<'a>(sizes: impl IntoIterator<Item = &'a Size>, pixels: f32) -> Option<&'a Size> {
    let sizes: Vec<&Size> = sizes.into_iter().collect();
    let widths: Vec<usize> = sizes.iter().map(|s| s.width).collect();
    fitting(&widths, pixels).map(|at| sizes[at])
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
        magnification: if finest {
            TextureFilter::Nearest
        } else {
            TextureFilter::Linear
        },
        minification: TextureFilter::Linear,
        ..TextureOptions::LINEAR
    };
    let image = ColorImage::from_rgba_premultiplied([mip.width, mip.height], mip.rgba());
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
