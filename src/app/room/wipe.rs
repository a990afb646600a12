//! The line between bare and glass, where both share a pane.

use super::Room;
use crate::app::framing::Pane;
use crate::app::{icons, theme};
use egui::{Color32, CursorIcon, Key, Rect, Sense, Stroke, Ui, WidgetInfo, pos2, vec2};

impl Room {
    /// The line of the wipe, with a grip, dragged or moved with the arrow keys.
    pub(super) fn wipe_line(&mut self, ui: &Ui, pane: &Pane, picture: Rect, seen: Rect) {
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
}
