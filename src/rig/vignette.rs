//! What the openings of a rig take from the picture's corners, which of them does, and how wide a lens
//! they clear.
//!
//! An opening is convex, so that a picture whose corners it clears it clears all over, and its loss grows
//! outward once it has begun. Two circles overlap in closed form; `tests/checks/vignette.csv` has the
//! figures.
//!
//! ```
//! use foreglass::recipe::Recipe;
//! // A 73 mm ring 5 mm before the lens, 45 mm before the pupil of an 18 mm lens at f/4: a corner of the
//! // picture is looked at 37.67 mm from the axis through a disc of 2.25 mm radius, more than the ring has.
//! let text = r#"{"format": "foreglass.recipe", "version": 1,
//!     "camera": {"focal_mm": 18, "stop": 4, "focus_m": null, "pupil_depth_mm": 40, "sensor_mm": [25.6, 15.9]},
//!     "rig": {"rings": [{"glass": "clear", "thread_mm": 77, "clear_mm": 73, "gap_mm": 5}]}}"#;
//! let setup = Recipe::parse(text)?.setup()?;
//! let view = setup.sensor_view();
//! let vignette = setup.vignette(&view);
//! assert_eq!(vignette.cause.map(|c| c.key()).as_deref(), Some("ring1"));
//! // It begins at atan((36.5 − 2.25) / 45) = 37.3°, and a hundredth of a stop is lost a little further out.
//! assert!(vignette.starts_deg.is_some_and(|from| (37.3..37.6).contains(&from)));
//! assert!(setup.widest_focal_mm(&view).is_some_and(|f| f > 18.0));
//! # Ok::<(), foreglass::recipe::RecipeError>(())
//! ```

use super::{Place, Setup};
use crate::optics::field::{Field, View};
use crate::optics::pupil::Aperture;
use crate::units::{Extent, Stops};
use std::fmt;

/// Loss at which a corner counts as vignetting, in stops.
pub const BEGINS: f64 = 0.01;
/// Longest lens that is looked at for one that the rig clears, mm.
pub const LONGEST: f64 = 1000.0;
/// Focal lengths looked at, from 1 mm to the longest: 1.2 % apart.
const FOCALS: usize = 576;
/// Directions looked along for the beginning of a vignette.
const AZIMUTHS: usize = 96;

/// What has an opening that light must pass.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Cause {
    /// The glass in a place, or its mount.
    Place(Place),
    /// The shade's mouth.
    Shade,
    /// The top flag's edge.
    TopFlag,
}

impl Cause {
    /// The key used in reports: "ring1", "stage2", "shade", "top-flag".
    #[must_use]
    pub fn key(self) -> String {
        match self {
            Self::Place(place) => place.key(),
            Self::Shade => "shade".to_owned(),
            Self::TopFlag => "top-flag".to_owned(),
        }
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Place(place) => place.fmt(f),
            Self::Shade => f.write_str("The shade"),
            Self::TopFlag => f.write_str("The top flag"),
        }
    }
}

/// What the openings of a rig do to the picture, apart from any density and from cos⁴.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vignette {
    /// Smallest field angle inside the frame that loses [`BEGINS`], degrees.
    pub starts_deg: Option<f64>,
    /// Greatest loss at a corner; None when nothing passes there.
    pub corner: Option<Stops>,
    /// What takes most, alone, from the corner that loses most; of several alike the one nearest the
    /// lens. None when no corner loses [`BEGINS`].
    pub cause: Option<Cause>,
}

impl Setup {
    /// The rig's vignette over `view`.
    #[must_use]
    pub fn vignette(&self, view: &View) -> Vignette {
        let openings = self.openings();
        let (worst, corner) = worst_corner(&openings, view);
        Vignette {
            starts_deg: starts_deg(&openings, view),
            corner: corner.is_finite().then(|| Stops::clamped(corner)),
            cause: (corner >= BEGINS)
                .then(|| self.cause(view, worst))
                .flatten(),
        }
    }

