//! What is said of a layout.

use super::measure::{Layout, Search};
use crate::optics::pupil::Shape;
use crate::rig::{Mount, Mounted};
use crate::units::Stops;

pub(super) const UNDER: &str =
    "The region is not over its target: glass takes light and adds none. Light it, or let it be.";
pub(super) const NO_STAGE: &str =
    "No stage is free: take glass out of one, or screw what need not slide into a ring.";
pub(super) const NO_GLASS: &str =
    "The kit has no neutral grad, stripe or attenuator left that fits a tray.";
pub(super) const NO_COVER: &str = "No neutral grad, stripe or attenuator of the kit covers this picture in a \
    free stage: larger glass, a stage nearer the lens or a smaller stop does.";
pub(super) const NO_BETTER: &str = "No glass of the kit does better than leaving it alone: what it \
    would take from the rest of the picture weighs more than what it brings.";

/// What leaving it alone gives.
pub(super) fn bare(level: Stops, target: Stops) -> String {
    if level.get() <= Stops::LOW {
        return "Left alone, the region has no light.".to_owned();
    }
    let over = level.get() - target.get();
    let word = if over > 0.0 { "over" } else { "under" };
    format!(
        "Left alone, the region reads {} stops, {:.2} {word} the target of {}.",
        level.signed(),
        over.abs(),
        target.signed()
    )
}

/// The side of the picture that a turned glass's dense end is at.
fn side(turn: f64) -> &'static str {
    const SIDES: [&str; 8] = [
        "the top",
        "the upper left",
        "the left",
        "the lower left",
        "the foot",
        "the lower right",
        "the right",
        "the upper right",
    ];
    SIDES[(turn.rem_euclid(360.0) / 45.0).round() as usize % 8]
}

/// How a piece stands: "dense at the left, turned 90°, slid 3.5 mm towards its clear side".
pub(super) fn stands(glass: &Mounted) -> String {
    let turn = glass.turn.get().rem_euclid(360.0);
    let along = |straight: f64| (turn % 180.0 - straight).abs() < 0.5;
    let lies = match glass.shape() {
        Some(Shape::Stripe) if along(0.0) => "band level".to_owned(),
        Some(Shape::Stripe) if along(90.0) => "band upright".to_owned(),
        Some(Shape::Stripe) => "band on a slant".to_owned(),
        _ => format!("dense at {}", side(turn)),
    };
    let turned = if turn == 0.0 {
        "not turned".to_owned()
    } else {
        format!("turned {turn:.0}°")
    };
    let slide = glass.slide_mm();
    let slid = match glass.mount {
        Mount::Tray { size, .. } if size.is_round() => ", round: it does not slide".to_owned(),
        _ if slide == 0.0 => ", not slid".to_owned(),
        _ if glass.shape() == Some(Shape::Stripe) => {
            let towards = if slide < 0.0 { turn + 180.0 } else { turn };
            format!(", slid {:.1} mm towards {}", slide.abs(), side(towards))
        }
        _ => {
            let end = if slide > 0.0 {
                "its dense side"
            } else {
                "its clear side"
            };
            format!(", slid {:.1} mm towards {end}", slide.abs())
        }
    };
    format!("{lies}, {turned}{slid}")
}

/// Where an edge may show as a line.
pub(super) fn line(search: &Search<'_>, layout: &Layout) -> Option<String> {
    let setup = search.setup(layout);
    let lines: Vec<String> = layout
        .iter()
        .filter(|(seat, at)| search.seats[*seat].line(&search.view, *at) > 0.0)
        .filter_map(|(seat, at)| {
            let glass = search.seats[*seat].placed(*at);
            let part = 100.0 * setup.edge_width_mm(&glass)? / search.view.height_mm;
            let word = glass.shape().map_or("edge", Shape::word);
            Some(format!(
                "{}: the {word} of {} is only {part:.1} % of the picture's height wide and crosses the \
                 picture: it may show as a line. Lay it along something straight, or open the iris.",
                glass.place,
                glass.piece.name()
            ))
        })
        .collect();
    (!lines.is_empty()).then(|| lines.join(" "))
}
