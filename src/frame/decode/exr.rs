//! EXR: half, float or integer channels R, G, B (or Y alone), scan lines or tiles, one layer.
//!
//! The header is parsed and judged before any pixel is asked for: the decoder allocates what the
//! header says, and a window of 2³¹ pixels or a corrupt DWA block would take the whole process down,
//! which nothing can catch. Blocks are then decompressed here, a batch at a time on all cores.
//!
//! The picture is the display window: what the data window has outside it is cut off, what it lacks
//! inside is black. Source: OpenEXR technical introduction, "Pixel space".

use crate::frame::Exif;
use crate::frame::develop::{Raw, Samples, Tag};
use crate::frame::limits::{Fault, MAX_CHANNELS, check_sides};
use crate::frame::orient::Orientation;
use exr::block::chunk::Chunk;
use exr::block::{BlockIndex, UncompressedBlock};
use exr::compression::Compression;
use exr::math::Vec2;
use exr::meta::MetaData;
use exr::meta::attribute::{ChannelList, IntegerBounds, SampleType};
use exr::meta::header::Header;
use exr::prelude::f16;
use rayon::prelude::*;
use std::collections::BTreeMap;
use std::io::Cursor;

/// Blocks decompressed before they are put in place: bounds memory beside the picture.
const BATCH: usize = 64;

pub(super) fn decode(bytes: &[u8]) -> Result<Raw, Fault> {
    let damaged = |e: exr::error::Error| Fault::damaged("EXR", &e);
    let meta = MetaData::read_from_buffered(Cursor::new(bytes), false).map_err(damaged)?;
    for header in &meta.headers {
        judge(header)?;
    }
    let (layer, picked) = pick(&meta.headers)?;
    let header = &meta.headers[layer];
    let display = header.shared_attributes.display_window;
    let (width, height) = check_sides(display.size.x() as u64, display.size.y() as u64)?;
    let place = Placing::new(header, picked.channels, width, height)?;

    let wanted = move |_: &MetaData, tile: exr::block::chunk::TileCoordinates, b: BlockIndex| {
        b.layer == layer && tile.level_index == Vec2(0, 0)
    };
    let reader = exr::block::read(Cursor::new(bytes), false).map_err(damaged)?;
    let mut chunks = reader.filter_chunks(false, wanted).map_err(damaged)?;
    let mut planes = [(); 3].map(|()| vec![0.0_f32; width * height]);
    let colours = if picked.grey { 1 } else { 3 };
    let mut filled = 0_usize;
    loop {
        let batch: Vec<Chunk> = chunks
            .by_ref()
            .take(BATCH)
            .collect::<Result<_, _>>()
            .map_err(damaged)?;
        if batch.is_empty() {
            break;
        }
        let blocks: Vec<Vec<Run>> = batch
            .into_par_iter()
            .map(|chunk| place.runs(chunk, &meta).map_err(damaged))
            .collect::<Result<_, _>>()?;
        for run in blocks.into_iter().flatten() {
            let end = run.start + run.light.len();
            let Some(line) = planes[run.colour].get_mut(run.start..end) else {
                return Err(Fault::damaged("EXR", &"a block lies outside the picture"));
            };
            line.copy_from_slice(&run.light);
            filled += run.light.len();
        }
    }
    if picked.grey {
        let [y, ..] = planes;
        planes = [y.clone(), y.clone(), y];
    }
    let mut notes = picked.notes;
    if filled < width * height * colours {
        notes.push("black where the data window leaves the display window empty".to_owned());
    }
    let aspect = header.shared_attributes.pixel_aspect;
    if aspect.is_finite() && (aspect - 1.0).abs() > 1e-3 {
        notes.push(format!("its pixel aspect {aspect} not applied"));
    }
    let tag = header
        .shared_attributes
        .chromaticities
        .map_or(Tag::None, |c| {
            let xy = |v: Vec2<f32>| [f64::from(v.x()), f64::from(v.y())];
            Tag::Chromaticities([xy(c.red), xy(c.green), xy(c.blue), xy(c.white)])
        });
    let (bits, words) = picked.depth;
    Ok(Raw {
        width,
        height,
        samples: Samples::Planes(planes),
        channels: 3,
        orientation: Orientation::UPRIGHT,
        tag,
        kind: format!("{words} EXR"),
        bits,
        exif: Exif::default(),
        notes,
        gain: None,
    })
}

