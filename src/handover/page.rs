//! A page as a short list of things to draw: everything is resolved (lines are broken, positions
//! are millimetres from the top left), so that every painter of it puts the same thing in the same
//! place.

use super::letters::{self, ASCENT, DESCENT};

/// Millimetres in a point, 25.4 / 72.
pub const MM_PER_PT: f64 = 25.4 / 72.0;

/// A grey, or a colour, as sRGB codes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Ink(pub [u8; 3]);

impl Ink {
    /// Paper.
    pub const PAPER: Self = Self([255, 255, 255]);
    /// Text.
    pub const TEXT: Self = Self([22, 22, 22]);
    /// Text of the second rank; 6.9 : 1 against paper.
    pub const QUIET: Self = Self([92, 92, 92]);
    /// Hairlines.
    pub const HAIR: Self = Self([176, 176, 176]);
}

/// How a text is set.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Style {
    /// Size of the em, in points.
    pub size_pt: f64,
    /// Baseline to baseline, in ems.
    pub leading: f64,
    /// Added between letters, in ems.
    pub tracking: f64,
    /// Colour.
    pub ink: Ink,
}

impl Style {
    /// The em, in millimetres.
    #[must_use]
    pub fn em_mm(&self) -> f64 {
        self.size_pt * MM_PER_PT
    }
}

/// Which end of each line stands at the given x.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Anchor {
    /// The line starts there.
    Left,
    /// The line ends there.
    Right,
}

/// A rectangle in millimetres, from the page's top left.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Left edge.
    pub x: f64,
    /// Top edge.
    pub y: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl Area {
    /// Whether the insides of two areas share more than a hundredth of a millimetre both ways.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        let share = |a: f64, a_len: f64, b: f64, b_len: f64| (a + a_len).min(b + b_len) - a.max(b);
        share(self.x, self.width, other.x, other.width) > 0.01
            && share(self.y, self.height, other.y, other.height) > 0.01
    }

    /// Whether this area lies in `outer`, to a hundredth of a millimetre.
    #[must_use]
    pub fn lies_in(&self, outer: &Self) -> bool {
        self.x >= outer.x - 0.01
            && self.y >= outer.y - 0.01
            && self.x + self.width <= outer.x + outer.width + 0.01
            && self.y + self.height <= outer.y + outer.height + 0.01
    }
}

/// A text, broken into lines.
#[derive(Debug, Clone, PartialEq)]
pub struct Text {
    /// Its lines, from the top.
    pub lines: Vec<String>,
    /// How it is set.
    pub style: Style,
    /// Which end of the lines stands at `x_mm`.
    pub anchor: Anchor,
    /// Where that end stands.
    pub x_mm: f64,
    /// Baseline of the first line.
    pub baseline_mm: f64,
}

impl Text {
    /// The block the letters stand in: the widest line, first ascender to last descender.
    #[must_use]
    pub fn area(&self) -> Area {
        let em = self.style.em_mm();
        let widest = self
            .lines
            .iter()
            .map(|l| letters::width(l, self.style.tracking))
            .fold(0.0, f64::max)
            * em;
        let x = match self.anchor {
            Anchor::Left => self.x_mm,
            Anchor::Right => self.x_mm - widest,
        };
        #[expect(clippy::cast_precision_loss, reason = "a page holds few lines")]
        let steps = self.lines.len().saturating_sub(1) as f64;
        Area {
            x,
            y: self.baseline_mm - ASCENT * em,
            width: widest,
            height: (ASCENT + DESCENT + steps * self.style.leading) * em,
        }
    }
}

/// A picture already encoded for display: sRGB codes, rows from the top, three bytes a pixel.
#[derive(Clone, PartialEq, Eq)]
pub struct Picture8 {
    width: usize,
    height: usize,
    rgb: std::sync::Arc<[u8]>,
}

