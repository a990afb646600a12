//! From decoded samples to a frame: curves, primaries, orientation.

use super::clip::Cut;
use super::exif::Exif;
use super::gain_map::{self, Gain};
use super::icc::{self, Lane, Profile};
use super::limits::Fault;
use super::matrix::{self, dot};
use super::native::Native;
use super::orient::Orientation;
use super::read_as::{ReadAs, through};
use super::{Encoding, Frame, decode::Still, panorama};
use crate::colour::Matrix3;
use crate::colour::primaries::{Space, to_working_from};
use crate::colour::transfer::Curve;
use rayon::prelude::*;
use std::ops::Range;
use std::sync::Arc;

/// Largest light kept from a file of floats; beyond it only damage lies, and sums stay finite.
const LARGEST: f32 = 1e9;
/// What an infinite pixel becomes: the largest half-precision number.
const INFINITE: f32 = 65_504.0;

/// Pixels of a row that are made light together; they stay in the nearest cache.
const TOGETHER: usize = 512;

/// Samples as a decoder left them; all but `Planes` interleaved.
pub(super) enum Samples {
    U8(Vec<u8>),
    U16(Vec<u16>),
    F32(Vec<f32>),
    Planes([Vec<f32>; 3]),
}

/// What a file says about its colours.
#[derive(Clone)]
pub(super) enum Tag {
    None,
    Icc(Vec<u8>),
    /// Colour primaries and transfer characteristics of ITU-T H.273.
    Cicp(u8, u8),
    /// Red, green, blue, white; linear.
    Chromaticities([[f64; 2]; 4]),
}

/// A decoded still, not yet light.
pub(super) struct Raw {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) samples: Samples,
    /// Samples a pixel: 1 grey, 2 grey and alpha, 3 RGB, 4 RGB and alpha (for interleaved ones).
    pub(super) channels: usize,
    pub(super) orientation: Orientation,
    pub(super) tag: Tag,
    /// "16-bit PNG".
    pub(super) kind: String,
    pub(super) bits: u8,
    /// What the file says about the camera.
    pub(super) exif: Exif,
    /// What else was done, each a few plain words.
    pub(super) notes: Vec<String>,
    /// What lies beside the plain picture.
    pub(super) gain: Option<Gain>,
}

/// How codes become working light, and the words for it.
struct Recipe {
    lanes: [Lane; 3],
    matrix: Matrix3,
    used: Encoding,
    words: String,
}

impl Recipe {
    fn of(encoding: Encoding, words: String) -> Option<Self> {
        let (space, curve) = encoding.parts()?;
        Some(Self {
            lanes: [(); 3].map(|()| Lane::Curve(curve)),
            matrix: space.to_working(),
            used: encoding,
            words,
        })
    }

    /// The way back to the channels that the codes stand for.
    fn native(&self, bits: u8) -> Native {
        // Every matrix here comes of primaries that span a plane; a damaged profile's may not.
        let inverse = self.matrix.inverse();
        let (to_working, from_working) = match inverse {
            Some(inverse) => (self.matrix, inverse),
            None => (Matrix3::IDENTITY, Matrix3::IDENTITY),
        };
        Native {
            to_working,
            from_working,
            for_display: self.lanes.iter().all(Lane::for_display),
            bits,
            clipped: None,
        }
    }

    fn free(space: Space, curve: Curve, words: String) -> Self {
        Self {
            lanes: [(); 3].map(|()| Lane::Curve(curve)),
            matrix: space.to_working(),
            used: Encoding::Auto,
            words,
        }
    }
}

/// A still, or a band of its rows, as stored.
pub(super) struct Lit {
    recipe: Recipe,
    pub(super) planes: [Vec<f32>; 3],
    /// Samples that were no usable number.
    replaced: usize,
    /// The largest light of a channel after a gain map.
    pub(super) brightest: Option<f32>,
    /// Whether each channel's codes stand for that channel's light alone.
    by_channel: bool,
}

