//! Which part of the picture the panes show, and how large: one framing for both, so that they move
//! together.

use super::icons::on_pixels;
use egui::{Pos2, Rect, Vec2, pos2, vec2};

/// Screen pixels to one pixel of the still, at most.
const LARGEST: f32 = 16.0;

/// Zoom and place.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Framing {
    /// Screen pixels to one pixel of the still; None fits the pane.
    scale: Option<f32>,
    /// Point of the picture, 0 to 1 across and down, that lies in the middle of the pane.
    centre: Vec2,
}

impl Default for Framing {
    fn default() -> Self {
        Self {
            scale: None,
            centre: vec2(0.5, 0.5),
        }
    }
}

/// A pane, the still's size and the screen's density: what a framing is worked out for.
#[derive(Debug, Clone, Copy)]
pub(super) struct Pane {
    pub(super) rect: Rect,
    pub(super) size: Vec2,
    pub(super) pixels_per_point: f32,
}

impl Pane {
    /// The scale at which the whole picture fits.
    pub(super) fn fit(&self) -> f32 {
        let room = self.rect.size().max(vec2(1.0, 1.0)) * self.pixels_per_point;
        (room.x / self.size.x).min(room.y / self.size.y)
    }
}

impl Framing {
    /// The whole picture.
    pub(super) fn fit(&mut self) {
        *self = Self::default();
    }

    pub(super) const fn is_fit(&self) -> bool {
        self.scale.is_none()
    }

    /// Screen pixels to one pixel of the still.
    pub(super) fn scale(&self, pane: &Pane) -> f32 {
        self.scale.unwrap_or_else(|| pane.fit())
    }

    /// Where the picture lies, in points; it may reach beyond the pane.
    pub(super) fn picture(&self, pane: &Pane) -> Rect {
        let size = pane.size * self.scale(pane) / pane.pixels_per_point;
        let place = |pane_low: f32, pane_high: f32, size: f32, centre: f32| {
            let room = pane_high - pane_low;
            if size <= room {
                pane_low + 0.5 * (room - size)
            } else {
                (0.5 * (pane_low + pane_high) - centre * size).clamp(pane_high - size, pane_low)
            }
        };
        let min = pos2(
            place(pane.rect.left(), pane.rect.right(), size.x, self.centre.x),
            place(pane.rect.top(), pane.rect.bottom(), size.y, self.centre.y),
        );
        Rect::from_min_size(on_pixels(min, pane.pixels_per_point), size)
    }

    /// The point of the picture at a place on the screen, 0 to 1; None beside the picture.
    pub(super) fn at(&self, pane: &Pane, place: Pos2) -> Option<Vec2> {
        let picture = self.picture(pane);
        let visible = picture.intersect(pane.rect);
        visible
            .contains(place)
            .then(|| (place - picture.min) / picture.size())
    }

    /// The point of the picture in the middle of the pane.
    pub(super) fn middle(&self, pane: &Pane) -> Vec2 {
        let picture = self.picture(pane);
        let v = (pane.rect.center() - picture.min) / picture.size();
        v.clamp(Vec2::ZERO, vec2(1.0, 1.0))
    }

    /// Zooms so that the point under `about` stays where it is.
    pub(super) fn zoom(&mut self, pane: &Pane, factor: f32, about: Pos2) {
        self.zoom_to(pane, self.scale(pane) * factor, about);
    }

    /// Sets the scale, keeping the point under `about`; at or below fit, the whole picture is shown.
    pub(super) fn zoom_to(&mut self, pane: &Pane, scale: f32, about: Pos2) {
        let before = self.picture(pane);
        let point = (about - before.min) / before.size();
        let scale = scale.min(LARGEST.max(pane.fit()));
        if scale <= pane.fit() * 1.001 {
            self.fit();
            return;
        }
        self.scale = Some(scale);
        let size = pane.size * scale / pane.pixels_per_point;
        self.centre = point + (pane.rect.center() - about) / size;
        self.centre = self.middle(pane);
    }

    /// Moves the picture by so many points.
    pub(super) fn pan(&mut self, pane: &Pane, by: Vec2) {
        if self.scale.is_some() {
            let size = self.picture(pane).size();
            self.centre = self.middle(pane) - by / size;
            self.centre = self.middle(pane);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PANE: Pane = Pane {
        rect: Rect {
            min: pos2(100.0, 50.0),
            max: pos2(500.0, 350.0),
        },
        size: vec2(1600.0, 900.0),
        pixels_per_point: 2.0,
    };

    #[test]
    fn fit_shows_the_whole_picture_in_the_middle() {
        let picture = Framing::default().picture(&PANE);
        assert!(
            (picture.width() - 400.0).abs() < 0.01,
            "as wide as the pane, {picture:?}"
        );
        assert!(
            (picture.center() - PANE.rect.center()).length() < 0.6,
            "in the middle"
        );
    }

    #[test]
    fn zooming_keeps_the_point_under_the_pointer() {
        let mut framing = Framing::default();
        let about = pos2(180.0, 160.0);
        let before = framing.at(&PANE, about).unwrap();
        framing.zoom(&PANE, 3.0, about);
        let after = framing.at(&PANE, about).unwrap();
        // Half a screen pixel, of a picture 2400 pixels across.
        assert!(
            (before - after).length() < 0.5 / 1200.0,
            "{before:?} became {after:?}"
        );
    }

    #[test]
    fn panning_stops_at_the_picture_s_edge_and_zooming_out_ends_at_fit() {
        let mut framing = Framing::default();
        framing.zoom_to(&PANE, 1.0, PANE.rect.center());
        framing.pan(&PANE, vec2(5000.0, 0.0));
        let picture = framing.picture(&PANE);
        assert!(
            (picture.left() - PANE.rect.left()).abs() < 0.01,
            "no gap at the left"
        );
        framing.pan(&PANE, vec2(-10.0, 0.0));
        let moved = framing.picture(&PANE).left() - PANE.rect.left();
        assert!(
            (moved + 10.0).abs() < 0.51,
            "it moves back at once, moved {moved}"
        );
        framing.zoom(&PANE, 0.01, PANE.rect.center());
        assert!(framing.is_fit(), "never smaller than the pane");
    }
}