impl Picture8 {
    /// A picture of `width × height` pixels from its bytes.
    ///
    /// Gives `None` when a side is zero or the bytes are not `width * height * 3`.
    #[must_use]
    pub fn new(width: usize, height: usize, rgb: Vec<u8>) -> Option<Self> {
        let bytes = width.checked_mul(height)?.checked_mul(3)?;
        (bytes > 0 && rgb.len() == bytes).then(|| Self {
            width,
            height,
            rgb: rgb.into(),
        })
    }

    /// Pixels across.
    #[must_use]
    pub const fn width(&self) -> usize {
        self.width
    }

    /// Pixels down.
    #[must_use]
    pub const fn height(&self) -> usize {
        self.height
    }

    /// The bytes.
    #[must_use]
    pub fn rgb(&self) -> &[u8] {
        &self.rgb
    }

    /// Width over height.
    #[must_use]
    #[expect(clippy::cast_precision_loss, reason = "sides are far below 2^52")]
    pub fn aspect(&self) -> f64 {
        self.width as f64 / self.height as f64
    }
}

impl std::fmt::Debug for Picture8 {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "Picture8 {}×{}", self.width, self.height)
    }
}

/// One thing to draw. Later items lie over earlier ones.
#[derive(Debug, Clone, PartialEq)]
pub enum Item {
    /// A text.
    Text(Text),
    /// A filled rectangle; a rule is a thin one.
    Rect(Area, Ink),
    /// A filled polygon, its corners in millimetres, even-odd.
    Polygon(Vec<[f64; 2]>, Ink),
    /// A picture, filling its area.
    Picture(Picture8, Area),
}

/// A page.
#[derive(Debug, Clone, PartialEq)]
pub struct Page {
    /// Width, in millimetres.
    pub width_mm: f64,
    /// Height, in millimetres.
    pub height_mm: f64,
    /// What is on it, from the bottom up.
    pub items: Vec<Item>,
}

impl Page {
    /// An empty A4 page lying on its side (ISO 216: 297 × 210 mm).
    #[must_use]
    pub const fn a4_landscape() -> Self {
        Self {
            width_mm: 297.0,
            height_mm: 210.0,
            items: Vec::new(),
        }
    }

    /// The whole page.
    #[must_use]
    pub const fn area(&self) -> Area {
        Area {
            x: 0.0,
            y: 0.0,
            width: self.width_mm,
            height: self.height_mm,
        }
    }

    /// Its texts.
    pub fn texts(&self) -> impl Iterator<Item = &Text> {
        self.items.iter().filter_map(|i| match i {
            Item::Text(t) => Some(t),
            _ => None,
        })
    }

    /// Its pictures' places.
    pub fn pictures(&self) -> impl Iterator<Item = &Area> {
        self.items.iter().filter_map(|i| match i {
            Item::Picture(_, area) => Some(area),
            _ => None,
        })
    }

    /// Adds a rule, `weight` millimetres heavy, hanging from `y`.
    pub fn rule(&mut self, x: f64, y: f64, width: f64, weight: f64, ink: Ink) {
        self.items.push(Item::Rect(
            Area {
                x,
                y,
                width,
                height: weight,
            },
            ink,
        ));
    }

    /// Adds a filled circle, as a polygon of 48 sides.
    pub fn disc(&mut self, x: f64, y: f64, radius: f64, ink: Ink) {
        self.items
            .push(Item::Polygon(regular(x, y, radius, 48, 0.0), ink));
    }
}

/// The corners of a regular polygon, the first `turn` turns on from the top.
#[must_use]
pub fn regular(x: f64, y: f64, radius: f64, sides: u32, turn: f64) -> Vec<[f64; 2]> {
    (0..sides)
        .map(|i| {
            let angle = std::f64::consts::TAU * (turn + f64::from(i) / f64::from(sides));
            [x + radius * angle.sin(), y - radius * angle.cos()]
        })
        .collect()
}
