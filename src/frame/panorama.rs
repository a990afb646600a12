//! Pictures beyond the limits, scaled as they are read: a panorama is stitched far larger than a look at
//! glass needs.
//!
//! Every pixel of the smaller picture is the mean of the LIGHT over the area that it covers, with exact
//! fractional coverage ([`Coverage`]). The codes are held once; they become light a band of rows at a time,
//! which is averaged at once, so planes of the full size never exist.

use super::clip::Cut;
use super::develop::{Lit, Raw, Samples, light};
use super::limits::{Fault, MAX_PIXELS, MAX_SIDE};
use super::orient::Orientation;
use super::read_as::ReadAs;
use super::resize::Coverage;
use rayon::prelude::*;
use std::ops::Range;

/// Pixels that are light at full size at a time: 50 MB of it.
const BAND: usize = 1 << 22;

/// The largest size within the limits for a picture beyond them, its aspect kept; None within them.
pub(super) fn size_within(width: usize, height: usize) -> Option<(usize, usize)> {
    let (side, area) = (MAX_SIDE as f64, MAX_PIXELS as f64);
    let (w, h) = (width as f64, height as f64);
    let scale = (side / w.max(h)).min((area / (w * h)).sqrt());
    if scale >= 1.0 {
        return None;
    }
    let to = |length: f64| ((length * scale).round() as usize).max(1);
    // Rounding up both may pass the area by a row.
    let (mut across, mut down) = (to(w), to(h));
    while (across * down) as u64 > MAX_PIXELS {
        if across > down {
            across -= 1;
        } else {
            down -= 1;
        }
    }
    Some((across, down))
}

/// What there is to tell of the scaling.
pub(super) struct Small {
    from: (usize, usize),
    /// The size that it has now, as stored.
    pub(super) size: (usize, usize),
}

impl Small {
    /// For the still's sentence: the sizes as they stand upright.
    pub(super) fn words(&self, orientation: Orientation) -> String {
        let upright = |(w, h)| {
            if orientation.transposes() {
                (h, w)
            } else {
                (w, h)
            }
        };
        let ((w, h), (to_w, to_h)) = (upright(self.from), upright(self.size));
        format!(
            "scaled from {w} × {h} to {to_w} × {to_h} pixels, each the mean of the light under it"
        )
    }
}

/// The light of a picture of integers, scaled to `size`; its samples are used up. What was `cut` off comes
/// back for the smaller pixels: those that any such pixel lies under.
pub(super) fn shrink(
    raw: &mut Raw,
    how: &ReadAs,
    cut: Option<Cut>,
    size: (usize, usize),
) -> Result<(Lit, Option<Cut>, Small), Fault> {
    let (width, height) = (raw.width, raw.height);
    let samples = std::mem::replace(&mut raw.samples, Samples::U8(Vec::new()));
    let mut mean = Mean::new((width, height), size);
    let cut = cut.map(|cut| cut.scaled(|flags| mean.any(flags)));
    let rows = (BAND / width).max(1);
    let mut first: Option<Lit> = None;
    for start in (0..height).step_by(rows) {
        let band = start..(start + rows).min(height);
        let mut part = strip(raw, &samples, band.clone())?;
        // A profile is parsed and its tables are built for every band: milliseconds of its second.
        part.gain = raw.gain.take();
        let lit = light(&mut part, how, band.clone(), height);
        raw.gain = part.gain;
        let mut lit = lit?;
        mean.add(&lit.planes, &band);
        lit.planes = [(); 3].map(|()| Vec::new());
        match &mut first {
            None => {
                raw.notes.append(&mut part.notes);
                first = Some(lit);
            }
            Some(first) => {
                let both = first.brightest.zip(lit.brightest);
                first.brightest = both.map(|(a, b)| a.max(b));
            }
        }
    }
    let mut lit = first.ok_or(Fault::Side(width as u64, height as u64, MAX_SIDE))?;
    lit.planes = mean.planes;
    let small = Small {
        from: (width, height),
        size,
    };
    Ok((lit, cut, small))
}

