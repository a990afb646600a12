//! The camera that the frame was seen by: what the recipe tells of it, and what the file's EXIF adds.
//!
//! The scout camera is not the planned one. EXIF fills only what the recipe leaves open here, and nothing
//! of the planned camera. Each value keeps where it came from.
//!
//! Source of the equivalent focal length: EXIF 2.32, tag 41989, the focal length that takes in as much on
//! 36 × 24 mm; makers count it along the diagonal (CIPA DCG-001, from memory), √(36² + 24²) = 43.27 mm.
//!
//! ```
//! use foreglass::frame::Exif;
//! use foreglass::recipe::SeenBy;
//! use foreglass::units::Extent;
//! // 26 mm in 36 × 24 terms, on a picture of 3:2: 2·atan(18/26) = 69.4° across.
//! let told = SeenBy { focal_35_mm: Some(Extent::clamped(26.0)), ..SeenBy::default() };
//! let seen = told.with(&Exif::default(), [6000, 4000]);
//! assert!((seen.field_deg.value.unwrap().get() - 69.390).abs() < 1e-3);
//! ```

use super::RecipeError;
use crate::frame::Exif;
use crate::units::{Degrees, Extent, FNumber, Metres, Seconds, trimmed};
use serde::{Deserialize, Serialize};
use std::fmt;

/// Diagonal of 36 × 24 mm.
const DIAGONAL_35: f64 = 43.266_615_305_567_87;
/// Two pictures are of one shape if their sides' ratios differ by less than this.
const SAME_SHAPE: f64 = 0.01;
/// Widest field that a recipe may tell, degrees: a rectilinear lens never gets to 180.
const WIDEST: f64 = 170.0;

/// What a recipe tells of the camera that the frame was seen by; all of it may be left open.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct SeenBy {
    /// Sensor width and height; the frame is the largest picture of its shape on it, its longer side along
    /// the sensor's.
    pub sensor_mm: Option<[Extent; 2]>,
    /// Focal length.
    pub focal_mm: Option<Extent>,
    /// The focal length that takes in as much from corner to corner on 36 × 24 mm.
    pub focal_35_mm: Option<Extent>,
    /// What the frame takes in across, degrees.
    pub field_deg: Option<Degrees>,
    /// The stop.
    pub stop: Option<FNumber>,
    /// Exposure index.
    pub iso: Option<u32>,
    /// How long the shutter was open, seconds.
    pub shutter_s: Option<Seconds>,
    /// Distance of focus, metres.
    pub focus_m: Option<Metres>,
}

/// How much of the frame the planned picture is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum Take {
    /// The part that the planned camera would see, where it is known what the frame was seen by.
    #[default]
    Planned,
    /// All of it as it stands, whatever it was seen by.
    Whole,
}

/// Where a value came from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Origin {
    /// The recipe.
    Told,
    /// The file.
    Exif,
    /// Other values, which it names.
    WorkedOut(&'static str),
    /// Nowhere.
    #[default]
    Unknown,
}

impl Origin {
    /// In a word or two, where there is no room for more.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Told => "told",
            Self::Exif => "EXIF",
            Self::WorkedOut(_) => "worked out",
            Self::Unknown => "not known",
        }
    }
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Told => f.write_str("told"),
            Self::Exif => f.write_str("from the file's EXIF"),
            Self::WorkedOut(from) => write!(f, "worked out from {from}"),
            Self::Unknown => f.write_str("not known"),
        }
    }
}

/// A value, and where it came from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Known<T> {
    /// The value; None where nothing tells it.
    pub value: Option<T>,
    /// Where it came from.
    pub origin: Origin,
}

impl<T: Copy> Known<T> {
    const UNKNOWN: Self = Self {
        value: None,
        origin: Origin::Unknown,
    };

    fn of(told: Option<T>, exif: Option<T>) -> Self {
        match (told, exif) {
            (Some(_), _) => Self {
                value: told,
                origin: Origin::Told,
            },
            (None, Some(_)) => Self {
                value: exif,
                origin: Origin::Exif,
            },
            (None, None) => Self::UNKNOWN,
        }
    }

    const fn worked_out(value: T, from: &'static str) -> Self {
        Self {
            value: Some(value),
            origin: Origin::WorkedOut(from),
        }
    }
}