/// Refuses what the decoder cannot be trusted with, in any layer of the file.
fn judge(header: &Header) -> Result<(), Fault> {
    let data = header.layer_size;
    let display = header.shared_attributes.display_window.size;
    check_sides(data.x() as u64, data.y() as u64)?;
    check_sides(display.x() as u64, display.y() as u64)?;
    if header.channels.list.len() > MAX_CHANNELS {
        return Err(Fault::refused(format!(
            "has {} channels in one layer; the limit is {MAX_CHANNELS}",
            header.channels.list.len()
        )));
    }
    match header.compression {
        Compression::DWAA(_) | Compression::DWAB(_) => Err(Fault::refused(
            "is compressed as DWAA or DWAB, which is not read: save it as ZIP, PIZ or uncompressed",
        )),
        Compression::HTJ2K32 | Compression::HTJ2K256 => Err(Fault::refused(
            "is compressed as HTJ2K, which is not read: save it as ZIP, PIZ or uncompressed",
        )),
        _ if header.deep => Err(Fault::refused(
            "holds deep data, several samples a pixel, which is not read: flatten it first",
        )),
        _ => Ok(()),
    }
}

struct Picked {
    /// Indices of red, green and blue; three times Y where `grey`.
    channels: [usize; 3],
    grey: bool,
    depth: (u8, &'static str),
    notes: Vec<String>,
}

/// The first layer with R, G and B (any case, perhaps behind a layer's name and a dot); without one,
/// the first Y.
fn pick(headers: &[Header]) -> Result<(usize, Picked), Fault> {
    let mut grey = None;
    for (index, header) in headers.iter().enumerate() {
        // Plain names sort first, so they come before any named layer's.
        let mut groups: BTreeMap<String, [Option<usize>; 4]> = BTreeMap::new();
        for (i, channel) in header.channels.list.iter().enumerate() {
            let name = channel.name.to_string();
            let (prefix, base) = name.rsplit_once('.').unwrap_or(("", &name));
            let slot = match base.to_ascii_lowercase().as_str() {
                "r" | "red" => 0,
                "g" | "green" => 1,
                "b" | "blue" => 2,
                "y" => 3,
                _ => continue,
            };
            groups.entry(prefix.to_owned()).or_default()[slot].get_or_insert(i);
        }
        for (prefix, slots) in groups {
            if let [Some(r), Some(g), Some(b), _] = slots {
                let picked = Picked::new(header, [r, g, b], false, &prefix)?;
                return Ok((index, picked));
            }
            if let (None, Some(y)) = (&grey, slots[3]) {
                grey = Some((index, y, prefix));
            }
        }
    }
    let Some((index, y, prefix)) = grey else {
        return Err(Fault::refused("has no channels R, G and B, and no Y"));
    };
    Ok((index, Picked::new(&headers[index], [y; 3], true, &prefix)?))
}

impl Picked {
    fn new(header: &Header, channels: [usize; 3], grey: bool, prefix: &str) -> Result<Self, Fault> {
        let list = &header.channels.list;
        if list.iter().any(|c| c.sampling != Vec2(1, 1)) {
            return Err(Fault::refused(
                "has channels of lower resolution (luminance and chroma), which are not read: save \
                 it as RGB",
            ));
        }
        let widest = channels.map(|c| match list[c].sample_type {
            SampleType::F16 => (16, "half-float"),
            SampleType::F32 => (32, "float"),
            SampleType::U32 => (32, "integer"),
        });
        let depth = widest.into_iter().max().unwrap_or((32, "float"));
        let mut notes = Vec::new();
        if grey {
            notes.push("its one channel Y read as grey".to_owned());
        }
        let layer = header
            .own_attributes
            .layer_name
            .as_ref()
            .map(ToString::to_string);
        let named = if prefix.is_empty() {
            layer.unwrap_or_default()
        } else {
            prefix.to_owned()
        };
        if !named.is_empty() {
            notes.push(format!(
                "its layer {:?}",
                crate::frame::limits::one_line(&named)
            ));
        }
        Ok(Self {
            channels,
            grey,
            depth,
            notes,
        })
    }
}

/// A piece of a line, ready to be put in place.
struct Run {
    colour: usize,
    start: usize,
    light: Vec<f32>,
}

/// Where the data window's samples lie in the display window.
struct Placing {
    channels: [usize; 3],
    list: ChannelList,
    /// Data window's corner as seen from the display window's.
    dx: i64,
    dy: i64,
    width: i64,
    height: i64,
}

impl Placing {
    fn new(h: &Header, channels: [usize; 3], width: usize, height: usize) -> Result<Self, Fault> {
        let IntegerBounds {
            position: display, ..
        } = h.shared_attributes.display_window;
        let data = h.own_attributes.layer_position;
        let place = Self {
            channels,
            list: h.channels.clone(),
            dx: i64::from(data.x()) - i64::from(display.x()),
            dy: i64::from(data.y()) - i64::from(display.y()),
            width: width as i64,
            height: height as i64,
        };
        let (w, h) = (h.layer_size.x() as i64, h.layer_size.y() as i64);
        let apart = place.dx >= place.width || place.dy >= place.height;
        if apart || place.dx + w <= 0 || place.dy + h <= 0 {
            return Err(Fault::refused(
                "has a data window that lies outside its display window",
            ));
        }
        Ok(place)
    }

