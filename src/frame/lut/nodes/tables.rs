//! Nodes that hold a table, of one dimension or of three.

use super::parts::{dims, list, only, values};
use crate::frame::lut::bits::{self, Depth, LARGEST_HALF};
use crate::frame::lut::clf::all_text;
use crate::frame::lut::op::Op;
use crate::frame::lut::table::{Table1, Table3};
use crate::frame::lut::{MAX_LUT_1D, MAX_LUT_3D, number, shortened};
use roxmltree::Node;

/// A table of one dimension, and what comes before it.
pub(in crate::frame::lut) fn lut1d(
    node: Node<'_, '_>,
    [from, to]: [Depth; 2],
) -> Result<(Option<Op>, Op), String> {
    let flag = |name: &str| match node.attribute(name) {
        None | Some("false") => Ok(false),
        Some("true") => Ok(true),
        Some(other) => Err(format!(
            "{name} \"{}\" is not true or false",
            shortened(other)
        )),
    };
    let (half_domain, raw) = (flag("halfDomain")?, flag("rawHalfs")?);
    let keeps_hue = match node.attribute("hueAdjust") {
        None | Some("none") => false,
        Some("dw3") => true,
        Some(other) => return Err(format!("hueAdjust \"{}\" is not dw3", shortened(other))),
    };
    match node.attribute("interpolation") {
        None | Some("linear" | "default") => {}
        Some(other) => return Err(unknown_interpolation(other)),
    }
    let told = only(node, &["Array", "IndexMap"])?;
    let array = told[0].ok_or("the Array is not told")?;
    let (count, columns) = match dims(array)?.as_slice() {
        [count, columns @ (1 | 3)] => (*count, *columns),
        _ => return Err("the Array's dim is a length and 1 or 3 columns".to_owned()),
    };
    if !(2..=MAX_LUT_1D).contains(&count) {
        return Err(format!("length {count} is out of range: 2 to {MAX_LUT_1D}"));
    }
    if half_domain && count != MAX_LUT_1D {
        return Err(format!(
            "length {count}, where a half domain has {MAX_LUT_1D}"
        ));
    }
    let flat = halves(array, count, columns, half_domain, raw)?;
    let scale = if raw { 1.0 } else { to.full() };
    let entries = flat
        .chunks_exact(columns)
        .map(|e| [0, 1, 2].map(|c| (f64::from(e[c % columns]) / scale) as f32))
        .collect();
    let before = match told[1] {
        Some(_) if half_domain => return Err("a half domain takes no IndexMap".to_owned()),
        map => index_map(map, from, count)?,
    };
    let table = Table1 {
        entries,
        half_domain,
        keeps_hue,
    };
    Ok((before, Op::Table1(table)))
}

/// The numbers of a table of one dimension; in a half domain those that no number leads to are 0.
fn halves(
    array: Node<'_, '_>,
    count: usize,
    columns: usize,
    half_domain: bool,
    raw: bool,
) -> Result<Vec<f32>, String> {
    if !half_domain && !raw {
        return values(array, count * columns);
    }
    let used = |i: usize| !half_domain || bits::is_finite((i / columns) as u16);
    list(array, count * columns, |i, word| {
        let value = if raw {
            let bits = word.parse::<u16>().ok();
            bits.map(bits::half)
        } else {
            word.parse::<f32>().ok()
        };
        match value {
            Some(_) if !used(i) => Ok(0.0),
            Some(v) if !v.is_nan() => Ok(v.clamp(-LARGEST_HALF, LARGEST_HALF)),
            _ => Err(format!("\"{}\" is no number of it", shortened(word))),
        }
    })
}

/// A table of three dimensions, and what comes before it.
pub(in crate::frame::lut) fn lut3d(
    node: Node<'_, '_>,
    [from, to]: [Depth; 2],
) -> Result<(Option<Op>, Op), String> {
    let tetrahedral = match node.attribute("interpolation") {
        None | Some("trilinear" | "default") => false,
        Some("tetrahedral") => true,
        Some(other) => return Err(unknown_interpolation(other)),
    };
    let told = only(node, &["Array", "IndexMap"])?;
    let array = told[0].ok_or("the Array is not told")?;
    let side = match dims(array)?.as_slice() {
        [a, b, c, 3] if a == b && b == c => *a,
        _ => return Err("the Array's dim is three equal sides and 3 columns".to_owned()),
    };
    if !(2..=MAX_LUT_3D).contains(&side) {
        return Err(format!("side {side} is out of range: 2 to {MAX_LUT_3D}"));
    }
    let flat = values(array, side * side * side * 3)?;
    let full = to.full();
    let nodes = flat
        .chunks_exact(3)
        .map(|e| [0, 1, 2].map(|c| (f64::from(e[c]) / full) as f32))
        .collect();
    let table = Table3 {
        side,
        nodes,
        tetrahedral,
    };
    Ok((index_map(told[1], from, side)?, Op::Table3(table)))
}

/// What a table's first and last entry stand for, as version 2 may tell: `64@0 940@1023`.
fn index_map(map: Option<Node<'_, '_>>, from: Depth, count: usize) -> Result<Option<Op>, String> {
    let Some(map) = map else {
        return Ok(None);
    };
    let text = all_text(map);
    let pairs: Vec<&str> = text.split_ascii_whitespace().collect();
    let [first, last] = pairs.as_slice() else {
        return Err("only an IndexMap of two entries is read".to_owned());
    };
    let end = |pair: &str, index: usize| {
        let (code, at) = pair.split_once('@').unwrap_or((pair, ""));
        if at.parse::<usize>().ok() != Some(index) {
            return Err("the IndexMap does not lead to the table's two ends".to_owned());
        }
        Ok((f64::from(number(code)?) / from.full()) as f32)
    };
    let (low, high) = (end(first, 0)?, end(last, count - 1)?);
    if high - low < 1e-6 {
        return Err("the IndexMap's end is not above its start".to_owned());
    }
    Ok(Some(Op::domain([low; 3], [high; 3])))
}

fn unknown_interpolation(word: &str) -> String {
    format!("interpolation \"{}\" is not known", shortened(word))
}
