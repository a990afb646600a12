//! Gain maps: a second, smaller picture in the file that says how much brighter than its plain picture each
//! place is on a display that can show it.
//!
//! A telephone cuts its picture at white for plain displays and keeps what lay above in the map. With the
//! map applied in full the highlights come back as far as the camera rendered them, which is nearer to the
//! scene than white, and no measurement of it. Source: ISO 21496-1 (from memory): of a plain picture's
//! linear light b, 1 its white, and the map's code g in 0..1, channel by channel,
//!
//!   light = (b + offset of base) · 2^(w · (min + (max − min) · g^(1/gamma))) − offset of alternate
//!
//! with w = 1, the whole way to the alternate picture; min and max are in stops. The map is laid over the
//! picture border to border and interpolated straight between its pixels' centres, before the power. A map
//! of one channel serves all three. The arithmetic is done in the primaries of the plain picture, or of the
//! alternate one (the map's own profile) where the file says so.

mod iso;
mod xmp;

pub(super) use xmp::listed;

use super::matrix::mul;
use crate::colour::Matrix3;
use rayon::prelude::*;
use std::ops::Range;

/// Steps of the table of gains between two codes of the map: straight between them a gain of `max − min`
/// stops is off by (0.69·(max − min)/16 320)²/8, 1e-9 of itself at two stops and γ 1; with another γ only
/// codes under 1 are off by more.
const STEPS: usize = 64;
/// Gains and headroom beyond ten stops are no picture's, but damage: 203 cd/m² up to the top of PQ are 5.6.
const MOST_STOPS: f64 = 10.0;

/// What a file has beside its plain picture.
pub(super) enum Gain {
    /// A map to apply.
    Map(Box<GainMap>),
    /// A map that leads to a darker picture: the plain one is the brighter.
    Darker,
    /// A map that cannot be used, and why, in a few words.
    Unusable(String),
}

/// A gain map.
pub(super) struct GainMap {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Interleaved, one or three samples a pixel.
    pub(super) codes: Vec<u8>,
    pub(super) about: About,
    /// From the alternate picture's primaries to working light, where the arithmetic is done in those.
    pub(super) alternate: Option<Matrix3>,
}

/// What the metadata says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct About {
    channels: [Channel; 3],
    /// Headroom of a display, in stops, that shows the plain picture, and of one that shows the other.
    base_headroom: f64,
    alternate_headroom: f64,
    /// Whether the arithmetic is done in the plain picture's primaries.
    pub(super) base_primaries: bool,
}

/// One channel's terms of the formula.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Channel {
    min: f64,
    max: f64,
    gamma: f64,
    offset_base: f64,
    offset_alternate: f64,
}

impl About {
    /// From the binary form, after its name and null byte.
    pub(super) fn from_iso(bytes: &[u8]) -> Result<Self, String> {
        iso::parse(bytes)?.checked()
    }

    /// From an XMP packet; None where it holds no metadata of a gain map.
    pub(super) fn from_xmp(text: &str) -> Option<Result<Self, String>> {
        Some(xmp::about(text)?.and_then(Self::checked))
    }

    /// Whether the plain picture is the brighter one of the pair.
    pub(super) fn darkens(&self) -> bool {
        self.base_headroom > self.alternate_headroom
    }

    fn checked(self) -> Result<Self, String> {
        let stops = -MOST_STOPS..=MOST_STOPS;
        let headroom = [self.base_headroom, self.alternate_headroom];
        if let Some(h) = headroom.iter().find(|h| !(0.0..=MOST_STOPS).contains(*h)) {
            return Err(format!("its headroom of {} stops is absurd", figure(*h)));
        }
        for c in self.channels {
            let gains = stops.contains(&c.min) && stops.contains(&c.max);
            if !gains || c.min > c.max {
                let (min, max) = (figure(c.min), figure(c.max));
                return Err(format!("its gain of {min} to {max} stops is absurd"));
            }
            if !(0.01..=100.0).contains(&c.gamma) {
                return Err(format!("its gamma of {} is absurd", figure(c.gamma)));
            }
            let offsets = [c.offset_base, c.offset_alternate];
            if let Some(o) = offsets.iter().find(|o| !(-1.0..=1.0).contains(*o)) {
                return Err(format!("its offset of {} is absurd", figure(*o)));
            }
        }
        Ok(self)
    }
}

/// A number from outside, short.
fn figure(v: f64) -> String {
    if v.abs() < 1e6 {
        let text = format!("{v:.3}");
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        format!("{v:e}")
    }
}

/// Where a row or column of the picture falls in the map: the lower neighbour, the upper, the upper's share.
#[derive(Clone, Copy)]
struct Between(usize, usize, f32);

impl Between {
    fn of(index: usize, length: usize, map: usize) -> Self {
        let at = ((index as f64 + 0.5) * map as f64 / length as f64 - 0.5).max(0.0);
        let low = (at as usize).min(map - 1);
        Self(low, (low + 1).min(map - 1), (at - low as f64) as f32)
    }
}

