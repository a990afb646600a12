//! The plain-text LUT: keywords, then lines of three numbers.
//!
//! `LUT_3D_SIZE n` announces n³ lines, red running fastest; `LUT_1D_SIZE n` announces n lines, one curve
//! to a column. Where both are told, the n lines of the curves come first and act first. `DOMAIN_MIN` and
//! `DOMAIN_MAX` (a number for each channel), or `LUT_3D_INPUT_RANGE` and `LUT_1D_INPUT_RANGE` (one pair
//! for all), say which codes stand for the first and the last entry; 0 and 1 where they are left out.
//! `TITLE` names it; lines that begin with `#` are remarks.
//!
//! Source: the format as it is found in use; it has no standard (common practice, no source).

use super::op::Op;
use super::table::{Table1, Table3};
use super::{Lut, LutError, MAX_LUT_1D, MAX_LUT_3D, number, shortened, titled};

/// What the lines above the numbers say.
#[derive(Default)]
struct Head {
    title: Option<String>,
    size1: Option<usize>,
    size3: Option<usize>,
    low: Option<[f32; 3]>,
    high: Option<[f32; 3]>,
    range1: Option<[f32; 2]>,
    range3: Option<[f32; 2]>,
}

pub(super) fn read(text: &str) -> Result<Lut, LutError> {
    let mut head = Head::default();
    let mut rows: Vec<[f32; 3]> = Vec::new();
    for (i, line) in text.lines().enumerate() {
        let at = |message: String| LutError::at(format!("line {}", i + 1), message);
        let line = line.trim();
        if line.is_empty() || line.starts_with('#') {
            continue;
        }
        if line.starts_with(|c: char| c.is_ascii_digit() || "+-.".contains(c)) {
            let early = "numbers before LUT_3D_SIZE or LUT_1D_SIZE";
            let wanted = head.rows().ok_or_else(|| at(early.to_owned()))?;
            if rows.len() == wanted {
                return Err(at(format!("there are more than {wanted} lines of numbers")));
            }
            rows.push(numbers::<3>(line).map_err(at)?);
        } else if rows.is_empty() {
            head.take(line).map_err(at)?;
        } else {
            let word = shortened(line);
            return Err(at(format!("\"{word}\" stands among the numbers")));
        }
    }
    let whole = |message: String| LutError::at("", message);
    let wanted = head.rows().ok_or_else(|| {
        whole("this is no LUT: neither LUT_3D_SIZE nor LUT_1D_SIZE is told".to_owned())
    })?;
    if rows.len() != wanted {
        let message = format!(
            "{} lines of numbers, where {wanted} are announced",
            rows.len()
        );
        return Err(whole(message));
    }
    head.lut(rows).map_err(whole)
}

impl Head {
    /// Takes in one line with a keyword.
    fn take(&mut self, line: &str) -> Result<(), String> {
        let (word, rest) = line.split_once(char::is_whitespace).unwrap_or((line, ""));
        match word.to_ascii_uppercase().as_str() {
            "TITLE" => self.title = titled(rest.trim().trim_matches('"')),
            "LUT_1D_SIZE" => once(&mut self.size1, word, size(rest, MAX_LUT_1D)?)?,
            "LUT_3D_SIZE" => once(&mut self.size3, word, size(rest, MAX_LUT_3D)?)?,
            "DOMAIN_MIN" => once(&mut self.low, word, numbers(rest)?)?,
            "DOMAIN_MAX" => once(&mut self.high, word, numbers(rest)?)?,
            "LUT_1D_INPUT_RANGE" => once(&mut self.range1, word, numbers(rest)?)?,
            "LUT_3D_INPUT_RANGE" => once(&mut self.range3, word, numbers(rest)?)?,
            _ => return Err(format!("\"{}\" is not a keyword of a LUT", shortened(word))),
        }
        Ok(())
    }

