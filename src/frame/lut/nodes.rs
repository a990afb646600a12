//! The process nodes of the Common LUT Format, one function for each.
//!
//! Numbers that stand for codes are told in the node's bit depths: what goes in is divided by the largest
//! code of `inBitDepth`, what comes out by that of `outBitDepth`, so that between nodes all is 0 to 1.

use super::bits::{self, Depth, LARGEST_HALF};
use super::cdl::Cdl;
use super::clf::all_text;
use super::curve::{Below, Curve, Logarithm, Monitor, Toe};
use super::op::Op;
use super::table::{Table1, Table3};
use super::{MAX_LUT_1D, MAX_LUT_3D, number, shortened};
use roxmltree::Node;

/// How far the two ends of a one-sided range may lie apart, in parts of full.
const SAME: f64 = 1e-6;

/// A node's bit depths: in, and out.
pub(super) fn depths(node: Node<'_, '_>) -> Result<[Depth; 2], String> {
    let depth = |name: &str| {
        let word = node
            .attribute(name)
            .ok_or_else(|| format!("{name} is not told"))?;
        let known = "8i, 10i, 12i, 16i, 16f, 32f";
        Depth::read(word)
            .ok_or_else(|| format!("{name} \"{}\" is not one of {known}", shortened(word)))
    };
    Ok([depth("inBitDepth")?, depth("outBitDepth")?])
}

/// A 3×3 matrix, or one with a column that is added.
pub(super) fn matrix(node: Node<'_, '_>, [from, to]: [Depth; 2]) -> Result<Op, String> {
    let array = only(node, &["Array"])?[0].ok_or("the Array is not told")?;
    let columns = match dims(array)?.as_slice() {
        [3, 3] | [3, 3, 3] => 3,
        [3, 4] | [3, 4, 3] => 4,
        _ => return Err("a matrix is 3 by 3 or 3 by 4".to_owned()),
    };
    let values = values(array, 3 * columns)?;
    let mut rows = [[0.0; 3]; 3];
    let mut add = [0.0; 3];
    for (i, row) in values.chunks_exact(columns).enumerate() {
        rows[i] = [0, 1, 2].map(|j| (f64::from(row[j]) * from.full() / to.full()) as f32);
        add[i] = row
            .get(3)
            .map_or(0.0, |v| (f64::from(*v) / to.full()) as f32);
    }
    Ok(Op::Matrix(rows, add))
}

/// A range that is scaled, and clamped unless it says otherwise.
pub(super) fn range(node: Node<'_, '_>, [from, to]: [Depth; 2]) -> Result<Op, String> {
    let names = ["minInValue", "maxInValue", "minOutValue", "maxOutValue"];
    let mut ends = [None; 4];
    for (end, element) in ends.iter_mut().zip(only(node, &names)?) {
        if let Some(element) = element {
            *end = Some(f64::from(number(all_text(element).trim())?));
        }
    }
    let clamps = match node.attribute("style").unwrap_or("Clamp") {
        "Clamp" | "clamp" => true,
        "noClamp" => false,
        other => return Err(unknown_style(other)),
    };
    let (min, max) = match ends {
        [a, b, c, d] => (a.zip(c), b.zip(d)),
    };
    let told = ends.iter().flatten().count();
    let both = usize::from(min.is_some()) + usize::from(max.is_some());
    if told != 2 * both {
        return Err("a value in and the value out that belongs to it come together".to_owned());
    }
    let full = |(into, out): (f64, f64)| (into / from.full(), out / to.full());
    let one_sided = |name: &str, (into, out): (f64, f64)| {
        if !clamps {
            return Err("noClamp needs all four values".to_owned());
        }
        if (into - out).abs() > SAME * into.abs().max(1.0) {
            return Err(format!("{name} alone must be the same in and out"));
        }
        Ok(out as f32)
    };
    let mut range = [1.0, 0.0, f32::NEG_INFINITY, f32::INFINITY];
    match (min.map(full), max.map(full)) {
        (None, None) => return Err("neither of its ends is told".to_owned()),
        (Some(min), None) => range[2] = one_sided("the lower end", min)?,
        (None, Some(max)) => range[3] = one_sided("the upper end", max)?,
        (Some((low, low_out)), Some((high, high_out))) => {
            if high - low < SAME {
                return Err("maxInValue is not above minInValue".to_owned());
            }
            if high_out < low_out {
                return Err("maxOutValue is below minOutValue".to_owned());
            }
            let scale = (high_out - low_out) / (high - low);
            range[..2].copy_from_slice(&[scale as f32, (low_out - low * scale) as f32]);
            if clamps {
                range[2..].copy_from_slice(&[low_out as f32, high_out as f32]);
            }
        }
    }
    let [scale, add, low, high] = range;
    Ok(Op::Range {
        scale,
        add,
        low,
        high,
    })
}

