//! What is marked on the picture: a region by dragging, a point by a click.

use super::theme;
use crate::recipe::Framing;
use egui::{
    Color32, CursorIcon, FontId, Galley, PointerButton, Pos2, Rect, Response, Stroke, StrokeKind,
    Ui, Vec2, pos2, vec2,
};
use std::sync::Arc;

/// How far a word's dark plate reaches around it.
const RIM: f32 = 3.0;
/// Smallest side of a region, in parts of the picture: anything less is a slip of the hand.
const SMALLEST: f32 = 0.005;

/// What the next click or drag on a picture marks.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tool {
    /// The region that is to be held back.
    Region,
    /// A point that was metered.
    Pin,
    /// An area whose clipped light was metered.
    Area,
    /// A spot that is read.
    Spot,
    /// The region whose texture is told.
    Face,
}

impl Tool {
    const fn drags(self) -> bool {
        matches!(self, Self::Region | Self::Area | Self::Face)
    }
}

/// Something that was just marked, in 0 to 1 of the still.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Marked {
    /// Left, top, right, bottom.
    Sides([f32; 4]),
    /// Across and down.
    Point([f32; 2]),
}

/// Everything that is marked, in 0 to 1 of the still from its top left, so that it stays with what it marks
/// when another lens takes another part of the still.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Marks {
    /// What the next click or drag marks.
    pub(super) armed: Option<Tool>,
    /// The region that is to be held back: left, top, right, bottom.
    pub(super) region: Option<[f32; 4]>,
    /// The region whose texture is told.
    pub(super) face: Option<[f32; 4]>,
    /// Spots that are read.
    pub(super) spots: Vec<[f32; 2]>,
    /// What was marked and nobody has taken yet.
    pub(super) marked: Option<(Tool, Marked)>,
    /// What is drawn on the picture.
    pub(super) drawn: Vec<Drawn>,
    /// Where the drag began, and what it spans.
    drag: Option<(Vec2, Option<[f32; 4]>)>,
}

/// A mark as it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Drawn {
    /// A rectangle with a word.
    Sides([f32; 4], String),
    /// A disc, its radius in parts of the still's width, with a word.
    Point([f32; 2], f32, String),
}

impl Marks {
    /// Takes the tool up, or lays it down where it was taken up.
    pub(super) fn arm(&mut self, tool: Tool) {
        self.armed = (self.armed != Some(tool)).then_some(tool);
    }

    /// What a tool has marked since this was last asked.
    pub(super) fn take(&mut self, tool: Tool) -> Option<Marked> {
        let (by, marked) = self.marked?;
        (by == tool).then(|| {
            self.marked = None;
            marked
        })
    }

    /// Takes a click or a drag on a pane whose picture lies in `picture`; false where it is not its own.
    pub(super) fn drag(
        &mut self,
        ui: &Ui,
        response: &Response,
        picture: Rect,
        framing: &Framing,
    ) -> bool {
        let Some(tool) = self.armed else {
            return false;
        };
        if response.hovered() {
            ui.ctx().set_cursor_icon(CursorIcon::Crosshair);
        }
        let at = |p: Pos2| {
            let there = (p - picture.min) / picture.size();
            let there = there.clamp(Vec2::ZERO, vec2(1.0, 1.0));
            let [x, y] = framing.from_picture([f64::from(there.x), f64::from(there.y)]);
            vec2(x as f32, y as f32).clamp(Vec2::ZERO, vec2(1.0, 1.0))
        };
        if !tool.drags() {
            if response.clicked()
                && let Some(p) = response.interact_pointer_pos()
            {
                let p = at(p);
                self.marked = Some((tool, Marked::Point([p.x, p.y])));
            }
            return true;
        }
        if response.drag_started_by(PointerButton::Primary) {
            let from = ui.input(|i| i.pointer.press_origin()).map(at);
            self.drag = from.map(|from| (from, None));
        }
        if let Some(((from, spanned), to)) = self
            .drag
            .as_mut()
            .zip(response.interact_pointer_pos().map(at))
        {
            let (low, high) = (from.min(to), from.max(to));
            if (high - low).min_elem() >= SMALLEST {
                *spanned = Some([low.x, low.y, high.x, high.y]);
            }
        }
        if response.drag_stopped()
            && let Some((_, Some(sides))) = self.drag.take()
        {
            self.marked = Some((tool, Marked::Sides(sides)));
            self.armed = None;
        }
        true
    }

    /// Draws what is to be drawn over a picture, of which `seen` shows.
    pub(super) fn paint(&self, ui: &Ui, picture: Rect, seen: Rect, framing: &Framing) {
        let painter = ui.painter().with_clip_rect(seen);
        let place = |x: f32, y: f32| {
            let [x, y] = framing.on_picture([f64::from(x), f64::from(y)]);
            picture.min + vec2(x as f32, y as f32) * picture.size()
        };
        let rectangle = |[x0, y0, x1, y1]: [f32; 4], word: &str| {
            let rect = Rect::from_min_max(place(x0, y0), place(x1, y1));
            for (width, colour) in [(3.0, Color32::from_black_alpha(160)), (1.0, Color32::WHITE)] {
                painter.rect_stroke(rect, 0.0, Stroke::new(width, colour), StrokeKind::Middle);
            }
            label(&painter, rect.left_top() + vec2(5.0, 4.0), word, rect);
        };
        for mark in &self.drawn {
            match mark {
                Drawn::Sides(sides, word) => rectangle(*sides, word),
                Drawn::Point([x, y], radius, word) => {
                    let at = place(*x, *y);
                    let part = framing.radius_to_picture(f64::from(*radius)) as f32;
                    let radius = (part * picture.width()).max(4.0);
                    for (width, colour) in
                        [(3.0, Color32::from_black_alpha(160)), (1.5, Color32::WHITE)]
                    {
                        painter.circle_stroke(at, radius, Stroke::new(width, colour));
                    }
                    beside(&painter, at, radius + 5.0, word, seen.intersect(picture));
                }
            }
        }
        if let Some((_, Some(sides))) = self.drag {
            rectangle(sides, "");
        }
    }
}

/// A word on a dark plate to the right of a point, to its left where the picture ends.
fn beside(painter: &egui::Painter, at: Pos2, gap: f32, word: &str, picture: Rect) {
    let galley = laid(painter, word);
    let width = galley.size().x;
    let x = if at.x + gap + width > picture.right() {
        at.x - gap - width
    } else {
        at.x + gap
    };
    plate(painter, pos2(x, at.y - 8.0), galley);
}

/// A word on a dark plate; left out where it would not fit into `within`.
fn label(painter: &egui::Painter, place: Pos2, word: &str, within: Rect) {
    if word.is_empty() {
        return;
    }
    let galley = laid(painter, word);
    let size = galley.size() + Vec2::splat(2.0 * RIM + 8.0);
    if size.x < within.width() && size.y < within.height() {
        plate(painter, place, galley);
    }
}

fn laid(painter: &egui::Painter, word: &str) -> Arc<Galley> {
    painter.layout_no_wrap(word.to_owned(), FontId::proportional(12.0), theme::TEXT)
}

/// Draws laid-out words with their left top at `place`.
fn plate(painter: &egui::Painter, place: Pos2, galley: Arc<Galley>) {
    let under = Rect::from_min_size(place, galley.size()).expand(RIM);
    painter.rect_filled(under, 3.0, Color32::from_black_alpha(170));
    painter.galley(place, galley, theme::TEXT);
}
