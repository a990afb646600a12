//! The picture room: the bare picture and the picture through the glass, moved and zoomed together.

use super::commands::Command;
use super::framing::{Framing, Pane};
use super::icons::{self, Icon};
use super::legend;
use super::mark::Marks;
use super::pictures::{Pictures, Slot};
use super::{fields, theme};
use crate::session::{Detail, Session, Viewing};
use egui::{
    Align, Align2, Color32, CursorIcon, FontId, Key, Layout, PointerButton, Pos2, Rect, RichText,
    Sense, Stroke, Ui, Vec2, WidgetInfo, pos2, vec2,
};

/// Between panes and around them.
const GAP: f32 = 10.0;
/// Height of a pane's caption.
const CAPTION: f32 = 22.0;
/// Width that the strip above the pictures needs for one line.
const STRIP: f32 = 860.0;
/// Part of the picture's width that a spot covers: the meter's radius.
pub(super) const SPOT: f64 = 0.01;

/// Which pictures are shown, and how.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Arrangement {
    /// Two panes.
    #[default]
    Both,
    /// One pane, bare to the left of a line and glass to its right.
    Wipe,
    /// One pane, through the glass.
    Glass,
}

impl Arrangement {
    pub(super) const ALL: [Self; 3] = [Self::Both, Self::Wipe, Self::Glass];

    pub(super) const fn label(self) -> &'static str {
        match self {
            Self::Both => "Side by side",
            Self::Wipe => "Wipe",
            Self::Glass => "Glass only",
        }
    }
}

/// What of the two pictures a pane shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Content {
    Bare,
    Glass,
    Wipe,
}

/// How the room stands.
#[derive(Debug)]
pub(super) struct Room {
    pub(super) arrangement: Arrangement,
    /// The picture, or its levels.
    pub(super) viewing: Viewing,
    framing: Framing,
    /// Where the wipe's line is, 0 to 1 across the picture.
    wipe: f32,
    /// The spot that is metered, 0 to 1 across and down, and whether the pointer is on it.
    pub(super) spot: (Vec2, bool),
    /// Bare is held down.
    holding: bool,
    /// Screen pixels to one of the still, as last shown.
    scale: f32,
    /// Zoom asked for from outside, for when the panes are known.
    asked: Option<Command>,
    /// What is marked on the picture.
    pub(super) marks: Marks,
    /// Whether the scopes are open under it.
    pub(super) scopes: bool,
}

impl Default for Room {
    fn default() -> Self {
        Self {
            arrangement: Arrangement::default(),
            viewing: Viewing::default(),
            framing: Framing::default(),
            wipe: 0.5,
            spot: (vec2(0.5, 0.5), false),
            holding: false,
            scale: 1.0,
            asked: None,
            marks: Marks::default(),
            scopes: false,
        }
    }
}

impl Room {
    /// Does one of the room's commands at the next showing.
    pub(super) fn ask(&mut self, command: Command) {
        self.asked = Some(command);
    }

    /// The whole picture, for a new still.
    pub(super) fn reset(&mut self) {
        self.framing.fit();
        self.marks = Marks::default();
    }

    /// Shows the room in what is left of the window.
    pub(super) fn show(
        &mut self,
        ui: &mut Ui,
        session: &mut Session,
        pictures: &Pictures,
        todo: &mut Vec<Command>,
    ) {
        let key = !ui.ctx().text_edit_focused() && ui.input(|i| i.key_down(Key::B));
        let Some(still) = session.still() else {
            empty(ui, session, todo);
            return;
        };
        let holding_before = self.holding;
        self.holding = key;
        self.strip(ui, todo);
        let mut room = ui.available_rect_before_wrap().shrink(GAP);
        if self.viewing != Viewing::Picture {
            room.max.y -= legend::HEIGHT;
            let under = Rect::from_min_max(
                pos2(room.left(), room.bottom()),
                room.max + vec2(0.0, legend::HEIGHT),
            );
            legend::show(ui, under, self.viewing);
        }
        ui.allocate_rect(ui.available_rect_before_wrap(), Sense::hover());
        let size = vec2(still.picture[0] as f32, still.picture[1] as f32);
        let ppp = ui.ctx().pixels_per_point();
        let panes = self.panes(room, size, ppp);
        self.spot.1 = false;
        for (i, (content, rect)) in panes.iter().enumerate() {
            let pane = Pane {
                rect: *rect,
                size,
                pixels_per_point: ppp,
            };
            if i == 0 {
                self.obey(&pane);
            }
            self.pane(ui, session, pictures, *content, &pane);
        }
        if let Some((_, rect)) = panes.first() {
            let pane = Pane {
                rect: *rect,
                size,
                pixels_per_point: ppp,
            };
            if !self.spot.1 {
                self.spot.0 = self.framing.middle(&pane);
            }
            self.scale = self.framing.scale(&pane);
            self.want_detail(session, &pane);
        }
        if holding_before != self.holding {
            ui.ctx().request_repaint();
        }
    }