/// Rows of a picture as a picture of their own, its codes copied.
fn strip(raw: &Raw, samples: &Samples, rows: Range<usize>) -> Result<Raw, Fault> {
    let row = raw.width * raw.channels;
    let range = rows.start * row..rows.end * row;
    let short = || Fault::refused("holds too few samples");
    let samples = match samples {
        Samples::U8(v) => Samples::U8(v.get(range).ok_or_else(short)?.to_vec()),
        Samples::U16(v) => Samples::U16(v.get(range).ok_or_else(short)?.to_vec()),
        Samples::F32(_) | Samples::Planes(_) => {
            let (w, h) = (raw.width as u64, raw.height as u64);
            return Err(if w.max(h) > MAX_SIDE {
                Fault::Side(w, h, MAX_SIDE)
            } else {
                Fault::Area(w, h, MAX_PIXELS)
            });
        }
    };
    Ok(Raw {
        width: raw.width,
        height: rows.len(),
        samples,
        channels: raw.channels,
        orientation: raw.orientation,
        tag: raw.tag.clone(),
        kind: String::new(),
        bits: raw.bits,
        exif: raw.exif,
        notes: Vec::new(),
        gain: None,
    })
}

/// The smaller picture while its bands arrive, from the top.
struct Mean {
    across: Coverage,
    down: Coverage,
    from: (usize, usize),
    to: (usize, usize),
    planes: [Vec<f32>; 3],
}

impl Mean {
    fn new(from: (usize, usize), to: (usize, usize)) -> Self {
        Self {
            across: Coverage::new(from.0, to.0),
            down: Coverage::new(from.1, to.1),
            from,
            to,
            planes: [(); 3].map(|()| vec![0.0; to.0 * to.1]),
        }
    }

    /// The smaller picture's rows that have a part in a band.
    fn under(&self, band: &Range<usize>) -> Range<usize> {
        band.start * self.to.1 / self.from.1..(band.end * self.to.1).div_ceil(self.from.1)
    }

    /// Adds a band's light.
    fn add(&mut self, planes: &[Vec<f32>; 3], band: &Range<usize>) {
        let (width, small) = (self.from.0, self.to.0);
        let rows = self.under(band);
        let (across, down) = (&self.across, &self.down);
        for (plane, out) in planes.iter().zip(&mut self.planes) {
            let mut narrow = vec![0.0_f32; band.len() * small];
            let lines = narrow.par_chunks_mut(small).zip(plane.par_chunks(width));
            lines.for_each(|(narrow, line)| {
                for (x, out) in narrow.iter_mut().enumerate() {
                    let (first, weights) = across.of(x);
                    let cells = &line[first..first + weights.len()];
                    *out = weights.iter().zip(cells).map(|(&w, &v)| w * v).sum();
                }
            });
            let out = &mut out[rows.start * small..rows.end * small];
            out.par_chunks_mut(small).enumerate().for_each(|(i, out)| {
                let (first, weights) = down.of(rows.start + i);
                for (y, &weight) in (first..).zip(weights).filter(|(y, _)| band.contains(y)) {
                    let line = &narrow[(y - band.start) * small..][..small];
                    out.iter_mut()
                        .zip(line)
                        .for_each(|(o, &v)| *o += weight * v);
                }
            });
        }
    }

    /// Flags of the full size for the smaller one: any pixel under a smaller one raises its own.
    fn any(&self, flags: &[u8]) -> Vec<u8> {
        let (width, small) = (self.from.0, self.to.0);
        let mut out = vec![0; small * self.to.1];
        out.par_chunks_mut(small).enumerate().for_each(|(y, out)| {
            let (first, weights) = self.down.of(y);
            for y in first..first + weights.len() {
                let line = &flags[y * width..][..width];
                for (x, out) in out.iter_mut().enumerate() {
                    let (first, weights) = self.across.of(x);
                    *out |= line[first..first + weights.len()]
                        .iter()
                        .fold(0, |a, f| a | f);
                }
            }
        });
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_largest_size_within_the_limits() {
        assert_eq!(size_within(16_384, 6_103), None, "within");
        assert_eq!(size_within(32_768, 100), Some((16_384, 50)), "by its side");
        assert_eq!(
            size_within(20_000, 20_000),
            Some((10_000, 10_000)),
            "by its area"
        );
        assert_eq!(size_within(1, 65_535), Some((1, 16_384)), "a line");
        for (w, h) in [
            (16_385, 6_103),
            (20_011, 19_867),
            (65_535, 6_103),
            (17_001, 11_113),
        ] {
            let (across, down) = size_within(w, h).unwrap();
            let area = (across * down) as u64;
            assert!(across <= 16_384 && area <= MAX_PIXELS, "{across} × {down}");
            let aspect = (across as f64 / down as f64) / (w as f64 / h as f64);
            assert!(
                (aspect - 1.0).abs() < 1.5 / down as f64,
                "aspect kept: {aspect}"
            );
            let full = across == 16_384 || area > MAX_PIXELS - 40_000;
            assert!(full, "and no smaller than need be: {across} × {down}");
        }
    }
}