/// The light of rows `rows` of a picture that is `height` rows high; `raw` holds those rows.
pub(super) fn light(
    raw: &mut Raw,
    how: &ReadAs,
    rows: Range<usize>,
    height: usize,
) -> Result<Lit, Fault> {
    let (recipe, unusable) = match &how.lut {
        None => (choose(raw, how.encoding)?, 0),
        Some(lut) => {
            let (words, replaced) = through(raw, lut, how.output());
            let recipe = Recipe::of(how.output(), words);
            let recipe = recipe.ok_or_else(|| Fault::refused("has no encoding that is known"))?;
            (recipe, replaced)
        }
    };
    let by_channel = matches!(raw.samples, Samples::U8(_) | Samples::U16(_));
    let (mut planes, replaced) = to_planes(raw, &recipe);
    let brightest = match &raw.gain {
        Some(Gain::Map(map)) if how.as_the_file_says() => {
            Some(map.apply(&mut planes, (raw.width, height), rows, &recipe.matrix))
        }
        _ => None,
    };
    Ok(Lit {
        recipe,
        planes,
        replaced: replaced + unusable,
        brightest,
        by_channel,
    })
}

/// The still as light.
pub(super) fn develop(mut raw: Raw, how: &ReadAs) -> Result<Still, Fault> {
    let has_alpha = raw.channels.is_multiple_of(2);
    let grey = raw.channels <= 2;
    let cut = Cut::find(&raw);
    let (lit, cut, small) = if let Some(size) = panorama::size_within(raw.width, raw.height) {
        let (lit, cut, small) = panorama::shrink(&mut raw, how, cut, size)?;
        (lit, cut, Some(small))
    } else {
        let height = raw.height;
        (light(&mut raw, how, 0..height, height)?, cut, None)
    };
    let Lit {
        recipe,
        mut planes,
        replaced,
        brightest,
        by_channel,
    } = lit;
    raw.notes.extend(gain_words(&raw, how, brightest));
    let (mut width, mut height) = (raw.width, raw.height);
    if let Some(small) = small {
        raw.notes.push(small.words(raw.orientation));
        (width, height) = small.size;
    }
    // A gain map has light where the codes ran out.
    let cut = cut.filter(|_| brightest.is_none());
    let cut = cut.map(|cut| cut.upright(raw.orientation, width, height));
    if !raw.orientation.is_upright() {
        planes = planes.map(|p| raw.orientation.apply(&p, width, height));
        if raw.orientation.transposes() {
            (width, height) = (height, width);
        }
        raw.notes
            .push("turned upright as its orientation tag says".to_owned());
    }
    if has_alpha {
        raw.notes.push("alpha dropped".to_owned());
    }
    if replaced > 0 {
        let s = if replaced == 1 {
            "sample that was"
        } else {
            "samples that were"
        };
        raw.notes
            .push(format!("{replaced} {s} not a usable number replaced"));
    }
    let how = std::iter::once(format!("{}, {}", raw.kind, recipe.words))
        .chain(raw.notes)
        .collect::<Vec<_>>()
        .join("; ");
    let mut native = recipe.native(raw.bits);
    native.clipped = match cut {
        Some(cut) if by_channel => {
            Some(cut.by_channel(|c, code| recipe.lanes[if grey { 0 } else { c }].light(code)))
        }
        Some(cut) => cut.mixed(&planes, &native.from_working),
        None => None,
    }
    .map(Arc::new);
    let frame = Frame::from_planes(width, height, planes);
    Ok(Still {
        frame,
        encoding: recipe.used,
        how,
        exif: raw.exif,
        native,
    })
}

/// What became of a gain map, for the still's sentence.
fn gain_words(raw: &Raw, how: &ReadAs, brightest: Option<f32>) -> Option<String> {
    let gain = raw.gain.as_ref()?;
    Some(match (gain, brightest) {
        (_, Some(brightest)) => gain_map::words(brightest),
        (_, None) if !how.as_the_file_says() => "its gain map not used".to_owned(),
        (Gain::Unusable(reason), None) => {
            format!("its gain map unusable ({reason}): highlights end at white")
        }
        _ => "its gain map not used: it leads to a darker picture".to_owned(),
    })
}

