//! Glass by its own measured spectrum: a table of wavelength and transmittance.
//!
//! Law: τ(λ) from the table's points, joined by straight lines. Between 400 and 700 nm the table has
//! to say all; from its ends to 380 and 780 nm its end values hold. Where it is finer than the 5 nm of
//! [`Spectrum`], each sample is the mean over its 5 nm, so that narrow bands are not missed.
//!
//! The table is text: two columns apart by comma, semicolon, tab or spaces, wavelengths in nm and
//! rising. Lines that begin with `#` are remarks, and the first of them is what the glass is called.
//! A heading may stand above the numbers; where it says `%` or "per cent" the values are per cent, else
//! 0 to 1. Where the columns are not apart by commas, a comma in a number is its decimal point. Noise
//! of 1 % below 0 and above 1 is taken and clipped.
//!
//! Source: the person's own measurement or a maker's table; averaging over the step as in CIE 15.
//!
//! ```
//! use foreglass::{colour::illuminant, glass::Family};
//! let table = "# Wheelhouse pane\nnm;%\n380;50\n780;50\n";
//! let options = serde_json::json!({"csv": table});
//! let pane = Family::find("spectrum")?.piece(None, options.as_object().unwrap())?;
//! assert_eq!(pane.name(), "Spectrum: Wheelhouse pane");
//! assert!((pane.law().flat_loss(&illuminant::d65()).get() - 1.0).abs() < 1e-12);
//! # Ok::<(), foreglass::glass::GlassError>(())
//! ```

use super::control::{Control, Kind};
use super::law::{COATED, Law, UNCOATED};
use super::{Family, Made, OptionError, read_options, refuse};
use crate::colour::spectrum::Spectrum;
use crate::units::Nanometres;

/// Longest table taken, and the most lines of numbers: a recipe of five of them is still read.
const LONGEST: usize = 1 << 16;
const MOST: usize = 4096;
/// Wavelengths taken, nm, and those that a table has to reach.
const WAVELENGTHS: [f64; 2] = [100.0, 10_000.0];
const NEEDED: [f64; 2] = [400.0, 700.0];
/// Noise of a measurement that is clipped rather than refused.
const NOISE: f64 = 0.01;
/// Letters of a remark or of a wrong field that are shown.
const SHOWN: usize = 40;

pub(super) static FAMILY: Family = Family {
    key: "spectrum",
    name: "Spectrum",
    purpose: "Glass by its own measured transmittance, read from a table.",
    source: "The table's own transmittances, joined by straight lines, 380 to 780 nm in 5 nm steps",
    honesty: "As good as the table; its end values hold where it ends. What it scatters is not in it.",
    strengths: &[],
    controls: &[
        Control {
            name: "csv",
            label: "Table",
            help: "Two columns: wavelength in nm, rising, and transmittance, 0 to 1 or per cent.",
            kind: Kind::File {
                kinds: &[("Tables", &["csv", "txt", "tsv"])],
            },
        },
        Control {
            name: "faces",
            label: "Faces",
            help: "Whether the table counts what the faces send back, or which faces to add.",
            kind: Kind::Choice {
                words: &["included", "coated", "uncoated"],
                default: Some("included"),
            },
        },
    ],
    make: |_, options| {
        let o: Options = read_options(options)?;
        let faces = match o.faces {
            Faces::Included => 1.0,
            Faces::Coated => COATED,
            Faces::Uncoated => UNCOATED,
        };
        let Some(text) = o.csv else {
            let law = Law {
                caution: Some("No table is loaded, so that this glass changes nothing."),
                ..Law::neutral(1.0)
            };
            return Ok(Made {
                law,
                name: "Spectrum".to_owned(),
                nominal_loss: None,
                nominal_shift: None,
            });
        };
        let table = Table::read(&text)?;
        Ok(Made {
            law: Law {
                tau: table.spectrum().scaled(faces),
                ..Law::neutral(1.0)
            },
            name: table
                .name
                .map_or("Spectrum".to_owned(), |n| format!("Spectrum: {n}")),
            nominal_loss: None,
            nominal_shift: None,
        })
    },
};

#[derive(serde::Deserialize, Default)]
#[serde(deny_unknown_fields, default)]
struct Options {
    csv: Option<String>,
    faces: Faces,
}

#[derive(serde::Deserialize, Default)]
#[serde(rename_all = "lowercase")]
enum Faces {
    #[default]
    Included,
    Coated,
    Uncoated,
}

/// A table that was read: what it is called, and wavelength in nm and transmittance, rising.
struct Table {
    name: Option<String>,
    points: Vec<(f64, f64)>,
}

impl Table {
    fn read(text: &str) -> Result<Self, OptionError> {
        let bad = |message: String| refuse("csv", message);
        if text.len() > LONGEST {
            let limit = format!(
                "the table is {} bytes long; the limit is {LONGEST}",
                text.len()
            );
            return Err(bad(limit));
        }
        if !text.trim().contains('\n') {
            let words = format!(
                "\"{}\" is one line: a table of wavelength and transmittance is wanted, or the \
                 path of a file where a recipe is read from disk",
                shortened(text)
            );
            return Err(bad(words));
        }
        let mut table = Self {
            name: None,
            points: Vec::new(),
        };
        let mut heading = None;
        for (i, line) in text.trim_start_matches('\u{feff}').lines().enumerate() {
            table
                .take(line, &mut heading)
                .map_err(|e| bad(format!("line {}: {e}", i + 1)))?;
        }
        let (Some(first), Some(last)) = (table.points.first(), table.points.last()) else {
            return Err(bad("the table has no numbers".to_owned()));
        };
        let [from, to] = NEEDED;
        if first.0 > from || last.0 < to {
            let words = format!(
                "the table covers {} to {} nm; {from} to {to} nm is needed",
                first.0, last.0
            );
            return Err(bad(words));
        }
        Ok(table)
    }

