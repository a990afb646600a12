//! A column of text on a page, filled from the top; the type sizes, the title and the foot.

use super::letters::{ASCENT, DESCENT, clip, wrap};
use super::page::{Anchor, Area, Ink, Item, Page, Picture8, Style, Text};
use super::sheet::{MODELLED, Sheet};

/// Left and right margin, in millimetres.
pub(super) const SIDE: f64 = 15.0;
/// Top margin.
pub(super) const TOP: f64 = 14.0;
/// Bottom margin.
pub(super) const FOOT: f64 = 11.0;
/// Below a section, before the next hairline, scaled with the type.
pub(super) const BELOW: f64 = 4.4;
/// No text is set smaller, in points: printed A4 stays readable at arm's length.
const LEAST_PT: f64 = 6.6;

/// The type sizes of a page, all scaled together when it is crowded.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sizes(pub(super) f64);

impl Sizes {
    fn style(self, pt: f64, leading: f64, ink: Ink) -> Style {
        Style {
            size_pt: (pt * self.0).max(LEAST_PT),
            leading,
            tracking: 0.0,
            ink,
        }
    }
    pub(super) fn title(self) -> Style {
        Style {
            tracking: -0.006,
            ..self.style(23.0, 1.12, Ink::TEXT)
        }
    }
    pub(super) fn name(self) -> Style {
        self.style(13.5, 1.15, Ink::TEXT)
    }
    pub(super) fn figure(self) -> Style {
        Style {
            // Open, so that the slash of an f-number stands clear of its letter.
            tracking: 0.012,
            ..self.style(34.0, 1.0, Ink::TEXT)
        }
    }
    pub(super) fn headline(self) -> Style {
        Style {
            tracking: 0.006,
            ..self.style(19.0, 1.0, Ink::TEXT)
        }
    }
    pub(super) fn unit(self) -> Style {
        self.style(15.0, 1.0, Ink::TEXT)
    }
    pub(super) fn body(self) -> Style {
        self.style(10.5, 1.32, Ink::TEXT)
    }
    pub(super) fn quiet(self) -> Style {
        self.style(9.0, 1.34, Ink::QUIET)
    }
    /// A distance that shrinks with the type, in millimetres.
    pub(super) fn gap(self, mm: f64) -> f64 {
        mm * self.0
    }
}

/// A column, and how far down it is filled.
#[derive(Debug, Clone, Copy)]
pub(super) struct Flow {
    pub(super) x: f64,
    pub(super) width: f64,
    /// Where the next block's top goes.
    pub(super) y: f64,
}

/// The text with its last two words held together where the last is short: no "f/3.4" alone on a line.
#[must_use]
fn no_orphan(text: &str) -> String {
    match text.trim().rsplit_once(' ') {
        Some((before, last)) if last.chars().count() <= 6 => format!("{before}\u{a0}{last}"),
        _ => text.trim().to_owned(),
    }
}

/// Height of a block of lines, from the first ascender to the last descender.
#[must_use]
pub(super) fn block_height(style: &Style, lines: usize) -> f64 {
    #[expect(clippy::cast_precision_loss, reason = "a page holds few lines")]
    let steps = lines.saturating_sub(1) as f64;
    (ASCENT + DESCENT + steps * style.leading) * style.em_mm()
}

/// Sets `text` with its top at `y`, at most `most` lines of `wide` millimetres; gives the y below.
pub(super) fn set(
    page: &mut Page,
    [x, y]: [f64; 2],
    wide: f64,
    anchor: Anchor,
    style: Style,
    text: &str,
    most: usize,
) -> f64 {
    let text = no_orphan(text);
    if text.is_empty() || most == 0 {
        return y;
    }
    let limit = wide / style.em_mm();
    let lines = clip(
        wrap(&text, limit, style.tracking),
        most,
        limit,
        style.tracking,
    );
    let height = block_height(&style, lines.len());
    let baseline_mm = y + ASCENT * style.em_mm();
    page.items.push(Item::Text(Text {
        lines,
        style,
        anchor,
        x_mm: x,
        baseline_mm,
    }));
    y + height
}

