//! Paints a page into pixels.
//!
//! Light is mixed in linear light (sRGB codes decoded by IEC 61966-2-1), pictures are scaled by
//! averaging the area a pixel covers, letters are drawn by their outlines. Dark letters mixed in
//! linear light come out thinner than they print; their coverage is raised to compensate.

use super::letters::letters;
use super::page::{Anchor, Area, Ink, Item, Page, Picture8, Text};
use crate::colour::transfer::Curve;
use crate::meters::Painted;
use crate::watch::{Cancelled, Watch};
use ab_glyph::{Font as _, PxScale, point};
use std::sync::OnceLock;

/// Default fineness: A4 becomes 2339 × 1654 pixels.
pub const DPI: f64 = 200.0;
/// The finest a page is painted, which bounds its memory (A4: 7016 × 4961 pixels).
pub const MOST_DPI: f64 = 600.0;
const LEAST_DPI: f64 = 20.0;

/// Letters' coverage is raised to this power. Chosen by eye, no source.
const LETTER_COVERAGE_POWER: f64 = 0.62;

/// Progress once all is drawn; the rest is for its codes.
const DRAWN: f32 = 0.7;

/// Paints `page` at `dpi` dots an inch, clamped to 20–600. `watch` moves by rows of its pictures, which take by far
/// the longest of what is drawn, then by rows of codes.
///
/// # Errors
/// [`Cancelled`], soon after `watch` is.
pub fn paint(page: &Page, dpi: f64, watch: &Watch) -> Result<Painted, Cancelled> {
    let dpi = if dpi.is_finite() {
        dpi.clamp(LEAST_DPI, MOST_DPI)
    } else {
        DPI
    };
    let mut canvas = Canvas::new(page, dpi / 25.4);
    let drawing = watch.part(0.0, DRAWN);
    let pictures = page.pictures().count();
    let mut drawn = 0;
    for item in &page.items {
        watch.check()?;
        match item {
            Item::Text(text) => canvas.text(text),
            Item::Rect(area, ink) => canvas.rect(area, *ink),
            Item::Polygon(corners, ink) => canvas.polygon(corners, *ink),
            Item::Picture(picture, area) => {
                let at = |n: usize| share(n, pictures);
                canvas.picture(picture, area, &drawing.part(at(drawn), at(drawn + 1)))?;
                drawn += 1;
            }
        }
    }
    canvas.finish(&watch.part(DRAWN, 1.0))
}

/// How much of a work of `all` steps is done after `n`.
#[expect(
    clippy::cast_precision_loss,
    reason = "rows and pictures of a page are far below 2^23"
)]
pub(super) fn share(n: usize, all: usize) -> f32 {
    n as f32 / all.max(1) as f32
}

/// The light of every sRGB code.
fn linear() -> &'static [f32] {
    static TABLE: OnceLock<Vec<f32>> = OnceLock::new();
    TABLE.get_or_init(|| Curve::Srgb.table(8))
}

/// The sRGB code nearest to a light: the lights half-way between codes part them.
fn code(light: f32) -> u8 {
    static EDGES: OnceLock<Vec<f32>> = OnceLock::new();
    let edges = EDGES.get_or_init(|| {
        (0..255_u8)
            .map(|k| Curve::Srgb.decode((f32::from(k) + 0.5) / 255.0))
            .collect()
    });
    u8::try_from(edges.partition_point(|&e| e <= light)).unwrap_or(u8::MAX)
}

/// Linear light, and where the pixels are.
struct Canvas {
    width: usize,
    height: usize,
    /// Pixels to the millimetre.
    scale: f64,
    light: Vec<[f32; 3]>,
}

/// A run of pixels and how much of each a length covers.
#[expect(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_precision_loss,
    reason = "clamped to 0..=limit first"
)]
fn cover(from: f64, to: f64, limit: usize) -> impl Iterator<Item = (usize, f64)> {
    let from = from.clamp(0.0, limit as f64);
    let to = to.clamp(from, limit as f64);
    (from.floor() as usize..to.ceil() as usize)
        .map(move |i| (i, (to.min(i as f64 + 1.0) - from.max(i as f64)).max(0.0)))
}

