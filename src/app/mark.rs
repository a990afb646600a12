//! A region marked on the picture by dragging.

use super::theme;
use crate::recipe::Framing;
use egui::{
    Align2, Color32, CursorIcon, FontId, PointerButton, Pos2, Rect, Response, Stroke, StrokeKind,
    Ui, Vec2, vec2,
};

/// Smallest side of a region, in parts of the picture: anything less is a slip of the hand.
const SMALLEST: f32 = 0.005;

/// The marked region, in 0 to 1 of the still from its top left, so that it stays with what it marks when
/// another lens takes another part of the still; and whether the next drag marks one.
#[derive(Debug, Clone, Copy, Default, PartialEq)]
pub(super) struct Mark {
    /// Left, top, right, bottom.
    pub(super) sides: Option<[f32; 4]>,
    /// The next drag on a picture marks a region.
    pub(super) armed: bool,
    /// Whether the region is shown on the picture.
    pub(super) shown: bool,
    from: Option<Vec2>,
}

impl Mark {
    /// Takes a drag on a pane whose picture lies in `picture`; false where the drag is not its own.
    pub(super) fn drag(
        &mut self,
        ui: &Ui,
        response: &Response,
        picture: Rect,
        framing: &Framing,
    ) -> bool {
        if !self.armed {
            return false;
        }
        if response.hovered() {
            ui.ctx().set_cursor_icon(CursorIcon::Crosshair);
        }
        let at = |p: Pos2| {
            let there = (p - picture.min) / picture.size();
            let there = there.clamp(Vec2::ZERO, vec2(1.0, 1.0));
            let [x, y] = framing.from_picture([f64::from(there.x), f64::from(there.y)]);
            vec2(x as f32, y as f32).clamp(Vec2::ZERO, vec2(1.0, 1.0))
        };
        if response.drag_started_by(PointerButton::Primary) {
            self.from = ui.input(|i| i.pointer.press_origin()).map(at);
        }
        if let Some((from, to)) = self.from.zip(response.interact_pointer_pos().map(at)) {
            let (low, high) = (from.min(to), from.max(to));
            if (high - low).min_elem() >= SMALLEST {
                self.sides = Some([low.x, low.y, high.x, high.y]);
            }
        }
        if response.drag_stopped() {
            self.from = None;
            self.armed = self.sides.is_none();
        }
        true
    }

    /// Draws the region over a picture, of which `seen` shows.
    pub(super) fn paint(&self, ui: &Ui, picture: Rect, seen: Rect, framing: &Framing) {
        let Some([x0, y0, x1, y1]) = self.sides.filter(|_| self.shown) else {
            return;
        };
        let corner = |x: f32, y: f32| {
            let [x, y] = framing.on_picture([f64::from(x), f64::from(y)]);
            picture.min + vec2(x as f32, y as f32) * picture.size()
        };
        let rect = Rect::from_min_max(corner(x0, y0), corner(x1, y1));
        let painter = ui.painter().with_clip_rect(seen);
        painter.rect_stroke(
            rect,
            0.0,
            Stroke::new(3.0, Color32::from_black_alpha(160)),
            StrokeKind::Middle,
        );
        painter.rect_stroke(
            rect,
            0.0,
            Stroke::new(1.0, Color32::WHITE),
            StrokeKind::Middle,
        );
        let place = rect.left_top() + vec2(5.0, 4.0);
        let font = FontId::proportional(12.0);
        let galley = painter.layout_no_wrap("Region".to_owned(), font, theme::TEXT);
        let under = Align2::LEFT_TOP
            .anchor_size(place, galley.size())
            .expand(3.0);
        if under.width() + 8.0 < rect.width() && under.height() + 8.0 < rect.height() {
            painter.rect_filled(under, 3.0, Color32::from_black_alpha(170));
            painter.galley(place, galley, theme::TEXT);
        }
    }
}
