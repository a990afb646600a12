//! What is said of the picture curve.

use super::typical;
use crate::frame::restore::{PinTold, Role};
use crate::units::Stops;

/// Pins further off than this are told of one by one.
const WORTH_TELLING: f64 = 0.1;
/// Contradictions that are told of at most.
const PAIRS: usize = 3;

/// What kind of curve it is.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Shape {
    /// None: plain decoding.
    #[default]
    Plain,
    /// A camera's usual curve, assumed.
    Typical,
    /// Plain decoding, and the exposure that the pins tell.
    Offset(Stops),
    /// A camera's usual curve, assumed, and the exposure that the pins tell.
    OffsetTypical(Stops),
    /// A curve through this many pins.
    Through(usize),
}

/// What there is to tell of it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct CurveTold {
    /// Its kind.
    pub shape: Shape,
    /// The curve for drawing: plain stops to scene stops, both against key, upwards; none where the frame
    /// is as it was decoded.
    pub points: Vec<[Stops; 2]>,
    /// How far the pins that shape it lie off it, root mean square; None without such pins.
    pub rms: Option<Stops>,
    /// Stops of the file for a stop of the scene, at key; None where the frame is as it was decoded.
    pub contrast: Option<f64>,
    /// Where key lies by plain decoding; None where the frame is as it was decoded.
    pub key: Option<Stops>,
    /// Darkest and brightest scene level that a pin holds; None where no pins give it its shape.
    pub held: Option<[Stops; 2]>,
    /// Pins that were left out, from 0, and how far what the meter said is over the others' curve.
    pub outliers: Vec<(usize, Stops)>,
    /// Pairs of pins, from 0: the first is brighter in the frame and was told darker.
    pub contradictions: Vec<[usize; 2]>,
    /// Whether a picture curve is to be expected in this kind of file.
    pub expected: bool,
}

impl CurveTold {
    /// What the curve is and how the pins lie to it, in sentences.
    pub(in crate::frame::restore) fn lines(&self, pins: &[PinTold]) -> Vec<String> {
        let mut lines = self.kind(pins);
        for (pin, by) in &self.outliers {
            lines.push(format!(
                "Pin {} contradicts the others: the meter said {} stops, which is {} from where they put \
                 it; it is left out.",
                pin + 1,
                pins.get(*pin).map_or_else(String::new, |p| p.said.signed()),
                by.signed(),
            ));
        }
        for [a, b] in self.contradictions.iter().take(PAIRS) {
            lines.push(format!(
                "Pins {} and {} contradict each other: the first is brighter in the frame and was told \
                 darker.",
                a + 1,
                b + 1,
            ));
        }
        for (i, pin) in pins.iter().enumerate() {
            let number = i + 1;
            match pin.role {
                Role::Dark => {
                    lines.push(format!("Pin {number} lies on no light, and tells nothing."));
                }
                Role::Curve if pin.residual().get().abs() > WORTH_TELLING => {
                    lines.push(format!(
                        "Pin {number} reads {} stops; the meter said {}.",
                        pin.now.signed(),
                        pin.said.signed(),
                    ));
                }
                _ => {}
            }
        }
        lines
    }

    /// The curve itself.
    fn kind(&self, pins: &[PinTold]) -> Vec<String> {
        let by = |stops: Stops| {
            let word = if stops.get() < 0.0 { "down" } else { "up" };
            format!("{word} by {:.2} stops", stops.get().abs())
        };
        let usual = format!(
            "a camera's usual picture curve is assumed and undone, contrast {} at mid-grey and white {:.2} \
             stops over it: an assumption, not a measurement",
            typical::CONTRAST,
            typical::WHITE,
        );
        let mut lines = match self.shape {
            Shape::Plain => return Vec::new(),
            Shape::Typical => vec![format!("No pin tells the picture curve; {usual}.")],
            Shape::Offset(stops) => vec![format!(
                "{} the frame's light {}; no picture curve is undone.",
                exposed(pins),
                by(stops)
            )],
            Shape::OffsetTypical(stops) => vec![format!(
                "{} the frame's light {}; beneath it {usual}.",
                exposed(pins),
                by(stops)
            )],
            Shape::Through(count) => {
                let mut line = format!("The picture curve is undone as {count} pins tell it");
                if let (Some(contrast), Some(key), Some(rms)) = (self.contrast, self.key, self.rms)
                {
                    line += &format!(
                        ": contrast {contrast:.2} at key, which lies at {} by plain decoding; the pins \
                         lie within {:.2} stops of it (rms)",
                        key.signed(),
                        rms.get()
                    );
                }
                vec![line + "."]
            }
        };
        if let Some([low, high]) = self.held {
            lines.push(format!(
                "They hold it between {} and {} stops; beyond that it is a guess.",
                low.signed(),
                high.signed()
            ));
        }
        if !self.expected && matches!(self.shape, Shape::Typical | Shape::OffsetTypical(_)) {
            lines.push(
                "This frame's encoding is not one for a display: no picture curve is to be expected in it."
                    .to_owned(),
            );
        }
        lines
    }
}

/// What sets the exposure.
fn exposed(pins: &[PinTold]) -> &'static str {
    match pins.iter().filter(|p| p.role == Role::Curve).count() {
        0 | 1 => "One pin brings",
        _ => "The pins, all at one level, bring",
    }
}
