//! The sheet of two to four looks: a row each, and in each what fits of it. A look's own sheet and
//! its recipe say the rest.

use super::flow::{Flow, SIDE, Sizes, block_height, foot, lines_within, picture, set, title};
use super::letters::{ASCENT, width};
use super::page::{Anchor, Area, Ink, Page};
use super::pieces::level_shape;
use super::sheet::{LookSheet, Sheet};
use super::words;

/// Between the pictures of a pair, in millimetres.
const BETWEEN: f64 = 4.0;
/// Between the pictures and the words.
const GUTTER: f64 = 9.0;
/// Between rows.
const ROW_GAP: f64 = 5.0;

/// Lays the looks out, a row each.
pub(super) fn lay_out(sheet: &Sheet, looks: &[LookSheet]) -> Page {
    let crowded = looks.len() > 2;
    let sizes = Sizes(if crowded { 0.86 } else { 0.95 });
    let mut page = Page::a4_landscape();
    let floor = foot(&mut page, sheet, sizes) - 4.0;
    let inner = page.width_mm - 2.0 * SIDE;
    let mut y = title(&mut page, sizes, &sheet.title, &sheet.frame_name);
    #[expect(clippy::cast_precision_loss, reason = "a page holds four looks")]
    let rows = looks.len() as f64;
    // The captions stand once, over the first row.
    let caption = block_height(&sizes.quiet(), 1) + 1.2;
    let height = (floor - y - caption - ROW_GAP * (rows - 1.0)) / rows;
    let wide = (inner * if crowded { 0.46 } else { 0.64 } - BETWEEN) / 2.0;
    let widest = looks
        .iter()
        .flat_map(|l| [l.bare.aspect(), l.glass.aspect()])
        .map(|aspect| wide.min(height * aspect))
        .fold(16.0, f64::max);
    let xs = [SIDE, SIDE + widest + BETWEEN];
    for (x, word) in xs.into_iter().zip(["Bare", "Glass"]) {
        set(
            &mut page,
            [x, y],
            widest,
            Anchor::Left,
            sizes.quiet(),
            word,
            1,
        );
    }
    y += caption;
    let words_at = SIDE + 2.0 * widest + BETWEEN + GUTTER;
    for (i, look) in looks.iter().enumerate() {
        if i > 0 {
            page.rule(SIDE, y - ROW_GAP / 2.0, inner, 0.12, Ink::HAIR);
        }
        let bottom = y + height;
        let mut under = y;
        for (x, shown) in xs.into_iter().zip([&look.bare, &look.glass]) {
            let place = picture(
                &mut page,
                shown,
                Area {
                    x,
                    y,
                    width: widest,
                    height,
                },
            );
            under = under.max(place.y + place.height);
        }
        let flow = |x: f64, right: f64, y: f64| Flow {
            x,
            width: right - x,
            y,
        };
        let end = SIDE + inner;
        if crowded {
            let middle = words_at + (end - words_at) * 0.37;
            let mut name = flow(words_at, middle - 6.0, y);
            headline(&mut page, &mut name, sizes, look, bottom);
            let mut rest = flow(middle, end, y);
            stack(&mut page, &mut rest, sizes, look, bottom);
            remarks(&mut page, &mut rest, sizes, look, bottom);
        } else {
            let mut side = flow(words_at, end, y);
            headline(&mut page, &mut side, sizes, look, bottom);
            side.y += sizes.gap(2.0);
            stack(&mut page, &mut side, sizes, look, bottom);
            let mut below = flow(SIDE, SIDE + 2.0 * widest + BETWEEN, under + sizes.gap(3.0));
            remarks(&mut page, &mut below, sizes, look, bottom);
        }
        y = bottom + ROW_GAP;
    }
    page
}