    /// A finer picture where pixels of the preview would be enlarged.
    fn want_detail(&self, session: &mut Session, pane: &Pane) {
        let across = self.framing.scale(pane) * pane.size.x;
        let preview = session.bare().map_or(0, |b| b.width());
        let enlarged = !self.framing.is_fit() && across > 1.05 * preview as f32;
        if enlarged {
            session.set_detail(Detail::Full);
        } else if self.framing.is_fit() {
            session.set_detail(Detail::Preview);
        }
    }

    /// The strip above the pictures: arrangement and zoom. In a narrow room it takes two lines.
    fn strip(&mut self, ui: &mut Ui, todo: &mut Vec<Command>) {
        let frame = egui::Frame::new().inner_margin(egui::Margin {
            left: 10,
            right: 10,
            top: 8,
            bottom: 0,
        });
        frame.show(ui, |ui| {
            let wide = ui.available_width() > STRIP;
            ui.horizontal_wrapped(|ui| {
                ui.spacing_mut().item_spacing = vec2(4.0, 4.0);
                for arrangement in Arrangement::ALL {
                    let on = self.arrangement == arrangement;
                    let name = arrangement.label();
                    if fields::segment(ui, on, name, name).clicked() {
                        self.arrangement = arrangement;
                    }
                }
                ui.add_space(8.0);
                let hold = ui
                    .add(egui::Button::new("Hold for bare").sense(Sense::click_and_drag()))
                    .on_hover_text(
                        "Shows the picture without glass while it is held. The key is B.",
                    );
                self.holding |= hold.is_pointer_button_down_on();
                ui.add_space(8.0);
                self.zoom_controls(ui);
                // All on one line, or what is shown on a second one.
                if wide {
                    ui.add_space(8.0);
                } else {
                    ui.end_row();
                }
                for viewing in Viewing::ALL {
                    let name = view_name(viewing);
                    let on = self.viewing == viewing;
                    if fields::segment(ui, on, name, &format!("Show: {name}")).clicked() {
                        self.viewing = viewing;
                    }
                }
                ui.add_space(8.0);
                let scopes = fields::segment(ui, self.scopes, "Scopes", "Open the scopes");
                if scopes.clicked() {
                    todo.push(Command::Scopes);
                }
            });
        });
    }

    fn zoom_controls(&mut self, ui: &mut Ui) {
        if icons::button(ui, Icon::Minus, "Zoom out", true).clicked() {
            self.ask(Command::Smaller);
        }
        let percent = format!("{:.0} %", 100.0 * self.scale);
        let label = egui::Label::new(RichText::new(percent).color(theme::SECOND));
        ui.add_sized([46.0, theme::TARGET], label)
            .on_hover_text("Screen pixels to pixels of the still");
        if icons::button(ui, Icon::Plus, "Zoom in", true).clicked() {
            self.ask(Command::Larger);
        }
        if fields::segment(ui, self.framing.is_fit(), "Fit", "Fit the picture").clicked() {
            self.ask(Command::Fit);
        }
        let one = !self.framing.is_fit() && (self.scale - 1.0).abs() < 1e-3;
        if fields::segment(ui, one, "1:1", "One to one").clicked() {
            self.ask(Command::OneToOne);
        }
    }

    fn obey(&mut self, pane: &Pane) {
        let about = pane.rect.center();
        match self.asked.take() {
            Some(Command::Fit) => self.framing.fit(),
            Some(Command::OneToOne) => self.framing.zoom_to(pane, 1.0, about),
            Some(Command::Larger) => self.framing.zoom(pane, 1.25, about),
            Some(Command::Smaller) => self.framing.zoom(pane, 0.8, about),
            _ => {}
        }
    }

