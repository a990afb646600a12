//! The sections with a drawing in them: the stack as a light path, and the advisories.

use super::flow::{BELOW, Flow, Sizes, block_height, set};
use super::letters::{ASCENT, width};
use super::page::{Anchor, Area, Ink, Item, Page, regular};
use super::sheet::StackRow;
use super::words;
use crate::rig::advisory::{Advisory, Level};

impl Flow {
    /// The stack as a table that starts at the lens: a drawn light path at the left, places, glass
    /// with its placement beneath, and losses in a column.
    pub(super) fn stack(
        &mut self,
        page: &mut Page,
        sizes: Sizes,
        ((rows, left_out), total): ((&[StackRow], &[StackRow]), f64),
        most: [usize; 2],
    ) {
        let (body, quiet) = (sizes.body(), sizes.quiet());
        self.heading(page, sizes, "Stack, from the lens outward", "stops lost");
        let number = width("−00.00", 0.0) * body.em_mm();
        let place = self.x + sizes.gap(12.0);
        let place_wide = sizes.gap(16.0);
        let glass = place + place_wide + sizes.gap(2.0);
        let glass_wide = self.x + self.width - number - sizes.gap(3.0) - glass;
        let axis = self.x + sizes.gap(4.5);
        let middle = |y: f64| y + (ASCENT - 0.26) * body.em_mm();

        let lens_at = middle(self.y);
        self.y = set(
            page,
            [place, self.y],
            place_wide,
            Anchor::Left,
            quiet,
            "Lens",
            1,
        ) + sizes.gap(2.2);
        let mut marks = Vec::new();
        for row in rows {
            let top = self.y;
            marks.push(middle(top));
            let left = set(
                page,
                [place, top],
                place_wide,
                Anchor::Left,
                body,
                &row.place,
                2,
            );
            let end = [self.x + self.width, top];
            let loss = words::hundredths(row.loss_stops);
            set(page, end, number, Anchor::Right, body, &loss, 1);
            let mut y = set(
                page,
                [glass, top],
                glass_wide,
                Anchor::Left,
                body,
                &row.glass,
                most[0],
            );
            if !row.detail.trim().is_empty() {
                y += sizes.gap(0.5);
                y = set(
                    page,
                    [glass, y],
                    glass_wide,
                    Anchor::Left,
                    quiet,
                    &row.detail,
                    most[1],
                );
            }
            self.y = y.max(left).max(top + block_height(&body, 1)) + sizes.gap(2.4);
        }
        if rows.is_empty() {
            let words = "No glass: the frame as it is.";
            self.y = set(
                page,
                [place, self.y],
                glass_wide,
                Anchor::Left,
                body,
                words,
                2,
            ) + sizes.gap(2.2);
        }
        if !left_out.is_empty() {
            let more = format!("and {} more, in the recipe", left_out.len());
            self.y = set(
                page,
                [glass, self.y],
                glass_wide,
                Anchor::Left,
                quiet,
                &more,
                1,
            ) + sizes.gap(2.2);
        }
        let scene_at = middle(self.y);
        let bottom = set(
            page,
            [place, self.y],
            place_wide,
            Anchor::Left,
            quiet,
            "Scene",
            1,
        );
        light_path(page, sizes, axis, [lens_at, scene_at], &marks);
        if rows.len() > 1 {
            let end = self.x + self.width;
            page.rule(glass, self.y - sizes.gap(0.8), end - glass, 0.12, Ink::HAIR);
            let top = self.y + sizes.gap(0.3);
            set(
                page,
                [glass, top],
                glass_wide,
                Anchor::Left,
                quiet,
                "together",
                1,
            );
            let sum = words::hundredths(total);
            self.y = set(page, [end, top], number, Anchor::Right, body, &sum, 1);
        }
        self.y = self.y.max(bottom) + sizes.gap(BELOW);
    }