/// The camera that a frame was seen by, as far as it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// Sensor width and height, lying as the frame lies.
    pub sensor_mm: Known<[Extent; 2]>,
    /// Focal length.
    pub focal_mm: Known<Extent>,
    /// The focal length that takes in as much on 36 × 24 mm.
    pub focal_35_mm: Known<Extent>,
    /// What the frame takes in across.
    pub field_deg: Known<Degrees>,
    /// The stop.
    pub stop: Known<FNumber>,
    /// Exposure index.
    pub iso: Known<u32>,
    /// How long the shutter was open.
    pub shutter_s: Known<Seconds>,
    /// Distance of focus.
    pub focus_m: Known<Metres>,
    /// What the field follows from, in words: "EXIF: 26 mm in 36 × 24 terms".
    pub source: String,
    /// Whether the file's EXIF was written for a picture of another shape: it was cropped since, and the
    /// field that it tells is not this frame's.
    pub reshaped: bool,
}

impl SeenBy {
    /// With what the file's EXIF adds, for a frame of so many pixels across and down.
    #[must_use]
    pub fn with(&self, exif: &Exif, size: [usize; 2]) -> Seen {
        let reshaped = exif
            .written_for
            .is_some_and(|p| !same_shape(p.map(f64::from), size));
        let mut exif = *exif;
        if reshaped {
            exif.focal_35_mm = None;
            exif.sensor_mm = None;
        }
        let mut seen = Seen {
            sensor_mm: Known::of(self.sensor_mm, exif.sensor_mm),
            focal_mm: Known::of(self.focal_mm, exif.focal_mm),
            focal_35_mm: Known::of(self.focal_35_mm, exif.focal_35_mm),
            field_deg: Known::of(self.field_deg, None),
            stop: Known::of(self.stop, exif.stop),
            iso: Known::of(self.iso, exif.iso),
            shutter_s: Known::of(self.shutter_s, exif.shutter_s),
            focus_m: Known::of(self.focus_m, exif.focus_m),
            source: String::new(),
            reshaped,
        };
        seen.sensor_mm.value = seen.sensor_mm.value.map(|s| lying(s, size));
        seen.complete(&exif, size);
        seen
    }

    /// Refuses a field that no rectilinear lens has, and an index that none is.
    pub(super) fn check(&self) -> Result<(), RecipeError> {
        let limits = [
            ("field_deg", self.field_deg.map(Degrees::get), 0.1, WIDEST),
            ("iso", self.iso.map(f64::from), 1.0, 1e7),
        ];
        for (name, value, low, high) in limits {
            if let Some(value) = value
                && !(low..=high).contains(&value)
            {
                let message = format!("{value} is out of range: {low} to {high}");
                return Err(RecipeError::at(format!("frame.seen_by.{name}"), message));
            }
        }
        Ok(())
    }
}

impl Seen {
    /// Works out the field, and what else follows. What the recipe tells comes before what the file does,
    /// and of either the field itself before a sensor and a lens, and those before an equivalent.
    fn complete(&mut self, exif: &Exif, size: [usize; 2]) {
        if self.sensor_mm.value.is_none()
            && let Some((focal, equal)) = exif.focal_mm.zip(exif.focal_35_mm)
        {
            let diagonal = DIAGONAL_35 * focal.get() / equal.get();
            self.sensor_mm = Known::worked_out(
                sides(diagonal, size),
                "the EXIF's focal length and its equivalent",
            );
        }
        let told = |origin| origin == Origin::Told;
        let pair = self.sensor_mm.value.zip(self.focal_mm.value);
        let (s, f) = (told(self.sensor_mm.origin), told(self.focal_mm.origin));
        let equal = self.focal_35_mm.value;
        let by_equal = |mm: Extent| 0.5 * sides(DIAGONAL_35, size)[0].get() / mm.get();
        let by_pair =
            |(sensor, focal): ([Extent; 2], Extent)| 0.5 * spanned(sensor, size) / focal.get();
        let on = |(sensor, focal): ([Extent; 2], Extent)| {
            let [w, h] = sensor.map(|mm| trimmed(mm.get(), 2));
            format!("{} mm on {w} × {h} mm", trimmed(focal.get(), 2))
        };
        let terms = |mm: Extent| format!("{} mm in 36 × 24 terms", trimmed(mm.get(), 2));
        let (tangent, from, source) = match (self.field_deg.value, pair, equal) {
            (Some(_), ..) => {
                self.source = "told".to_owned();
                return;
            }
            (None, Some(p), _) if s && f => (
                by_pair(p),
                "the sensor and the focal length",
                format!("told: {}", on(p)),
            ),
            (None, _, Some(mm)) if told(self.focal_35_mm.origin) => (
                by_equal(mm),
                "the focal length in 36 × 24 terms",
                format!("told: {}", terms(mm)),
            ),
            (None, Some(p), _) if s || f => (
                by_pair(p),
                "the sensor and the focal length",
                format!("partly told, partly EXIF: {}", on(p)),
            ),
            (None, _, Some(mm)) => (
                by_equal(mm),
                "the focal length in 36 × 24 terms",
                format!("EXIF: {}", terms(mm)),
            ),
            (None, Some(p), None) => (
                by_pair(p),
                "the sensor and the focal length",
                format!("EXIF: {}", on(p)),
            ),
            (None, None, None) => return,
        };
        let field = Degrees::clamped(2.0 * tangent.atan().to_degrees());
        self.field_deg = Known::worked_out(field, from);
        self.source = source;
    }