    /// The panes and where they lie; two lie beside or above one another, as shows more.
    fn panes(&self, room: Rect, size: Vec2, ppp: f32) -> Vec<(Content, Rect)> {
        let under_caption = |r: Rect| Rect::from_min_max(r.min + vec2(0.0, CAPTION), r.max);
        let single = match self.arrangement {
            // It is one picture, of both.
            _ if self.viewing == Viewing::Difference => Content::Glass,
            Arrangement::Both if self.holding => Content::Bare,
            Arrangement::Both => {
                let middle = room.center();
                let split = |a: Rect, b: Rect| [under_caption(a), under_caption(b)];
                let beside = split(
                    Rect::from_min_max(room.min, pos2(middle.x - 0.5 * GAP, room.max.y)),
                    Rect::from_min_max(pos2(middle.x + 0.5 * GAP, room.min.y), room.max),
                );
                let above = split(
                    Rect::from_min_max(room.min, pos2(room.max.x, middle.y - 0.25 * GAP)),
                    Rect::from_min_max(pos2(room.min.x, middle.y + 0.25 * GAP), room.max),
                );
                let fit = |rect: Rect| {
                    Pane {
                        rect,
                        size,
                        pixels_per_point: ppp,
                    }
                    .fit()
                };
                let [a, b] = if fit(beside[0]) >= fit(above[0]) {
                    beside
                } else {
                    above
                };
                return vec![(Content::Bare, a), (Content::Glass, b)];
            }
            _ if self.holding => Content::Bare,
            Arrangement::Wipe => Content::Wipe,
            Arrangement::Glass => Content::Glass,
        };
        vec![(single, under_caption(room))]
    }

    fn pane(
        &mut self,
        ui: &mut Ui,
        session: &Session,
        pictures: &Pictures,
        content: Content,
        pane: &Pane,
    ) {
        let id = ui.scope_id().with(("pane", content as u8));
        let response = ui.interact(pane.rect, id, Sense::click_and_drag());
        let label = match content {
            Content::Bare => "Bare picture",
            Content::Glass => "Picture through the glass",
            Content::Wipe => "Wipe between bare and glass",
        };
        response.widget_info(|| WidgetInfo::labeled(egui::accesskit::Role::Canvas, true, label));
        let picture = self.framing.picture(pane);
        let framing = session.framing().and_then(|f| f.as_ref().ok());
        let marks = framing.is_some_and(|f| self.marks.drag(ui, &response, picture, f));
        if !marks {
            self.move_about(ui, &response, pane);
        }

        if self.viewing == Viewing::Difference {
            let at = pos2(
                picture.left().max(pane.rect.left()),
                picture.top().max(pane.rect.top()) - 0.5 * CAPTION,
            );
            let font = FontId::proportional(14.0);
            let text = "Glass against bare, in stops";
            ui.painter()
                .text(at, Align2::LEFT_CENTER, text, font, theme::TEXT);
        } else {
            caption(ui, session, content, pane, picture);
        }
        let seen = pane.rect.intersect(picture);
        match content {
            Content::Bare => paint(ui, &pictures.bare, picture, seen, pane),
            Content::Glass => self.paint_glass(ui, session, pictures, picture, seen, pane),
            Content::Wipe => {
                let x = picture.left() + self.wipe * picture.width();
                let (mut left, mut right) = (seen, seen);
                left.max.x = x.clamp(seen.left(), seen.right());
                right.min.x = left.max.x;
                paint(ui, &pictures.bare, picture, left, pane);
                self.paint_glass(ui, session, pictures, picture, right, pane);
                self.wipe_line(ui, pane, picture, seen);
            }
        }
        if response.has_focus() {
            let stroke = Stroke::new(2.0, theme::ACCENT);
            ui.painter()
                .rect_stroke(pane.rect, 2.0, stroke, egui::StrokeKind::Outside);
        }
        if let Some(at) = response.hover_pos().and_then(|p| self.framing.at(pane, p)) {
            self.spot = (at, true);
        }
        if let Some(framing) = framing {
            self.marks.paint(ui, picture, seen, framing);
        }
        self.paint_spot(ui, picture, seen);
    }

