//! Stray light on the front, and what the shade and its top flag keep off.
//!
//! Spill is light from outside the picture that strikes the frontmost glass and is scattered into the
//! lens. A far source e degrees above the axis throws the shadow of an edge that stands h above the axis
//! and d in front of the glass onto the height `h − d·tan e`: what lies below it is lit. The shade's mouth
//! is such an edge, and a top flag carries it further out. What counts is the part of the glass that the
//! picture looks through, a disc of the pupil's radius and the cone to the picture's corners.
//!
//! A mouth that is told is an opening of the picture too, and the flag's edge bounds it from above.
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
use super::vignette::Cause;
use crate::optics::field::View;
use crate::optics::pupil::above;
use crate::units::{Extent, Millimetres};
use serde::{Deserialize, Serialize};

/// The matte box's shade and top flag.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Shade {
    /// Opening of its mouth: across and up. None is a mouth made to the lens: it cuts nothing from the
    /// picture, nor does its flag, and stray light meets it as [`USUAL_MM`]. Stray light from the side
    /// is not modelled: only the height cuts it.
    pub opening_mm: Option<[Extent; 2]>,
    /// How far the mouth stands in front of the frontmost glass.
    pub depth_mm: Extent,
    /// How far the top flag reaches beyond the mouth; 0 is none.
    pub top_flag_mm: Millimetres,
}

/// A mouth a little wider than 5.65 in glass: common practice, no source.
pub const USUAL_MM: [f64; 2] = [165.0, 125.0];

impl Shade {
    /// How high above the axis its mouth ends, mm.
    #[must_use]
    pub fn top_mm(&self) -> f64 {
        0.5 * self.opening_mm.map_or(USUAL_MM[1], |mouth| mouth[1].get())
    }
}

impl Default for Shade {
    /// A mouth made to the lens, 80 mm in front of the glass, without a flag: common practice, no source.
    fn default() -> Self {
        Self {
            opening_mm: None,
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
    1.0 - above(shadow / radius)
}

impl Setup {
    /// Radius on the frontmost glass that the picture looks through, mm; without glass, on the front
    /// vertex.
    #[must_use]
    pub fn seen_radius_mm(&self, view: &View) -> f64 {
        let corner = 0.5 * view.width_mm.hypot(view.height_mm) / view.focal_mm;
        self.front_mm().mul_add(
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
                let height = self.shade.top_mm();
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
        let height = self.shade.top_mm();
        let reach = (height + self.seen_radius_mm(view)) / slope;
        Some((reach - self.shade.depth_mm.get()).max(0.0))
    }

    /// Whether a top flag of this reach would stand in the picture.
    #[must_use]
    pub fn flag_is_seen(&self, reach_mm: f64, view: &View) -> bool {
        let mut flagged = self.clone();
        let usual = USUAL_MM.map(Extent::clamped);
        flagged.shade.opening_mm = Some(self.shade.opening_mm.unwrap_or(usual));
        flagged.shade.top_flag_mm = Millimetres::clamped(reach_mm);
        flagged.shade_cuts(view).contains(&Cause::TopFlag)
    }

    /// What of the shade cuts the picture: its mouth, its top flag, both or neither.
    #[must_use]
    pub fn shade_cuts(&self, view: &View) -> Vec<Cause> {
        let shade = self.mounts().into_iter();
        let cuts = shade.filter(|(cause, aperture)| {
            let shade = matches!(cause, Cause::Shade | Cause::TopFlag);
            shade && self.alone(*aperture).clips(view)
        });
        cuts.map(|(cause, _)| cause).collect()
    }

    /// The smallest mouth that cuts nothing from the picture, nor lets the top flag do so, across and up:
    /// whole mm, and never smaller than the mouth that there is.
    #[must_use]
    pub fn mouth_to_clear_mm(&self, view: &View) -> [f64; 2] {
        let mouth = self.front_mm() + self.shade.depth_mm.get();
        let flag = mouth + self.shade.top_flag_mm.get();
        // Full width and height of all bundles of the picture so far out.
        let wide = |depth: f64, side: f64| {
            let footprint = self.pupil().footprint_radius(depth).abs();
            (depth * side / view.focal_mm + 2.0 * footprint).ceil()
        };
        let needed = [
            wide(mouth, view.width_mm),
            wide(mouth, view.height_mm).max(wide(flag, view.height_mm)),
        ];
        let now = self.shade.opening_mm.map(|mouth| mouth.map(Extent::get));
        let now = now.unwrap_or([0.0; 2]);
        [needed[0].max(now[0]), needed[1].max(now[1])]
    }
}
