//! The light path: every place for glass from the lens outward, what stands there, and its controls.

use super::icons::{self, Icon};
use super::{fields, piece, theme};
use crate::glass::strength::Strength;
use crate::glass::{FAMILIES, Family};
use crate::rig::Place;
use crate::rig::size::Size;
use crate::session::{Held, Report, Session, Wanted, edit};
use crate::units::{Degrees, Extent, Millimetres, Stops};
use egui::{
    Align, Color32, CursorIcon, DragAndDrop, FontId, Id, LayerId, Layout, Order, Rect, Response,
    RichText, ScrollArea, Sense, Stroke, TextFormat, Ui, WidgetInfo, text::LayoutJob, vec2,
};
use serde_json::Value;

/// How the panel stands.
#[derive(Debug, Default)]
pub(super) struct LightPath {
    /// The place whose controls are open.
    pub(super) chosen: Option<Place>,
    /// The option whose file is asked for.
    pub(super) wanted: Option<Wanted>,
}

/// A change that was asked for.
#[derive(Debug, Clone)]
pub(super) enum Act {
    Put(Place, &'static Family),
    Remove(Place),
    Carry(Place, Place),
    Strength(Place, Strength),
    Option(Place, &'static str, &'static str, Option<Value>),
    File(Wanted),
    Stage(Place, StageField),
    Ring(Place, RingField),
}

/// A change to how a glass stands in its stage.
#[derive(Debug, Clone, Copy)]
pub(super) enum StageField {
    Size(Size),
    Slide(f64),
    Turn(f64),
    Tilt(f64),
    Gap(f64),
}

/// A change to a ring.
#[derive(Debug, Clone, Copy)]
pub(super) enum RingField {
    Thread(f64),
    Clear(f64),
    Turn(f64),
    Gap(f64),
}

/// What is dragged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Dragged(Place);

impl LightPath {
    /// Shows the panel.
    pub(super) fn show(&mut self, ui: &mut Ui, session: &mut Session) {
        let held = session.held().to_vec();
        let report = session.report().cloned();
        let mut acts = Vec::new();
        ui.horizontal(|ui| {
            ui.label(RichText::new("Light path").heading());
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let loss = report.as_ref().map_or(0.0, |r| r.loss.get());
                let text = format!("loses {}", fields::lost(Stops::clamped(loss)));
                ui.label(RichText::new(text).small().color(theme::SECOND));
            });
        });
        ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            ui.spacing_mut().item_spacing.y = 6.0;
            end(ui, "Lens");
            for h in &held {
                self.card(ui, session, &held, h, report.as_ref(), &mut acts);
            }
            end(ui, "Scene");
            ui.add_space(2.0);
            fields::note(
                ui,
                "Drag a piece to another place to move it, or to change places.",
            );
            fields::note(ui, "Modelled, not measured: a camera test decides.");
        });
        ghost(ui, &held);
        for act in acts {
            self.apply(session, act);
        }
    }

    fn card(
        &mut self,
        ui: &mut Ui,
        session: &Session,
        held: &[Held],
        h: &Held,
        report: Option<&Report>,
        acts: &mut Vec<Act>,
    ) {
        let chosen = self.chosen == Some(h.place) && h.piece.is_some();
        let frame = egui::Frame::new()
            .fill(if h.piece.is_some() {
                theme::RAISED
            } else {
                theme::PANEL
            })
            .corner_radius(6)
            .inner_margin(egui::Margin {
                left: 6,
                right: 6,
                top: 4,
                bottom: 4,
            });
        let shown = frame.show(ui, |ui| {
            ui.set_width(ui.available_width());
            ui.push_id(h.place.key(), |ui| {
                if h.piece.is_some() {
                    self.header(ui, held, h, report, acts);
                    if chosen {
                        piece::show(ui, session, h, report, acts);
                    }
                } else {
                    vacant(ui, h, acts, &mut self.chosen);
                }
            });
        });
        let card = shown.response;
        let painter = ui.painter();
        if chosen {
            let stroke = Stroke::new(1.5, theme::ACCENT);
            painter.rect_stroke(card.rect, 6.0, stroke, egui::StrokeKind::Inside);
        } else if h.piece.is_none() {
            icons::dashed(painter, card.rect, Stroke::new(1.0, Color32::from_gray(92)));
        }
        if let Some(Dragged(from)) = card.dnd_hover_payload::<Dragged>().map(|p| *p)
            && from != h.place
            && h.open
        {
            let stroke = Stroke::new(2.0, theme::ACCENT);
            painter.rect_stroke(card.rect, 6.0, stroke, egui::StrokeKind::Inside);
        }
        if let Some(Dragged(from)) = card.dnd_release_payload::<Dragged>().map(|p| *p)
            && from != h.place
        {
            acts.push(Act::Carry(from, h.place));
        }
    }

    /// A filled place's line: grip and name, what it costs, and its buttons.
    fn header(
        &mut self,
        ui: &mut Ui,
        held: &[Held],
        h: &Held,
        report: Option<&Report>,
        acts: &mut Vec<Act>,
    ) {
        let Some(glass) = &h.piece else { return };
        let loss = report.and_then(|r| r.place(h.place)).map(|p| p.loss.get());
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = 2.0;
            let buttons = 3.0 * (theme::TARGET + 2.0);
            let size = vec2(ui.available_width() - buttons, 38.0);
            let name = format!("{}: {}", h.place, glass.name());
            let line = self.title(ui, size, &name, h, loss);
            if line.clicked() {
                self.chosen = (self.chosen != Some(h.place)).then_some(h.place);
            }
            line.dnd_set_drag_payload(Dragged(h.place));
            let at = held.iter().position(|o| o.place == h.place).unwrap_or(0);
            let nearer = at.checked_sub(1).and_then(|i| held.get(i));
            let further = held.get(at + 1);
            for (icon, to, words) in [
                (Icon::Up, nearer, "towards the lens"),
                (Icon::Down, further, "towards the scene"),
            ] {
                let open = to.filter(|o| o.open);
                let name = format!("Move {} {words}", glass.name());
                if icons::button(ui, icon, &name, open.is_some()).clicked()
                    && let Some(to) = open
                {
                    acts.push(Act::Carry(h.place, to.place));
                }
            }
            let name = format!("Take {} out", glass.name());
            if icons::button(ui, Icon::Remove, &name, true).clicked() {
                acts.push(Act::Remove(h.place));
            }
        });
    }

    /// The part of the line that is clicked to open and dragged to move.
    fn title(
        &self,
        ui: &mut Ui,
        size: egui::Vec2,
        name: &str,
        h: &Held,
        loss: Option<f64>,
    ) -> Response {
        let (rect, line) = ui.allocate_exact_size(size, Sense::click_and_drag());
        let open = self.chosen == Some(h.place);
        line.widget_info(|| WidgetInfo::selected(egui::accesskit::Role::Button, true, open, name));
        let painter = ui.painter();
        if line.hovered() || line.has_focus() {
            let v = ui.style().interact(&line);
            painter.rect(
                rect,
                4.0,
                Color32::from_gray(54),
                v.bg_stroke,
                egui::StrokeKind::Inside,
            );
        }
        let centre = rect.left_center();
        Icon::Grip.paint(painter, centre + vec2(8.0, 0.0), theme::SECOND);
        let sign = if open { Icon::Opened } else { Icon::Closed };
        sign.paint(painter, centre + vec2(25.0, 0.0), theme::SECOND);
        let text_at = rect.min + vec2(38.0, 3.0);
        let clip = painter.with_clip_rect(rect.shrink2(vec2(2.0, 0.0)));
        let small = FontId::proportional(12.0);
        let place = match loss {
            Some(loss) => format!("{}, loses {}", h.place, fields::lost(Stops::clamped(loss))),
            None => h.place.to_string(),
        };
        clip.text(text_at, egui::Align2::LEFT_TOP, place, small, theme::SECOND);
        let text = h.piece.as_ref().map_or("", |p| p.name());
        let below = text_at + vec2(0.0, 14.0);
        clip.text(
            below,
            egui::Align2::LEFT_TOP,
            text,
            FontId::proportional(14.0),
            theme::TEXT,
        );
        line.on_hover_cursor(CursorIcon::Grab)
    }

    fn apply(&mut self, session: &mut Session, act: Act) {
        match act {
            Act::Put(place, family) => {
                let glass = family.default_piece();
                let label = format!("Put {} in {}", glass.name(), lower(place));
                if session.change(&label, None, |r| edit::put(r, place, &glass)) {
                    self.chosen = Some(place);
                }
            }
            Act::Remove(place) => {
                let name = session
                    .piece(place)
                    .map_or_else(String::new, |p| p.name().to_owned());
                let label = format!("Take {name} out");
                session.change(&label, None, |r| {
                    edit::remove(r, place);
                    Ok(())
                });
                if self.chosen == Some(place) {
                    self.chosen = None;
                }
            }
            Act::Carry(from, to) => {
                let label = format!("Move {} to {}", lower(from), lower(to));
                if session.change(&label, None, |r| edit::carry(r, from, to)) {
                    self.chosen = match self.chosen {
                        Some(p) if p == from => Some(to),
                        Some(p) if p == to => Some(from),
                        other => other,
                    };
                }
            }
            Act::Strength(place, strength) => {
                let label = format!("Strength in {}", lower(place));
                session.change(&label, None, |r| edit::set_strength(r, place, strength));
            }
            Act::Option(place, name, words, value) => {
                let label = format!("{words} in {}", lower(place));
                let merge = format!("{}.{name}", place.key());
                session.change(&label, Some(&merge), |r| {
                    edit::set_option(r, place, name, value)
                });
            }
            Act::File(wanted) => self.wanted = Some(wanted),
            Act::Stage(place, field) => stage(session, place, field),
            Act::Ring(place, field) => ring(session, place, field),
        }
    }
}

