//! The picture curve, drawn: the file's levels across, the scene's upwards, pins on it.

use super::theme::{self, GRID, GROUND, KEY};
use crate::frame::restore::{CurveTold, PinTold, Role};
use crate::units::{Stops, level_mark};
use egui::{Align2, FontId, Painter, Pos2, Rect, Sense, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

const HEIGHT: f32 = 150.0;
/// Room for the figures.
const LEFT: f32 = 22.0;
const UNDER: f32 = 16.0;
/// What is drawn, in stops against key.
const ACROSS: [f64; 2] = [-8.0, 3.0];
const UP: [f64; 2] = [-8.0, 5.0];

/// Draws it; nothing where the frame is as it was decoded.
pub(super) fn show(ui: &mut Ui, told: &CurveTold, pins: &[PinTold]) {
    if told.points.is_empty() {
        return;
    }
    let size = vec2(ui.available_width(), HEIGHT);
    let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, "Picture curve"));
    response.on_hover_text(
        "The file's level by plain decoding across, the scene's upwards, both in stops against key. The \
         grey line is plain decoding.",
    );
    let plot = Rect::from_min_max(rect.min + vec2(LEFT, 4.0), rect.max - vec2(2.0, UNDER));
    let painter = ui.painter();
    painter.rect_filled(plot, 2.0, GROUND);
    axes(painter, plot);
    let inside = painter.with_clip_rect(plot);
    let even = [ACROSS[0], ACROSS[1]].map(|v| place(plot, [v, v]));
    inside.line_segment(even, Stroke::new(1.0, KEY));
    let line: Vec<Pos2> = told
        .points
        .iter()
        .map(|p| place(plot, p.map(Stops::get)))
        .collect();
    inside.add(Shape::line(line, Stroke::new(2.0, theme::ACCENT)));
    for pin in pins {
        let at = place(plot, [pin.plain.get(), pin.said.get()]);
        match pin.role {
            Role::Curve => {
                inside.circle_filled(at, 3.5, theme::TEXT);
            }
            Role::Outlier => {
                for by in [vec2(3.5, 3.5), vec2(3.5, -3.5)] {
                    inside.line_segment([at - by, at + by], Stroke::new(1.5, theme::TEXT));
                }
            }
            Role::Level | Role::Dark => {}
        }
    }
}

fn place(plot: Rect, [across, up]: [f64; 2]) -> Pos2 {
    let part = |v: f64, [low, high]: [f64; 2]| ((v - low) / (high - low)) as f32;
    pos2(
        plot.left() + part(across, ACROSS) * plot.width(),
        plot.bottom() - part(up, UP) * plot.height(),
    )
}

fn axes(painter: &Painter, plot: Rect) {
    let font = FontId::proportional(10.0);
    for v in [-8, -6, -4, -2, 0, 2, 4] {
        let colour = if v == 0 { KEY } else { GRID };
        let stroke = Stroke::new(0.5, colour);
        let at = place(plot, [f64::from(v); 2]);
        painter.hline(plot.x_range(), at.y, stroke);
        let beside = pos2(plot.left() - 3.0, at.y);
        painter.text(
            beside,
            Align2::RIGHT_CENTER,
            level_mark(v),
            font.clone(),
            theme::SECOND,
        );
        if f64::from(v) < ACROSS[1] {
            painter.vline(at.x, plot.y_range(), stroke);
            let below = pos2(at.x, plot.bottom() + 2.0);
            painter.text(
                below,
                Align2::CENTER_TOP,
                level_mark(v),
                font.clone(),
                theme::SECOND,
            );
        }
    }
}