    fn cause(&self, view: &View, corner: [f64; 2]) -> Option<Cause> {
        let mut most = None;
        for (cause, aperture) in self.mounts() {
            let taken = loss(&self.alone(aperture), view, corner);
            if most.is_none_or(|(_, other)| taken > other) {
                most = Some((cause, taken));
            }
        }
        most.map(|(cause, _)| cause)
    }

    /// The field of one opening by itself.
    pub(super) fn alone(&self, aperture: Aperture) -> Field {
        Field {
            pupil: self.pupil(),
            planes: Vec::new(),
            apertures: vec![aperture],
        }
    }

    /// Greatest loss at a corner of `view`, in stops; infinite when nothing passes.
    pub(super) fn corner_loss(&self, view: &View) -> f64 {
        worst_corner(&self.openings(), view).1
    }

    /// The shortest focal length that this rig clears on the same sensor at the same stop: no corner
    /// loses [`BEGINS`]. The pupil stands as deep as told, or as estimated for each focal length. None
    /// when there is none up to [`LONGEST`], or nothing that could be in the way.
    #[must_use]
    pub fn widest_focal_mm(&self, view: &View) -> Option<f64> {
        if self.mounts().is_empty() {
            return None;
        }
        let mut other = self.clone();
        let mut clear = |focal_mm: f64| {
            other.camera.focal_mm = Extent::clamped(focal_mm);
            other.corner_loss(&View { focal_mm, ..*view }) < BEGINS
        };
        let focal = |i: usize| LONGEST.powf(i as f64 / FOCALS as f64);
        let first = (0..=FOCALS).find(|i| clear(focal(*i)))?;
        let (mut clipped, mut cleared) = (focal(first.saturating_sub(1)), focal(first));
        while cleared / clipped > 1.0 + 1e-6 {
            let middle = f64::midpoint(clipped, cleared);
            if clear(middle) {
                cleared = middle;
            } else {
                clipped = middle;
            }
        }
        Some(cleared)
    }
}

fn loss(openings: &Field, view: &View, [x, y]: [f64; 2]) -> f64 {
    // Nothing lost is 0, and never −0.
    0.0 - openings.at(view, x, y).log2()
}

/// The corner that loses most, and what it loses.
fn worst_corner(openings: &Field, view: &View) -> ([f64; 2], f64) {
    let corners = view.corners().map(|c| (c, loss(openings, view, c)));
    let worse = |a: ([f64; 2], f64), b: ([f64; 2], f64)| if b.1 > a.1 { b } else { a };
    corners.into_iter().fold(([0.0; 2], 0.0), worse)
}

/// Smallest field angle in the frame at which the loss begins.
fn starts_deg(openings: &Field, view: &View) -> Option<f64> {
    // The corners themselves lie between the azimuths; they come first, since one that begins early
    // spares looking along the others.
    let corners = view.corners().map(|c| {
        let r = c[0].hypot(c[1]);
        [c[0] / r, c[1] / r]
    });
    let azimuths = (0..AZIMUTHS).map(|i| {
        let (sin, cos) = (std::f64::consts::TAU * i as f64 / AZIMUTHS as f64).sin_cos();
        [cos, sin]
    });
    let mut nearest = None;
    for [cos, sin] in corners.into_iter().chain(azimuths) {
        let lost = |r: f64| loss(openings, view, [r * cos, r * sin]) >= BEGINS;
        let edge = (view.width_mm / 2.0 / cos.abs()).min(view.height_mm / 2.0 / sin.abs());
        let (mut clear, mut begun) = (0.0, nearest.map_or(edge, |r: f64| r.min(edge)));
        if !lost(begun) {
            continue;
        }
        // Openings are convex, so that the loss grows outward once it has begun.
        while begun - clear > 1e-7 * edge {
            let middle = f64::midpoint(clear, begun);
            if lost(middle) {
                begun = middle;
            } else {
                clear = middle;
            }
        }
        nearest = Some(begun);
    }
    nearest.map(|r| (r / view.focal_mm).atan().to_degrees())
}
