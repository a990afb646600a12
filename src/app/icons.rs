//! Small drawn signs, and buttons that carry one. Drawn, so that they need no font.

use super::theme;
use crate::rig::advisory::Level;
use egui::{Color32, Pos2, Rect, Response, Sense, Shape, Stroke, Ui, Vec2, WidgetInfo, pos2, vec2};

/// A sign.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Icon {
    Up,
    Down,
    Remove,
    Plus,
    Minus,
    Undo,
    Redo,
    Grip,
    Opened,
    Closed,
}

impl Icon {
    /// The sign in a square of 12 points about `at`.
    pub(super) fn paint(self, painter: &egui::Painter, at: Pos2, colour: Color32) {
        let stroke = Stroke::new(1.6, colour);
        let p = |x: f32, y: f32| at + vec2(x, y);
        let line = |points: Vec<Pos2>| painter.add(Shape::line(points, stroke));
        match self {
            Self::Up => {
                line(vec![p(-4.0, 0.0), p(0.0, -4.0), p(4.0, 0.0)]);
                line(vec![p(0.0, -4.0), p(0.0, 5.0)]);
            }
            Self::Down => {
                line(vec![p(-4.0, 0.0), p(0.0, 4.0), p(4.0, 0.0)]);
                line(vec![p(0.0, 4.0), p(0.0, -5.0)]);
            }
            Self::Remove => {
                line(vec![p(-4.0, -4.0), p(4.0, 4.0)]);
                line(vec![p(-4.0, 4.0), p(4.0, -4.0)]);
            }
            Self::Plus => {
                line(vec![p(-5.0, 0.0), p(5.0, 0.0)]);
                line(vec![p(0.0, -5.0), p(0.0, 5.0)]);
            }
            Self::Minus => {
                line(vec![p(-5.0, 0.0), p(5.0, 0.0)]);
            }
            Self::Undo | Self::Redo => {
                let side = if self == Self::Undo { 1.0 } else { -1.0 };
                let q = |x: f32, y: f32| p(side * x, y);
                line(vec![q(-1.5, -5.5), q(-5.0, -2.0), q(-1.5, 1.5)]);
                line(vec![
                    q(-5.0, -2.0),
                    q(2.0, -2.0),
                    q(5.0, 0.0),
                    q(5.0, 3.0),
                    q(2.0, 5.0),
                    q(-2.0, 5.0),
                ]);
            }
            Self::Grip => {
                for x in [-2.5, 2.5] {
                    for y in [-4.5, 0.0, 4.5] {
                        painter.circle_filled(p(x, y), 1.2, colour);
                    }
                }
            }
            Self::Opened => {
                line(vec![p(-4.0, -2.0), p(0.0, 2.5), p(4.0, -2.0)]);
            }
            Self::Closed => {
                line(vec![p(-2.0, -4.0), p(2.5, 0.0), p(-2.0, 4.0)]);
            }
        }
    }
}

/// A button that shows a sign; `name` is its tooltip and its name for a screen reader.
pub(super) fn button(ui: &mut Ui, icon: Icon, name: &str, enabled: bool) -> Response {
    let size = Vec2::splat(theme::TARGET);
    let sense = if enabled {
        Sense::click()
    } else {
        Sense::hover()
    };
    let (rect, response) = ui.allocate_exact_size(size, sense);
    response.widget_info(|| {
        WidgetInfo::labeled(
            egui::accesskit::Role::Button,
            enabled && ui.is_enabled(),
            name,
        )
    });
    if ui.is_rect_visible(rect) {
        let v = ui.style().interact(&response);
        let flat = enabled && !(response.hovered() || response.has_focus());
        if enabled && !flat {
            ui.painter().rect(
                rect,
                v.corner_radius,
                v.weak_bg_fill,
                v.bg_stroke,
                egui::StrokeKind::Inside,
            );
        }
        let colour = if enabled {
            v.fg_stroke.color
        } else {
            Color32::from_gray(110)
        };
        icon.paint(ui.painter(), rect.center(), colour);
    }
    response.on_hover_text(name)
}

/// The sign of a warning's level: a ring with an i, a triangle, an octagon.
pub(super) fn level(painter: &egui::Painter, at: Pos2, level: Level) {
    let (colour, points) = match level {
        Level::Note => (theme::SECOND, 0),
        Level::Caution => (theme::CAUTION, 3),
        Level::Stop => (theme::STOP, 8),
    };
    let stroke = Stroke::new(1.5, colour);
    if points == 0 {
        painter.circle_stroke(at, 6.0, stroke);
    } else {
        let turn = if points == 3 { -0.25 } else { 1.0 / 16.0 };
        let corner = |i: usize| {
            let angle = std::f32::consts::TAU * (i as f32 / points as f32 + turn);
            at + 7.0 * vec2(angle.cos(), angle.sin())
                + vec2(0.0, if points == 3 { 1.5 } else { 0.0 })
        };
        painter.add(Shape::closed_line(
            (0..points).map(corner).collect(),
            stroke,
        ));
    }
    let (top, bottom) = if level == Level::Note {
        (3.0, -2.6)
    } else {
        (-2.2, 3.6)
    };
    let dot = at + vec2(0.0, bottom);
    painter.line_segment(
        [at + vec2(0.0, top), at + vec2(0.0, 0.4 * (bottom + 0.2))],
        stroke,
    );
    painter.circle_filled(dot, 0.9, colour);
}

/// The word for a warning's level.
pub(super) const fn level_word(level: Level) -> &'static str {
    match level {
        Level::Note => "Note",
        Level::Caution => "Caution",
        Level::Stop => "Stop",
    }
}

/// A dashed rectangle.
pub(super) fn dashed(painter: &egui::Painter, rect: Rect, stroke: Stroke) {
    let r = rect.shrink(0.5);
    let corners = [
        r.left_top(),
        r.right_top(),
        r.right_bottom(),
        r.left_bottom(),
        r.left_top(),
    ];
    painter.extend(Shape::dashed_line(&corners, stroke, 5.0, 4.0));
}

/// A point on whole pixels, so that thin lines stay thin.
pub(super) fn on_pixels(at: Pos2, pixels_per_point: f32) -> Pos2 {
    pos2(
        (at.x * pixels_per_point).round() / pixels_per_point,
        (at.y * pixels_per_point).round() / pixels_per_point,
    )
}