    fn move_about(&mut self, ui: &Ui, response: &egui::Response, pane: &Pane) {
        if response.dragged_by(PointerButton::Primary) || response.dragged_by(PointerButton::Middle)
        {
            self.framing.pan(pane, response.drag_delta());
        }
        if response.double_clicked() {
            let about = response
                .interact_pointer_pos()
                .unwrap_or(pane.rect.center());
            if self.framing.is_fit() {
                self.framing.zoom_to(pane, 1.0, about);
            } else {
                self.framing.fit();
            }
        }
        if let Some(about) = response.hover_pos() {
            let (scroll, pinch) = ui.input(|i| (i.smooth_scroll_delta.y, i.zoom_delta()));
            let factor = pinch * (scroll / 240.0).exp();
            if (factor - 1.0).abs() > 1e-4 {
                self.framing.zoom(pane, factor, about);
            }
            let cursor = if self.framing.is_fit() {
                CursorIcon::Crosshair
            } else {
                CursorIcon::Grab
            };
            ui.ctx().set_cursor_icon(cursor);
        }
        if response.has_focus() {
            let filter = egui::EventFilter {
                horizontal_arrows: true,
                vertical_arrows: true,
                ..egui::EventFilter::default()
            };
            ui.memory_mut(|m| m.set_focus_lock_filter(response.id, filter));
            let step = 40.0;
            for (key, by) in [
                (Key::ArrowLeft, vec2(step, 0.0)),
                (Key::ArrowRight, vec2(-step, 0.0)),
                (Key::ArrowUp, vec2(0.0, step)),
                (Key::ArrowDown, vec2(0.0, -step)),
            ] {
                if ui.input(|i| i.key_pressed(key)) {
                    self.framing.pan(pane, by);
                }
            }
            if ui.input(|i| i.key_pressed(Key::Plus) || i.key_pressed(Key::Equals)) {
                self.framing.zoom(pane, 1.25, pane.rect.center());
            }
            if ui.input(|i| i.key_pressed(Key::Minus)) {
                self.framing.zoom(pane, 0.8, pane.rect.center());
            }
        }
    }

    fn paint_glass(
        &self,
        ui: &Ui,
        session: &Session,
        pictures: &Pictures,
        picture: Rect,
        seen: Rect,
        pane: &Pane,
    ) {
        if pictures.glass.shown().is_some() {
            paint(ui, &pictures.glass, picture, seen, pane);
        } else {
            ui.painter().rect_filled(seen, 0.0, theme::PANEL);
            let text = if session.is_rendering() {
                "Making the picture…"
            } else {
                "No picture"
            };
            let font = FontId::proportional(14.0);
            ui.painter().text(
                seen.center(),
                Align2::CENTER_CENTER,
                text,
                font,
                theme::SECOND,
            );
        }
    }

    /// The line of the wipe, with a grip, dragged or moved with the arrow keys.
    fn wipe_line(&mut self, ui: &Ui, pane: &Pane, picture: Rect, seen: Rect) {
        let ppp = pane.pixels_per_point;
        let x = picture.left() + self.wipe * picture.width();
        let x = icons::on_pixels(pos2(x.clamp(seen.left(), seen.right()), 0.0), ppp).x;
        let grip =
            Rect::from_center_size(pos2(x, seen.center().y), vec2(theme::TARGET, seen.height()));
        let id = ui.scope_id().with("wipe line");
        let response = ui
            .interact(grip, id, Sense::click_and_drag())
            .on_hover_and_drag_cursor(CursorIcon::ResizeHorizontal);
        let at = f64::from(self.wipe * 100.0);
        response.widget_info(|| WidgetInfo::slider(true, at, "Wipe line, percent across"));
        if response.dragged()
            && let Some(p) = response.interact_pointer_pos()
        {
            self.wipe = ((p.x - picture.left()) / picture.width()).clamp(0.0, 1.0);
        }
        if response.has_focus() {
            let filter = egui::EventFilter {
                horizontal_arrows: true,
                ..Default::default()
            };
            ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
            let by = ui.input(|i| {
                i8::from(i.key_pressed(Key::ArrowRight)) - i8::from(i.key_pressed(Key::ArrowLeft))
            });
            self.wipe = (self.wipe + 0.02 * f32::from(by)).clamp(0.0, 1.0);
        }
        let painter = ui.painter().with_clip_rect(pane.rect);
        let line = |dx: f32, colour| {
            let ends = [pos2(x + dx, seen.top()), pos2(x + dx, seen.bottom())];
            painter.line_segment(ends, Stroke::new(1.0, colour));
        };
        line(-1.0, Color32::BLACK);
        line(0.0, Color32::WHITE);
        line(1.0, Color32::BLACK);
        let knob = pos2(x, seen.center().y);
        let ring = if response.has_focus() {
            theme::ACCENT
        } else {
            Color32::WHITE
        };
        painter.circle(knob, 11.0, Color32::from_gray(24), Stroke::new(1.5, ring));
        for (dx, tip) in [(-3.0, -6.0), (3.0, 6.0)] {
            for dy in [-3.5, 3.5] {
                let ends = [knob + vec2(tip, 0.0), knob + vec2(dx, dy)];
                painter.line_segment(ends, Stroke::new(1.5, Color32::WHITE));
            }
        }
    }

