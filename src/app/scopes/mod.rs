//! The drawer of scopes: waveform, histogram and chromaticity of both pictures, spots that are held, texture.

// A grid of shares as a picture.
mod density;
// The scopes' drawings.
mod draw;

use super::mark::{Drawn, Marked, Marks, Tool};
use super::{fields, room, theme};
use crate::meters::Region;
use crate::meters::spot::{Contrast, spot};
use crate::recipe::Framing;
use crate::session::{Session, Shown, Viewing, Wants};
use crate::units::Stops;
use density::Density;
use egui::{Align, Layout, RichText, ScrollArea, Ui};
use std::sync::Arc;

/// Height of the open drawer.
pub(super) const HEIGHT: f32 = 214.0;
/// Most spots that are held.
const SPOTS: usize = 8;

/// A scope.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Scope {
    #[default]
    Waveform,
    Histogram,
    Colour,
    Spots,
    Texture,
}

/// How the drawer stands.
#[derive(Default)]
pub(super) struct Drawer {
    pub(super) open: bool,
    scope: Scope,
    /// Red, green and blue in place of luminance.
    colours: bool,
    waves: [Density; 2],
    clouds: [Density; 2],
}

impl Drawer {
    /// The tools that are on the scope which is shown.
    pub(super) const fn tools(&self) -> &'static [Tool] {
        match (self.open, self.scope) {
            (true, Scope::Spots) => &[Tool::Spot],
            (true, Scope::Texture) => &[Tool::Face],
            _ => &[],
        }
    }

    /// Says what is wanted, and takes what was marked; whether the drawer is open or not.
    pub(super) fn follow(&self, session: &mut Session, marks: &mut Marks, view: Viewing) {
        if let Some(Marked::Point(spot)) = marks.take(Tool::Spot)
            && marks.spots.len() < SPOTS
        {
            marks.spots.push(spot);
        }
        if let Some(Marked::Sides(sides)) = marks.take(Tool::Face) {
            marks.face = Some(sides);
        }
        let face = marks.face.and_then(|s| Region::new(s.map(f64::from)));
        session.want(Wants {
            view,
            scopes: self.open,
            face: face.filter(|_| self.open),
        });
        if self.open && self.scope == Scope::Spots {
            let radius = room::SPOT as f32;
            let spots = marks.spots.iter().enumerate();
            let drawn = spots.map(|(i, at)| Drawn::Point(*at, radius, letter(i).to_string()));
            marks.drawn.extend(drawn);
        }
        if self.open && self.scope == Scope::Texture {
            let drawn = marks.face.map(|s| Drawn::Sides(s, "Texture".to_owned()));
            marks.drawn.extend(drawn);
        }
    }

    /// Shows the open drawer.
    pub(super) fn show(&mut self, ui: &mut Ui, session: &Session, marks: &mut Marks) {
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 4.0;
            for (scope, name) in [
                (Scope::Waveform, "Waveform"),
                (Scope::Histogram, "Histogram"),
                (Scope::Colour, "Chromaticity"),
                (Scope::Spots, "Spots"),
                (Scope::Texture, "Texture"),
            ] {
                let on = self.scope == scope;
                if fields::segment(ui, on, name, &format!("Scope: {name}")).clicked() {
                    self.scope = scope;
                }
            }
            if matches!(self.scope, Scope::Waveform | Scope::Histogram) {
                ui.add_space(12.0);
                for (colours, name) in [(false, "Luminance"), (true, "Red, green, blue")] {
                    let on = self.colours == colours;
                    if fields::segment(ui, on, name, &format!("Channels: {name}")).clicked() {
                        self.colours = colours;
                    }
                }
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if ui
                    .button("Close")
                    .on_hover_text("Closes the scopes.")
                    .clicked()
                {
                    self.open = false;
                }
            });
        });
        match self.scope {
            Scope::Spots => return spots(ui, session, marks),
            Scope::Texture => return texture(ui, session, marks),
            Scope::Waveform | Scope::Histogram | Scope::Colour => {}
        }
        let Some(scopes) = session.scopes().cloned() else {
            let text = match session.still() {
                Some(_) => "Being read…",
                None => "No still is open.",
            };
            fields::note(ui, text);
            return;
        };
        match self.scope {
            Scope::Waveform => draw::waveforms(ui, &scopes, self.colours, &mut self.waves),
            Scope::Histogram => draw::histograms(ui, &scopes, self.colours),
            _ => draw::chromaticities(ui, &scopes, &mut self.clouds),
        }
    }
}

impl std::fmt::Debug for Drawer {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Drawer")
            .field("open", &self.open)
            .field("scope", &self.scope)
            .finish_non_exhaustive()
    }
}

/// A spot's letter.
fn letter(index: usize) -> char {
    (b'A' + (index % 26) as u8) as char
}