/// Logarithms and their inverses.
pub(super) fn log(node: Node<'_, '_>) -> Result<Op, String> {
    let style = node.attribute("style").ok_or("its style is not told")?;
    let told = params(node, "LogParams")?;
    let plain = match style {
        "log10" => Some(Curve::ToLog(Logarithm::plain(10.0), None)),
        "antiLog10" => Some(Curve::ToLin(Logarithm::plain(10.0), None)),
        "log2" => Some(Curve::ToLog(Logarithm::plain(2.0), None)),
        "antiLog2" => Some(Curve::ToLin(Logarithm::plain(2.0), None)),
        "linToLog" | "logToLin" | "cameraLinToLog" | "cameraLogToLin" => None,
        other => return Err(unknown_style(other)),
    };
    if let Some(curve) = plain {
        if told.iter().any(Option::is_some) {
            return Err(format!("LogParams do not belong to the style {style}"));
        }
        return Ok(Op::Curves([curve; 3]));
    }
    // A channel without a curve of its own has none that could be guessed.
    let count = told.iter().flatten().count();
    if count % 3 != 0 {
        return Err("LogParams are told for some channels and not for all".to_owned());
    }
    let mut curves = [Curve::ToLog(Logarithm::plain(2.0), None); 3];
    for (curve, told) in curves.iter_mut().zip(told) {
        *curve = log_curve(style, told)?;
    }
    Ok(Op::Curves(curves))
}

fn log_curve(style: &str, told: Option<Node<'_, '_>>) -> Result<Curve, String> {
    let value = |name: &str| told.map_or(Ok(None), |t| attribute(t, name));
    let curve = Logarithm {
        base: value("base")?.unwrap_or(2.0),
        lin_slope: value("linSideSlope")?.unwrap_or(1.0),
        lin_offset: value("linSideOffset")?.unwrap_or(0.0),
        log_slope: value("logSideSlope")?.unwrap_or(1.0),
        log_offset: value("logSideOffset")?.unwrap_or(0.0),
    };
    if curve.base <= 0.0 || (curve.base - 1.0).abs() < 1e-9 {
        return Err(format!(
            "base {} is out of range: above 0, and not 1",
            curve.base
        ));
    }
    for (name, v) in [
        ("linSideSlope", curve.lin_slope),
        ("logSideSlope", curve.log_slope),
    ] {
        if v.abs() <= 0.0 {
            return Err(format!("{name} is 0"));
        }
    }
    let (lin_break, slope) = (value("linSideBreak")?, value("linearSlope")?);
    let toe = match (style.starts_with("camera"), lin_break) {
        (false, None) if slope.is_none() => None,
        (false, _) => {
            let words = "linSideBreak and linearSlope belong to the camera's styles";
            return Err(format!("{words}, not to {style}"));
        }
        (true, None) => return Err("linSideBreak is not told".to_owned()),
        (true, Some(lin_break)) => {
            if curve.lin_slope * lin_break + curve.lin_offset <= 0.0 {
                return Err(format!("there is no logarithm at linSideBreak {lin_break}"));
            }
            if slope.is_some_and(|s| s.abs() <= 0.0) {
                return Err("linearSlope is 0".to_owned());
            }
            Some(Toe::under(&curve, lin_break, slope))
        }
    };
    Ok(match style {
        "linToLog" | "cameraLinToLog" => Curve::ToLog(curve, toe),
        _ => Curve::ToLin(curve, toe),
    })
}

