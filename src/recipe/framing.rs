//! Which part of a frame the planned camera would see.
//!
//! Both lenses are rectilinear: a point at the fraction x of a frame's width looks along
//! tan θ = (x − ½)·w/f of the camera that it was seen by, and the planned picture reaches ±W/2F of the
//! planned one. So the frame is cropped about its middle to W/F ÷ w/f of its width. The crop is a whole
//! number of pixels, as even or odd as the frame's own so that the axis stays in its middle; the view is
//! that of the pixels which were taken, so that every pixel's direction is exact.
//!
//! Source: geometry. That the axis goes through the frame's middle, and that the lens draws straight lines
//! straight, is taken for granted.

use super::Recipe;
use super::seen::{Seen, Take};
use crate::frame::{Exif, Frame, MAX_PIXELS, MAX_SIDE, crop};
use crate::optics::field::View;
use crate::rig::camera::{Camera, FieldOfView, Outside};
use crate::units::trimmed;
use std::borrow::Cow;

/// The most light that a frame is filled up with: as much as a reader keeps.
const BRIGHTEST: f64 = 1e9;

/// A frame that cannot be framed as planned: one sentence, without the frame's name and a full stop.
///
/// It is in plain words, for a person who may never have seen a recipe's text; [`FramingError::keys`] is for one who
/// writes it.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum FramingError {
    /// The frame takes in less than the plan.
    #[error(
        "the frame spans {:.1}° × {:.1}° ({source_words}) and the plan wants {:.1}° × {:.1}°: the shortest \
         focal length that it serves is {shortest_mm:.1} mm; choose dark or an even level outside \
         the frame to fill the rest, or take the whole frame as the picture",
        spans[0], spans[1], wants[0], wants[1]
    )]
    TooNarrow {
        /// What the frame takes in, across and up, degrees.
        spans: [f64; 2],
        /// What the plan takes in.
        wants: [f64; 2],
        /// What the frame's field follows from.
        source_words: String,
        /// The shortest planned focal length for which the frame is wide enough.
        shortest_mm: f64,
    },
    /// The picture, most of it filled in, would have more pixels than are handled.
    #[error(
        "the frame spans {spans:.1}° across and the plan wants {wants:.1}°: filled up to that, the picture \
         would be {} × {} pixels; the limit is {MAX_SIDE} on a side and {} megapixels",
        pixels[0], pixels[1], MAX_PIXELS / 1_000_000
    )]
    TooLarge {
        /// What the frame takes in across, degrees.
        spans: f64,
        /// What the plan takes in across, degrees.
        wants: f64,
        /// Pixels across and down.
        pixels: [f64; 2],
    },
}

impl FramingError {
    /// What to set in a recipe for each way out that the sentence names; empty where it names none.
    #[must_use]
    pub const fn keys(&self) -> &'static str {
        match self {
            Self::TooNarrow { .. } => {
                r#"light.outside: "dark" or {"stops": …}, frame.take: "whole""#
            }
            Self::TooLarge { .. } => "",
        }
    }
}

/// The planned picture's place in a frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Framing {
    frame: [usize; 2],
    /// The picture's left top pixel, in pixels of the frame; it may lie outside.
    corner: [isize; 2],
    size: [usize; 2],
    view: View,
    /// Grey working light of what the frame lacks.
    fill: f32,
    line: Option<String>,
}

impl Recipe {
    /// The camera that the frame was seen by: what the recipe tells, and the file's EXIF.
    #[must_use]
    pub fn seen(&self, exif: &Exif, size: [usize; 2]) -> Seen {
        self.frame.seen_by.unwrap_or_default().with(exif, size)
    }

