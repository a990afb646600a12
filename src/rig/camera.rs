//! The planned camera, the light it stands in, and how the loss is made good.
//!
//! A rectilinear lens of focal length f throws what lies at the angle θ from its axis f·tan θ from the
//! picture's middle, so that a side of w mm takes in 2·atan(w/2f). Source: geometry; of a lens focused
//! closer than infinity the picture takes in a little less, which is left out.
//!
//! ```
//! use foreglass::rig::camera::FieldOfView;
//! use foreglass::units::Extent;
//! // 50 mm on 36 × 24 mm: 39.6° across, 27.0° up, 46.8° from corner to corner.
//! let field = FieldOfView::new([36.0, 24.0].map(Extent::clamped), Extent::clamped(50.0));
//! let degrees = [field.across, field.up, field.diagonal].map(|d| (10.0 * d.get()).round() / 10.0);
//! assert_eq!(degrees, [39.6, 27.0, 46.8]);
//! ```

use crate::optics::field::View;
use crate::units::{Degrees, Density, Extent, FNumber, Kelvin, Metres, Millimetres, Stops};
use serde::{Deserialize, Serialize};

/// The planned camera and lens.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Camera {
    /// Sensor width and height.
    pub sensor_mm: [Extent; 2],
    /// Focal length.
    pub focal_mm: Extent,
    /// The bare metered stop, f/N.
    pub stop: FNumber,
    /// Focus distance; None is infinity.
    pub focus_m: Option<Metres>,
    /// Front vertex to entrance pupil; None is estimated from the focal length.
    pub pupil_depth_mm: Option<Millimetres>,
    /// What the camera is balanced for.
    pub balance_k: Kelvin,
    /// The T-stop that goes with `stop`, where the lens is marked in them.
    pub t_stop: Option<FNumber>,
    /// The lens's widest stop.
    pub widest_stop: Option<FNumber>,
    /// Exposure index.
    pub iso: u32,
    /// Shutter angle, degrees.
    pub shutter_deg: f64,
    /// Frames per second.
    pub fps: f64,
    /// Density inside the camera, behind the lens: it costs light but is not glass in front.
    pub internal_nd: Density,
    /// Horizontal field over that of a spherical lens.
    pub squeeze: f64,
    /// Width over height of the framed part; None is the sensor's own.
    pub framing_aspect: Option<f64>,
}

impl Default for Camera {
    fn default() -> Self {
        Self {
            sensor_mm: [Extent::clamped(24.89), Extent::clamped(14.0)],
            focal_mm: Extent::clamped(50.0),
            stop: FNumber::clamped(4.0),
            focus_m: Some(Metres::clamped(3.0)),
            pupil_depth_mm: None,
            balance_k: Kelvin::clamped(5600.0),
            t_stop: None,
            widest_stop: None,
            iso: 800,
            shutter_deg: 180.0,
            fps: 24.0,
            internal_nd: Density::clamped(0.0),
            squeeze: 1.0,
            framing_aspect: None,
        }
    }
}

impl Camera {
    /// The part of the sensor that is framed, across and up: as much of it as has the framing aspect, its
    /// height cut or its width; all of it where no aspect is asked for.
    #[must_use]
    pub fn framed_mm(&self) -> [Extent; 2] {
        let [width, height] = self.sensor_mm;
        match self.framing_aspect {
            None => self.sensor_mm,
            Some(a) if a >= width.get() / height.get() => [width, Extent::clamped(width.get() / a)],
            Some(a) => [Extent::clamped(height.get() * a), height],
        }
    }

    /// The picture's part of the field, for a frame of `height / width` that spans what is framed.
    #[must_use]
    pub fn view(&self, height_over_width: f64) -> View {
        let width_mm = self.framed_mm()[0].get();
        View {
            focal_mm: self.focal_mm.get(),
            width_mm,
            height_mm: width_mm * height_over_width,
        }
    }

