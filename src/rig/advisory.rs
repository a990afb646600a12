//! Warnings about a rig, each with its reason in plain words.

use super::{Mount, Setup};
use crate::colour::spectrum::Spectrum;
use crate::optics::field::View;
use crate::optics::grain::Grain;
use crate::optics::pupil::Shape;
use crate::units::Stops;
use serde::Serialize;

/// How serious a warning is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Serialize)]
#[serde(rename_all = "lowercase")]
pub enum Level {
    /// Worth knowing.
    Note,
    /// Look at this before the day.
    Caution,
    /// This will not work.
    Stop,
}

impl Level {
    /// Its word. The gravest level is not called by its name: beside f-numbers "stop" would be read
    /// as one.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Note => "Note",
            Self::Caution => "Caution",
            Self::Stop => "Must fix",
        }
    }
}

/// One warning.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Advisory {
    /// What it is about, for programs.
    pub code: &'static str,
    /// How serious it is.
    pub level: Level,
    /// The reason, in plain words.
    pub text: String,
}

impl Advisory {
    /// A warning.
    #[must_use]
    pub fn new(code: &'static str, level: Level, text: impl Into<String>) -> Self {
        Self {
            code,
            level,
            text: text.into(),
        }
    }
}

/// Codes of the warnings about harm to people and gear.
pub const HAZARDS: [&str; 3] = ["sun-finder", "infrared", "falling-glass"];

/// Density from which infrared that the glass does not stop begins to colour blacks.
const INFRARED: f64 = 1.5;
/// Density from which glass tempts someone to look at the sun.
const SUN: f64 = 0.9;
/// Change of an attenuator's loss over the picture, in stops, below which it is not seen as one.
const UNSEEN: f64 = 0.25;
/// Pieces from which reflections between them are worth a thought.
const MANY: usize = 4;
/// How far diffusion is past coarse, before a pupil, when it will show.
const COARSE: f64 = 2.5;

impl Setup {
    /// Every warning this rig earns over `view`, most serious first.
    #[must_use]
    pub fn advisories(&self, view: &View) -> Vec<Advisory> {
        let mut found = Vec::new();
        self.exposure_advisories(&mut found);
        self.coverage_advisories(view, &mut found);
        self.edge_advisories(view, &mut found);
        self.spill_advisories(view, &mut found);
        self.grain_advisories(&mut found);
        self.hazard_advisories(&mut found);
        found.sort_by_key(|a| std::cmp::Reverse(a.level));
        found
    }

    fn exposure_advisories(&self, found: &mut Vec<Advisory>) {
        let (set, marked) = (
            self.stop_to_set(),
            self.camera.t_stop.unwrap_or(self.camera.stop),
        );
        let Some(widest) = self.camera.widest_stop else {
            return;
        };
        // A T-stopped lens keeps the ratio of its markings wide open too.
        let widest = widest.get() * marked.get() / self.camera.stop.get();
        if set < widest * 0.999 {
            found.push(Advisory::new(
                "beyond-widest-stop",
                Level::Stop,
                format!(
                    "The stop to set is {set:.2} and the lens opens to {widest:.2}: \
                     {:.2} stop of light is missing.",
                    2.0 * (widest / set).log2()
                ),
            ));
        }
    }

