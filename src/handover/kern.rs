//! Pair kerning read from a font's GPOS table, which `ab_glyph` does not look at.
//!
//! Reads what text faces use: the `kern` feature's pair adjustments, formats 1 and 2, plain or
//! through an extension lookup. Source: `OpenType` specification 1.9, chapters GPOS and "Common
//! table formats" (from memory), checked against values that `fontTools` reads from the same file.

/// The pair adjustments of one face.
#[derive(Debug, Clone)]
pub(super) struct Kerning {
    data: &'static [u8],
    /// Each lookup's pair subtables, as offsets into `data`.
    lookups: Vec<Vec<usize>>,
}

fn u16_at(data: &[u8], at: usize) -> Option<u16> {
    Some(u16::from_be_bytes(data.get(at..at + 2)?.try_into().ok()?))
}

fn index_at(data: &[u8], at: usize) -> Option<usize> {
    u16_at(data, at).map(usize::from)
}

fn u32_at(data: &[u8], at: usize) -> Option<usize> {
    let bytes = data.get(at..at + 4)?.try_into().ok()?;
    usize::try_from(u32::from_be_bytes(bytes)).ok()
}

impl Kerning {
    /// Reads the face's GPOS table; a face without one has no kerning.
    pub(super) fn of(font: &'static [u8]) -> Self {
        Self::read(font).unwrap_or(Self {
            data: font,
            lookups: Vec::new(),
        })
    }

    fn read(font: &'static [u8]) -> Option<Self> {
        let tables = index_at(font, 4)?;
        let record = (0..tables)
            .map(|i| 12 + 16 * i)
            .find(|&at| font.get(at..at + 4) == Some(b"GPOS"))?;
        let data = font.get(u32_at(font, record + 8)?..)?;
        let features = index_at(data, 6)?;
        let list = index_at(data, 8)?;
        let mut wanted = std::collections::BTreeSet::new();
        for f in 0..index_at(data, features)? {
            let at = features + 2 + 6 * f;
            if data.get(at..at + 4) == Some(b"kern") {
                let feature = features + index_at(data, at + 4)?;
                for i in 0..index_at(data, feature + 2)? {
                    wanted.insert(index_at(data, feature + 4 + 2 * i)?);
                }
            }
        }
        let mut lookups = Vec::new();
        for index in wanted {
            let lookup = list + index_at(data, list + 2 + 2 * index)?;
            let kind = u16_at(data, lookup)?;
            let mut subtables = Vec::new();
            for i in 0..index_at(data, lookup + 4)? {
                let at = lookup + index_at(data, lookup + 6 + 2 * i)?;
                match kind {
                    2 => subtables.push(at),
                    9 if u16_at(data, at + 2)? == 2 => subtables.push(at + u32_at(data, at + 4)?),
                    _ => {}
                }
            }
            lookups.push(subtables);
        }
        Some(Self { data, lookups })
    }

    /// What to add to the first glyph's advance, in font units.
    pub(super) fn pair(&self, first: u16, second: u16) -> f32 {
        self.lookups
            .iter()
            .filter_map(|subtables| {
                subtables
                    .iter()
                    .find_map(|&at| self.in_subtable(at, first, second))
            })
            .map(f32::from)
            .sum()
    }

    /// The adjustment, if this subtable speaks of the pair.
    fn in_subtable(&self, at: usize, first: u16, second: u16) -> Option<i16> {
        let d = self.data;
        let covered = coverage(d, at + index_at(d, at + 2)?, first)?;
        let (one, two) = (u16_at(d, at + 4)?, u16_at(d, at + 6)?);
        let size = |format: u16| 2 * format.count_ones() as usize;
        let advance = |record: usize| -> Option<i16> {
            if one & 4 == 0 {
                return Some(0);
            }
            u16_at(d, record + size(one & 3)).map(u16::cast_signed)
        };
        let step = size(one) + size(two);
        if u16_at(d, at)? == 1 {
            let set = at + index_at(d, at + 10 + 2 * covered)?;
            return (0..index_at(d, set)?)
                .map(|i| set + 2 + i * (2 + step))
                .find(|&record| u16_at(d, record) == Some(second))
                .and_then(|record| advance(record + 2));
        }
        let row = class(d, at + index_at(d, at + 8)?, first);
        let column = class(d, at + index_at(d, at + 10)?, second);
        let columns = index_at(d, at + 14)?;
        advance(at + 16 + (row * columns + column) * step)
    }
}

/// Where a coverage table lists the glyph, if it does.
fn coverage(d: &[u8], at: usize, glyph: u16) -> Option<usize> {
    let count = index_at(d, at + 2)?;
    if u16_at(d, at)? == 1 {
        return (0..count).find(|i| u16_at(d, at + 4 + 2 * i) == Some(glyph));
    }
    (0..count).map(|i| at + 4 + 6 * i).find_map(|range| {
        let (from, to) = (u16_at(d, range)?, u16_at(d, range + 2)?);
        (from..=to).contains(&glyph).then_some(())?;
        Some(index_at(d, range + 4)? + usize::from(glyph - from))
    })
}

/// The glyph's class; 0 is every glyph not listed.
fn class(d: &[u8], at: usize, glyph: u16) -> usize {
    let find = || -> Option<usize> {
        if u16_at(d, at)? == 1 {
            let offset = usize::from(glyph.checked_sub(u16_at(d, at + 2)?)?);
            return (offset < index_at(d, at + 4)?)
                .then(|| index_at(d, at + 6 + 2 * offset))
                .flatten();
        }
        (0..index_at(d, at + 2)?)
            .map(|i| at + 4 + 6 * i)
            .find_map(|range| {
                let (from, to) = (u16_at(d, range)?, u16_at(d, range + 2)?);
                (from..=to)
                    .contains(&glyph)
                    .then(|| index_at(d, range + 4))
                    .flatten()
            })
    };
    find().unwrap_or(0)
}