impl Canvas {
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "a page's sides are positive and its fineness is bounded"
    )]
    fn new(page: &Page, scale: f64) -> Self {
        let side = |mm: f64| ((mm * scale).round() as usize).clamp(1, 30_000);
        let (width, height) = (side(page.width_mm), side(page.height_mm));
        Self {
            width,
            height,
            scale,
            light: vec![[1.0; 3]; width * height],
        }
    }

    fn blend(&mut self, x: usize, y: usize, ink: [f32; 3], cover: f32) {
        let pixel = &mut self.light[y * self.width + x];
        for (p, i) in pixel.iter_mut().zip(ink) {
            *p += (i - *p) * cover;
        }
    }

    #[expect(clippy::cast_possible_truncation, reason = "coverage to f32 is meant")]
    fn rect(&mut self, area: &Area, ink: Ink) {
        let ink = ink.0.map(|c| linear()[usize::from(c)]);
        let s = self.scale;
        for (y, down) in cover(area.y * s, (area.y + area.height) * s, self.height) {
            for (x, across) in cover(area.x * s, (area.x + area.width) * s, self.width) {
                self.blend(x, y, ink, (down * across) as f32);
            }
        }
    }

    /// Fills by eight by eight samples a pixel: shapes are small.
    #[expect(clippy::cast_precision_loss, reason = "pixel positions are below 2^23")]
    fn polygon(&mut self, corners: &[[f64; 2]], ink: Ink) {
        const SIDE: usize = 8;
        let ink = ink.0.map(|c| linear()[usize::from(c)]);
        let corners: Vec<[f64; 2]> = corners.iter().map(|c| c.map(|v| v * self.scale)).collect();
        let span = |axis: usize| {
            let values = corners.iter().map(|c| c[axis]);
            (
                values.clone().fold(f64::INFINITY, f64::min),
                values.fold(0.0, f64::max),
            )
        };
        let ((left, right), (top, bottom)) = (span(0), span(1));
        for (y, _) in cover(top, bottom, self.height) {
            for (x, _) in cover(left, right, self.width) {
                let hits = (0..SIDE * SIDE)
                    .filter(|s| {
                        let at = |i: usize| (i as f64 + 0.5) / SIDE as f64;
                        inside(&corners, x as f64 + at(s % SIDE), y as f64 + at(s / SIDE))
                    })
                    .count();
                self.blend(x, y, ink, hits as f32 / (SIDE * SIDE) as f32);
            }
        }
    }

    /// Scales the picture into its area: each pixel is the mean, in linear light, of what it
    /// covers; where the picture is enlarged its pixels show as squares with soft joints.
    #[expect(
        clippy::cast_precision_loss,
        clippy::cast_possible_truncation,
        reason = "sides are below 2^23; rounding to f32 is meant"
    )]
    fn picture(&mut self, picture: &Picture8, area: &Area, watch: &Watch) -> Result<(), Cancelled> {
        let s = self.scale;
        let (pw, ph) = (picture.width(), picture.height());
        let columns: Vec<(usize, f64)> =
            cover(area.x * s, (area.x + area.width) * s, self.width).collect();
        let across = pw as f64 / (area.width * s);
        let down = ph as f64 / (area.height * s);
        // What each column of the page takes of the picture's columns, the same for every row.
        let takes: Vec<Vec<(usize, f32)>> = columns
            .iter()
            .map(|&(x, _)| {
                let from = (x as f64 - area.x * s) * across;
                cover(from, from + across, pw)
                    .map(|(i, part)| (i, part as f32))
                    .collect()
            })
            .collect();
        let lines: Vec<(usize, f64)> =
            cover(area.y * s, (area.y + area.height) * s, self.height).collect();
        for (n, &(y, part_down)) in lines.iter().enumerate() {
            watch.check()?;
            watch.set_progress(share(n, lines.len()));
            let from = (y as f64 - area.y * s) * down;
            let rows: Vec<(usize, f64)> = cover(from, from + down, ph).collect();
            for (&(x, part_across), take) in columns.iter().zip(&takes) {
                if let Some(mean) = mean(picture, &rows, take) {
                    self.blend(x, y, mean, (part_down * part_across) as f32);
                }
            }
        }
        Ok(())
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_precision_loss,
        reason = "positions on the page are far below 2^23"
    )]
    fn text(&mut self, text: &Text) {
        let l = letters();
        let em = text.style.em_mm() * self.scale;
        let ink = text.style.ink.0.map(|c| linear()[usize::from(c)]);
        for (i, line) in text.lines.iter().enumerate() {
            let (signs, width) = l.set(line, text.style.tracking);
            let start = match text.anchor {
                Anchor::Left => text.x_mm * self.scale,
                Anchor::Right => text.x_mm * self.scale - width * em,
            };
            let baseline = text.baseline_mm * self.scale + i as f64 * text.style.leading * em;
            for sign in signs {
                let face = l.face(sign.face);
                let height = f64::from(face.height_unscaled())
                    / f64::from(face.units_per_em().unwrap_or(1000.0));
                let glyph = sign.glyph.with_scale_and_position(
                    PxScale::from((em * height) as f32),
                    point((start + sign.x * em) as f32, baseline as f32),
                );
                let Some(outline) = face.outline_glyph(glyph) else {
                    continue;
                };
                let corner = outline.px_bounds().min;
                outline.draw(|x, y, covered| self.letter_pixel(corner, x, y, covered, ink));
            }
        }
    }

    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        clippy::cast_precision_loss,
        reason = "checked to lie on the canvas first"
    )]
    fn letter_pixel(&mut self, at: ab_glyph::Point, x: u32, y: u32, covered: f32, ink: [f32; 3]) {
        let (x, y) = (at.x + x as f32, at.y + y as f32);
        if x >= 0.0 && y >= 0.0 && (x as usize) < self.width && (y as usize) < self.height {
            let raised = f64::from(covered.clamp(0.0, 1.0)).powf(LETTER_COVERAGE_POWER);
            self.blend(x as usize, y as usize, ink, raised as f32);
        }
    }

    fn finish(self, watch: &Watch) -> Result<Painted, Cancelled> {
        let mut rgba = Vec::with_capacity(self.light.len() * 4);
        for (n, row) in self.light.chunks_exact(self.width).enumerate() {
            watch.check()?;
            watch.set_progress(share(n, self.height));
            for pixel in row {
                rgba.extend(pixel.map(code));
                rgba.push(u8::MAX);
            }
        }
        Ok(Painted {
            width: u32::try_from(self.width).unwrap_or(u32::MAX),
            height: u32::try_from(self.height).unwrap_or(u32::MAX),
            rgba,
        })
    }
}

