//! The light under a meter's spot.

use super::Frame;

/// Lines that a pixel on the rim is cut into, to find how much of it the disc covers.
const LINES: u8 = 16;

/// A disc of a frame: its centre in 0..1 from the top left, its radius in 0..1 of the width.
///
/// Pixel i spans [i/w, (i+1)/w], and its light counts by the part of it that the disc covers: counted whole
/// or not at all, a small spot would read a preview and the full size apart.
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
    /// The pixels of a picture whose centres lie in it, as indices into its planes; the pixel under the
    /// disc's centre is always one.
    pub fn pixels(self, width: usize, height: usize) -> impl Iterator<Item = usize> {
        let (cx, cy) = (self.x * width as f64, self.y * height as f64);
        let r = self.radius * width as f64;
        let inside = |c: f64, limit: usize| (c.max(0.0) as usize).min(limit - 1);
        let centre = (inside(cx, width), inside(cy, height));
        self.boxed(width, height)
            .filter(move |&(x, y)| {
                let (dx, dy) = (x as f64 + 0.5 - cx, y as f64 + 0.5 - cy);
                dx * dx + dy * dy <= r * r || (x, y) == centre
            })
            .map(move |(x, y)| y * width + x)
    }

    /// The pixels of a picture that it touches, as indices into its planes, and the part of each that it
    /// covers. Where it is too small to cover anything, the pixel under its centre, whole.
    pub fn covered(self, width: usize, height: usize) -> impl Iterator<Item = (usize, f64)> {
        let (cx, cy) = (self.x * width as f64, self.y * height as f64);
        let r = self.radius * width as f64;
        let mut parts = self
            .boxed(width, height)
            .map(move |(x, y)| {
                let part = covered(x as f64 - cx, y as f64 - cy, r);
                (y * width + x, part)
            })
            .filter(|(_, part)| *part > 0.0)
            .peekable();
        let none = parts.peek().is_none();
        let under = none.then(|| self.pixels(width, height).map(|i| (i, 1.0)));
        parts.chain(under.into_iter().flatten())
    }

    /// The pixels of the box round it, at least the one under its centre.
    fn boxed(self, width: usize, height: usize) -> impl Iterator<Item = (usize, usize)> {
        let (cx, cy) = (self.x * width as f64, self.y * height as f64);
        let r = self.radius * width as f64;
        let inside = |c: f64, limit: usize| (c.max(0.0) as usize).min(limit - 1);
        let columns = inside(cx - r, width)..=inside(cx + r, width);
        let rows = inside(cy - r, height)..=inside(cy + r, height);
        rows.flat_map(move |y| columns.clone().map(move |x| (x, y)))
    }

    /// Mean luminance of a frame in it, working light.
    #[must_use]
    pub fn mean(self, frame: &Frame) -> f64 {
        let (width, height) = (frame.width(), frame.height());
        let light = |i: usize| f64::from(frame.luminance(i));
        let (sum, all) = self
            .covered(width, height)
            .fold((0.0, 0.0), |(sum, all), (i, part)| {
                (sum + part * light(i), all + part)
            });
        sum / all
    }
}

/// The part of a pixel that a disc of radius `r` about the origin covers; (x, y) is the pixel's corner
/// nearest the top left.
fn covered(x: f64, y: f64, r: f64) -> f64 {
    let far = [x, y].map(|v| v.abs().max((v + 1.0).abs()));
    if far[0].hypot(far[1]) <= r {
        return 1.0;
    }
    let near = [x, y].map(|v| v.max(-1.0 - v).max(0.0));
    if near[0].hypot(near[1]) >= r {
        return 0.0;
    }
    let lines = (0..LINES).map(|i| {
        let down = y + (f64::from(i) + 0.5) / f64::from(LINES);
        let half = (r * r - down * down).max(0.0).sqrt();
        (half.min(x + 1.0) - (-half).max(x)).max(0.0)
    });
    lines.sum::<f64>() / f64::from(LINES)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A disc's area, πr², cut off where the frame ends.
    #[test]
    fn the_parts_add_up_to_the_disc() {
        let area = |x: f64, y: f64, radius: f64| -> f64 {
            let disc = Disc { x, y, radius };
            disc.covered(100, 60).map(|(_, part)| part).sum()
        };
        let pi = std::f64::consts::PI;
        for (r, off) in [(0.5, 0.02), (3.3, 0.02), (20.0, 0.02)] {
            let got = area(0.473, 0.511, r / 100.0);
            assert!(
                (got / (pi * r * r) - 1.0).abs() < off,
                "radius {r} px: {got}"
            );
        }
        let corner = area(0.0, 1.0, 0.1);
        assert!((corner / (25.0 * pi) - 1.0).abs() < 0.01, "{corner}");
        assert!((area(0.5, 0.5, 1.0) - 6000.0).abs() < 1e-9, "all of it");
    }
}