    /// Tangents of half of what the frame takes in across and down, its pixels being square.
    pub(super) fn half_tangents(&self, [width, height]: [usize; 2]) -> Option<[f64; 2]> {
        let across = (0.5 * self.field_deg.value?.radians()).tan();
        Some([across, across * height as f64 / width as f64])
    }

    /// Every value in words: what it is called, the value, where it came from.
    #[must_use]
    pub fn rows(&self) -> Vec<(&'static str, Option<String>, Origin)> {
        let mm = |mm: Extent| format!("{} mm", trimmed(mm.get(), 2));
        let time = |s: Seconds| match s.get() {
            s if s < 0.3 => format!("1/{} s", trimmed(1.0 / s, 2)),
            s => format!("{} s", trimmed(s, 2)),
        };
        let on =
            |[w, h]: [Extent; 2]| format!("{} × {} mm", trimmed(w.get(), 2), trimmed(h.get(), 2));
        let (focal, equal) = (&self.focal_mm, &self.focal_35_mm);
        let field = |d: Degrees| format!("{:.1}°", d.get());
        vec![
            (
                "sensor",
                self.sensor_mm.value.map(on),
                self.sensor_mm.origin,
            ),
            ("focal length", focal.value.map(mm), focal.origin),
            ("in 36 × 24 terms", equal.value.map(mm), equal.origin),
            (
                "field across",
                self.field_deg.value.map(field),
                self.field_deg.origin,
            ),
            (
                "stop",
                self.stop
                    .value
                    .map(|n| format!("f/{}", trimmed(n.get(), 2))),
                self.stop.origin,
            ),
            (
                "ISO",
                self.iso.value.map(|i| i.to_string()),
                self.iso.origin,
            ),
            (
                "shutter",
                self.shutter_s.value.map(time),
                self.shutter_s.origin,
            ),
            (
                "focus",
                self.focus_m
                    .value
                    .map(|m| format!("{} m", trimmed(m.get(), 2))),
                self.focus_m.origin,
            ),
        ]
    }
}

/// Sides of a picture of a shape whose diagonal is known.
fn sides(diagonal: f64, [width, height]: [usize; 2]) -> [Extent; 2] {
    let (w, h) = (width as f64, height as f64);
    [w, h].map(|side| Extent::clamped(diagonal * side / w.hypot(h)))
}

/// A sensor with its longer side along the frame's: a camera may have been held upright.
fn lying([a, b]: [Extent; 2], [width, height]: [usize; 2]) -> [Extent; 2] {
    let upright = height > width;
    if (b.get() > a.get()) == upright {
        [a, b]
    } else {
        [b, a]
    }
}

/// Width on the sensor of the largest picture of a shape that it holds. A frame of the sensor's own shape,
/// but for a few pixels, is as wide as the sensor.
fn spanned(sensor: [Extent; 2], size: [usize; 2]) -> f64 {
    let [w, h] = lying(sensor, size).map(Extent::get);
    if same_shape([w, h], size) {
        return w;
    }
    w.min(h * size[0] as f64 / size[1] as f64)
}

/// Whether two pictures are of one shape, however they are turned.
fn same_shape([w, h]: [f64; 2], [width, height]: [usize; 2]) -> bool {
    let ratio = |a: f64, b: f64| a.max(b) / a.min(b);
    let other = ratio(width as f64, height as f64);
    (ratio(w, h) / other - 1.0).abs() < SAME_SHAPE
}