    fn coverage_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        for g in self.glass.iter().filter(|g| !self.covers(g, view)) {
            found.push(Advisory::new(
                "coverage",
                Level::Caution,
                format!(
                    "{}: {} does not cover the corners of the frame.",
                    g.place,
                    g.piece.name()
                ),
            ));
        }
        let v = self.vignette(view);
        if v.corner.is_none() {
            found.push(Advisory::new(
                "vignette",
                Level::Stop,
                "The corners are black.",
            ));
        } else if let (Some(from), Some(loss)) = (v.starts_deg, v.corner) {
            found.push(Advisory::new(
                "vignette",
                Level::Caution,
                format!(
                    "The rig vignettes from {from:.1}° off the axis; the worst corner loses {:.2} \
                     stop.",
                    loss.get()
                ),
            ));
        }
        for g in &self.glass {
            let [low, high] = self.slide_range_mm(g, view);
            let slide = g.slide_mm();
            let slid_off = slide < low || slide > high;
            if slid_off && high > low && matches!(g.mount, Mount::Tray { .. }) {
                found.push(Advisory::new(
                    "slide",
                    Level::Caution,
                    format!(
                        "{}: slid {slide:.1} mm, and {} covers the frame only from {low:.1} to \
                         {high:.1} mm.",
                        g.place,
                        g.piece.name()
                    ),
                ));
            }
        }
    }

    fn edge_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
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

    fn spill_advisories(&self, view: &View, found: &mut Vec<Advisory>) {
        let Some(stops) = self.light.spill_stops else {
            return;
        };
        let share = self.spill_share(view);
        // Half a per cent of light at key is what a lens by itself makes of it: a veil of a four-thousandth
        // of key is past seeing.
        if share * stops.factor() < 0.05 {
            return;
        }
        let cure = match (self.light.spill_from_deg, self.flag_to_clear_mm(view)) {
            _ if !self.light.shade => "The shade is off: put it on, or flag the source.".to_owned(),
            (None, _) => "Flag the source, or turn it away.".to_owned(),
            (Some(_), Some(flag)) if flag < 400.0 => {
                format!("A top flag reaching {flag:.0} mm beyond the shade keeps it off.")
            }
            (Some(_), _) => {
                "It comes from too low for a top flag: flag it at the source.".to_owned()
            }
        };
        found.push(Advisory::new(
            "spill",
            Level::Caution,
            format!(
                "Stray light lights {:.0} % of the front that the picture looks through: it veils the \
                 blacks. {cure}",
                100.0 * share
            ),
        ));
    }

    /// Diffusion that is coarse against the footprint of a point's light on it.
    fn grain_advisories(&self, found: &mut Vec<Advisory>) {
        let pupil = self.pupil();
        for g in &self.glass {
            let footprint = pupil.diameter_mm * (1.0 - g.depth_mm(self) / pupil.subject_mm);
            let lobes = g.piece.law().scatter.iter().flat_map(|s| &s.lobes);
            let coarsest = lobes
                .filter_map(|lobe| Grain::of(lobe, footprint))
                .max_by(|a, b| a.coarseness().total_cmp(&b.coarseness()));
            let Some(grain) = coarsest.filter(|grain| grain.coarseness() > 1.0) else {
                continue;
            };
            let (place, name) = (g.place, g.piece.name());
            let text = match grain {
                Grain::Specks(n) => format!(
                    "{place}: only {n:.0} specks of {name} stand before the pupil: halos are uneven by \
                     {:.0} %, differ from lamp to lamp, and specks may show in discs out of focus. \
                     A wider stop evens them out.",
                    100.0 / n.max(1.0).sqrt()
                ),
                Grain::Lines(n) => format!(
                    "{place}: only {n:.1} lines of {name} stand across the pupil: rays differ from lamp \
                     to lamp, and lines may show in discs out of focus. A wider stop or closer lines \
                     even them out."
                ),
                Grain::Threads(n) => format!(
                    "{place}: only {n:.1} threads of {name} stand across the pupil: the net may show \
                     as a shadow and in discs out of focus. A wider stop or a finer net hides it."
                ),
            };
            let level = if grain.coarseness() > COARSE {
                Level::Caution
            } else {
                Level::Note
            };
            found.push(Advisory::new("coarse", level, text));
        }
    }

    fn hazard_advisories(&self, found: &mut Vec<Advisory>) {
        let clearest = self.tau().samples().iter().copied().fold(0.0, f64::max);
        let placed: f64 = self
            .glass
            .iter()
            .filter_map(|g| g.piece.law().clearest_peak())
            .sum();
        let density = -clearest.max(1e-9).log10();
        let polarises = self.glass.iter().any(|g| g.piece.law().polarises.is_some());
        if density + placed >= SUN || polarises {
            found.push(Advisory::new(
                "sun-finder",
                Level::Caution,
                "No density or polariser makes it safe to look at the sun through an optical \
                 finder.",
            ));
        }
        self.infrared_advisory(found);
        self.polariser_advisories(found);
        for g in &self.glass {
            if let Some(text) = g.piece.law().caution {
                let text = format!("{}: {}: {text}", g.place, g.piece.name());
                found.push(Advisory::new("glass", Level::Note, text));
            }
        }
        if self.glass.len() >= MANY {
            found.push(Advisory::new(
                "many-surfaces",
                Level::Note,
                format!(
                    "{} pieces of glass make {} faces: look for ghosts of lamps, and tip a stage.",
                    self.glass.len(),
                    2 * self.glass.len()
                ),
            ));
        }
        if self
            .glass
            .iter()
            .any(|g| matches!(g.mount, Mount::Tray { .. }))
        {
            found.push(Advisory::new(
                "falling-glass",
                Level::Note,
                "Glass falls: lock trays and stages, and strap the matte box. Local codes and the \
                 crew's own practice decide.",
            ));
        }
    }

    /// Dense glass that leaves infrared alone. One piece that stops it stops it for the whole stack,
    /// at the near end as far as its cut is steep.
    fn infrared_advisory(&self, found: &mut Vec<Advisory>) {
        let (cuts, passes): (Vec<_>, Vec<_>) = self
            .glass
            .iter()
            .partition(|g| g.piece.law().stops_infrared);
        let through = passes.iter().fold(Spectrum::constant(1.0), |tau, g| {
            tau.product(&g.piece.law().tau)
        });
        let clearest = through.samples().iter().copied().fold(0.0, f64::max);
        let placed: f64 = passes.iter().map(|g| g.density_on_axis()).sum();
        let density = placed - clearest.max(1e-9).log10();
        if density < INFRARED {
            return;
        }
        if cuts.is_empty() {
            found.push(Advisory::new(
                "infrared",
                Level::Caution,
                format!(
                    "Density {density:.1} may leak infrared: dark fabrics can turn reddish. Test \
                     it, or use glass that also stops infrared."
                ),
            ));
        } else {
            found.push(Advisory::new(
                "infrared",
                Level::Note,
                format!(
                    "Density {density:.1} that may leak infrared stands with glass that cuts it: \
                     some deep red near the cut may still pass. Test dark fabrics."
                ),
            ));
        }
    }

    /// Two polarisers: what the second takes depends on how they are turned (Malus).
    fn polariser_advisories(&self, found: &mut Vec<Advisory>) {
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
            let both = Stops::of_loss(first.passed_by_both(last, turned.to_radians()));
            let each = Stops::of_loss(first.passed_unpolarised() * last.passed_unpolarised());
            found.push(Advisory::new(
                "two-polarisers",
                Level::Caution,
                format!(
                    "{} and {} both polarise, {turned:.0}° to one another: if both are linear they \
                     lose {:.1} stops together, and the figures here count {:.1}. Take one out.",
                    behind.place,
                    front.place,
                    both.get(),
                    each.get()
                ),
            ));
        }
    }
}
