//! Polarisers: two of them, and one before a wide lens under a sky.

use super::{Advisory, Level};
use crate::optics::field::View;
use crate::optics::sky::Sky;
use crate::rig::Setup;
use crate::units::Stops;

/// Angles between two sheets, degrees: up to the first the second only costs light, past the second they are
/// crossed, past the third nearly black (our own limits; Malus passes 3 % at the last).
const TURNED: [f64; 3] = [30.0, 60.0, 80.0];
/// Field angle of the corners from which the sky's band shows, degrees: common practice, no source.
const WIDE: f64 = 35.0;
/// Change of the sky, in stops, below which it is not seen as a band: our own estimate.
const BAND: f64 = 0.5;
/// Points at which the sky is looked at, across and down.
const POINTS: u32 = 48;

impl Setup {
    /// Two polarisers: what the second takes depends on how they are turned (Malus).
    pub(super) fn polariser_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        let sheets: Vec<_> = self
            .glass
            .iter()
            .filter_map(|g| Some((g, g.piece.law().polarises?)))
            .collect();
        for pair in sheets.windows(2) {
            let [(behind, last), (front, first)] = pair else {
                continue;
            };
            let turned = (front.turn.get() - behind.turn.get()).rem_euclid(180.0);
            let turned = turned.min(180.0 - turned);
            let through = first.passed_by_both(last, turned.to_radians());
            let each = first.passed_unpolarised() * last.passed_unpolarised();
            let second = through / first.passed_unpolarised();
            let (level, verdict) = match turned {
                t if t <= TURNED[0] => (
                    Level::Caution,
                    format!(
                        "About in line the second only costs light, {:.1} stop: take one out.",
                        Stops::of_loss(second).get()
                    ),
                ),
                t if t <= TURNED[1] => (
                    Level::Caution,
                    "Take one out, or mark the angle and lock it.".to_owned(),
                ),
                t if t <= TURNED[2] => (
                    Level::Caution,
                    "Crossed they darken fast with every degree: mark the angle and lock it, or take \
                     one out."
                        .to_owned(),
                ),
                _ => (
                    Level::Stop,
                    "Crossed like this they are nearly black: turn one, or take it out.".to_owned(),
                ),
            };
            found.push(Advisory::new(
                "two-polarisers",
                level,
                format!(
                    "{} and {} both polarise, {turned:.0}° to one another: of what a linear one in front \
                     passes, the second passes {:.0} %. They lose {:.1} stops together, and the figures \
                     here count {:.1}. {verdict}",
                    behind.place,
                    front.place,
                    100.0 * second,
                    Stops::of_loss(through).get(),
                    Stops::of_loss(each).get()
                ),
            ));
        }
        found.extend(self.uneven_sky(view));
    }

    /// How unevenly the frontmost polariser darkens a clear sky that a wide lens takes in.
    fn uneven_sky(&self, view: &View) -> Option<Advisory> {
        let polarises = |g: &&crate::rig::Mounted| g.piece.law().polarises.is_some();
        let front = self.glass.iter().rev().find(polarises)?;
        let corners = view.widest_angle().get();
        let [darkest, lightest] = change(&front.sky()?, view)?;
        if corners <= WIDE || lightest - darkest <= BAND {
            return None;
        }
        let even = Stops::of_loss(front.piece.law().polarises?.passed_unpolarised()).get();
        Some(Advisory::new(
            "uneven-sky",
            Level::Note,
            format!(
                "{}: this lens sees {corners:.0}° off its axis, and across the picture the polariser takes \
                 {:.1} to {:.1} stops from a clear sky: a dark band. A longer lens, or a polariser turned \
                 away from its darkest, evens it.",
                front.place,
                even - lightest,
                even - darkest
            ),
        ))
    }
}

/// Least and most that a polariser changes the sky of a picture, in stops against unpolarised light; None
/// where the picture has no sky.
fn change(sky: &Sky, view: &View) -> Option<[f64; 2]> {
    let at = |i: u32| f64::from(i) / f64::from(POINTS);
    let rows = (0..=POINTS).map(at).filter(|y| sky.part(*y) > 0.999);
    let points = rows.flat_map(|y| (0..=POINTS).map(move |x| (at(x), y)));
    let stops = points.map(|(x, y)| {
        let (x_mm, y_mm) = ((x - 0.5) * view.width_mm, (0.5 - y) * view.height_mm);
        sky.at(view, x_mm, y_mm).max(1e-6).log2()
    });
    stops.fold(None, |ends, s| {
        let [low, high] = ends.unwrap_or([s, s]);
        Some([low.min(s), high.max(s)])
    })
}