    /// What the framed part of the sensor takes in.
    #[must_use]
    pub fn field(&self) -> FieldOfView {
        FieldOfView::new(self.framed_mm(), self.focal_mm)
    }

    /// Front vertex to entrance pupil: as given, or estimated as 25 mm and half the focal length, at
    /// most 150 mm (our own estimate: it changes from lens to lens).
    #[must_use]
    pub fn pupil_depth(&self) -> Millimetres {
        self.pupil_depth_mm
            .unwrap_or_else(|| Millimetres::clamped((25.0 + 0.5 * self.focal_mm.get()).min(150.0)))
    }

    /// Distance of the subject from the entrance pupil, mm. Focus is measured from the sensor in the
    /// trade; at the distances where a footprint shrinks visibly the difference is the lens's own
    /// length, so that a focus nearer than the front glass is read as just beyond it.
    #[must_use]
    pub fn subject_mm(&self) -> f64 {
        self.focus_m.map_or(f64::INFINITY, |m| m.get() * 1000.0)
    }
}

/// How much a picture takes in.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldOfView {
    /// From the middle of one side to the other.
    pub across: Degrees,
    /// From bottom to top.
    pub up: Degrees,
    /// From corner to corner.
    pub diagonal: Degrees,
}

impl FieldOfView {
    /// Of a picture of some width and height in front of which a lens of this focal length stands.
    #[must_use]
    pub fn new([width, height]: [Extent; 2], focal: Extent) -> Self {
        let angle = |mm: f64| Degrees::clamped(2.0 * (0.5 * mm / focal.get()).atan().to_degrees());
        Self {
            across: angle(width.get()),
            up: angle(height.get()),
            diagonal: angle(width.get().hypot(height.get())),
        }
    }

    /// Of a part of the field.
    #[must_use]
    pub fn of(view: &View) -> Self {
        Self::new(
            [view.width_mm, view.height_mm].map(Extent::clamped),
            Extent::clamped(view.focal_mm),
        )
    }
}

/// The light of the scene, and what of it strikes the front.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Light {
    /// Colour temperature of the scene's light.
    pub scene_k: Kelvin,
    /// What lies outside the frame, for light scattered in from there.
    pub outside: Outside,
    /// Whether halos stretch towards the corners of a wide lens.
    pub corner_halos: CornerHalos,
    /// Stray light on the front glass, in stops against key; None is none.
    pub spill_stops: Option<Stops>,
    /// How high above the lens's axis the source of the stray light stands, degrees; None where its level
    /// was metered at the front with the shade as it stands.
    pub spill_from_deg: Option<Degrees>,
    /// Whether the matte box carries its shade.
    pub shade: bool,
    /// Whether the camera is balanced through the glass: the shift of white goes, the rest stays. It
    /// is balanced through uniform colour only; a colour grad keeps its colour.
    pub balance_through_glass: bool,
}

impl Default for Light {
    fn default() -> Self {
        Self {
            scene_k: Kelvin::clamped(5600.0),
            outside: Outside::Mirror,
            corner_halos: CornerHalos::Auto,
            spill_stops: None,
            spill_from_deg: None,
            shade: true,
            balance_through_glass: false,
        }
    }
}

/// What lies outside the frame.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Outside {
    /// The scene goes on: the frame mirrored about its borders.
    Mirror,
    /// Nothing.
    Dark,
    /// An even level, in stops against key.
    Stops(Stops),
}

/// Whether halos stretch towards the corners, as they do in front of a wide lens, or are the same
/// everywhere, which is quicker and near the axis the same.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum CornerHalos {
    /// They stretch where the picture's corners lie more than 20° from the axis.
    #[default]
    Auto,
    /// They stretch.
    Stretched,
    /// They do not.
    Even,
}

/// How the light that the glass takes is made good.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Compensate {
    /// It is not: the picture is as much darker.
    #[default]
    None,
    /// The iris is opened, and the bundle of rays with it.
    Iris,
    /// The exposure index is raised.
    Iso,
    /// The scene is lit brighter.
    Light,
}
