//! The sheet of one look.

use super::flow::{BELOW, Flow, SIDE, Sizes, block_height, foot, picture, set, title};
use super::letters::{DESCENT, width};
use super::page::{Anchor, Area, Page};
use super::sheet::{LookSheet, Sheet};
use super::words;

/// Between the two columns, in millimetres.
const GUTTER: f64 = 11.0;

/// How tightly a page is set.
#[derive(Debug, Clone, Copy)]
struct Fit {
    sizes: Sizes,
    /// The most a picture may take of the page's height, in millimetres.
    picture: f64,
    /// Most lines of a piece of glass and of its placement.
    glass: [usize; 2],
    /// Most advisories, and lines of each.
    advisories: [usize; 2],
    /// Most lines on diffusion.
    diffusion: usize,
    /// Most camera lines, and lines of each.
    camera: [usize; 2],
    /// Most lines of the note.
    note: usize,
    /// Most pieces of glass.
    rows: usize,
}

const ALL: usize = usize::MAX;

/// From generous to tight: the scale of the type, and the least height a picture keeps at it. The
/// pictures fill their columns until the type has shrunk as far as reads well.
const STEPS: [(f64, f64); 9] = [
    (1.0, TALLEST),
    (0.95, TALLEST),
    (0.9, TALLEST),
    (0.86, TALLEST),
    (0.86, 56.0),
    (0.82, 50.0),
    (0.78, 46.0),
    (0.74, 42.0),
    (0.7, 38.0),
];

/// The tallest picture of a lying format, in millimetres; an upright one stands half as tall again.
const TALLEST: f64 = 74.0;

/// A fit that says everything.
fn whole(scale: f64, picture: f64) -> Fit {
    Fit {
        sizes: Sizes(scale),
        picture,
        glass: [ALL, ALL],
        advisories: [ALL, ALL],
        diffusion: ALL,
        camera: [ALL, ALL],
        note: ALL,
        rows: ALL,
    }
}

/// The last resort, for a look with more to say than a page holds.
const TIGHT: Fit = Fit {
    sizes: Sizes(0.68),
    picture: 36.0,
    glass: [2, 1],
    advisories: [8, 2],
    diffusion: 2,
    camera: [4, 1],
    note: 6,
    rows: 7,
};

/// Lays one look out: as generously as everything fits.
pub(super) fn lay_out(sheet: &Sheet, look: &LookSheet) -> Page {
    for (scale, least) in STEPS {
        let (page, over) = compose(sheet, look, whole(scale, TALLEST));
        if over <= 0.0 {
            return page;
        }
        // Each millimetre off the pictures gives the words one, where the column they share is the
        // long one.
        let tallest = page.pictures().map(|p| p.height).fold(0.0, f64::max);
        let share = if upright(look) { 1.5 } else { 1.0 };
        let picture = (tallest - over) / share;
        if picture >= least {
            let (page, over) = compose(sheet, look, whole(scale, picture));
            if over <= 0.01 {
                return page;
            }
        }
    }
    compose(sheet, look, TIGHT).0
}

/// The first `most` lines; where there are more, one of them says so.
fn few(lines: &[String], most: usize) -> Vec<String> {
    if lines.len() <= most {
        return lines.to_vec();
    }
    let mut kept = lines[..most.saturating_sub(1)].to_vec();
    kept.push(format!(
        "and {} more, in the recipe",
        lines.len() - kept.len()
    ));
    kept
}

/// Whether the pictures stand rather than lie.
fn upright(look: &LookSheet) -> bool {
    look.bare.aspect().max(look.glass.aspect()) < 1.0
}

/// Lays the page out one way, and says by how many millimetres it is too long.
fn compose(sheet: &Sheet, look: &LookSheet, fit: Fit) -> (Page, f64) {
    let sizes = fit.sizes;
    let mut page = Page::a4_landscape();
    let floor = foot(&mut page, sheet, sizes) - sizes.gap(5.0);
    let inner = page.width_mm - 2.0 * SIDE;
    let column = (inner - GUTTER) / 2.0;

    let y = head(&mut page, sheet, look, sizes);

    let mut left = Flow {
        x: SIDE,
        width: column,
        y,
    };
    let mut right = Flow {
        x: SIDE + column + GUTTER,
        width: column,
        y,
    };
    let upright = upright(look);
    if upright {
        // Tall pictures stand together in the left column and the words take the right one.
        let each = (column - 6.0) / 2.0;
        let room = |x| Area {
            x,
            y,
            width: each,
            height: 1.5 * fit.picture,
        };
        left.y = pair(
            &mut page,
            sizes,
            look,
            [room(SIDE), room(SIDE + each + 6.0)],
        );
    } else {
        let room = |x| Area {
            x,
            y,
            width: column,
            height: fit.picture,
        };
        left.y = pair(&mut page, sizes, look, [room(SIDE), room(right.x)]);
        right.y = left.y;
    }

    figures(&mut page, &mut right, sizes, look);
    let diffusion = std::slice::from_ref(&look.diffusion);
    let side = if upright { &mut left } else { &mut right };
    side.paragraphs(&mut page, sizes, ("Diffusion", diffusion), fit.diffusion);
    let rows = look.stack.len().min(fit.rows);
    let rows = look.stack.split_at(rows);
    let camera = few(&look.camera_lines, fit.camera[0]);
    let stack = if upright { &mut right } else { &mut left };
    stack.stack(&mut page, sizes, (rows, look.light_loss_stops), fit.glass);
    left.paragraphs(
        &mut page,
        sizes,
        ("Camera and light", &camera),
        fit.camera[1],
    );
    let shorter = if upright && left.y < right.y {
        &mut left
    } else {
        &mut right
    };
    shorter.advisories(&mut page, sizes, &look.advisories, fit.advisories);
    let shorter = if left.y < right.y {
        &mut left
    } else {
        &mut right
    };
    let note = std::slice::from_ref(&look.note);
    shorter.paragraphs(&mut page, sizes, ("Note", note), fit.note);
    // Each section leaves a gap below itself that the page's foot does not need.
    let over = left.y.max(right.y) - sizes.gap(BELOW) - floor;
    (page, over)
}

