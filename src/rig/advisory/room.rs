//! Whether there is room for the glass: in order, apart from one another, tipped, and for one more.

use super::{Advisory, Level};
use crate::rig::weight::THICKNESS;
use crate::rig::{Mount, Mounted, Place, RINGS, STAGES, Setup};

/// How far apart stages are proposed to stand, so that a tray fits between: common practice, no source.
const PITCH: f64 = 6.0;
/// Slack for rounding, of millimetres and of radians.
const EXACT: f64 = 1e-9;

impl Setup {
    pub(super) fn room_advisories(&self, found: &mut Vec<Advisory>) {
        if let Some(first) = self.glass.first() {
            found.extend(before_the_lens(first).map(tipped));
        }
        for pair in self.glass.windows(2) {
            let [behind, front] = pair else { continue };
            if let Some(text) = collide(behind, front) {
                found.push(Advisory::new("stages", Level::Stop, text));
            } else {
                found.extend(tips_into(behind, front).map(tipped));
            }
        }
        found.extend(self.full());
    }

    /// All stages taken: what could make room.
    fn full(&self) -> Option<Advisory> {
        let in_stage = |g: &&Mounted| matches!(g.place, Place::Stage(_));
        let staged: Vec<&Mounted> = self.glass.iter().filter(in_stage).collect();
        if staged.len() < STAGES {
            return None;
        }
        let mut text = format!("All {STAGES} stages are taken.");
        let plain: Vec<&&Mounted> = staged.iter().filter(|g| is_plain(g)).collect();
        if let [one, other, ..] = plain.as_slice() {
            text += &format!(
                " {} and {} ({} and {}) only take light and colour: one glass may do both.",
                one.place,
                other.place,
                one.piece.name(),
                other.piece.name()
            );
        }
        let kept = plain.len() > 1;
        let loose = staged
            .iter()
            .find(|g| needs_no_tray(g) && !(kept && is_plain(g)));
        let rings = self.glass.len() - staged.len();
        if let Some(g) = loose.filter(|_| rings < RINGS) {
            text += &format!(
                " {} ({}) needs no tray: a screw-in ring can hold it where the lens clears one.",
                g.place,
                g.piece.name()
            );
        }
        if !kept && (loose.is_none() || rings >= RINGS) {
            text += " One more glass takes the place of one of these.";
        }
        Some(Advisory::new("stage-count", Level::Note, text))
    }
}

fn tipped(text: String) -> Advisory {
    Advisory::new("stages", Level::Caution, text)
}

/// Two neighbours in the wrong order or in one another's place.
fn collide(behind: &Mounted, front: &Mounted) -> Option<String> {
    let (a, b) = (behind.gap.get(), front.gap.get());
    let (place, other) = (front.place, behind.place);
    if b - a < -EXACT {
        return Some(format!(
            "{place} stands {b:.1} mm before the lens, nearer to it than {other} at {a:.1} mm: glass is told \
             from the lens outward. Change the two, or their gaps."
        ));
    }
    let thick = THICKNESS.get();
    (b - a < thick - EXACT).then(|| {
        format!(
            "{place} stands {:.1} mm before {other}, and glass is about {thick:.0} mm thick: they meet. \
             Give {place} a gap of {:.1} mm or more.",
            b - a,
            a + PITCH
        )
    })
}

/// Two neighbours that meet at their edges because one is tipped against the other.
fn tips_into(behind: &Mounted, front: &Mounted) -> Option<String> {
    let reach = half_height(behind).min(half_height(front));
    let (a, b) = (behind.tilt().radians(), front.tilt().radians());
    let needed = reach * (a.sin() - b.sin()).abs();
    let free = front.gap.get() - behind.gap.get() - THICKNESS.get();
    (needed > free + EXACT).then(|| {
        let (leans, other) = if a.abs() > b.abs() {
            (behind, front)
        } else {
            (front, behind)
        };
        format!(
            "{} is tipped by {:.1}°: at its edge it leans {needed:.1} mm towards {}, and {free:.1} mm are \
             free. Give {} a gap of {:.1} mm or more, or tip it less.",
            leans.place,
            leans.tilt().get().abs(),
            other.place,
            front.place,
            up(behind.gap.get() + THICKNESS.get() + needed)
        )
    })
}

/// The glass nearest the lens, tipped into it.
fn before_the_lens(first: &Mounted) -> Option<String> {
    let needed = half_height(first) * first.tilt().radians().sin().abs();
    (needed > first.gap.get() + EXACT).then(|| {
        format!(
            "{} is tipped by {:.1}°: its edge leans {needed:.1} mm towards the lens, whose front is {:.1} mm \
             away. Give it a gap of {:.1} mm or more, or tip it less.",
            first.place,
            first.tilt().get().abs(),
            first.gap.get(),
            up(needed)
        )
    })
}

/// A gap to a tenth of a millimetre, never less than it is: what is told must do.
fn up(gap_mm: f64) -> f64 {
    (10.0 * gap_mm - EXACT).ceil() / 10.0
}

/// Half the height of a glass as it is turned, or of its ring, mm: stages tip about a level axis.
pub(super) fn half_height(glass: &Mounted) -> f64 {
    match glass.mount {
        Mount::Ring { thread, .. } => thread.get() / 2.0,
        Mount::Tray { size, .. } => {
            let ([w, h], up) = (size.sides_mm(), glass.up());
            if size.is_round() {
                w / 2.0
            } else {
                (w * up[0].abs() + h * up[1].abs()) / 2.0
            }
        }
    }
}

/// Whether a glass does nothing but take light and colour, all over alike.
fn is_plain(glass: &Mounted) -> bool {
    let law = glass.piece.law();
    glass.is_dyed() && law.scatter.is_none() && law.ramp.is_none()
}

/// Whether a glass works in a ring as well: it is not slid and not tipped.
fn needs_no_tray(glass: &Mounted) -> bool {
    let ramp = &glass.piece.law().ramp;
    ramp.is_none() && glass.tilt().radians().abs() < EXACT
}
