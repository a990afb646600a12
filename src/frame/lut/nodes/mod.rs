//! The process nodes of the Common LUT Format, one function for each.
//!
//! Numbers that stand for codes are told in the node's bit depths: what goes in is divided by the largest
//! code of `inBitDepth`, what comes out by that of `outBitDepth`, so that between nodes all is 0 to 1.

// Logarithms and powers.
mod curves;
// What they are all read with.
mod parts;
// Tables.
mod tables;

pub(super) use curves::{exponent, log};
pub(super) use tables::{lut1d, lut3d};

use super::bits::Depth;
use super::cdl::Cdl;
use super::clf::all_text;
use super::op::Op;
use super::{number, shortened};
use parts::{dims, only, unknown_style, values};
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
