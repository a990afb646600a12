//! The picture room: the bare picture and the picture through the glass, moved and zoomed together.

// The room without a still.
mod empty;
// One picture, and what moves it.
mod pane;
// What stands above the pictures.
mod strip;
// The line between bare and glass.
mod wipe;

use super::commands::Command;
use super::framing::{Framing, Pane};
use super::legend;
use super::mark::Marks;
use super::pictures::Pictures;
use crate::session::{Detail, Session, Viewing};
use egui::{Key, Rect, Sense, Ui, Vec2, pos2, vec2};

/// Between panes and around them.
const GAP: f32 = 10.0;
/// Height of a pane's caption.
const CAPTION: f32 = 22.0;
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
            empty::show(ui, session, todo);
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
}
