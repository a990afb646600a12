//! What happened, over the picture room: problems stay until they are put away, the rest goes by
//! itself. And the hint while a file is dragged over the window.

use super::icons::{self, Icon};
use super::theme;
use crate::rig::advisory::Level;
use crate::session::Session;
use egui::{
    Align, Align2, Area, Color32, Context, FontId, Frame, Id, LayerId, Layout, Order, ProgressBar,
    Rect, RichText, Sense, Stroke, vec2,
};

/// Seconds for which good news is shown.
const SHOWN: f64 = 6.0;
/// Notices kept; the oldest goes.
const MOST: usize = 4;

/// The notices on show.
#[derive(Debug, Default)]
pub(super) struct Notices {
    shown: Vec<Shown>,
}

#[derive(Debug)]
struct Shown {
    text: String,
    problem: bool,
    until: f64,
}

impl Notices {
    /// Shows notices and an export's progress at the foot of `room`.
    pub(super) fn show(&mut self, ctx: &Context, session: &mut Session, room: Rect) {
        let now = ctx.input(|i| i.time);
        for notice in session.take_notices() {
            let until = if notice.problem {
                f64::INFINITY
            } else {
                now + SHOWN
            };
            self.shown.retain(|s| s.text != notice.text);
            self.shown.push(Shown {
                text: notice.text,
                problem: notice.problem,
                until,
            });
        }
        self.shown.retain(|s| s.until > now);
        if self.shown.len() > MOST {
            self.shown.remove(0);
        }
        let next = self
            .shown
            .iter()
            .map(|s| s.until)
            .fold(f64::INFINITY, f64::min);
        if next.is_finite() {
            ctx.request_repaint_after_secs((next - now).max(0.05) as f32);
        }
        let export = session.exporting().cloned();
        if self.shown.is_empty() && export.is_none() {
            return;
        }
        let width = (room.width() - 40.0).clamp(240.0, 520.0);
        Area::new(Id::unique("notices"))
            .order(Order::Middle)
            .pivot(Align2::CENTER_BOTTOM)
            .fixed_pos(room.center_bottom() - vec2(0.0, 14.0))
            .show(ctx, |ui| {
                ui.set_width(width);
                if let Some(export) = export {
                    let name = export
                        .path
                        .file_name()
                        .unwrap_or_default()
                        .to_string_lossy();
                    card(ui, theme::LINE, |ui| {
                        ui.label(format!("Exporting {name}"));
                        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                            if ui.button("Cancel").clicked() {
                                session.cancel_export();
                            }
                            let done = export.watch.progress();
                            let bar = ProgressBar::new(done).desired_height(6.0);
                            ui.add(bar).accessible_name("Export");
                        });
                    });
                    ctx.request_repaint_after_secs(0.1);
                }
                self.shown.retain(|s| !line(ui, s));
            });
    }
}

fn card(ui: &mut egui::Ui, border: Color32, content: impl FnOnce(&mut egui::Ui)) {
    let frame = Frame::new()
        .fill(Color32::from_gray(28))
        .stroke(Stroke::new(1.0, border))
        .corner_radius(6)
        .inner_margin(egui::Margin {
            left: 12,
            right: 6,
            top: 5,
            bottom: 5,
        });
    frame.show(ui, |ui| ui.horizontal(content));
}

/// One notice; true when it is to be put away.
fn line(ui: &mut egui::Ui, notice: &Shown) -> bool {
    let mut away = false;
    let border = if notice.problem {
        theme::STOP
    } else {
        theme::LINE
    };
    card(ui, border, |ui| {
        if notice.problem {
            let (rect, _) = ui.allocate_exact_size(vec2(20.0, 20.0), Sense::hover());
            icons::level(ui.painter(), rect.center(), Level::Stop);
        }
        let width = ui.available_width() - theme::TARGET - 8.0;
        ui.allocate_ui_with_layout(
            vec2(width, 20.0),
            Layout::left_to_right(Align::Center),
            |ui| {
                ui.set_width(width);
                ui.add(egui::Label::new(RichText::new(&notice.text).color(theme::TEXT)).wrap());
            },
        );
        away = icons::button(ui, Icon::Remove, "Put this away", true).clicked();
    });
    away
}

/// Says what a file that is dragged over the window would do.
pub(super) fn drop_hint(ctx: &Context) {
    let hovered = ctx.input(|i| i.raw.hovered_files.first().map(|f| f.path.clone()));
    let Some(path) = hovered else { return };
    let recipe = path
        .and_then(|p| p.extension().map(|e| e.eq_ignore_ascii_case("json")))
        .unwrap_or_default();
    let text = if recipe {
        "Drop to open this recipe"
    } else {
        "Drop to open this still"
    };
    let painter = ctx.layer_painter(LayerId::new(Order::Foreground, Id::unique("drop hint")));
    let rect = ctx.content_rect();
    painter.rect_filled(rect, 0.0, Color32::from_black_alpha(170));
    icons::dashed(&painter, rect.shrink(16.0), Stroke::new(2.0, theme::ACCENT));
    painter.text(
        rect.center(),
        Align2::CENTER_CENTER,
        text,
        FontId::proportional(20.0),
        theme::TEXT,
    );
}