/// The mean light of some rows' and columns' parts of a picture; nothing where they are none.
#[expect(clippy::cast_possible_truncation, reason = "rounding to f32 is meant")]
fn mean(picture: &Picture8, rows: &[(usize, f64)], columns: &[(usize, f32)]) -> Option<[f32; 3]> {
    let table = linear();
    let mut sum = [0.0_f32; 3];
    let mut weight = 0.0_f32;
    for &(row, part) in rows {
        for &(column, share) in columns {
            let at = 3 * (row * picture.width() + column);
            let w = part as f32 * share;
            weight += w;
            for (t, &b) in sum.iter_mut().zip(&picture.rgb()[at..at + 3]) {
                *t += w * table[usize::from(b)];
            }
        }
    }
    (weight > 0.0).then(|| sum.map(|t| t / weight))
}

/// Whether a point is inside, by the even-odd rule.
fn inside(corners: &[[f64; 2]], x: f64, y: f64) -> bool {
    let mut within = false;
    let mut last = corners.last().copied().unwrap_or_default();
    for &corner in corners {
        if (corner[1] > y) != (last[1] > y) {
            let cross = last[0] + (y - last[1]) / (corner[1] - last[1]) * (corner[0] - last[0]);
            within ^= x < cross;
        }
        last = corner;
    }
    within
}