/// Powers, bare and with a straight piece near black.
pub(super) fn exponent(node: Node<'_, '_>) -> Result<Op, String> {
    let style = node.attribute("style").ok_or("its style is not told")?;
    let told = params(node, "ExponentParams")?;
    if told.iter().all(Option::is_none) {
        return Err("ExponentParams are not told".to_owned());
    }
    let mut curves = [Curve::Power(1.0, Below::Pass); 3];
    for (curve, told) in curves.iter_mut().zip(told) {
        // A channel that is not told has a power of 1; what the style does below zero holds for it.
        if let Some(told) = told {
            *curve = exponent_curve(style, told)?;
        } else if matches!(style, "basicFwd" | "basicRev") {
            *curve = Curve::Power(1.0, Below::Clamp);
        }
    }
    Ok(Op::Curves(curves))
}

fn exponent_curve(style: &str, told: Node<'_, '_>) -> Result<Curve, String> {
    let power = attribute(told, "exponent")?.ok_or("exponent is not told")?;
    let offset = attribute(told, "offset")?;
    let range = |name: &str, v: f64, low: f64, high: f64| {
        if (low..=high).contains(&v) {
            Ok(v)
        } else {
            Err(format!("{name} {v} is out of range: {low} to {high}"))
        }
    };
    let basic = |below: Below| {
        if offset.is_some() {
            return Err(format!("an offset does not belong to the style {style}"));
        }
        let power = range("exponent", power, 0.01, 100.0)?;
        let power = if style.ends_with("Rev") {
            1.0 / power
        } else {
            power
        };
        Ok(Curve::Power(power, below))
    };
    let monitor = |mirrored: bool| {
        let power = range("exponent", power, 1.0, 10.0)?;
        let offset = offset.ok_or("offset is not told")?;
        let curve = Monitor::new(power, range("offset", offset, 0.0, 0.9)?, mirrored);
        Ok::<_, String>(if style.ends_with("Rev") {
            Curve::MonitorBack(curve)
        } else {
            Curve::Monitor(curve)
        })
    };
    match style {
        "basicFwd" | "basicRev" => basic(Below::Clamp),
        "basicMirrorFwd" | "basicMirrorRev" => basic(Below::Mirror),
        "basicPassThruFwd" | "basicPassThruRev" => basic(Below::Pass),
        "monCurveFwd" | "monCurveRev" => monitor(false),
        "monCurveMirrorFwd" | "monCurveMirrorRev" => monitor(true),
        other => Err(unknown_style(other)),
    }
}

/// Slope, offset, power and saturation.
pub(super) fn cdl(node: Node<'_, '_>) -> Result<Op, String> {
    let (back, clamps) = match node.attribute("style").unwrap_or("Fwd") {
        "Fwd" | "v1.2_Fwd" => (false, true),
        "Rev" | "v1.2_Rev" => (true, true),
        "FwdNoClamp" | "noClampFwd" => (false, false),
        "RevNoClamp" | "noClampRev" => (true, false),
        other => return Err(unknown_style(other)),
    };
    let [sop, sat] = only(node, &["SOPNode", "SatNode"])?[..] else {
        return Err("holds too much".to_owned());
    };
    let mut cdl = Cdl {
        slope: [1.0; 3],
        offset: [0.0; 3],
        power: [1.0; 3],
        saturation: 1.0,
        back,
        clamps,
    };
    if let Some(sop) = sop {
        let told = only(sop, &["Slope", "Offset", "Power"])?;
        let places = [&mut cdl.slope, &mut cdl.offset, &mut cdl.power];
        for (place, told) in places.into_iter().zip(told) {
            if let Some(told) = told {
                for (place, v) in place.iter_mut().zip(values(told, 3)?) {
                    *place = f64::from(v);
                }
            }
        }
    }
    if let Some(sat) = sat
        && let Some(told) = only(sat, &["Saturation"])?[0]
    {
        cdl.saturation = f64::from(number(all_text(told).trim())?);
    }
    // What is undone is divided by.
    let above = |v: f64, limit: bool| if limit { v > 0.0 } else { v >= 0.0 };
    let checks = [
        ("Slope", cdl.slope.to_vec(), back),
        ("Power", cdl.power.to_vec(), true),
        ("Saturation", vec![cdl.saturation], back),
    ];
    for (name, values, limit) in checks {
        if let Some(v) = values.into_iter().find(|v| !above(*v, limit)) {
            let least = if limit { "above 0" } else { "0 or more" };
            return Err(format!("{name} {v} is out of range: {least}"));
        }
    }
    Ok(Op::Cdl(cdl))
}

