//! A pane: one picture or two under a wipe, its caption, and the hand and the keys that move it.

use super::{CAPTION, Content, Room, SPOT};
use crate::app::framing::Pane;
use crate::app::pictures::{Pictures, Slot};
use crate::app::theme;
use crate::session::{Session, Viewing};
use egui::{
    Align2, Color32, CursorIcon, FontId, Key, PointerButton, Pos2, Rect, Sense, Stroke, Ui,
    WidgetInfo, pos2, vec2,
};

impl Room {
    pub(super) fn pane(
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