/// The title, and what it is of; gives the y below.
fn head(page: &mut Page, sheet: &Sheet, look: &LookSheet, sizes: Sizes) -> f64 {
    let under = if look.name.trim() == sheet.title.trim() {
        sheet.frame_name.clone()
    } else {
        format!("{} · {}", look.name.trim(), sheet.frame_name.trim())
    };
    title(page, sizes, &sheet.title, &under)
}

/// Both pictures and their captions; gives the y below.
fn pair(page: &mut Page, sizes: Sizes, look: &LookSheet, [bare, glass]: [Area; 2]) -> f64 {
    let mut bottom = bare.y;
    let places = [
        picture(page, &look.bare, bare),
        picture(page, &look.glass, glass),
    ];
    for place in places {
        bottom = f64::max(bottom, place.y + place.height);
    }
    bottom += sizes.gap(1.6);
    for (place, word) in places.iter().zip(["Bare", "Glass"]) {
        let room = place.width.max(20.0);
        set(
            page,
            [place.x, bottom],
            room,
            Anchor::Left,
            sizes.body(),
            word,
            1,
        );
    }
    bottom + block_height(&sizes.body(), 1) + sizes.gap(6.0)
}

/// Light lost and the stop to set, large, side by side, each with its exact figures beneath.
fn figures(page: &mut Page, flow: &mut Flow, sizes: Sizes, look: &LookSheet) {
    flow.heading(page, sizes, "Light lost", "");
    let half = flow.width * 0.52;
    let heading = page.texts().last().map_or(flow.y, |t| t.area().y);
    set(
        page,
        [flow.x + half, heading],
        half,
        Anchor::Left,
        sizes.quiet(),
        "Stop to set",
        1,
    );
    let exact = format!("{} modelled", words::hundredths(look.light_loss_stops));
    let loss = look.loss_nominal_stops.map_or_else(
        || exact.clone(),
        |n| format!("{exact}, {} nominal", words::hundredths(n)),
    );
    let barrel = words::on_barrel(look.stop_to_set);
    let set_from = format!(
        "{} unrounded, from {} bare",
        words::exact(look.stop_to_set),
        look.stop_kind.words(look.bare_stop)
    );
    let barrel = if barrel.contains(' ') {
        format!("{barrel} on the barrel")
    } else {
        String::new()
    };
    let lost = words::stops(look.light_loss_stops);
    let stop = look.stop_kind.words(look.stop_to_set);
    let top = flow.y;
    let wide = half - 3.0;
    let a = figure(page, sizes, [flow.x, top], wide, &lost, &[loss]);
    let b = figure(
        page,
        sizes,
        [flow.x + half, top],
        flow.width - half,
        &stop,
        &[set_from, barrel],
    );
    flow.y = a.max(b) + sizes.gap(BELOW);
}

/// A large figure, its unit smaller on the same baseline, quiet lines beneath; gives the y below.
fn figure(
    page: &mut Page,
    sizes: Sizes,
    [x, y]: [f64; 2],
    wide: f64,
    words: &str,
    beneath: &[String],
) -> f64 {
    let (large, small) = (sizes.figure(), sizes.unit());
    let (number, unit) = words.split_once(' ').unwrap_or((words, ""));
    let mut below = set(page, [x, y], wide, Anchor::Left, large, number, 1);
    let offset = width(number, large.tracking) * large.em_mm() + 0.3 * small.em_mm();
    let drop = DESCENT * (large.em_mm() - small.em_mm());
    let top = below - drop - block_height(&small, 1);
    set(
        page,
        [x + offset, top],
        wide - offset,
        Anchor::Left,
        small,
        unit,
        1,
    );
    // The slash of an f-number reaches to the foot of its line.
    below += sizes.gap(1.5);
    for line in beneath {
        below = set(page, [x, below], wide, Anchor::Left, sizes.quiet(), line, 2) + sizes.gap(0.3);
    }
    below
}