fn lower(place: Place) -> String {
    place.to_string().to_lowercase()
}

fn stage(session: &mut Session, place: Place, field: StageField) {
    let word = match field {
        StageField::Size(_) => "Size",
        StageField::Slide(_) => "Slide",
        StageField::Turn(_) => "Turn",
        StageField::Tilt(_) => "Tilt",
        StageField::Gap(_) => "Distance",
    };
    let merge = format!("{}.{word}", place.key());
    session.change(&format!("{word} of {}", lower(place)), Some(&merge), |r| {
        let doc = edit::stage_mut(r, place).ok_or_else(|| format!("{place} is empty."))?;
        match field {
            StageField::Size(size) => {
                doc.size = size;
                let reach = size.sides_mm()[1];
                let slide = doc.slide_mm.get().clamp(-reach, reach);
                // Round glass turns and cannot slide.
                doc.slide_mm = Millimetres::clamped(if size.is_round() { 0.0 } else { slide });
            }
            StageField::Slide(mm) => doc.slide_mm = Millimetres::clamped(mm),
            StageField::Turn(deg) => doc.turn_deg = Degrees::clamped(deg),
            StageField::Tilt(deg) => doc.tilt_deg = Degrees::clamped(deg),
            StageField::Gap(mm) => doc.gap_mm = Some(Millimetres::clamped(mm)),
        }
        Ok(())
    });
}

