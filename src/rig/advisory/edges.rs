//! Edges of placed glass that are too soft to be one, or hard enough to show, and which edge would be right.

use super::{Advisory, Level};
use crate::glass::Piece;
use crate::glass::law::Law;
use crate::optics::field::View;
use crate::optics::pupil::{Ramp, Shape};
use crate::rig::coverage::{EVEN_ABOVE, LINE_BELOW};
use crate::rig::{Mounted, Setup};
use crate::units::{Stops, trimmed};
use std::ops::RangeInclusive;

/// Change of an attenuator's loss over the picture, in stops, below which it is not seen as one: our own limit.
const UNSEEN: f64 = 0.25;
/// Widths of an edge that read as one.
const RIGHT: RangeInclusive<f64> = LINE_BELOW..=EVEN_ABOVE;
/// Further across than any glass reaches, mm.
const FAR: f64 = 1e4;

impl Setup {
    /// What is said of a glass none of whose changing density lies in the picture, and the slide that brings
    /// it in: every pixel looks through one density of it.
    fn edge_beyond(&self, g: &Mounted, view: &View) -> Option<String> {
        let ramp = g.ramp().filter(|r| r.shape() != Shape::Attenuator)?;
        let [first, last] = ramp.ends();
        let depth = g.depth_mm(self);
        let reach = depth * view.reach(g.up()) + self.pupil().footprint_radius(depth);
        let (place, name, slide) = (g.place, g.piece.name(), g.slide_mm());
        let (looks, way, limit) = if slide + first > reach {
            ("under it, where the glass is clear", "below", reach - first)
        } else if slide + last < -reach {
            let through = if ramp.shape() == Shape::Stripe {
                "over it, where the glass is clear"
            } else {
                "through the dense side alone, as through an ND"
            };
            (through, "above", -reach - last)
        } else {
            return None;
        };
        let limit = format!("{limit:.1}").replace('-', "−");
        Some(format!(
            "{place}: slid {slide:.1} mm, the edge of {name} lies outside the picture, which looks {looks}. \
             Slide it {way} {limit} mm to bring the edge in.",
        )
        .replace("slid -", "slid −"))
    }

    pub(super) fn edge_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        for g in &self.glass {
            let (Some(width), Some(shape)) = (self.edge_width_mm(g), g.shape()) else {
                continue;
            };
            if let Some(text) = self.edge_beyond(g, view) {
                found.push(Advisory::new("edge-out", Level::Caution, text));
                continue;
            }
            let (place, name) = (g.place, g.piece.name());
            let (part, word) = (width / view.height_mm, shape.word());
            let whole = self.stripe_width_mm(g).unwrap_or(width) / view.height_mm;
            let soft = match shape {
                Shape::Attenuator => {
                    let span = self.attenuator_span(g, view).unwrap_or(Stops::ZERO).get();
                    (span < UNSEEN).then(|| {
                        format!(
                            "{place}: {name} changes by only {span:.2} stop over the picture: it \
                             will read as an even loss. A wider lens or glass further from the lens \
                             takes in more of it."
                        )
                    })
                }
                Shape::Stripe => (whole > *RIGHT.end()).then(|| {
                    format!(
                        "{place}: {name} with its flanks is {whole:.1} × the picture's height wide: \
                         it will read as an even loss. A wider lens, a smaller stop or glass further \
                         from the lens narrows it."
                    )
                }),
                Shape::Edge => (part > *RIGHT.end()).then(|| {
                    format!(
                        "{place}: the edge of {name} is {part:.1} × the picture's height wide: it \
                         will read as an even loss. {}",
                        self.right_edge(g, view, "a smaller stop, or glass further from the lens")
                    )
                }),
            };
            found.extend(soft.map(|text| Advisory::new("edge-soft", Level::Note, text)));
            if part < *RIGHT.start() {
                found.push(Advisory::new(
                    "edge-hard",
                    Level::Caution,
                    format!(
                        "{place}: the {word} of {name} is only {:.0} % of the picture's height wide: it \
                         may show as a line. {}",
                        100.0 * part,
                        self.right_edge(g, view, "a wider stop, or glass nearer the lens")
                    ),
                ));
            }
        }
    }

    /// The same glass with the edge that is right at this focal length and stop, in a sentence: of those that
    /// are, the one most like what stands there; and what else would help.
    fn right_edge(&self, glass: &Mounted, view: &View, else_take: &str) -> String {
        let lens = format!(
            "{} mm and f/{}",
            trimmed(self.camera.focal_mm.get(), 2),
            trimmed(self.working_stop(), 2)
        );
        let part = |piece: Piece| {
            let name = piece.name().to_owned();
            let other = Mounted {
                piece,
                ..glass.clone()
            };
            Some((name, self.edge_width_mm(&other)? / view.height_mm))
        };
        let now = part(glass.piece.clone()).map_or(1.0, |(_, p)| p);
        let off = |p: f64| (p / now).ln().abs();
        let right = other_edges(&glass.piece)
            .into_iter()
            .filter_map(part)
            .filter(|(_, p)| RIGHT.contains(p))
            .min_by(|a, b| off(a.1).total_cmp(&off(b.1)));
        match right {
            Some((name, p)) => format!(
                "At {lens} {name} is right, {:.0} % of it; or take {else_take}.",
                100.0 * p
            ),
            None => format!("No other edge of this glass is right at {lens}: take {else_take}."),
        }
    }
}

/// The same glass with every other edge that its family's choices give it.
fn other_edges(piece: &Piece) -> Vec<Piece> {
    let same = |law: &Law| Law {
        ramp: None,
        ..law.clone()
    };
    let ends = |ramp: &Ramp| [ramp.density(-FAR), ramp.density(FAR)];
    let is_other = |other: &Piece| {
        let (Some(a), Some(b)) = (&piece.law().ramp, &other.law().ramp) else {
            return false;
        };
        let ended = ends(a)
            .iter()
            .zip(ends(b))
            .all(|(a, b)| (a - b).abs() < 1e-9);
        let alike = a.shape() == b.shape() && ended;
        alike && a != b && same(piece.law()) == same(other.law())
    };
    piece.choices().filter(is_other).collect()
}
