//! Edges of placed glass that are too soft to be one, or hard enough to show.

use super::{Advisory, Level};
use crate::optics::field::View;
use crate::optics::pupil::Shape;
use crate::rig::Setup;
use crate::units::Stops;

/// Change of an attenuator's loss over the picture, in stops, below which it is not seen as one.
const UNSEEN: f64 = 0.25;

impl Setup {
    pub(super) fn edge_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        for g in &self.glass {
            let (Some(width), Some(shape)) = (self.edge_width_mm(g), g.shape()) else {
                continue;
            };
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
                Shape::Stripe => (whole > 1.0).then(|| {
                    format!(
                        "{place}: {name} with its flanks is {whole:.1} × the picture's height wide: \
                         it will read as an even loss. A wider lens, a smaller stop or glass further \
                         from the lens narrows it."
                    )
                }),
                Shape::Edge => (part > 1.0).then(|| {
                    format!(
                        "{place}: the edge of {name} is {part:.1} × the picture's height wide: it \
                         will read as an even loss. A harder edge, a smaller stop or glass further \
                         from the lens narrows it."
                    )
                }),
            };
            found.extend(soft.map(|text| Advisory::new("edge-soft", Level::Note, text)));
            if part < 0.06 {
                found.push(Advisory::new(
                    "edge-hard",
                    Level::Caution,
                    format!(
                        "{place}: the {word} of {name} is only {:.0} % of the picture's height wide: it \
                         may show as a line. A softer edge or a wider stop hides it.",
                        100.0 * part
                    ),
                ));
            }
        }
    }
}
