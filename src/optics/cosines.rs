//! Directions as cosines: the flat plane in which glass scatters alike everywhere.
//!
//! A flat glass scatters by a law of the difference of direction cosines, not of angles and not of places
//! on the sensor. With (x, y) on the sensor behind a lens of focal length f, the cosines across and up are
//! `(α, β) = (x, y)/√(f² + x² + y²)`, and `dα dβ = cos⁴θ dx dy / f²`. On the sensor a halo therefore
//! stretches by sec³θ away from the axis and by secθ around it: 1.20 and 1.06 at 20°, 2.23 and 1.31
//! at 40°.
//!
//! Source: J. E. Harvey et al., "Understanding surface scatter phenomena", SPIE (2019): scattered radiance
//! is shift-invariant in direction cosine space; the Jacobian is worked in `tests/it/stretch.rs`.
//!
//! ```
//! use foreglass::optics::cosines::Cells;
//! use foreglass::optics::field::View;
//! let view = View { focal_mm: 20.0, width_mm: 24.0, height_mm: 16.0 };
//! let cells = Cells::of(&view, [240.0, 160.0], 240);
//! let [_, down] = cells.count();
//! // The middle of the frame lies in the middle of the rectangle, and its edges on the rectangle's.
//! let [x, y] = cells.place(119.5, 79.5);
//! assert!((x - 119.5).abs() < 1e-9 && (y - (down as f64 - 1.0) / 2.0).abs() < 1e-9);
//! assert!((cells.place(-0.5, 79.5)[0] + 0.5).abs() < 1e-9);
//! // Far from the axis a pixel covers less of it: cos⁴θ.
//! let cos = 20.0 / 20_f64.hypot(12.0);
//! let (edge, middle) = (cells.area(-0.5, 79.5), cells.area(119.5, 79.5));
//! assert!((edge / middle - cos.powi(4)).abs() < 1e-9);
//! ```

use super::field::View;

/// The rectangle of direction cosines around a frame, cut into square cells, and the frame's pixels in it.
#[derive(Debug, Clone, Copy)]
pub struct Cells {
    /// Tangent of the field angle per pixel.
    tangent: [f64; 2],
    /// Cosine per cell.
    cell: f64,
    pixels: [f64; 2],
    count: [usize; 2],
}

impl Cells {
    /// The rectangle around a frame of `pixels`, cut into `across` cells and as many down as it takes.
    /// Pixels need not be whole: blocks of them may hang over the frame's right and lower edges.
    #[must_use]
    pub fn of(view: &View, pixels: [f64; 2], across: usize) -> Self {
        let sides = [view.width_mm, view.height_mm].map(|mm| mm / view.focal_mm);
        let sine = sides.map(|t| t / (0.5 * t).hypot(1.0));
        let cell = sine[0] / across as f64;
        let down = (sine[1] / cell - 1e-6).ceil().max(1.0) as usize;
        Self {
            tangent: [sides[0] / pixels[0], sides[1] / pixels[1]],
            cell,
            pixels,
            count: [across, down],
        }
    }

    /// The same rectangle with each cell cut into `times` by `times`.
    #[must_use]
    pub fn finer(self, times: usize) -> Self {
        Self {
            cell: self.cell / times as f64,
            count: self.count.map(|n| n * times),
            ..self
        }
    }

    /// The rectangle with so many cells more on every side.
    #[must_use]
    pub fn wider(self, by: usize) -> Self {
        Self {
            count: self.count.map(|n| n + 2 * by),
            ..self
        }
    }

    /// Cells across and down.
    #[must_use]
    pub const fn count(&self) -> [usize; 2] {
        self.count
    }

    /// Where the centre of pixel (x, y) lies, in cells: whole numbers are centres of cells. Pixels beyond
    /// the frame have a place too.
    #[must_use]
    pub fn place(&self, x: f64, y: f64) -> [f64; 2] {
        self.place_and_area(x, y).0
    }

    /// How many cells the pixel (x, y) covers.
    #[must_use]
    pub fn area(&self, x: f64, y: f64) -> f64 {
        self.place_and_area(x, y).1
    }

    /// [`Self::place`] and [`Self::area`] at once.
    #[must_use]
    pub fn place_and_area(&self, x: f64, y: f64) -> ([f64; 2], f64) {
        let tx = (x - 0.5 * (self.pixels[0] - 1.0)) * self.tangent[0];
        let ty = (y - 0.5 * (self.pixels[1] - 1.0)) * self.tangent[1];
        let cos2 = 1.0 / (tx * tx + ty * ty + 1.0);
        let per_cell = 1.0 / self.cell;
        let scale = cos2.sqrt() * per_cell;
        let place = [
            tx * scale + 0.5 * (self.count[0] as f64 - 1.0),
            ty * scale + 0.5 * (self.count[1] as f64 - 1.0),
        ];
        let pixel = self.tangent[0] * self.tangent[1] * per_cell * per_cell;
        (place, cos2 * cos2 * pixel)
    }

    /// Cells per radian of small angle.
    #[must_use]
    pub const fn per_radian(&self) -> f64 {
        1.0 / self.cell
    }

    /// The tangent of the field angle per pixel, across and down.
    #[must_use]
    pub const fn tangent(&self) -> [f64; 2] {
        self.tangent
    }

    /// The place of the lens axis in pixels: whole numbers are centres of pixels.
    #[must_use]
    pub fn middle(&self) -> [f64; 2] {
        self.pixels.map(|n| 0.5 * (n - 1.0))
    }

    /// How many pixels beyond each side of the frame the rectangle reaches in its corners: across and down. At
    /// most a frame's own size: past that lies the horizon.
    #[must_use]
    pub fn margin(&self) -> [usize; 2] {
        let half = [0, 1].map(|i| 0.5 * self.count[i] as f64 * self.cell);
        let left = 1.0 - half[0] * half[0] - half[1] * half[1];
        [0, 1].map(|i| {
            let corner = if left > 1e-3 {
                half[i] / left.sqrt() / self.tangent[i]
            } else {
                f64::INFINITY
            };
            (corner - 0.5 * self.pixels[i])
                .clamp(0.0, self.pixels[i])
                .ceil() as usize
        })
    }
}
