//! Stray light on the front, and what the shade and its top flag keep off.
//!
//! Spill is light from outside the picture that strikes the frontmost glass and is scattered into the
//! lens. A far source e degrees above the axis throws the shadow of an edge that stands h above the axis
//! and d in front of the glass onto the height `h − d·tan e`: what lies below it is lit. The shade's mouth
//! is such an edge, and a top flag carries it further out. What counts is the part of the glass that the
//! picture looks through, a disc of the pupil's radius and the cone to the picture's corners.
//!
//! Source: similar triangles; the disc below a chord, `(acos u − u√(1−u²))/π` with u the chord's height
//! over the radius, is the hard-edge law of the pupil, counted from the other side.
//!
//! ```
//! use foreglass::rig::spill::lit;
//! // The shadow's edge through the middle of the disc leaves half of it lit: 60 − 100·tan e = 0.
//! let half = lit(60.0_f64.atan2(100.0).to_degrees(), 60.0, 100.0, 40.0);
//! assert!((half - 0.5).abs() < 1e-12);
//! assert!(lit(50.0, 60.0, 100.0, 40.0) <= 0.1 && lit(5.0, 60.0, 100.0, 40.0) >= 1.0);
//! ```

use super::Setup;
use crate::optics::field::View;
use crate::units::{Extent, Millimetres};
use serde::{Deserialize, Serialize};
use std::f64::consts::PI;

/// The matte box's shade and top flag.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Shade {
    /// Opening of its mouth: across and up. Light from the side is not modelled: only the height cuts.
    pub opening_mm: [Extent; 2],
    /// How far the mouth stands in front of the frontmost glass.
    pub depth_mm: Extent,
    /// How far the top flag reaches beyond the mouth; 0 is none.
    pub top_flag_mm: Millimetres,
}

impl Default for Shade {
    /// A mouth a little wider than 5.65 in glass, 80 mm in front of it, without a flag: common practice,
    /// no source.
    fn default() -> Self {
        Self {
            opening_mm: [Extent::clamped(165.0), Extent::clamped(125.0)],
            depth_mm: Extent::clamped(80.0),
            top_flag_mm: Millimetres::clamped(0.0),
        }
    }
}

/// Part of a disc of `radius` mm about the axis that a far source `from_deg` above the axis lights past an
/// edge `height` mm above the axis and `depth` mm in front: 0 to 1.
#[must_use]
pub fn lit(from_deg: f64, height: f64, depth: f64, radius: f64) -> f64 {
    if from_deg >= 90.0 {
        return 0.0;
    }
    let shadow = height - depth * from_deg.to_radians().tan();
    let u = (shadow / radius).clamp(-1.0, 1.0);
    1.0 - (u.acos() - u * (1.0 - u * u).sqrt()) / PI
}

impl Setup {
    /// Radius on the frontmost glass that the picture looks through, mm; without glass, on the front
    /// vertex.
    #[must_use]
    pub fn seen_radius_mm(&self, view: &View) -> f64 {
        let bare = self.camera.pupil_depth().get();
        let depth = self
            .glass
            .iter()
            .map(|g| g.depth_mm(self))
            .fold(bare, f64::max);
        let corner = 0.5 * view.width_mm.hypot(view.height_mm) / view.focal_mm;
        depth.mul_add(
            corner,
            0.5 * self.camera.focal_mm.get() / self.working_stop(),
        )
    }

    /// Part of the spill that reaches the front past the shade and its flag, 0 to 1. Without a direction
    /// the level was metered at the front as it stands: all of it does.
    #[must_use]
    pub fn spill_share(&self, view: &View) -> f64 {
        match (self.light.spill_from_deg, self.light.shade) {
            (Some(from), true) => {
                let depth = self.shade.depth_mm.get() + self.shade.top_flag_mm.get();
                let height = 0.5 * self.shade.opening_mm[1].get();
                lit(from.get(), height, depth, self.seen_radius_mm(view))
            }
            _ => 1.0,
        }
    }

    /// How far a top flag would have to reach beyond the shade's mouth to keep all spill off, mm; None
    /// where its direction is not told or it comes from too low.
    #[must_use]
    pub fn flag_to_clear_mm(&self, view: &View) -> Option<f64> {
        let slope = self.light.spill_from_deg?.radians().tan();
        if slope < 0.05 {
            return None;
        }
        let height = 0.5 * self.shade.opening_mm[1].get();
        let reach = (height + self.seen_radius_mm(view)) / slope;
        Some((reach - self.shade.depth_mm.get()).max(0.0))
    }
}