    /// The planned picture's place in a frame of `size` pixels whose file told `exif`.
    ///
    /// # Errors
    /// [`FramingError`] where the frame takes in less than the plan, and nothing is told to fill the rest.
    pub fn framing(&self, exif: &Exif, size: [usize; 2]) -> Result<Framing, FramingError> {
        let camera = &self.camera;
        let seen = self.seen(exif, size);
        if self.frame.take == Take::Whole {
            let line = seen.spans().map(|spans| {
                format!("{spans}; it is taken whole as the planned picture, as the recipe says")
            });
            return Ok(Framing::whole(camera, size, line));
        }
        match seen.half_tangents(size) {
            Some(half) => self.planned(&seen, half, size),
            None => Ok(Framing::to_aspect(camera, size, seen.silent(exif))),
        }
    }

    /// All of a frame of `size` pixels as the planned picture, whatever it was seen by.
    #[must_use]
    pub fn unframed(&self, size: [usize; 2]) -> Framing {
        Framing::whole(&self.camera, size, None)
    }

    /// The part of a frame of known field that the planned camera sees.
    fn planned(
        &self,
        seen: &Seen,
        half: [f64; 2],
        size: [usize; 2],
    ) -> Result<Framing, FramingError> {
        let focal_mm = self.camera.focal_mm.get();
        // Pixels to a tangent of 1; they are square.
        let scale = 0.5 * size[0] as f64 / half[0];
        let wanted = self
            .camera
            .framed_mm()
            .map(|mm| scale * mm.get() / focal_mm);
        let taken: [f64; 2] = std::array::from_fn(|i| as_even_as(size[i], wanted[i]));
        let wide = |i: usize| taken[i] > size[i] as f64;
        let field = self.camera.field();
        let fill = match self.light.outside {
            Outside::Mirror if wide(0) || wide(1) => {
                let short = (wanted[0] / size[0] as f64).max(wanted[1] / size[1] as f64);
                return Err(FramingError::TooNarrow {
                    spans: half.map(|t| 2.0 * t.atan().to_degrees()),
                    wants: [field.across.get(), field.up.get()],
                    source_words: seen.source.clone(),
                    // Rounded up: the lens that is named must serve.
                    shortest_mm: (10.0 * focal_mm * short - 1e-6).ceil() / 10.0,
                });
            }
            Outside::Stops(s) if wide(0) || wide(1) => {
                (f64::from(Frame::KEY) * s.factor()).min(BRIGHTEST) as f32
            }
            _ => 0.0,
        };
        if taken.iter().any(|side| *side > MAX_SIDE as f64)
            || taken[0] * taken[1] > MAX_PIXELS as f64
        {
            return Err(FramingError::TooLarge {
                spans: 2.0 * half[0].atan().to_degrees(),
                wants: field.across.get(),
                pixels: taken,
            });
        }
        let taken = taken.map(|side| side as usize);
        let view = View {
            focal_mm,
            width_mm: focal_mm * taken[0] as f64 / scale,
            height_mm: focal_mm * taken[1] as f64 / scale,
        };
        let line = seen.spans().map(|spans| {
            // Of its width; of its height where all of the width is taken.
            let side = usize::from(taken[0] == size[0]);
            let part = 100.0 * taken[side] as f64 / size[side] as f64;
            let takes = if wide(0) || wide(1) {
                let with = match self.light.outside {
                    Outside::Stops(s) => format!("an even level of {:+.1} stops", s.get()),
                    _ => "dark".to_owned(),
                };
                let [w, h] = [field.across.get(), field.up.get()];
                format!("the plan takes {w:.1}° × {h:.1}°, and {with} fills what the frame lacks")
            } else if taken == size {
                "the plan takes all of it".to_owned()
            } else {
                // A part of a per cent is still a part.
                let decimals = usize::from(part < 9.95);
                let name = ["width", "height"][side];
                format!("the plan takes the middle {part:.decimals$} % of its {name}")
            };
            format!("{spans}; {takes}")
        });
        Ok(Framing {
            fill,
            ..Framing::middle(size, taken, view, line)
        })
    }
}