impl GainMap {
    /// Applies the map to rows `rows` of a picture of `width × height`, in working light, and gives the
    /// largest light that any channel now has, white being 1.
    ///
    /// `to_working` leads from the plain picture's primaries to working light.
    pub(super) fn apply(
        &self,
        planes: &mut [Vec<f32>; 3],
        (width, height): (usize, usize),
        rows: Range<usize>,
        to_working: &Matrix3,
    ) -> f32 {
        let to_working = self.alternate.unwrap_or(*to_working);
        let from_working = to_working.inverse().unwrap_or(Matrix3::IDENTITY);
        let (back, there) = (from_working.rows_f32(), to_working.rows_f32());
        let tables = self.about.channels.map(|c| c.table());
        let offsets = self
            .about
            .channels
            .map(|c| (c.offset_base as f32, c.offset_alternate as f32));
        let columns: Vec<Between> = (0..width)
            .map(|x| Between::of(x, width, self.width))
            .collect();
        let of_codes = self.codes.len() / (self.width * self.height);
        let [r, g, b] = planes;
        r.par_chunks_mut(width)
            .zip(g.par_chunks_mut(width))
            .zip(b.par_chunks_mut(width))
            .zip(rows)
            .map_init(Vec::new, |line, (((r, g), b), y)| {
                self.line(Between::of(y, height, self.height), of_codes, line);
                let mut brightest = 0.0_f32;
                let pixels = r.iter_mut().zip(g).zip(b).zip(&columns);
                for (((r, g), b), &Between(low, high, part)) in pixels {
                    let mut lit = mul(&back, [*r, *g, *b]);
                    for (c, v) in lit.iter_mut().enumerate() {
                        let sample = if of_codes == 1 { 0 } else { c };
                        let (p, q) = (
                            line[low * of_codes + sample],
                            line[high * of_codes + sample],
                        );
                        let gain = at(&tables[c], p + part * (q - p));
                        *v = (*v + offsets[c].0) * gain - offsets[c].1;
                        brightest = brightest.max(*v);
                    }
                    [*r, *g, *b] = mul(&there, lit);
                }
                brightest
            })
            .reduce(|| 0.0, f32::max)
    }

    /// The map's codes along a row of the picture.
    fn line(&self, Between(low, high, part): Between, of_codes: usize, out: &mut Vec<f32>) {
        let row =
            |y: usize| &self.codes[y * self.width * of_codes..(y + 1) * self.width * of_codes];
        out.clear();
        out.extend(row(low).iter().zip(row(high)).map(|(&p, &q)| {
            let (p, q) = (f32::from(p), f32::from(q));
            p + part * (q - p)
        }));
    }
}

impl Channel {
    /// The gain of every code and of the steps between.
    fn table(&self) -> Vec<f32> {
        let top = 255 * STEPS;
        (0..=top)
            .map(|k| {
                let lifted = (k as f64 / top as f64).powf(1.0 / self.gamma);
                (self.min + (self.max - self.min) * lifted).exp2() as f32
            })
            .collect()
    }
}

/// The gain of a code between 0 and 255.
fn at(table: &[f32], code: f32) -> f32 {
    let place = code * STEPS as f32;
    let low = (place as usize).min(table.len() - 2);
    table[low] + (place - low as f32) * (table[low + 1] - table[low])
}

/// What was done with the light above white, for a still's sentence.
pub(super) fn words(brightest: f32) -> String {
    let stops = brightest.log2();
    if stops < 0.05 {
        return "its gain map leaves nothing above white".to_owned();
    }
    format!(
        "highlights above white from its gain map, as the camera rendered them (up to +{stops:.1} stops)"
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn map(codes: &[u8], width: usize) -> GainMap {
        let channel = Channel {
            min: 0.0,
            max: 2.0,
            gamma: 1.0,
            offset_base: 0.0,
            offset_alternate: 0.0,
        };
        GainMap {
            width,
            height: codes.len() / width,
            codes: codes.to_vec(),
            about: About {
                channels: [channel; 3],
                base_headroom: 0.0,
                alternate_headroom: 2.0,
                base_primaries: true,
            },
            alternate: None,
        }
    }

    #[test]
    fn a_map_is_laid_border_to_border_between_its_pixels_centres() {
        // Two map pixels over eight: their centres lie at 2 and 6 pixels, so codes hold up to 1.5 + 0.5 and
        // rise by 255/4 a pixel between. Worked by hand.
        let mut planes = [(); 3].map(|()| vec![1.0_f32; 8]);
        let top = map(&[0, 255], 2).apply(&mut planes, (8, 1), 0..1, &Matrix3::IDENTITY);
        let parts = [0.0, 0.0, 0.125, 0.375, 0.625, 0.875, 1.0, 1.0];
        for (got, part) in planes[1].iter().zip(parts) {
            let want = (2.0_f32 * part).exp2();
            assert!((got - want).abs() < 1e-5, "{got} for {want}");
        }
        assert!((top - 4.0).abs() < 1e-5, "two stops up: {top}");
        assert_eq!(
            words(top),
            "highlights above white from its gain map, as the camera rendered them (up to +2.0 stops)",
            "in words"
        );
    }

    #[test]
    fn a_band_is_its_rows_of_the_whole() {
        let codes: Vec<u8> = (0..12_u8).map(|i| i * 20).collect();
        let (size, map) = ((10, 16), map(&codes, 3));
        let plane: Vec<f32> = (0..160_u8).map(|i| f32::from(i) / 100.0).collect();
        let mut whole = [plane.clone(), plane.clone(), plane.clone()];
        map.apply(&mut whole, size, 0..16, &Matrix3::IDENTITY);
        let mut band = [(); 3].map(|()| plane[50..90].to_vec());
        map.apply(&mut band, size, 5..9, &Matrix3::IDENTITY);
        assert_eq!(band[2], whole[2][50..90], "rows 5 to 8");
    }
}
