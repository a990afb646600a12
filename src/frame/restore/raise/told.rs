//! What there is to tell of clipped light.

use super::levels::LevelFrom;
use crate::frame::restore::Hue;
use crate::units::Stops;

/// Most areas that are told one by one.
pub(super) const MOST: usize = 32;

/// What there is to tell of clipped light.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct ClippedTold {
    /// The part of the frame's pixels that is clipped, 0..1.
    pub share: f64,
    /// The same for each of the file's channels.
    pub channels: [f64; 3],
    /// The part of the frame that is clipped and has no level, 0..1.
    pub without: f64,
    /// What was given a level, the largest first; at most 32.
    pub areas: Vec<AreaTold>,
    /// How many more were.
    pub more: usize,
    /// What was told a level that it already shows, the largest first; at most 32.
    pub left: Vec<LeftTold>,
    /// How many more were.
    pub more_left: usize,
    /// Pins on an area smaller than the meter's spot, by their place in
    /// [`Ask::pins`](crate::frame::restore::Ask::pins), and that area's mean level now: such a pin tells of
    /// the area, not of all that lies in its disc.
    pub lamps: Vec<(usize, Stops)>,
    /// Areas of the recipe that hold no clipped light, by their place in
    /// [`Ask::areas`](crate::frame::restore::Ask::areas).
    pub empty: Vec<usize>,
    /// Whether any level is told.
    pub asked: bool,
}

/// One connected area of clipped light that was given a level.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AreaTold {
    /// Left, top, right, bottom in 0..1 of the frame.
    pub sides: [f64; 4],
    /// How many pixels it has.
    pub pixels: usize,
    /// Its mean level behind the picture curve.
    pub before: Stops,
    /// Its mean level now.
    pub after: Stops,
    /// Who told the level; the first of several pins or areas.
    pub from: LevelFrom,
    /// Where its hue came from in the end: [`Hue::Neutral`] where its rim has no light near the clip.
    pub hue: Hue,
}

/// One that was left as it was.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LeftTold {
    /// Left, top, right, bottom in 0..1 of the frame.
    pub sides: [f64; 4],
    /// How many pixels it has.
    pub pixels: usize,
    /// Who told the level.
    pub from: LevelFrom,
    /// What was told.
    pub told: Stops,
    /// What it shows.
    pub shows: Stops,
}

impl ClippedTold {
    /// The level of the area that a pin tells of as a whole.
    pub(in crate::frame::restore) fn lamp_of(&self, pin: usize) -> Option<Stops> {
        let lamp = self.lamps.iter().find(|(of, _)| *of == pin);
        lamp.map(|(_, level)| *level)
    }

    /// What is clipped and what was done about it, in sentences.
    pub(in crate::frame::restore) fn lines(&self) -> Vec<String> {
        let mut lines = Vec::new();
        if self.share <= 0.0 {
            if self.asked {
                lines.push(
                    "A level is told for clipped light, but nothing in the frame is clipped."
                        .to_owned(),
                );
            }
            return lines;
        }
        let share = percent(self.share);
        if let Some(area) = self.areas.first() {
            let many = self.areas.len() + self.more;
            let which = if many == 1 {
                "its one area"
            } else {
                "the largest area"
            };
            let others = match many - 1 {
                0 => String::new(),
                1 => ", one more is raised".to_owned(),
                n => format!(", {n} more are raised"),
            };
            let (place, level) = (centre(area.sides), area.after.signed());
            lines.push(format!(
                "{share} of the frame is clipped; {which}, at {place}, is given a mean of {level} stops{others}."
            ));
        }
        for left in self.left.iter().take(3) {
            lines.push(format!(
                "The clipped area at {} is told {} stops, but it already shows {}: left as it is.",
                centre(left.sides),
                left.told.signed(),
                left.shows.signed()
            ));
        }
        match (self.left.len() + self.more_left).saturating_sub(3) {
            0 => {}
            1 => lines.push("One more is left for the same reason.".to_owned()),
            n => lines.push(format!("{n} more are left for the same reason.")),
        }
        for n in &self.empty {
            lines.push(format!(
                "Area {} of the recipe holds no clipped light.",
                n + 1
            ));
        }
        if self.without > 0.0 {
            lines.push(format!(
                "{} of the frame is clipped and has no level: halos from there come out too weak.",
                percent(self.without)
            ));
        }
        lines
    }
}

fn percent(part: f64) -> String {
    match 100.0 * part {
        p if p < 0.01 => "Less than 0.01 %".to_owned(),
        p if p < 1.0 => format!("{p:.2} %"),
        p => format!("{p:.1} %"),
    }
}

fn centre([left, top, right, bottom]: [f64; 4]) -> String {
    format!(
        "{:.2} across and {:.2} down",
        f64::midpoint(left, right),
        f64::midpoint(top, bottom)
    )
}