fn ring(session: &mut Session, place: Place, field: RingField) {
    let word = match field {
        RingField::Thread(_) => "Thread",
        RingField::Clear(_) => "Opening",
        RingField::Turn(_) => "Turn",
        RingField::Gap(_) => "Distance",
    };
    let merge = format!("{}.{word}", place.key());
    session.change(&format!("{word} of {}", lower(place)), Some(&merge), |r| {
        let doc = edit::ring_mut(r, place).ok_or_else(|| format!("{place} is empty."))?;
        match field {
            RingField::Thread(mm) => {
                doc.thread_mm = Extent::clamped(mm);
                // An opening wider than its thread cannot be; left out, it follows the thread.
                if doc.clear_mm.is_some_and(|c| c.get() >= mm) {
                    doc.clear_mm = None;
                }
            }
            RingField::Clear(mm) => doc.clear_mm = Some(Extent::clamped(mm)),
            RingField::Turn(deg) => doc.turn_deg = Degrees::clamped(deg),
            RingField::Gap(mm) => doc.gap_mm = Some(Millimetres::clamped(mm)),
        }
        Ok(())
    });
}

/// An empty place: its name and a menu of glass.
fn vacant(ui: &mut Ui, h: &Held, acts: &mut Vec<Act>, chosen: &mut Option<Place>) {
    ui.horizontal(|ui| {
        ui.add_space(6.0);
        ui.label(RichText::new(h.place.to_string()).color(theme::SECOND));
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            if !h.open {
                ui.label(
                    RichText::new("screws into ring 1")
                        .small()
                        .color(theme::SECOND),
                );
                return;
            }
            let menu = ui.menu_button("Add glass", |ui| {
                if let Some(family) = cupboard(ui) {
                    acts.push(Act::Put(h.place, family));
                    *chosen = Some(h.place);
                    ui.close();
                }
            });
            menu.response
                .accessible_name(format!("Add glass to {}", lower(h.place)));
        });
    });
}