    /// Decompresses one block and cuts its lines to the display window.
    fn runs(&self, chunk: Chunk, meta: &MetaData) -> Result<Vec<Run>, exr::error::Error> {
        let block = UncompressedBlock::decompress_chunk(chunk, meta, false)?;
        let mut runs = Vec::new();
        for line in block.lines(&self.list) {
            let at = line.location;
            let Some(colour) = self.channels.iter().position(|&c| c == at.channel) else {
                continue;
            };
            let y = at.position.y() as i64 + self.dy;
            let x = at.position.x() as i64 + self.dx;
            let skip = (-x).max(0);
            let count = (at.sample_count as i64).min(self.width - x) - skip;
            if !(0..self.height).contains(&y) || count <= 0 {
                continue;
            }
            let light = light(
                self.list.list[at.channel].sample_type,
                line.value,
                skip,
                count,
            );
            // Within a picture's bounds, so no cast loses anything.
            let start = (y * self.width + x + skip) as usize;
            runs.push(Run {
                colour,
                start,
                light,
            });
        }
        Ok(runs)
    }
}

/// Native-endian samples as f32, `count` of them after `skip`.
fn light(kind: SampleType, bytes: &[u8], skip: i64, count: i64) -> Vec<f32> {
    let (skip, count) = (skip as usize, count as usize);
    match kind {
        SampleType::F16 => bytes
            .chunks_exact(2)
            .skip(skip)
            .take(count)
            .map(|b| f16::from_ne_bytes([b[0], b[1]]).to_f32())
            .collect(),
        SampleType::F32 => bytes
            .chunks_exact(4)
            .skip(skip)
            .take(count)
            .map(|b| f32::from_ne_bytes([b[0], b[1], b[2], b[3]]))
            .collect(),
        SampleType::U32 => bytes
            .chunks_exact(4)
            .skip(skip)
            .take(count)
            .map(|b| u32::from_ne_bytes([b[0], b[1], b[2], b[3]]) as f32)
            .collect(),
    }
}
