//! A picture's codes as textures, for a screen that the same device draws.

use super::picture::{Picture, Rows};
use super::work::Work;
use super::{Executor, GpuError};
use crate::kernels::screen::{SHADER, ScreenRows};
use crate::kernels::shader::{GROUP, Uniform as _};
use crate::watch::Watch;

/// A picture for the screen, on the device: sRGB codes in textures of `Rgba8Unorm`, opaque.
///
/// The smaller sizes are made in linear light, by area.
#[derive(Debug, Clone)]
pub struct Codes {
    /// Largest first, each half as wide as the one before it.
    pub sizes: Vec<wgpu::Texture>,
}

impl Executor {
    /// The codes of a picture that this executor has made, at its own width and halved as long as that leaves
    /// `narrowest` pixels across or more. Nothing crosses the bus.
    ///
    /// # Errors
    /// [`GpuError::TooLong`] or [`GpuError::TooLarge`] where a texture or a binding cannot hold the picture,
    /// [`GpuError::OutOfMemory`] or [`GpuError::Lost`].
    pub fn codes(&self, picture: &Picture, narrowest: usize) -> Result<Codes, GpuError> {
        self.in_turn(|| {
            let watch = Watch::default();
            let work = Work::new(self, &watch);
            let limits = self.device.limits();
            let size = [picture.width(), picture.height()];
            let needs = picture.rows.bytes();
            let side = limits.max_texture_dimension_2d as usize;
            if size.iter().any(|n| *n > side) {
                return Err(GpuError::TooLong {
                    width: size[0],
                    height: size[1],
                    limit: side,
                });
            }
            if needs > self.limits.binding {
                return Err(GpuError::TooLarge {
                    width: size[0],
                    height: size[1],
                    needs,
                    limit: self.limits.binding,
                });
            }
            let mut encoder = self
                .device
                .create_command_encoder(&wgpu::CommandEncoderDescriptor {
                    label: Some("codes"),
                });
            let mut rows = picture.rows.clone();
            let mut sizes = vec![self.coded(&rows, &work, &mut encoder)];
            while rows.width / 2 >= narrowest {
                rows = self.halved(&rows, &work, &mut encoder)?;
                sizes.push(self.coded(&rows, &work, &mut encoder));
            }
            self.queue.submit([encoder.finish()]);
            Ok(Codes { sizes })
        })
    }

    /// One size's texture.
    fn coded(
        &self,
        rows: &Rows,
        work: &Work<'_>,
        encoder: &mut wgpu::CommandEncoder,
    ) -> wgpu::Texture {
        let size = [rows.width as u32, rows.height as u32];
        let texture = self.device.create_texture(&wgpu::TextureDescriptor {
            label: Some("codes"),
            size: wgpu::Extent3d {
                width: size[0],
                height: size[1],
                depth_or_array_layers: 1,
            },
            mip_level_count: 1,
            sample_count: 1,
            dimension: wgpu::TextureDimension::D2,
            format: wgpu::TextureFormat::Rgba8Unorm,
            usage: wgpu::TextureUsages::STORAGE_BINDING
                | wgpu::TextureUsages::TEXTURE_BINDING
                | wgpu::TextureUsages::COPY_SRC,
            view_formats: &[],
        });
        let view = texture.create_view(&wgpu::TextureViewDescriptor::default());
        let to = wgpu::BindGroupEntry {
            binding: 2,
            resource: wgpu::BindingResource::TextureView(&view),
        };
        let params = ScreenRows::codes(size, rows.stride() as u32);
        self.screen("codes", params, (rows, to), work, encoder);
        texture
    }

    /// A picture half as wide.
    fn halved(
        &self,
        rows: &Rows,
        work: &Work<'_>,
        encoder: &mut wgpu::CommandEncoder,
    ) -> Result<Rows, GpuError> {
        let from = rows.size();
        let width = from[0] / 2;
        let size = [width, crate::frame::height_for((from[0], from[1]), width)];
        let half = Rows::new(work, size)?;
        let to = wgpu::BindGroupEntry {
            binding: 3,
            resource: wgpu::BindingResource::Buffer(half.all()),
        };
        let [size, from] = [size, from].map(|s| s.map(|n| n as u32));
        let strides = [rows.stride() as u32, half.stride() as u32];
        self.screen(
            "area",
            ScreenRows::area(size, from, strides),
            (rows, to),
            work,
            encoder,
        );
        Ok(half)
    }

    /// Records one dispatch of the screen's shader.
    fn screen(
        &self,
        entry: &'static str,
        params: ScreenRows,
        (from, to): (&Rows, wgpu::BindGroupEntry<'_>),
        work: &Work<'_>,
        encoder: &mut wgpu::CommandEncoder,
    ) {
        let pipeline = work.pipeline(&SHADER, entry);
        let uniform = self.filled(entry, &params.bytes(), wgpu::BufferUsages::UNIFORM);
        let first = wgpu::BindGroupEntry {
            binding: 0,
            resource: uniform.as_entire_binding(),
        };
        let second = wgpu::BindGroupEntry {
            binding: 1,
            resource: wgpu::BindingResource::Buffer(from.all()),
        };
        let group = self.device.create_bind_group(&wgpu::BindGroupDescriptor {
            label: Some(entry),
            layout: &pipeline.get_bind_group_layout(0),
            entries: &[first, second, to],
        });
        let mut pass = encoder.begin_compute_pass(&wgpu::ComputePassDescriptor {
            label: Some(entry),
            timestamp_writes: None,
        });
        pass.set_pipeline(&pipeline);
        pass.set_bind_group(0, &group, &[]);
        let [across, down] = [0, 1].map(|i| params.size[i].div_ceil(GROUP[i]));
        pass.dispatch_workgroups(across, down, 1);
    }
}