impl Seen {
    /// "the frame spans 69.4° across (EXIF: 26 mm in 36 × 24 terms)"; None where that is not known.
    fn spans(&self) -> Option<String> {
        let across = self.field_deg.value?.get();
        Some(format!(
            "the frame spans {across:.1}° across ({})",
            self.source
        ))
    }

    /// Why the frame's field is not known though something is; None where nothing is.
    fn silent(&self, exif: &Exif) -> Option<String> {
        if self.reshaped && (exif.focal_35_mm.is_some() || exif.sensor_mm.is_some()) {
            return Some(
                "the frame was cropped since its EXIF was written, so that its field is not known; it is \
                 taken as the planned picture"
                    .to_owned(),
            );
        }
        let focal = self.focal_mm.value?;
        let from = if exif.focal_mm == Some(focal) {
            "its EXIF tells"
        } else {
            "the recipe tells"
        };
        Some(format!(
            "the frame's field is not known ({from} {} mm and no sensor); it is taken as the planned \
             picture",
            trimmed(focal.get(), 2)
        ))
    }
}

impl Framing {
    /// All of a frame.
    fn whole(camera: &Camera, size: [usize; 2], line: Option<String>) -> Self {
        let view = camera.view(size[1] as f64 / size[0] as f64);
        Self::middle(size, size, view, line)
    }

    /// The middle of a frame, of the framing aspect; all of it where none is asked for. It spans what the
    /// camera frames.
    fn to_aspect(camera: &Camera, size: [usize; 2], line: Option<String>) -> Self {
        let Some(aspect) = camera.framing_aspect else {
            return Self::whole(camera, size, line);
        };
        let [w, h] = size.map(|side| side as f64);
        let wanted = if aspect >= w / h {
            [w, w / aspect]
        } else {
            [h * aspect, h]
        };
        let taken: [usize; 2] = std::array::from_fn(|i| as_even_as(size[i], wanted[i]) as usize);
        let spanned = camera.framed_mm()[0].get();
        let width_mm = spanned * taken[0] as f64 / wanted[0];
        let view = View {
            focal_mm: camera.focal_mm.get(),
            width_mm,
            height_mm: width_mm * taken[1] as f64 / taken[0] as f64,
        };
        let cropped =
            (taken != size).then(|| format!("the frame is cropped to {}:1", trimmed(aspect, 2)));
        let line = match (line, cropped) {
            (Some(a), Some(b)) => Some(format!("{a}; {b}")),
            (a, b) => a.or(b),
        };
        Self::middle(size, taken, view, line)
    }

    fn middle(frame: [usize; 2], size: [usize; 2], view: View, line: Option<String>) -> Self {
        let corner = std::array::from_fn(|i| (frame[i] as isize - size[i] as isize) / 2);
        Self {
            frame,
            corner,
            size,
            view,
            fill: 0.0,
            line,
        }
    }

    /// Pixels of the picture, across and down.
    #[must_use]
    pub const fn size(&self) -> [usize; 2] {
        self.size
    }

    /// The picture's part of the field.
    #[must_use]
    pub const fn view(&self) -> View {
        self.view
    }

    /// The same, for the picture made smaller to so many pixels.
    #[must_use]
    pub fn view_at(&self, width: usize, height: usize) -> View {
        View {
            height_mm: self.view.width_mm * (height as f64 / width as f64),
            ..self.view
        }
    }

    /// How much the picture takes in.
    #[must_use]
    pub fn field(&self) -> FieldOfView {
        FieldOfView::of(&self.view)
    }

    /// The picture's left, top, right and bottom in 0..1 of the frame; beyond where the frame is filled
    /// up.
    #[must_use]
    pub fn sides(&self) -> [f64; 4] {
        let [x0, y0] = self.from_picture([0.0, 0.0]);
        let [x1, y1] = self.from_picture([1.0, 1.0]);
        [x0, y0, x1, y1]
    }