/// A spot's levels, bare and through the glass; None where the picture does not show it.
fn read(session: &Session, framing: &Framing, [x, y]: [f32; 2]) -> [Option<f64>; 2] {
    let place = framing.to_picture([f64::from(x), f64::from(y)]);
    let radius = framing.radius_to_picture(room::SPOT);
    let of = |shown: Option<&Arc<Shown>>| {
        let ([x, y], light) = place.zip(shown?.light())?;
        Some(spot(light, x, y, radius).get())
    };
    [of(session.metered_bare()), of(session.metered_glass())]
}

fn spots(ui: &mut Ui, session: &Session, marks: &mut Marks) {
    ui.horizontal(|ui| {
        let armed = marks.armed == Some(Tool::Spot);
        let word = if armed {
            "Click on the picture…"
        } else {
            "Place spots"
        };
        if fields::segment(ui, armed, word, "Place spots").clicked() {
            marks.arm(Tool::Spot);
        }
        if marks.spots.len() < SPOTS && ui.button("One in the middle").clicked() {
            marks.spots.push([0.5, 0.5]);
        }
        if !marks.spots.is_empty() && ui.button("Clear").clicked() {
            marks.spots.clear();
        }
    });
    let Some(Ok(framing)) = session.framing() else {
        return;
    };
    let levels: Vec<[Option<f64>; 2]> = marks
        .spots
        .iter()
        .map(|at| read(session, framing, *at))
        .collect();
    if let [a, b, ..] = levels.as_slice() {
        let ratio = |i: usize| {
            let pair = a[i].zip(b[i]);
            let levels = pair.map(|(a, b)| (Stops::clamped(a.max(b)), Stops::clamped(a.min(b))));
            levels
                .and_then(|(high, low)| Contrast::between(high, low))
                .map_or_else(
                    || "–".to_owned(),
                    |c| format!("{:.1} : 1 ({:.2} stops)", c.ratio(), c.stops.get()),
                )
        };
        let text = format!("A to B: bare {}, through the glass {}", ratio(0), ratio(1));
        ui.label(RichText::new(text).color(theme::TEXT));
    } else {
        fields::note(ui, "Two spots give a contrast ratio.");
    }
    if levels.is_empty() {
        return;
    }
    ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
        let mut gone = None;
        egui::Grid::new("spots")
            .striped(true)
            .spacing([28.0, 4.0])
            .show(ui, |ui| {
                for head in ["Spot", "Bare", "Glass", "Difference", ""] {
                    ui.label(RichText::new(head).small().color(theme::SECOND));
                }
                ui.end_row();
                for (i, [bare, glass]) in levels.iter().enumerate() {
                    let text =
                        |v: Option<f64>| v.map_or("not in the picture".to_owned(), fields::stops);
                    let letter = letter(i);
                    ui.label(letter.to_string());
                    ui.monospace(text(*bare));
                    ui.monospace(text(*glass));
                    ui.monospace(text(bare.zip(*glass).map(|(b, g)| g - b)));
                    let name = format!("Remove spot {letter}");
                    if super::icons::button(ui, super::icons::Icon::Remove, &name, true).clicked() {
                        gone = Some(i);
                    }
                    ui.end_row();
                }
            });
        if let Some(i) = gone {
            marks.spots.remove(i);
        }
    });
}

fn texture(ui: &mut Ui, session: &Session, marks: &mut Marks) {
    ui.horizontal(|ui| {
        let armed = marks.armed == Some(Tool::Face);
        let word = if armed {
            "Drag on the picture…"
        } else {
            "Mark a face"
        };
        if fields::segment(ui, armed, word, "Mark a face").clicked() {
            marks.arm(Tool::Face);
        }
        if marks.face.is_some() && ui.button("The whole picture").clicked() {
            marks.face = None;
        }
    });
    let Some(scopes) = session.scopes() else {
        return;
    };
    let Some(kept) = scopes.texture else {
        fields::note(ui, "The marked region is not in the picture.");
        return;
    };
    let of = if marks.face.is_some() {
        "the marked region"
    } else {
        "the whole picture"
    };
    fields::note(
        ui,
        &format!(
            "Local contrast of {of}, through the glass against bare; exposure does not count."
        ),
    );
    egui::Grid::new("texture")
        .spacing([28.0, 6.0])
        .show(ui, |ui| {
            let what = ["pores, lashes, cloth", "modelling", "shapes"];
            for ((name, _, kept), what) in kept.scales().into_iter().zip(what) {
                ui.label(fields::capital(name));
                ui.label(RichText::new(what).color(theme::SECOND));
                let (part, decibels) = kept.map_or_else(
                    || ("–".to_owned(), "nothing there to keep".to_owned()),
                    |band| {
                        let decibels = format!("{:+.1} dB", band.db()).replace('-', "\u{2212}");
                        (format!("{:.0} %", band.percent()), decibels)
                    },
                );
                ui.monospace(decibels);
                ui.monospace(part);
                ui.end_row();
            }
        });
}
