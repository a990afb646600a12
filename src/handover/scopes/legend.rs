//! A painted picture over its legend.

use super::draw::{At, HAIR, LABEL, MARGIN, NOTE, head, label, outline, page, upright};
use crate::handover::page::{Area, Ink, Item, Page, Picture8};
use crate::meters::{Entry, Painted};
use crate::units::signed;

/// Least width of a picture on the page, mm: its legend must fit under it.
const LEAST: f64 = 122.0;
/// Height of a legend's colours, mm.
const STRIP: f64 = 5.0;

/// What a scope is of, in words.
#[derive(Debug, Clone, PartialEq)]
pub struct Scene {
    /// What it is: "False stops, night quay, through the glass".
    pub title: String,
    /// How it is to be read.
    pub note: String,
}

/// A painted picture, and under it what its colours say.
#[must_use]
pub fn painted_page(scene: &Scene, painted: &Painted, legend: &[Entry]) -> Page {
    let (width, height) = (painted.width as usize, painted.height as usize);
    // A small picture is enlarged by a whole factor, so that its pixels stay what they are.
    let fit = |most: f64, side: usize| (10.0 * most / side as f64).floor();
    let times = fit(LEAST, width).min(fit(100.0, height)).max(1.0);
    let [w, h] = [width, height].map(|side| times * side as f64 / 10.0);
    let mut p = page(w.max(LEAST) + 2.0 * MARGIN, 0.0);
    let top = head(&mut p, &scene.title, &scene.note);
    let rgb = painted
        .rgba
        .chunks_exact(4)
        .flat_map(|c| [c[0], c[1], c[2]])
        .collect();
    // To a tenth of a millimetre: whole pixels.
    let top = (10.0 * top).ceil() / 10.0;
    if let Some(picture) = enlarged(Picture8::new(width, height, rgb), times as usize) {
        let area = Area {
            x: MARGIN,
            y: top,
            width: w,
            height: h,
        };
        p.items.push(Item::Picture(picture, area));
    }
    let bottom = strip(&mut p, [top + h + 3.0, w.max(LEAST)], legend);
    p.height_mm = bottom + MARGIN;
    p
}

/// Every pixel `times` by `times`: the painter softens the joints of what it enlarges itself.
fn enlarged(picture: Option<Picture8>, times: usize) -> Option<Picture8> {
    let picture = picture?;
    if times <= 1 {
        return Some(picture);
    }
    let mut rgb = Vec::with_capacity(picture.rgb().len() * times * times);
    for row in picture.rgb().chunks_exact(3 * picture.width()) {
        let wide: Vec<u8> = row
            .chunks_exact(3)
            .flat_map(|pixel| pixel.repeat(times))
            .collect();
        rgb.extend(wide.repeat(times));
    }
    Picture8::new(picture.width() * times, picture.height() * times, rgb)
}

/// The colours side by side with their words, and the levels where one becomes the next.
fn strip(page: &mut Page, [y, width]: [f64; 2], legend: &[Entry]) -> f64 {
    let slot = width / legend.len() as f64;
    let words_y = y + STRIP + 2.4;
    let ends_y = words_y + 2.3;
    for (i, entry) in legend.iter().enumerate() {
        let x = MARGIN + slot * i as f64;
        let area = Area {
            x,
            y,
            width: slot,
            height: STRIP,
        };
        page.items.push(Item::Rect(area, Ink(entry.colour)));
        let middle = [x + 0.5 * slot, words_y];
        label(page, NOTE, At::Middle, middle, &entry.word);
        // Where this colour meets the one before it.
        if let Some(from) = entry.from.filter(|_| i > 0) {
            upright(page, [x, y + STRIP], 0.8, HAIR, Ink::QUIET);
            let at = [x, ends_y];
            label(page, LABEL, At::Middle, at, &signed(from, 3));
        }
    }
    let all = Area {
        x: MARGIN,
        y,
        width,
        height: STRIP,
    };
    outline(page, &all, Ink::HAIR);
    ends_y
}