    /// Whether the picture is the frame as it stands.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.size == self.frame
    }

    /// A point of the frame, in 0..1 across and down, as a point of the picture; None outside of it.
    #[must_use]
    pub fn to_picture(&self, point: [f64; 2]) -> Option<[f64; 2]> {
        if self.is_whole() {
            return point
                .iter()
                .all(|v| (0.0..=1.0).contains(v))
                .then_some(point);
        }
        let there = self.on_picture(point);
        // A point on the very edge may be off by a rounding.
        let inside = there.iter().all(|v| (-1e-9..=1.0 + 1e-9).contains(v));
        inside.then(|| there.map(|v| v.clamp(0.0, 1.0)))
    }

    /// A point of the frame in 0..1 of the picture, below 0 or above 1 where the picture does not show it.
    #[must_use]
    pub fn on_picture(&self, point: [f64; 2]) -> [f64; 2] {
        std::array::from_fn(|i| {
            (point[i] * self.frame[i] as f64 - self.corner[i] as f64) / self.size[i] as f64
        })
    }

    /// The part of a region of the frame that the picture shows: left, top, right and bottom in 0..1 of the
    /// picture; None where it shows none of it.
    #[must_use]
    pub fn region(&self, [x0, y0, x1, y1]: [f64; 4]) -> Option<[f64; 4]> {
        let low = self.on_picture([x0, y0]).map(|v| v.max(0.0));
        let high = self.on_picture([x1, y1]).map(|v| v.min(1.0));
        (low[0] < high[0] && low[1] < high[1]).then_some([low[0], low[1], high[0], high[1]])
    }

    /// A point of the picture, in 0..1 across and down, as a point of the frame.
    #[must_use]
    pub fn from_picture(&self, point: [f64; 2]) -> [f64; 2] {
        std::array::from_fn(|i| {
            (point[i] * self.size[i] as f64 + self.corner[i] as f64) / self.frame[i] as f64
        })
    }

    /// A length in parts of the frame's width, in parts of the picture's.
    #[must_use]
    pub fn radius_to_picture(&self, radius: f64) -> f64 {
        if self.is_whole() {
            return radius;
        }
        radius * self.frame[0] as f64 / self.size[0] as f64
    }

    /// Whether two framings take the same pixels, and fill in alike: they may still differ in the view.
    #[must_use]
    pub fn takes_as(&self, other: &Self) -> bool {
        let pixels = |f: &Self| (f.frame, f.corner, f.size, f.fill.to_bits());
        pixels(self) == pixels(other)
    }

    /// The picture; the frame itself where it is all of it.
    ///
    /// # Panics
    /// When the frame is not of the size that the framing was made for.
    #[must_use]
    pub fn picture<'a>(&self, frame: &'a Frame) -> Cow<'a, Frame> {
        assert_eq!(
            [frame.width(), frame.height()],
            self.frame,
            "a framing is of one frame"
        );
        if self.is_whole() {
            Cow::Borrowed(frame)
        } else {
            Cow::Owned(crop(frame, self.corner, self.size, self.fill))
        }
    }

    /// The picture out of a frame that is no longer needed; see [`Framing::picture`].
    ///
    /// # Panics
    /// As [`Framing::picture`].
    #[must_use]
    pub fn take(&self, frame: Frame) -> Frame {
        if self.is_whole() {
            frame
        } else {
            self.picture(&frame).into_owned()
        }
    }

    /// What the frame was seen by and which part of it is taken, in one line without a full stop; None
    /// where nothing is known of it and all of it is taken.
    #[must_use]
    pub fn line(&self) -> Option<&str> {
        self.line.as_deref()
    }
}

/// The whole number nearest to `wanted` that is even or odd as `side` is, and at least one pixel.
fn as_even_as(side: usize, wanted: f64) -> f64 {
    let odd = (side % 2) as f64;
    let nearest = 2.0 * ((wanted - odd) / 2.0).round() + odd;
    nearest.max(2.0 - odd)
}