fn choose(raw: &mut Raw, encoding: Encoding) -> Result<Recipe, Fault> {
    let tag = std::mem::replace(&mut raw.tag, Tag::None);
    if let Some(recipe) = Recipe::of(encoding, format!("read as {}", encoding.describe())) {
        if matches!(tag, Tag::Icc(_)) {
            raw.notes.push("its embedded profile not used".to_owned());
        }
        return Ok(recipe);
    }
    let float = matches!(raw.samples, Samples::F32(_) | Samples::Planes(_));
    let plain = if float {
        Encoding::SrgbLinear
    } else {
        Encoding::Srgb
    };
    let fallback = |words: String| {
        Recipe::of(plain, words).ok_or_else(|| Fault::refused("has no encoding that is known"))
    };
    match tag {
        Tag::None => fallback(format!("untagged, read as {}", plain.describe())),
        Tag::Cicp(primaries, transfer) => match cicp(primaries, transfer) {
            Some(recipe) => Ok(recipe),
            None => fallback(format!(
                "its cICP tag ({primaries}, {transfer}) not known, read as {}",
                plain.describe()
            )),
        },
        Tag::Chromaticities(xy) => match to_working_from(xy) {
            Some(matrix) => {
                let words = "linear, primaries from its chromaticities".to_owned();
                Ok(Recipe {
                    matrix,
                    ..Recipe::free(Space::AcesCg, Curve::Linear, words)
                })
            }
            None => fallback(format!(
                "its chromaticities unusable, read as {}",
                plain.describe()
            )),
        },
        Tag::Icc(bytes) => {
            let words = "embedded ICC profile converted".to_owned();
            match icc::parse(&bytes, raw.channels <= 2) {
                Ok(Profile::Shaper(lanes, matrix)) => Ok(Recipe {
                    lanes,
                    matrix,
                    used: Encoding::Auto,
                    words,
                }),
                Ok(Profile::Tables(transform)) => {
                    let coded = through_tables(raw, transform.as_ref())?;
                    raw.samples = Samples::F32(coded);
                    raw.channels = 3;
                    Ok(Recipe::free(Space::Aces2065, Curve::Srgb, words))
                }
                Err(reason) => fallback(format!(
                    "its embedded ICC profile unusable ({reason}), read as {}",
                    plain.describe()
                )),
            }
        }
    }
}

/// ITU-T H.273 code points (tables 2 and 3) that a still is likely to carry.
fn cicp(primaries: u8, transfer: u8) -> Option<Recipe> {
    let space = match primaries {
        1 => Space::Srgb,
        9 => Space::Bt2020,
        12 => Space::DisplayP3,
        _ => return None,
    };
    let curve = match transfer {
        // A BT.709 picture is meant for a BT.1886 display.
        1 | 6 | 14 | 15 => Curve::Bt1886,
        8 => Curve::Linear,
        13 => Curve::Srgb,
        16 => Curve::Pq,
        18 => Curve::Hlg,
        _ => return None,
    };
    let used = Encoding::ALL
        .into_iter()
        .find(|e| e.parts() == Some((space, curve)));
    let words = format!("cICP tag ({primaries}, {transfer}) followed");
    let recipe = Recipe::free(space, curve, words);
    Some(Recipe {
        used: used.unwrap_or(Encoding::Auto),
        ..recipe
    })
}

/// Runs a profile made of tables over the picture: RGB triples of codes to AP0 under the sRGB curve.
fn through_tables(raw: &Raw, transform: &moxcms::TransformF32Executor) -> Result<Vec<f32>, Fault> {
    let (n, grey) = (raw.channels, raw.channels <= 2);
    let code: Box<dyn Fn(usize) -> f32 + Sync> = match &raw.samples {
        Samples::U8(v) => Box::new(move |i| f32::from(v[i]) / 255.0),
        Samples::U16(v) => Box::new(move |i| f32::from(v[i]) / 65_535.0),
        Samples::F32(v) => Box::new(move |i| v[i]),
        Samples::Planes(_) => return Err(Fault::refused("carries a profile where none belongs")),
    };
    let row = raw.width * 3;
    let mut out = vec![0.0_f32; row * raw.height];
    let done: Result<(), moxcms::CmsError> =
        out.par_chunks_mut(row)
            .enumerate()
            .try_for_each_init(Vec::new, |codes, (y, out)| {
                codes.clear();
                for pixel in y * raw.width..(y + 1) * raw.width {
                    codes.extend((0..3).map(|c| code(pixel * n + if grey { 0 } else { c })));
                }
                transform.transform(codes, out)
            });
    done.map_err(|e| Fault::refused(format!("has an ICC profile that cannot be applied: {e:?}")))?;
    Ok(out)
}