/// A look's name, its light lost and its stop to set.
fn headline(page: &mut Page, flow: &mut Flow, sizes: Sizes, look: &LookSheet, bottom: f64) {
    flow.text(page, sizes.name(), &look.name, 2);
    flow.y += sizes.gap(2.0);
    let half = flow.width / 2.0;
    let lost = words::stops(look.light_loss_stops);
    let (number, unit) = lost.split_once(' ').unwrap_or((&lost, ""));
    let stop = look.stop_kind.words(look.stop_to_set);
    let modelled = format!("{} modelled", words::hundredths(look.light_loss_stops));
    let unrounded = format!("{} unrounded", words::exact(look.stop_to_set));
    let from = format!("set, from {}", look.stop_kind.words(look.bare_stop));
    let figures = [
        (number, format!("{unit} lost"), modelled),
        (stop.as_str(), from, unrounded),
    ];
    let mut lowest = flow.y;
    for (x, (figure, first, second)) in [flow.x, flow.x + half].into_iter().zip(figures) {
        let wide = half - 1.0;
        let mut y = set(
            page,
            [x, flow.y],
            wide,
            Anchor::Left,
            sizes.headline(),
            figure,
            1,
        );
        for line in [first.trim(), second.as_str()] {
            y += sizes.gap(0.4);
            let room = lines_within(&sizes.quiet(), y, bottom).min(1);
            y = set(page, [x, y], wide, Anchor::Left, sizes.quiet(), line, room);
        }
        lowest = lowest.max(y);
    }
    flow.y = lowest;
}

/// The stack, a line a piece, from the lens outward.
fn stack(page: &mut Page, flow: &mut Flow, sizes: Sizes, look: &LookSheet, bottom: f64) {
    let (body, quiet) = (sizes.body(), sizes.quiet());
    let end = flow.x + flow.width;
    let number = width("−00.00", 0.0) * body.em_mm();
    set(
        page,
        [end, flow.y],
        flow.width / 3.0,
        Anchor::Right,
        quiet,
        "stops lost",
        1,
    );
    flow.width *= 0.6;
    flow.text(page, quiet, "From the lens outward", 1);
    flow.width /= 0.6;
    flow.y += sizes.gap(1.0);
    let place_wide = sizes.gap(15.0);
    let glass = flow.x + place_wide + sizes.gap(2.0);
    let wide = end - number - sizes.gap(2.0) - glass;
    for (i, row) in look.stack.iter().enumerate() {
        let left = look.stack.len() - i;
        let room = lines_within(&body, flow.y, bottom);
        if room == 0 {
            return;
        }
        if room == 1 && left > 1 {
            flow.text(page, quiet, &format!("and {left} more, in the recipe"), 1);
            return;
        }
        let top = flow.y;
        set(
            page,
            [flow.x, top],
            place_wide,
            Anchor::Left,
            body,
            &row.place,
            1,
        );
        let loss = words::hundredths(row.loss_stops);
        set(page, [end, top], number, Anchor::Right, body, &loss, 1);
        set(page, [glass, top], wide, Anchor::Left, body, &row.glass, 1);
        flow.y = top + body.leading * body.em_mm();
    }
    if look.stack.is_empty() {
        flow.text(page, body, "No glass: the frame as it is.", 1);
    }
    flow.y += sizes.gap(1.2);
}

/// Advisories, the gravest first, and the note, as far as there is room.
fn remarks(page: &mut Page, flow: &mut Flow, sizes: Sizes, look: &LookSheet, bottom: f64) {
    let (body, quiet) = (sizes.body(), sizes.quiet());
    let mut rows: Vec<_> = look.advisories.iter().collect();
    rows.sort_by_key(|r| std::cmp::Reverse(r.level));
    let text = flow.x + sizes.gap(5.2);
    let wide = flow.x + flow.width - text;
    for (i, row) in rows.iter().enumerate() {
        let left = rows.len() - i;
        let room = lines_within(&body, flow.y, bottom);
        if room == 0 {
            return;
        }
        if room == 1 && left > 1 {
            let more = format!("{left} advisories, in the recipe");
            set(page, [text, flow.y], wide, Anchor::Left, quiet, &more, 1);
            return;
        }
        let middle = flow.y + (ASCENT - 0.3) * body.em_mm();
        level_shape(
            page,
            row.level,
            [flow.x + sizes.gap(1.7), middle],
            sizes.gap(1.35),
        );
        let said = format!("{}: {}", row.level.word(), row.text);
        // Leave a line to those that follow.
        let most = (room - usize::from(left > 1)).min(2);
        flow.y = set(page, [text, flow.y], wide, Anchor::Left, body, &said, most) + sizes.gap(1.1);
    }
    flow.y += sizes.gap(0.8);
    let room = lines_within(&quiet, flow.y, bottom);
    flow.text(page, quiet, &look.note, room);
}
