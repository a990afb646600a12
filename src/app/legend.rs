//! What the colours of false stops and of a difference say, under the pictures.

use super::theme;
use crate::meters::difference::Difference;
use crate::meters::{Entry, false_stops};
use crate::session::Viewing;
use egui::{Align2, Color32, FontId, Rect, Sense, Ui, WidgetInfo, pos2, vec2};

/// Its height.
pub(super) const HEIGHT: f32 = 44.0;

/// Shows the legend of a view; the picture itself has none.
pub(super) fn show(ui: &mut Ui, rect: Rect, viewing: Viewing) {
    let (entries, title): (Vec<Entry>, _) = match viewing {
        Viewing::Picture => return,
        Viewing::FalseStops => (
            false_stops::legend().to_vec(),
            "Stops against key, luminance; a band reaches half a stop either way",
        ),
        Viewing::Difference => (
            Difference::default().legend(),
            "Stops that the glass adds or takes",
        ),
    };
    let words: Vec<&str> = entries.iter().map(|e| e.word.as_str()).collect();
    let told = format!("{title}: {}", words.join(", "));
    let response = ui.interact(rect, ui.scope_id().with("legend"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(egui::accesskit::Role::Label, true, &told));
    let painter = ui.painter().with_clip_rect(rect);
    let font = FontId::proportional(12.0);
    painter.text(
        rect.left_top() + vec2(0.0, 9.0),
        Align2::LEFT_CENTER,
        title,
        font.clone(),
        theme::SECOND,
    );
    let width = (rect.width() / entries.len() as f32).min(56.0);
    for (i, entry) in entries.iter().enumerate() {
        let left = rect.left() + i as f32 * width;
        let swatch = Rect::from_min_size(pos2(left, rect.top() + 18.0), vec2(width, 12.0));
        let [r, g, b] = entry.colour;
        painter.rect_filled(swatch, 0.0, Color32::from_rgb(r, g, b));
        painter.text(
            swatch.center_bottom() + vec2(0.0, 7.0),
            Align2::CENTER_CENTER,
            &entry.word,
            FontId::proportional(11.0),
            theme::TEXT,
        );
    }
}