/// A table of one dimension, and what comes before it.
pub(super) fn lut1d(
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
pub(super) fn lut3d(
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

/// The elements in a node by their names, each once at most; descriptions are passed over.
fn only<'a, 'i>(node: Node<'a, 'i>, names: &[&str]) -> Result<Vec<Option<Node<'a, 'i>>>, String> {
    let mut found = vec![None; names.len()];
    for element in node.children().filter(Node::is_element) {
        let name = element.tag_name().name();
        match names.iter().position(|n| *n == name) {
            Some(i) if found[i].is_some() => return Err(format!("{name} is told twice")),
            Some(i) => found[i] = Some(element),
            None if passed_over(name) => {}
            None => return Err(format!("<{}> does not belong there", shortened(name))),
        }
    }
    Ok(found)
}

fn passed_over(name: &str) -> bool {
    [
        "Description",
        "InputDescription",
        "ViewingDescription",
        "Info",
    ]
    .contains(&name)
}

/// The parameters of each channel.
fn params<'a, 'i>(node: Node<'a, 'i>, name: &str) -> Result<[Option<Node<'a, 'i>>; 3], String> {
    let mut found = [None; 3];
    for element in node.children().filter(Node::is_element) {
        let tag = element.tag_name().name();
        if passed_over(tag) {
            continue;
        }
        if tag != name {
            return Err(format!("<{}> does not belong there", shortened(tag)));
        }
        let channels = match element.attribute("channel") {
            None => 0..3,
            Some("R") => 0..1,
            Some("G") => 1..2,
            Some("B") => 2..3,
            Some(other) => {
                let other = shortened(other);
                return Err(format!("channel \"{other}\" is not one of R, G, B"));
            }
        };
        for place in &mut found[channels] {
            if place.replace(element).is_some() {
                return Err(format!("the {name} of a channel are told twice"));
            }
        }
    }
    Ok(found)
}

/// A number among a node's attributes.
fn attribute(node: Node<'_, '_>, name: &str) -> Result<Option<f64>, String> {
    let read = |word: &str| {
        let value = word.trim().parse::<f64>().ok();
        let value = value.filter(|v| (*v as f32).is_finite());
        value.ok_or_else(|| format!("{name} \"{}\" is not a finite number", shortened(word)))
    };
    node.attribute(name).map(read).transpose()
}

/// An array's dimensions.
fn dims(array: Node<'_, '_>) -> Result<Vec<usize>, String> {
    let text = array
        .attribute("dim")
        .ok_or("the Array's dim is not told")?;
    let dims: Option<Vec<usize>> = text
        .split_ascii_whitespace()
        .map(|w| w.parse().ok())
        .collect();
    dims.ok_or_else(|| format!("dim \"{}\" is not a list of sizes", shortened(text)))
}

/// An array's numbers, as many as it must have.
fn values(array: Node<'_, '_>, count: usize) -> Result<Vec<f32>, String> {
    list(array, count, |_, word| number(word))
}

fn list(
    array: Node<'_, '_>,
    count: usize,
    read: impl Fn(usize, &str) -> Result<f32, String>,
) -> Result<Vec<f32>, String> {
    let mut out = Vec::new();
    for text in array.descendants().filter(Node::is_text) {
        for word in text.text().unwrap_or("").split_ascii_whitespace() {
            if out.len() == count {
                return Err(format!("more than {count} numbers"));
            }
            out.push(read(out.len(), word).map_err(|e| format!("number {}: {e}", out.len() + 1))?);
        }
    }
    if out.len() < count {
        return Err(format!("{} numbers, where {count} belong", out.len()));
    }
    Ok(out)
}

fn unknown_style(word: &str) -> String {
    format!("style \"{}\" is not known", shortened(word))
}

fn unknown_interpolation(word: &str) -> String {
    format!("interpolation \"{}\" is not known", shortened(word))
}