/// Every family as it is offered; the one that was taken. On a low screen the list scrolls.
fn cupboard(ui: &mut Ui) -> Option<&'static Family> {
    let mut taken = None;
    ui.set_min_width(250.0);
    let room = ui.ctx().content_rect().height() - 24.0;
    let list = ScrollArea::vertical().max_height(room);
    list.min_scrolled_height(room).show(ui, |ui| {
        ui.spacing_mut().button_padding = vec2(10.0, 3.0);
        ui.spacing_mut().item_spacing.y = 0.0;
        for family in FAMILIES.iter().copied() {
            if ui.add(egui::Button::new(offer(family)).wrap()).clicked() {
                taken = Some(family);
            }
        }
    });
    taken
}

/// A family as it is offered: its name, and under it what it is for.
fn offer(family: &Family) -> LayoutJob {
    let mut job = LayoutJob::default();
    let text = |size, color| TextFormat {
        font_id: FontId::proportional(size),
        color,
        ..Default::default()
    };
    job.append(family.name, 0.0, text(14.0, theme::TEXT));
    job.append("\n", 0.0, text(12.0, theme::SECOND));
    job.append(family.purpose, 0.0, text(12.0, theme::SECOND));
    job
}

/// The ends of the light path.
fn end(ui: &mut Ui, text: &str) {
    ui.horizontal(|ui| {
        ui.label(RichText::new(text).small().color(theme::SECOND));
        let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), 12.0), Sense::hover());
        let y = rect.center().y;
        ui.painter()
            .hline(rect.x_range(), y, Stroke::new(1.0, theme::LINE));
    });
}

/// The name of the piece that is dragged, beside the pointer.
fn ghost(ui: &Ui, held: &[Held]) {
    let ctx = ui.ctx();
    let Some(Dragged(place)) = DragAndDrop::payload::<Dragged>(ctx).map(|p| *p) else {
        return;
    };
    let Some(at) = ctx.pointer_interact_pos() else {
        return;
    };
    let Some(glass) = held
        .iter()
        .find(|h| h.place == place)
        .and_then(|h| h.piece.as_ref())
    else {
        return;
    };
    ctx.set_cursor_icon(CursorIcon::Grabbing);
    let painter = ctx.layer_painter(LayerId::new(Order::Tooltip, Id::unique("dragged glass")));
    let font = FontId::proportional(14.0);
    let text = painter.layout_no_wrap(glass.name().to_owned(), font, theme::TEXT);
    let rect = Rect::from_min_size(at + vec2(14.0, -12.0), text.size() + vec2(16.0, 10.0));
    painter.rect(
        rect,
        4.0,
        theme::CHOSEN,
        Stroke::new(1.0, theme::ACCENT),
        egui::StrokeKind::Inside,
    );
    painter.galley(rect.min + vec2(8.0, 5.0), text, theme::TEXT);
}