/// The planes in working light, as stored, and how many samples were no usable number.
fn to_planes(raw: &mut Raw, recipe: &Recipe) -> ([Vec<f32>; 3], usize) {
    let (width, height, channels) = (raw.width, raw.height, raw.channels);
    match std::mem::replace(&mut raw.samples, Samples::U8(Vec::new())) {
        Samples::U8(codes) => {
            let tables = tables(&recipe.lanes, 8);
            let light = |c: usize, code: u8| tables[c][usize::from(code)];
            (
                spread(&codes, (width, height, channels), &recipe.matrix, light),
                0,
            )
        }
        Samples::U16(codes) => {
            let tables = tables(&recipe.lanes, 16);
            let light = |c: usize, code: u16| tables[c][usize::from(code)];
            (
                spread(&codes, (width, height, channels), &recipe.matrix, light),
                0,
            )
        }
        Samples::F32(mut codes) => {
            let replaced = clean(&mut codes);
            let light = |c: usize, code: f32| recipe.lanes[c].light(code);
            let planes = spread(&codes, (width, height, channels), &recipe.matrix, light);
            (planes, replaced)
        }
        Samples::Planes(mut planes) => {
            let replaced = planes.iter_mut().map(|p| clean(p)).sum();
            for (plane, lane) in planes.iter_mut().zip(&recipe.lanes) {
                if !matches!(lane, Lane::Curve(Curve::Linear)) {
                    plane.par_iter_mut().for_each(|v| *v = lane.light(*v));
                }
            }
            matrix::apply(&recipe.matrix, &mut planes);
            (planes, replaced)
        }
    }
}

/// The light of every code of `bits`, for each channel.
fn tables(lanes: &[Lane; 3], bits: u32) -> [Vec<f32>; 3] {
    let top = (1_u32 << bits) - 1;
    lanes.each_ref().map(|lane| match lane {
        Lane::Curve(curve) => curve.table(bits),
        Lane::Icc(_) => (0..=top)
            .map(|k| lane.light(k as f32 / top as f32))
            .collect(),
    })
}

/// Interleaved samples to planes of working light. Grey stays exactly neutral: every matrix here
/// takes white to white.
fn spread<T: Copy + Sync>(
    codes: &[T],
    (width, height, channels): (usize, usize, usize),
    matrix: &Matrix3,
    light: impl Fn(usize, T) -> f32 + Sync,
) -> [Vec<f32>; 3] {
    if channels <= 2 {
        let grey: Vec<f32> = codes
            .par_chunks_exact(channels)
            .map(|p| light(0, p[0]))
            .collect();
        return [grey.clone(), grey.clone(), grey];
    }
    let rows = matrix.rows_f32();
    let mut planes = [(); 3].map(|()| vec![0.0_f32; width * height]);
    let [r, g, b] = &mut planes;
    codes
        .par_chunks_exact(width * channels)
        .zip(r.par_chunks_exact_mut(width))
        .zip(g.par_chunks_exact_mut(width))
        .zip(b.par_chunks_exact_mut(width))
        .for_each(|(((codes, r), g), b)| {
            // Looked up sample by sample, then multiplied in registers that hold several.
            let mut lit = [[0.0_f32; TOGETHER]; 3];
            let out = r
                .chunks_mut(TOGETHER)
                .zip(g.chunks_mut(TOGETHER))
                .zip(b.chunks_mut(TOGETHER));
            for (codes, ((r, g), b)) in codes.chunks(TOGETHER * channels).zip(out) {
                for (pixel, x) in codes.chunks_exact(channels).zip(0..TOGETHER) {
                    for (c, lit) in lit.iter_mut().enumerate() {
                        lit[x] = light(c, pixel[c]);
                    }
                }
                let light = || lit[0].iter().zip(&lit[1]).zip(&lit[2]);
                for (row, out) in rows.iter().zip([r, g, b]) {
                    for (out, ((&r, &g), &b)) in out.iter_mut().zip(light()) {
                        *out = dot(row, [r, g, b]);
                    }
                }
            }
        });
    planes
}

/// Replaces what is not a usable number: NaN by 0, ±∞ by ±65504, beyond ±1e9 by ±1e9.
pub(super) fn clean(samples: &mut [f32]) -> usize {
    samples
        .par_chunks_mut(matrix::RUN)
        .map(|run| {
            let mut replaced = 0;
            for v in run.iter_mut().filter(|v| v.is_nan() || v.abs() > LARGEST) {
                replaced += 1;
                *v = match *v {
                    v if v.is_nan() => 0.0,
                    v if v.is_infinite() => INFINITE.copysign(v),
                    v => LARGEST.copysign(v),
                };
            }
            replaced
        })
        .sum()
}
