//! What to change about a rig that vignettes. Every change is made to a copy of the rig, which is worked
//! out anew: none is told that does not help, and each with what it leaves.

use super::camera::Compensate;
use super::geometry::{RING_PITCH, STAGE_PITCH, stage_gap_mm};
use super::size::Size;
use super::vignette::{BEGINS, Cause};
use super::{Mount, Mounted, Place, STAGES, Setup};
use crate::optics::field::View;
use crate::units::{Degrees, Extent, FNumber, Millimetres, Stops};

/// Most remedies told.
pub const MOST: usize = 5;
/// Threads of rings in the trade, mm: from memory.
pub const THREADS: [f64; 12] = [
    49.0, 52.0, 55.0, 58.0, 62.0, 67.0, 72.0, 77.0, 82.0, 86.0, 95.0, 105.0,
];
/// Stops that lenses are marked with: the powers of √2, as the trade rounds them.
const STOPS: [f64; 10] = [1.0, 1.4, 2.0, 2.8, 4.0, 5.6, 8.0, 11.0, 16.0, 22.0];
/// Nearest that a stage stands to the front vertex, mm: common practice, no source.
const NEAREST: f64 = 5.0;

/// A change that takes at least half of the corners' loss away.
#[derive(Debug, Clone, PartialEq)]
pub struct Remedy {
    /// What to do, a sentence.
    pub text: String,
    /// What the worst corner then loses; None when it stays black.
    pub corner: Option<Stops>,
    /// Where the vignette then begins, degrees; None when it is gone.
    pub starts_deg: Option<f64>,
}

/// A rig that has been changed.
struct Change {
    text: String,
    setup: Setup,
    view: View,
}

impl Change {
    fn loss(&self) -> f64 {
        let loss = self.setup.corner_loss(&self.view);
        // What does not count as a vignette is none.
        if loss < BEGINS { 0.0 } else { loss }
    }
}

impl Setup {
    /// What ends this rig's vignette over `view`, or at least halves what the worst corner loses: best
    /// first, of those that leave as much the one that is least trouble; [`MOST`] at most.
    #[must_use]
    pub fn remedies(&self, view: &View) -> Vec<Remedy> {
        let before = self.corner_loss(view);
        if before < BEGINS {
            return Vec::new();
        }
        let mut helps: Vec<(f64, Change)> = self
            .changes(view)
            .into_iter()
            .map(|change| (change.loss(), change))
            .filter(|(after, _)| after.is_finite() && 2.0 * after <= before)
            .collect();
        helps.sort_by(|a, b| a.0.total_cmp(&b.0));
        helps.truncate(MOST);
        let told = helps.into_iter().map(|(_, change)| {
            let left = change.setup.vignette(&change.view);
            Remedy {
                text: change.text,
                corner: left.corner,
                starts_deg: left.starts_deg,
            }
        });
        told.collect()
    }

    /// Every change worth trying, the least trouble first.
    fn changes(&self, view: &View) -> Vec<Change> {
        let changed = |text: String, setup: Self| Change {
            text,
            setup,
            view: *view,
        };
        let [rings, trays] = self.in_the_way(view);
        let mut all = Vec::new();
        all.extend(self.slid_back(&trays).map(|(t, s)| changed(t, s)));
        all.extend(self.turned_back(&trays).map(|(t, s)| changed(t, s)));
        all.extend(self.nearer().map(|(t, s)| changed(t, s)));
        let sizes = self.larger(&trays);
        all.extend(best(sizes.into_iter().map(|(t, s)| changed(t, s))));
        let moved = self.moved(&rings);
        all.extend(best(moved.into_iter().map(|(t, s)| changed(t, s))));
        let threads = self.wider(&rings);
        all.extend(best(threads.into_iter().map(|(t, s)| changed(t, s))));
        all.extend(self.dropped(&rings).map(|(t, s)| changed(t, s)));
        let shade = self.shade_changes(view).into_iter();
        all.extend(shade.map(|(t, s)| changed(t, s)));
        let stops = self.stopped_down().into_iter();
        all.extend(best(stops.map(|(t, s)| changed(t, s))));
        all.extend(self.longer(view));
        all
    }

    /// The rings and the trays that by themselves take light from a corner.
    fn in_the_way(&self, view: &View) -> [Vec<Place>; 2] {
        let clips = |g: &&Mounted| !self.covers(g, view);
        let (rings, trays) = self
            .glass
            .iter()
            .filter(clips)
            .map(|g| g.place)
            .partition(|p| matches!(p, Place::Ring(_)));
        [rings, trays]
    }