    /// The spot that is metered, on every pane.
    fn paint_spot(&self, ui: &Ui, picture: Rect, seen: Rect) {
        if !self.spot.1 {
            return;
        }
        let at = picture.min + self.spot.0 * picture.size();
        let radius = (SPOT as f32 * picture.width()).max(3.0);
        let painter = ui.painter().with_clip_rect(seen);
        painter.circle_stroke(at, radius + 1.0, Stroke::new(1.0, Color32::BLACK));
        painter.circle_stroke(at, radius, Stroke::new(1.0, Color32::WHITE));
    }
}

const fn view_name(viewing: Viewing) -> &'static str {
    match viewing {
        Viewing::Picture => "Picture",
        Viewing::FalseStops => "False stops",
        Viewing::Difference => "Difference",
    }
}

/// Paints the part of a picture that lies in `seen`.
fn paint(ui: &Ui, slot: &Slot, picture: Rect, seen: Rect, pane: &Pane) {
    if !seen.is_positive() {
        return;
    }
    if let Some(texture) = slot.texture(ui.ctx(), picture.width() * pane.pixels_per_point) {
        let whole = Rect::from_min_max(Pos2::ZERO, pos2(1.0, 1.0));
        ui.painter()
            .with_clip_rect(seen)
            .image(texture, picture, whole, Color32::WHITE);
    }
}

/// What a pane shows, above its picture.
fn caption(ui: &Ui, session: &Session, content: Content, pane: &Pane, picture: Rect) {
    let left = picture.left().max(pane.rect.left());
    let right = picture.right().min(pane.rect.right());
    let y = picture.top().max(pane.rect.top()) - 0.5 * CAPTION;
    let font = FontId::proportional(14.0);
    let pieces = session.setup().glass.len();
    let what = match pieces {
        0 => "Glass: none yet".to_owned(),
        1 => "Glass: one piece".to_owned(),
        n => format!("Glass: {n} pieces"),
    };
    let painter = ui.painter();
    match content {
        Content::Bare => {
            painter.text(
                pos2(left, y),
                Align2::LEFT_CENTER,
                "Bare",
                font,
                theme::TEXT,
            );
        }
        Content::Glass => {
            painter.text(pos2(left, y), Align2::LEFT_CENTER, what, font, theme::TEXT);
        }
        Content::Wipe => {
            painter.text(
                pos2(left, y),
                Align2::LEFT_CENTER,
                "Bare",
                font.clone(),
                theme::TEXT,
            );
            painter.text(
                pos2(right, y),
                Align2::RIGHT_CENTER,
                what,
                font,
                theme::TEXT,
            );
        }
    }
}

/// The room without a still.
fn empty(ui: &mut Ui, session: &Session, todo: &mut Vec<Command>) {
    let rect = ui.available_rect_before_wrap();
    let box_rect = Rect::from_center_size(rect.center(), vec2(380.0, 190.0));
    icons::dashed(
        ui.painter(),
        box_rect.expand(18.0),
        Stroke::new(1.0, Color32::from_gray(116)),
    );
    let mut inner = ui.new_child(
        egui::UiBuilder::new()
            .max_rect(box_rect)
            .layout(Layout::top_down(Align::Center)),
    );
    let ui = &mut inner;
    ui.add_space(14.0);
    if let Some(name) = session.reading() {
        ui.add(egui::Spinner::new().size(28.0).color(theme::SECOND));
        ui.add_space(10.0);
        ui.label(RichText::new(format!("Reading {name}…")).heading());
        return;
    }
    ui.label(RichText::new("No still is open").heading());
    ui.add_space(4.0);
    ui.label(
        RichText::new("A scout photo or a frame grab: PNG, JPEG, TIFF or EXR.")
            .color(theme::SECOND),
    );
    ui.add_space(12.0);
    let main = egui::Button::new("Open a still…")
        .min_size(vec2(160.0, 32.0))
        .selected(true);
    if ui.add(main).clicked() {
        todo.push(Command::OpenStill);
    }
    if ui
        .add(egui::Button::new("Open the sample").min_size(vec2(160.0, 28.0)))
        .clicked()
    {
        todo.push(Command::OpenSample);
    }
    ui.add_space(8.0);
    ui.label(RichText::new("Or drop a file anywhere on this window.").color(theme::SECOND));
}