    /// How many lines of numbers are announced; None where nothing is.
    fn rows(&self) -> Option<usize> {
        let cube = self.size3.map(|n| n * n * n);
        match (self.size1, cube) {
            (None, None) => None,
            (a, b) => Some(a.unwrap_or(0) + b.unwrap_or(0)),
        }
    }

    /// What the first and the last entry of a table stand for, where that is not 0 and 1.
    fn domain(&self, range: Option<[f32; 2]>) -> Result<Option<Op>, String> {
        let (low, high) = match (self.low, self.high, range) {
            (None, None, None) => return Ok(None),
            (None, None, Some([low, high])) => ([low; 3], [high; 3]),
            (low, high, None) => (low.unwrap_or([0.0; 3]), high.unwrap_or([1.0; 3])),
            _ => return Err("DOMAIN_MIN or DOMAIN_MAX and an INPUT_RANGE say it twice".to_owned()),
        };
        for (low, high) in low.into_iter().zip(high) {
            // Nearer together than this, single precision cannot tell codes apart in it.
            if high - low < 1e-6 {
                return Err(format!(
                    "the domain ends at {high}, not above its start {low}"
                ));
            }
        }
        let plain =
            low.iter().all(|v| v.abs() <= 0.0) && high.iter().all(|v| (v - 1.0).abs() <= 0.0);
        Ok((!plain).then(|| Op::domain(low, high)))
    }

    fn lut(self, mut rows: Vec<[f32; 3]>) -> Result<Lut, String> {
        if self.size1.is_some() && self.size3.is_some() && (self.low, self.high) != (None, None) {
            return Err(
                "DOMAIN_MIN and DOMAIN_MAX of two tables; tell each its INPUT_RANGE".into(),
            );
        }
        if self.size1.is_none() && self.range1.is_some() {
            return Err("LUT_1D_INPUT_RANGE is told, and no LUT_1D_SIZE".into());
        }
        if self.size3.is_none() && self.range3.is_some() {
            return Err("LUT_3D_INPUT_RANGE is told, and no LUT_3D_SIZE".into());
        }
        let mut ops = Vec::new();
        let mut shapes = Vec::new();
        let cube = rows.split_off(self.size1.unwrap_or(0));
        if let Some(n) = self.size1 {
            ops.extend(self.domain(self.range1)?);
            ops.push(Op::Table1(Table1 {
                entries: rows,
                half_domain: false,
                keeps_hue: false,
            }));
            shapes.push(format!("1D, {n}"));
        }
        if let Some(n) = self.size3 {
            ops.extend(self.domain(self.range3)?);
            let place = |i: usize| (i % n * n + i / n % n) * n + i / (n * n);
            ops.push(Op::Table3(Table3 {
                side: n,
                nodes: (0..cube.len()).map(|i| cube[place(i)]).collect(),
                tetrahedral: true,
            }));
            shapes.push(format!("{n}×{n}×{n}"));
        }
        Ok(Lut {
            ops,
            title: self.title,
            shape: shapes.join(", then "),
            output: None,
        })
    }
}

fn once<T>(place: &mut Option<T>, word: &str, value: T) -> Result<(), String> {
    match place.replace(value) {
        None => Ok(()),
        Some(_) => Err(format!("{} is told twice", word.to_ascii_uppercase())),
    }
}

fn size(text: &str, most: usize) -> Result<usize, String> {
    let size = text.trim().parse::<usize>().ok();
    size.filter(|n| (2..=most).contains(n))
        .ok_or_else(|| format!("size \"{}\" is out of range: 2 to {most}", shortened(text)))
}

/// The numbers of a line, `N` of them.
fn numbers<const N: usize>(line: &str) -> Result<[f32; N], String> {
    let mut out = [0.0; N];
    let mut count = 0;
    for word in line.split_ascii_whitespace() {
        let value = number(word)?;
        if let Some(place) = out.get_mut(count) {
            *place = value;
        }
        count += 1;
    }
    if count == N {
        return Ok(out);
    }
    Err(format!("{count} numbers, where {N} belong"))
}
