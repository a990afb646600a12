//! Trade sizes of sensors and of film apertures.
//!
//! Each row says where its numbers come from: "read" in the published tables that the reference values
//! of this project were taken from, "from memory" where the standard itself was not at hand, or common
//! practice. None of them is needed for a picture: a recipe holds millimetres, and a format only names
//! them.
//!
//! ```
//! use foreglass::rig::format::Format;
//! use foreglass::units::Extent;
//! let named = |w, h| Format::of([w, h].map(Extent::clamped)).map(|f| f.key);
//! assert_eq!(named(36.0, 24.0), Some("full-frame"));
//! assert_eq!(named(30.0, 20.0), None);
//! ```

use crate::units::Extent;

/// A trade size.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Format {
    /// Its name for programs.
    pub key: &'static str,
    /// Its plain name.
    pub name: &'static str,
    /// Width and height, mm.
    pub sides_mm: [f64; 2],
    /// Where the numbers come from.
    pub source: &'static str,
}

/// How far a side may be from a format's for it still to bear its name, mm: tables round to hundredths.
const NEAR_MM: f64 = 0.015;

impl Format {
    /// Every format, largest first.
    pub const ALL: [Self; 9] = [
        row(
            "65-five-perf",
            "65 mm, five perforations",
            [52.63, 23.01],
            "from memory",
        ),
        // ISO 1007, from memory.
        row("full-frame", "Full frame", [36.0, 24.0], "read"),
        // SMPTE ST 59, from memory; .980 × .735 in is 24.89 × 18.67.
        row(
            "super-35-four-perf",
            "Super 35, four perforations",
            [24.89, 18.66],
            "read",
        ),
        row(
            "super-35-three-perf",
            "Super 35, three perforations",
            [24.89, 14.0],
            "common practice, no source",
        ),
        row("academy", "Academy", [22.0, 16.0], "read"),
        row("four-thirds", "Four thirds", [17.3, 13.0], "read"),
        // SMPTE ST 201; another table prints 12.35 × 7.42, a third .488 × .295 in, 12.40 × 7.49.
        row("super-16", "Super 16", [12.52, 7.41], "from memory"),
        row("two-thirds-16-9", "2/3 in, 16:9", [9.6, 5.4], "from memory"),
        row("two-thirds-4-3", "2/3 in, 4:3", [8.8, 6.6], "read"),
    ];

    /// The format of a sensor's sides; None is custom.
    #[must_use]
    pub fn of(sensor_mm: [Extent; 2]) -> Option<&'static Self> {
        const ALL: &[Format] = &Format::ALL;
        let near = |f: &&Self| {
            let sides = sensor_mm.iter().zip(f.sides_mm);
            sides
                .into_iter()
                .all(|(s, mm)| (s.get() - mm).abs() < NEAR_MM)
        };
        ALL.iter().find(near)
    }

    /// Its sides as a camera takes them.
    #[must_use]
    pub fn sensor_mm(&self) -> [Extent; 2] {
        self.sides_mm.map(Extent::clamped)
    }
}

const fn row(
    key: &'static str,
    name: &'static str,
    sides_mm: [f64; 2],
    source: &'static str,
) -> Format {
    Format {
        key,
        name,
        sides_mm,
        source,
    }
}