    /// Takes in one line. `heading` is the factor on the values, once anything but remarks was read.
    fn take(&mut self, line: &str, heading: &mut Option<f64>) -> Result<(), String> {
        if line.chars().any(|c| c.is_control() && c != '\t') {
            return Err("holds a control character: this is not a table".to_owned());
        }
        let line = line.trim();
        if let Some(remark) = line.strip_prefix('#') {
            let remark = shortened(remark.trim_start_matches('#'));
            if self.name.is_none() && !remark.is_empty() {
                self.name = Some(remark);
            }
            return Ok(());
        }
        if line.is_empty() {
            return Ok(());
        }
        let fields = fields(line);
        let [wavelength, value] = fields.as_slice() else {
            let count = fields.len();
            return Err(format!(
                "has {count} columns; there are two, wavelength and transmittance"
            ));
        };
        let numbers = [wavelength, value].map(|f| f.parse::<f64>().ok().filter(|v| v.is_finite()));
        let (wavelength, value) = match (numbers, &heading) {
            ([Some(w), Some(v)], _) => (w, v * *heading.get_or_insert(1.0)),
            (_, None) => {
                *heading = Some(factor(line)?);
                return Ok(());
            }
            ([None, _], _) => return Err(format!("\"{}\" is not a number", shortened(wavelength))),
            _ => return Err(format!("\"{}\" is not a number", shortened(value))),
        };
        self.add(wavelength, value)
    }

    fn add(&mut self, wavelength: f64, value: f64) -> Result<(), String> {
        let [low, high] = WAVELENGTHS;
        if !(low..=high).contains(&wavelength) {
            return Err(format!(
                "wavelength {wavelength} is out of range: {low} to {high} nm"
            ));
        }
        if let Some((before, _)) = self.points.last()
            && wavelength <= *before
        {
            return Err(format!(
                "wavelength {wavelength} does not rise above {before} before it"
            ));
        }
        if !(-NOISE..=1.0 + NOISE).contains(&value) {
            return Err(format!(
                "transmittance {value} is out of range: 0 to 1; a table in per cent says % in its \
                 heading"
            ));
        }
        if self.points.len() >= MOST {
            return Err(format!(
                "more than {MOST} lines of numbers; that is the limit"
            ));
        }
        self.points.push((wavelength, value.clamp(0.0, 1.0)));
        Ok(())
    }

    /// Transmittance at a wavelength; the end values beyond the ends.
    fn at(&self, wavelength: f64) -> f64 {
        let after = self.points.partition_point(|p| p.0 <= wavelength);
        match (
            after.checked_sub(1).map(|i| self.points[i]),
            self.points.get(after),
        ) {
            (Some((a, va)), Some((b, vb))) => va + (vb - va) * (wavelength - a) / (b - a),
            (Some((_, v)), None) | (None, Some(&(_, v))) => v,
            (None, None) => 0.0,
        }
    }

    fn spectrum(&self) -> Spectrum {
        let step = Spectrum::STEP;
        let finer = self
            .points
            .windows(2)
            .any(|p| p[1].0 - p[0].0 < step && p[1].0 > Spectrum::FIRST);
        Spectrum::from_fn(|wavelength: Nanometres| {
            let middle = wavelength.get();
            if finer {
                self.mean(middle - step / 2.0, middle + step / 2.0)
            } else {
                self.at(middle)
            }
        })
    }

    /// The mean from `low` to `high`, exact for straight lines between the points.
    fn mean(&self, low: f64, high: f64) -> f64 {
        let inside = self
            .points
            .iter()
            .map(|p| p.0)
            .filter(|w| (low..high).contains(w));
        let mut stops = vec![low];
        stops.extend(inside);
        stops.push(high);
        let area: f64 = stops
            .windows(2)
            .map(|w| (w[1] - w[0]) * f64::midpoint(self.at(w[0]), self.at(w[1])))
            .sum();
        area / (high - low)
    }
}

/// The factor on the values that a heading tells.
fn factor(heading: &str) -> Result<f64, String> {
    let heading = heading.to_lowercase();
    if ["density", "absorb", "optical d", "reflect"]
        .iter()
        .any(|w| heading.contains(w))
    {
        return Err(
            "the heading does not tell of transmittance, and nothing else is read".to_owned(),
        );
    }
    let per_cent = ["%", "per cent", "percent"]
        .iter()
        .any(|w| heading.contains(w));
    Ok(if per_cent { 0.01 } else { 1.0 })
}

/// A line's fields, decimal points for decimal commas, without quotes and empty last ones.
fn fields(line: &str) -> Vec<String> {
    let clean = |f: &str| f.trim().trim_matches('"').trim().to_owned();
    let mut fields: Vec<String> = if line.contains([';', '\t']) {
        line.split([';', '\t'])
            .map(|f| clean(f).replace(',', "."))
            .collect()
    } else if line.contains(',') {
        line.split(',').map(clean).collect()
    } else {
        line.split_whitespace().map(clean).collect()
    };
    while fields.len() > 2 && fields.last().is_some_and(String::is_empty) {
        fields.pop();
    }
    fields
}

/// A few letters of a text, on one line.
fn shortened(text: &str) -> String {
    let text = text.trim();
    let mut short: String = text
        .chars()
        .filter(|c| !c.is_control())
        .take(SHOWN)
        .collect();
    if text.chars().count() > SHOWN {
        short.push('…');
    }
    short
}
