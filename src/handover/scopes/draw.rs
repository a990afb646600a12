//! Lines, labels and ink by density.

use crate::handover::letters;
use crate::handover::page::{Anchor, Area, Ink, Item, Page, Picture8, Style, Text};

/// Space round everything, mm.
pub(super) const MARGIN: f64 = 4.0;
/// Weight of a hairline, mm.
pub(super) const HAIR: f64 = 0.1;

/// The page's title.
pub(super) const TITLE: Style = style(7.0, Ink::TEXT);
/// What stands under it, and words beside an axis.
pub(super) const NOTE: Style = style(5.5, Ink::QUIET);
/// Levels along an axis.
pub(super) const LABEL: Style = style(5.0, Ink::QUIET);

const fn style(size_pt: f64, ink: Ink) -> Style {
    Style {
        size_pt,
        leading: 1.25,
        tracking: 0.0,
        ink,
    }
}

/// An empty page.
pub(super) const fn page(width_mm: f64, height_mm: f64) -> Page {
    Page {
        width_mm,
        height_mm,
        items: Vec::new(),
    }
}

/// Where a label stands to its point.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum At {
    /// It starts there.
    Left,
    /// It ends there.
    Right,
    /// Its middle is there.
    Middle,
}

/// Sets a line of text with its baseline at `y`.
pub(super) fn label(page: &mut Page, style: Style, at: At, [x, y]: [f64; 2], words: &str) {
    let (anchor, x) = match at {
        At::Left => (Anchor::Left, x),
        At::Right => (Anchor::Right, x),
        At::Middle => {
            let half = 0.5 * letters::width(words, 0.0) * style.em_mm();
            (Anchor::Left, x - half)
        }
    };
    page.items.push(Item::Text(Text {
        lines: vec![words.to_owned()],
        style,
        anchor,
        x_mm: x,
        baseline_mm: y,
    }));
}

/// The title and the line under it; gives back where the rest may start.
pub(super) fn head(page: &mut Page, title: &str, note: &str) -> f64 {
    let room = page.width_mm - 2.0 * MARGIN;
    let mut y = MARGIN + 2.0;
    for (style, words) in [(TITLE, title), (NOTE, note)] {
        let em = style.em_mm();
        let lines = letters::clip(letters::wrap(words, room / em, 0.0), 2, room / em, 0.0);
        for line in lines.iter().filter(|l| !l.is_empty()) {
            label(page, style, At::Left, [MARGIN, y], line);
            y += style.leading * em;
        }
    }
    y
}

/// An upright hairline.
pub(super) fn upright(page: &mut Page, [x, y]: [f64; 2], height: f64, weight: f64, ink: Ink) {
    page.items.push(Item::Rect(
        Area {
            x: x - 0.5 * weight,
            y,
            width: weight,
            height,
        },
        ink,
    ));
}

/// The four sides of an area.
pub(super) fn outline(page: &mut Page, area: &Area, ink: Ink) {
    page.rule(area.x, area.y, area.width, HAIR, ink);
    page.rule(area.x, area.y + area.height - HAIR, area.width, HAIR, ink);
    for x in [area.x, area.x + area.width] {
        upright(page, [x, area.y], area.height, HAIR, ink);
    }
}

/// A line from point to point.
pub(super) fn line(page: &mut Page, points: &[[f64; 2]], weight: f64, ink: Ink) {
    for pair in points.windows(2) {
        let [[x0, y0], [x1, y1]] = [pair[0], pair[1]];
        let length = (x1 - x0).hypot(y1 - y0);
        if length > 0.0 {
            let half = 0.5 * weight / length;
            let (dx, dy) = (half * (y0 - y1), half * (x1 - x0));
            let corners = vec![
                [x0 + dx, y0 + dy],
                [x1 + dx, y1 + dy],
                [x1 - dx, y1 - dy],
                [x0 - dx, y0 - dy],
            ];
            page.items.push(Item::Polygon(corners, ink));
        }
    }
}

/// A picture of densities, 0 paper to 1 ink, rows from the top.
pub(super) fn density(
    page: &mut Page,
    area: Area,
    [width, height]: [usize; 2],
    ink: Ink,
    dense: impl Fn(usize, usize) -> f64,
) {
    let mut rgb = Vec::with_capacity(3 * width * height);
    for y in 0..height {
        for x in 0..width {
            let part = dense(x, y).clamp(0.0, 1.0);
            let mix = |paper: u8, ink: u8| {
                let (paper, ink) = (f64::from(paper), f64::from(ink));
                (paper + part * (ink - paper)).round() as u8
            };
            let codes = Ink::PAPER.0.iter().zip(ink.0);
            rgb.extend(codes.map(|(paper, ink)| mix(*paper, ink)));
        }
    }
    if let Some(picture) = Picture8::new(width, height, rgb) {
        page.items.push(Item::Picture(picture, area));
    }
}