    /// A copy with the glass in some places changed; None when `change` says of none that it did.
    fn with(&self, places: &[Place], mut change: impl FnMut(&mut Mounted) -> bool) -> Option<Self> {
        let mut setup = self.clone();
        let mut any = false;
        for g in &mut setup.glass {
            any |= places.contains(&g.place) && change(g);
        }
        any.then_some(setup)
    }

    fn slid_back(&self, trays: &[Place]) -> Option<(String, Self)> {
        let mut moved = Vec::new();
        let setup = self.with(trays, |g| match &mut g.mount {
            Mount::Tray { slide, .. } if slide.get() != 0.0 => {
                *slide = Millimetres::clamped(0.0);
                moved.push(g.place);
                true
            }
            _ => false,
        })?;
        Some((format!("Slide {} back to the middle.", list(&moved)), setup))
    }

    fn turned_back(&self, trays: &[Place]) -> Option<(String, Self)> {
        let mut moved = Vec::new();
        let setup = self.with(trays, |g| {
            let upright = (g.turn.get() / 180.0).round() * 180.0;
            let round = matches!(g.mount, Mount::Tray { size, .. } if size.is_round());
            if round || (g.turn.get() - upright).abs() <= 0.0 {
                return false;
            }
            g.turn = Degrees::clamped(upright);
            moved.push(g.place);
            true
        })?;
        Some((format!("Turn {} upright.", list(&moved)), setup))
    }

    /// Stages as near to the lens as what stands behind them allows.
    fn nearer(&self) -> Option<(String, Self)> {
        let mut setup = self.clone();
        let mut behind: Option<(f64, f64)> = None;
        let mut moved = Vec::new();
        for g in &mut setup.glass {
            let least = behind.map_or(NEAREST, |(gap, pitch)| gap + pitch);
            let tray = matches!(g.mount, Mount::Tray { .. });
            if tray && g.gap.get() > least {
                g.gap = Millimetres::clamped(least);
                moved.push(format!("{} to {least:.0} mm", g.place));
            }
            let pitch = if tray { STAGE_PITCH } else { RING_PITCH };
            behind = Some((g.gap.get(), pitch));
        }
        let text = format!("Bring glass nearer to the lens: {}.", moved.join(", "));
        (!moved.is_empty()).then_some((text, setup))
    }

    /// The next sizes of glass up, all trays that are in the way alike.
    fn larger(&self, trays: &[Place]) -> Vec<(String, Self)> {
        let sizes = Size::ALL.into_iter().filter_map(|larger| {
            let [w, h] = larger.sides_mm();
            let mut fits = true;
            let setup = self.with(trays, |g| {
                let Mount::Tray { size, .. } = &mut g.mount else {
                    return false;
                };
                let [was_w, was_h] = size.sides_mm();
                fits &= w >= was_w && h >= was_h && (w > was_w || h > was_h);
                // What slides, or is turned by its tray, has sides.
                fits &= size.is_round() || !larger.is_round();
                *size = larger;
                true
            })?;
            let text = format!("Use {} glass in {}.", larger.name(), list(trays));
            fits.then_some((text, setup))
        });
        sizes.collect()
    }

    /// The glass of rings in stages that are free, in the trade's usual and its largest size.
    fn moved(&self, rings: &[Place]) -> Vec<(String, Self)> {
        if rings.is_empty() {
            return Vec::new();
        }
        let taken = |n: usize| self.glass.iter().any(|g| g.place == Place::Stage(n));
        let free: Vec<usize> = (1..=STAGES).filter(|n| !taken(*n)).collect();
        if free.len() < rings.len() {
            return Vec::new();
        }
        let sizes = [Size::default(), Size::SixSixSquare].into_iter();
        let moved = sizes.filter_map(|size| {
            let mut stages = free.iter();
            let setup = self.with(rings, |g| {
                let Some(n) = stages.next() else {
                    return false;
                };
                g.place = Place::Stage(*n);
                g.gap = stage_gap_mm(n - 1);
                g.mount = Mount::Tray {
                    size,
                    slide: Millimetres::clamped(0.0),
                    tilt: Degrees::clamped(0.0),
                };
                true
            });
            let mut setup = setup?;
            setup.glass.sort_by_key(|g| g.place);
            // Stages that were moved by hand leave it no room.
            let room = setup
                .glass
                .windows(2)
                .all(|w| w[1].gap.get() > w[0].gap.get());
            let text = format!(
                "Take the glass of {} to the matte box, as {}.",
                list(rings),
                size.name()
            );
            room.then_some((text, setup))
        });
        moved.collect()
    }

