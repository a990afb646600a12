//! The u′v′ diagram: the picture's colours, the loci, the scene's light before and behind the glass.

use super::Scene;
use super::draw::{
    At, HAIR, LABEL, MARGIN, NOTE, density, head, label, line, outline, page, upright,
};
use crate::colour::temperature::White;
use crate::handover::page::{Area, Ink, Page};
use crate::meters::chromaticity::{
    CELL, CELLS, Chromaticity, Lamp, Lamps, glowing, planckian_locus, spectral_locus,
};
use crate::units::Kelvin;

/// Side of the diagram, mm: three quarters of a millimetre to a cell.
const SIDE: f64 = 0.75 * CELLS as f64;
/// Room for the numbers beside it, mm.
const ROOM: f64 = 7.0;
/// The part of the picture in one cell that is drawn at six tenths of full ink (by eye, no source).
const PLAIN: f64 = 0.003;
/// Wavelengths that are named along the spectral locus, nm.
const NAMED: [f64; 9] = [
    450.0, 470.0, 480.0, 490.0, 500.0, 520.0, 550.0, 580.0, 620.0,
];
/// Temperatures that are marked on the Planckian locus, K.
const MARKED: [f64; 4] = [2000.0, 3200.0, 5600.0, 10_000.0];

/// Where the picture's colours lie, and the scene's light where a plan tells it.
#[must_use]
pub fn chromaticity_page(scene: &Scene, colours: &Chromaticity, lamps: Option<&Lamps>) -> Page {
    let mut p = page(SIDE + ROOM + 2.0 * MARGIN, 0.0);
    let top = head(&mut p, &scene.title, &scene.note) + 1.0;
    let area = Area {
        x: MARGIN + ROOM,
        y: top,
        width: SIDE,
        height: SIDE,
    };
    let place = |[u, v]: [f64; 2]| {
        let all = CELL * CELLS as f64;
        [area.x + SIDE * u / all, area.y + SIDE * (1.0 - v / all)]
    };
    density(&mut p, area, [CELLS; 2], Ink::TEXT, |x, y| {
        let share = f64::from(colours.shares[(CELLS - 1 - y) * CELLS + x]);
        1.0 - (-(share / PLAIN).sqrt()).exp()
    });
    scale(&mut p, &area, place);
    loci(&mut p, place);
    let mut y = area.y + SIDE + 6.0;
    for text in [
        format!(
            "{:.1} % of the picture left out for darkness, {:.1} % with no real colour",
            100.0 * colours.dark,
            100.0 * colours.beyond
        ),
        lamps.map_or_else(String::new, lamp_words),
    ] {
        label(&mut p, NOTE, At::Left, [MARGIN, y], &text);
        y += 2.6;
    }
    if let Some(lamps) = lamps {
        draw_lamps(&mut p, lamps, place);
    }
    p.height_mm = y + MARGIN - 2.0;
    p
}

fn scale(page: &mut Page, area: &Area, place: impl Fn([f64; 2]) -> [f64; 2]) {
    for tenth in 1..=6 {
        let part = f64::from(tenth) / 10.0;
        let [x, y] = place([part, part]);
        let pale = Ink([224, 224, 224]);
        upright(page, [x, area.y], area.height, HAIR, pale);
        page.rule(area.x, y, area.width, HAIR, pale);
        let number = format!("{part:.1}");
        let below = [x, area.y + area.height + 2.6];
        label(page, LABEL, At::Middle, below, &number);
        label(page, LABEL, At::Right, [area.x - 1.0, y + 0.6], &number);
    }
    let corner = [area.x + area.width - 0.5, area.y + area.height + 2.6];
    label(page, NOTE, At::Right, corner, "u′");
    label(page, NOTE, At::Right, [area.x - 1.0, area.y + 2.0], "v′");
    outline(page, area, Ink::HAIR);
}

fn loci(page: &mut Page, place: impl Fn([f64; 2]) -> [f64; 2]) {
    let spectral = spectral_locus();
    let mut points: Vec<[f64; 2]> = spectral.iter().map(|(_, uv)| place(*uv)).collect();
    points.extend(points.first().copied());
    line(page, &points, 2.0 * HAIR, Ink::QUIET);
    let middle = place([0.2, 0.45]);
    for (nm, uv) in spectral.iter().filter(|(nm, _)| NAMED.contains(&nm.get())) {
        let [x, y] = place(*uv);
        page.disc(x, y, 0.4, Ink::QUIET);
        // Inside the locus, towards its middle: the numbers of the scale stand outside.
        let inwards = [middle[0] - x, middle[1] - y];
        let far = inwards[0].hypot(inwards[1]).max(1e-9);
        let at = [x + 3.2 * inwards[0] / far, y + 2.2 * inwards[1] / far + 0.6];
        label(page, LABEL, At::Middle, at, &format!("{:.0}", nm.get()));
    }
    let planck = planckian_locus();
    let points: Vec<[f64; 2]> = planck.iter().map(|(_, uv)| place(*uv)).collect();
    line(page, &points, HAIR, Ink::QUIET);
    for wanted in MARKED {
        let [x, y] = place(glowing(Kelvin::clamped(wanted)));
        page.disc(x, y, 0.4, Ink::QUIET);
        let words = format!("{wanted:.0} K");
        label(page, LABEL, At::Left, [x + 1.0, y + 2.4], &words);
    }
}

/// The bare light as a ring, the light behind the glass as a disc.
fn draw_lamps(page: &mut Page, lamps: &Lamps, place: impl Fn([f64; 2]) -> [f64; 2]) {
    let [x, y] = place(lamps.bare.uv);
    page.disc(x, y, 1.5, Ink::TEXT);
    page.disc(x, y, 1.1, Ink::PAPER);
    if let Some(through) = lamps.through {
        let [x, y] = place(through.uv);
        page.disc(x, y, 0.9, Ink::PAPER);
        page.disc(x, y, 0.7, Ink::TEXT);
    }
}

fn lamp_words(lamps: &Lamps) -> String {
    let told = |lamp: Lamp| {
        let [u, v] = lamp.uv;
        let white = lamp.white.map_or_else(String::new, |White { kelvin, .. }| {
            format!(", {:.0} K", kelvin.get())
        });
        format!("u′ {u:.4} v′ {v:.4}{white}")
    };
    let through = lamps.through.map_or_else(|| "none".to_owned(), told);
    format!(
        "scene light: ring, bare: {}; disc, behind the glass: {through}",
        told(lamps.bare)
    )
}
