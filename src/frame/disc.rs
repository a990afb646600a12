//! The light under a meter's spot.

use super::Frame;
use crate::colour::primaries::luminance;

/// A disc of a frame: its centre in 0..1 from the top left, its radius in 0..1 of the width.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Disc {
    /// Across.
    pub x: f64,
    /// Down.
    pub y: f64,
    /// Radius.
    pub radius: f64,
}

impl Disc {
    /// The pixels of a picture that lie in it, as indices into its planes.
    ///
    /// Pixel i spans [i/w, (i+1)/w] and counts where its centre is in the disc, and the pixel under the
    /// disc's centre always counts.
    pub fn pixels(self, width: usize, height: usize) -> impl Iterator<Item = usize> {
        let (cx, cy) = (self.x * width as f64, self.y * height as f64);
        let r = self.radius * width as f64;
        let inside = |c: f64, limit: usize| (c.max(0.0) as usize).min(limit - 1);
        let columns = inside(cx - r, width)..=inside(cx + r, width);
        let rows = inside(cy - r, height)..=inside(cy + r, height);
        let centre = (inside(cx, width), inside(cy, height));
        rows.flat_map(move |y| columns.clone().map(move |x| (x, y)))
            .filter(move |&(x, y)| {
                let (dx, dy) = (x as f64 + 0.5 - cx, y as f64 + 0.5 - cy);
                dx * dx + dy * dy <= r * r || (x, y) == centre
            })
            .map(move |(x, y)| y * width + x)
    }

    /// Mean luminance of a frame in it, working light.
    #[must_use]
    pub fn mean(self, frame: &Frame) -> f64 {
        let [r, g, b] = frame.planes();
        let (sum, count) = self
            .pixels(frame.width(), frame.height())
            .fold((0.0, 0_u32), |(sum, count), i| {
                (sum + f64::from(luminance([r[i], g[i], b[i]])), count + 1)
            });
        sum / f64::from(count)
    }
}