    /// Larger threads for all rings that are in the way, as much wider clear.
    fn wider(&self, rings: &[Place]) -> Vec<(String, Self)> {
        let threads = THREADS.into_iter().filter_map(|larger| {
            let mut fits = true;
            let setup = self.with(rings, |g| {
                let Mount::Ring { thread, clear } = &mut g.mount else {
                    return false;
                };
                fits &= larger > thread.get();
                *clear = Extent::clamped(larger - (thread.get() - clear.get()));
                *thread = Extent::clamped(larger);
                true
            })?;
            let text = format!(
                "Use {} {larger:.0} mm thread for {}.",
                article(larger),
                list(rings)
            );
            fits.then_some((text, setup))
        });
        threads.collect()
    }

    fn dropped(&self, rings: &[Place]) -> Option<(String, Self)> {
        if rings.is_empty() {
            return None;
        }
        let mut setup = self.clone();
        setup.glass.retain(|g| !rings.contains(&g.place));
        Some((format!("Take {} out.", list(rings)), setup))
    }

    fn shade_changes(&self, view: &View) -> Vec<(String, Self)> {
        let cuts: Vec<Cause> = self.shade_cuts(view);
        if cuts.is_empty() {
            return Vec::new();
        }
        let changed = |text: String, change: &dyn Fn(&mut Self)| {
            let mut setup = self.clone();
            change(&mut setup);
            (text, setup)
        };
        let mouth = self.mouth_to_clear_mm(view);
        let mut all = vec![changed(
            format!(
                "Use a shade with a mouth of {:.0} × {:.0} mm.",
                mouth[0], mouth[1]
            ),
            &|s| s.shade.opening_mm = Some(mouth.map(Extent::clamped)),
        )];
        if cuts.contains(&Cause::TopFlag) {
            all.push(changed("Fold the top flag back.".to_owned(), &|s| {
                s.shade.top_flag_mm = Millimetres::clamped(0.0);
            }));
        }
        all.push(changed("Take the shade off.".to_owned(), &|s| {
            s.light.shade = false;
        }));
        all
    }

    /// A smaller stop; under compensation by the iris the lens is not at the stop that is told.
    fn stopped_down(&self) -> Vec<(String, Self)> {
        if self.compensate == Compensate::Iris {
            return Vec::new();
        }
        let now = self.camera.stop.get();
        let stops = STOPS.into_iter().filter(|n| *n > 1.01 * now).map(|n| {
            let mut setup = self.clone();
            setup.camera.stop = FNumber::clamped(n);
            let marked = self.camera.t_stop;
            setup.camera.t_stop = marked.map(|t| FNumber::clamped(t.get() * n / now));
            (format!("Stop down to f/{n}."), setup)
        });
        stops.collect()
    }

    fn longer(&self, view: &View) -> Option<Change> {
        let focal_mm = self.widest_focal_mm(view)?.ceil();
        if focal_mm <= view.focal_mm {
            return None;
        }
        let mut setup = self.clone();
        setup.camera.focal_mm = Extent::clamped(focal_mm);
        Some(Change {
            text: format!("Use {} {focal_mm:.0} mm lens.", article(focal_mm)),
            setup,
            view: View { focal_mm, ..*view },
        })
    }
}

/// Of changes that go further and further the first that ends the vignette, or the one that leaves least.
fn best(changes: impl Iterator<Item = Change>) -> Option<Change> {
    let mut least: Option<(f64, Change)> = None;
    for change in changes {
        let loss = change.loss();
        if least.as_ref().is_none_or(|(other, _)| loss < *other) {
            least = Some((loss, change));
        }
        if loss <= 0.0 {
            break;
        }
    }
    least.map(|(_, change)| change)
}

/// Places in a sentence: "Ring 1", "Stage 1 and Stage 3".
fn list(places: &[Place]) -> String {
    let names: Vec<String> = places.iter().map(ToString::to_string).collect();
    match names.split_last() {
        Some((last, [])) => last.clone(),
        Some((last, others)) => format!("{} and {last}", others.join(", ")),
        None => String::new(),
    }
}

/// "an" before a number that is spoken with a vowel first: eight, eleven, eighteen, eighty.
fn article(number: f64) -> &'static str {
    let told = format!("{number:.0}");
    let vowel = told.starts_with('8') || told == "11" || told == "18";
    if vowel { "an" } else { "a" }
}