    /// Advisories: a shape and a word for the level, then the text. Those beyond `most[0]` are
    /// counted; each takes at most `most[1]` lines.
    pub(super) fn advisories(
        &mut self,
        page: &mut Page,
        sizes: Sizes,
        rows: &[Advisory],
        most: [usize; 2],
    ) {
        if rows.is_empty() {
            return;
        }
        // The gravest first; the order given within a level.
        let mut rows: Vec<&Advisory> = rows.iter().collect();
        rows.sort_by_key(|r| std::cmp::Reverse(r.level));
        self.heading(page, sizes, "Advisories", "");
        let body = sizes.body();
        let word = self.x + sizes.gap(5.2);
        let word_wide = width("Must fix", 0.0) * body.em_mm() + 0.2;
        let text = word + word_wide + sizes.gap(3.2);
        let shown = if rows.len() > most[0] {
            most[0].saturating_sub(1)
        } else {
            rows.len()
        };
        for row in &rows[..shown] {
            let middle = self.y + (ASCENT - 0.3) * body.em_mm();
            level_shape(
                page,
                row.level,
                [self.x + sizes.gap(1.7), middle],
                sizes.gap(1.45),
            );
            let end = set(
                page,
                [word, self.y],
                word_wide,
                Anchor::Left,
                body,
                row.level.word(),
                1,
            );
            let wide = self.x + self.width - text;
            self.y = set(
                page,
                [text, self.y],
                wide,
                Anchor::Left,
                body,
                &row.text,
                most[1],
            )
            .max(end)
                + sizes.gap(2.0);
        }
        if shown < rows.len() {
            let more = format!("and {} more, in the recipe", rows.len() - shown);
            self.y = set(
                page,
                [word, self.y],
                self.width,
                Anchor::Left,
                sizes.quiet(),
                &more,
                1,
            );
        }
        self.y += sizes.gap(BELOW - 2.0);
    }
}

/// The light path: a lens, a hairline, a pane for each piece of glass, the scene.
fn light_path(page: &mut Page, sizes: Sizes, x: f64, [lens, scene]: [f64; 2], panes: &[f64]) {
    let half = sizes.gap(3.8);
    page.rule(x - 0.08, lens, 0.16, scene - lens, Ink::HAIR);
    // A lens seen from the side, lying: two arcs of a circle of 2.3 times its half-width.
    let radius = 2.3 * half;
    let centre = (radius * radius - half * half).sqrt();
    let arc = |sign: f64| {
        (0..=24).map(move |i| {
            let dx = sign * half * (f64::from(i) / 12.0 - 1.0);
            [
                x + dx,
                lens + sign * ((radius * radius - dx * dx).sqrt() - centre),
            ]
        })
    };
    page.items.push(Item::Polygon(
        arc(1.0).chain(arc(-1.0)).collect(),
        Ink::TEXT,
    ));
    for &y in panes {
        page.rule(
            x - half,
            y - sizes.gap(0.3),
            2.0 * half,
            sizes.gap(0.6),
            Ink::TEXT,
        );
    }
    page.disc(x, scene, sizes.gap(0.95), Ink::TEXT);
    page.disc(x, scene, sizes.gap(0.62), Ink::PAPER);
}

/// A ring for a note, a triangle for a caution, a full square for what must be fixed.
pub(super) fn level_shape(page: &mut Page, level: Level, [x, y]: [f64; 2], r: f64) {
    match level {
        Level::Note => {
            page.disc(x, y, 0.8 * r, Ink::TEXT);
            page.disc(x, y, 0.5 * r, Ink::PAPER);
        }
        Level::Caution => {
            let y = y + 0.2 * r;
            page.items
                .push(Item::Polygon(regular(x, y, 1.15 * r, 3, 0.0), Ink::TEXT));
            page.items
                .push(Item::Polygon(regular(x, y, 0.55 * r, 3, 0.0), Ink::PAPER));
        }
        Level::Stop => {
            let side = 1.7 * r;
            let area = Area {
                x: x - side / 2.0,
                y: y - side / 2.0,
                width: side,
                height: side,
            };
            page.items.push(Item::Rect(area, Ink::TEXT));
        }
    }
}