impl Flow {
    /// Sets a text across the column.
    pub(super) fn text(&mut self, page: &mut Page, style: Style, text: &str, most: usize) {
        self.y = set(
            page,
            [self.x, self.y],
            self.width,
            Anchor::Left,
            style,
            text,
            most,
        );
    }

    /// A section's hairline and its quiet heading, with something at the right end of it.
    pub(super) fn heading(&mut self, page: &mut Page, sizes: Sizes, text: &str, right: &str) {
        page.rule(self.x, self.y, self.width, 0.12, Ink::HAIR);
        self.y += sizes.gap(1.7);
        let at = [self.x + self.width, self.y];
        set(
            page,
            at,
            self.width / 2.0,
            Anchor::Right,
            sizes.quiet(),
            right,
            1,
        );
        self.text(page, sizes.quiet(), text, 1);
        self.y += sizes.gap(2.0);
    }

    /// Lines of text under a heading; nothing at all when there are none.
    pub(super) fn paragraphs(
        &mut self,
        page: &mut Page,
        sizes: Sizes,
        (heading, texts): (&str, &[String]),
        most: usize,
    ) {
        if texts.iter().all(|t| t.trim().is_empty()) {
            return;
        }
        self.heading(page, sizes, heading, "");
        for text in texts.iter().filter(|t| !t.trim().is_empty()) {
            self.text(page, sizes.body(), text, most);
            self.y += sizes.gap(1.2);
        }
        self.y += sizes.gap(BELOW - 1.2);
    }
}

/// A picture within `room`, at its top left, whole; gives the place it took.
pub(super) fn picture(page: &mut Page, picture: &Picture8, room: Area) -> Area {
    let width = room.width.min(room.height * picture.aspect());
    let area = Area {
        width,
        height: width / picture.aspect(),
        ..room
    };
    page.items.push(Item::Picture(picture.clone(), area));
    area
}

/// The foot of the page: cautions left, program and date right, over a hairline. Gives its top.
pub(super) fn foot(page: &mut Page, sheet: &Sheet, sizes: Sizes) -> f64 {
    let style = sizes.quiet();
    let inner = page.width_mm - 2.0 * SIDE;
    let wide = inner * 0.72;
    let mut said = MODELLED.to_owned();
    for caution in sheet
        .cautions
        .iter()
        .map(|c| c.trim())
        .filter(|c| !c.is_empty())
    {
        said.push(' ');
        said.push_str(caution);
    }
    let limit = wide / style.em_mm();
    let lines = clip(wrap(&said, limit, 0.0), 3, limit, 0.0).len();
    let top = page.height_mm - FOOT - block_height(&style, lines);
    page.rule(SIDE, top - 2.2, inner, 0.12, Ink::HAIR);
    set(page, [SIDE, top], wide, Anchor::Left, style, &said, 3);
    let made = format!("foreglass {}", env!("CARGO_PKG_VERSION"));
    let made = if sheet.date.trim().is_empty() {
        made
    } else {
        format!("{made} · {}", sheet.date)
    };
    set(
        page,
        [SIDE + inner, top],
        inner * 0.25,
        Anchor::Right,
        style,
        &made,
        2,
    );
    top - 2.2
}

/// The page's title and the quiet line under it; gives the y below.
pub(super) fn title(page: &mut Page, sizes: Sizes, words: &str, under: &str) -> f64 {
    let inner = page.width_mm - 2.0 * SIDE;
    let y = set(
        page,
        [SIDE, TOP],
        inner,
        Anchor::Left,
        sizes.title(),
        words,
        2,
    ) + sizes.gap(1.4);
    set(
        page,
        [SIDE, y],
        inner,
        Anchor::Left,
        sizes.quiet(),
        under,
        2,
    ) + sizes.gap(4.5)
}

/// How many lines of a style fit between two heights.
pub(super) fn lines_within(style: &Style, top: f64, bottom: f64) -> usize {
    let spare = bottom - top - block_height(style, 1);
    if spare < -1e-9 {
        return 0;
    }
    #[expect(
        clippy::cast_possible_truncation,
        clippy::cast_sign_loss,
        reason = "not negative, and a page holds few lines"
    )]
    let more = ((spare + 1e-9) / (style.leading * style.em_mm())) as usize;
    more + 1
}
