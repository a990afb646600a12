//! The Common LUT Format: a `ProcessList` of nodes, in XML.
//!
//! Every node of version 3 is read, and the `IndexMap` of two entries of version 2. `Description`,
//! `Info` and `Id` are passed over; of the descriptors `OutputDescriptor` alone is looked at, for the
//! encoding of what comes out. A document type, and with it every entity but XML's own five, is refused.
//!
//! Source: SMPTE ST 2136-1 (the Academy's specification S-2014-006 version 3 before it), from memory;
//! the tests hold it to another implementation.

use super::bits::Depth;
use super::op::Op;
use super::{Lut, LutError, nodes, shortened, titled};
use crate::frame::encoding::Encoding;
use roxmltree::{Document, Error, Node, ParsingOptions};

/// Most process nodes.
const MOST_NODES: usize = 64;
/// Most elements, attributes and pieces of text in the whole file.
const MOST_XML: u32 = 20_000;
/// What a file of the standard says for its version, in place of a number.
const STANDARD: &str = "ST2136-1:2024";

pub(super) fn read(text: &str) -> Result<Lut, LutError> {
    let options = ParsingOptions {
        allow_dtd: false,
        nodes_limit: MOST_XML,
        ..ParsingOptions::default()
    };
    let whole = |message: String| LutError::at("", message);
    let document = Document::parse_with_options(text, options).map_err(|e| match e {
        Error::DtdDetected => whole("holds a document type, which no LUT needs".to_owned()),
        Error::NodesLimitReached => whole(format!("more than {MOST_XML} elements and texts")),
        e => whole(format!("this is not XML: {e}")),
    })?;
    let root = document.root_element();
    if root.tag_name().name() != "ProcessList" {
        let name = shortened(root.tag_name().name());
        let message = format!("<{name}> is not the <ProcessList> of the Common LUT Format");
        return Err(whole(message));
    }
    check_version(root).map_err(whole)?;
    let title = root.attribute("name").and_then(titled);
    let mut lut = Lut {
        ops: Vec::new(),
        title: title.or_else(|| root.attribute("id").and_then(titled)),
        shape: String::new(),
        output: None,
    };
    let mut shapes: Vec<String> = Vec::new();
    let mut depth: Option<Depth> = None;
    for node in root.children().filter(Node::is_element) {
        let name = node.tag_name().name();
        match name {
            "Description" | "Info" | "Id" | "InputDescriptor" => continue,
            "OutputDescriptor" => {
                lut.output = encoding(&all_text(node));
                continue;
            }
            _ => {}
        }
        let place = |message: String| {
            let line = document.text_pos_at(node.range().start).row;
            let name = shortened(name);
            let number = shapes.len() + 1;
            LutError::at(format!("node {number} ({name}, line {line})"), message)
        };
        if shapes.len() == MOST_NODES {
            return Err(place(format!(
                "more than {MOST_NODES} nodes; that is the limit"
            )));
        }
        let depths = nodes::depths(node).map_err(place)?;
        if depth.is_some_and(|before| before != depths[0]) {
            let message = "inBitDepth is not the outBitDepth of the node before it".to_owned();
            return Err(place(message));
        }
        depth = Some(depths[1]);
        let shape = read_node(node, depths, &mut lut.ops).map_err(place)?;
        shapes.push(shape);
    }
    if shapes.is_empty() {
        return Err(whole("the ProcessList holds no process node".to_owned()));
    }
    lut.shape = if shapes.len() > 5 {
        format!("{} nodes", shapes.len())
    } else {
        shapes.join(", ")
    };
    Ok(lut)
}

/// Adds what a node does; its shape in a few letters.
fn read_node(node: Node<'_, '_>, depths: [Depth; 2], ops: &mut Vec<Op>) -> Result<String, String> {
    let name = node.tag_name().name();
    if node.attribute("bypass").is_some_and(|b| b != "false") {
        return Err("bypass is not read".to_owned());
    }
    let op = match name {
        "Matrix" => nodes::matrix(node, depths)?,
        "Range" => nodes::range(node, depths)?,
        "Log" => nodes::log(node)?,
        "Exponent" => nodes::exponent(node)?,
        "ASC_CDL" => nodes::cdl(node)?,
        "LUT1D" | "LUT3D" => {
            let (before, op) = if name == "LUT1D" {
                nodes::lut1d(node, depths)?
            } else {
                nodes::lut3d(node, depths)?
            };
            ops.extend(before);
            op
        }
        other => {
            let other = shortened(other);
            return Err(format!("<{other}> is not a node of the Common LUT Format"));
        }
    };
    let shape = match &op {
        Op::Table1(t) => format!("LUT1D {}", t.entries.len()),
        Op::Table3(t) => format!("LUT3D {n}×{n}×{n}", n = t.side),
        _ => name.to_owned(),
    };
    ops.push(op);
    Ok(shape)
}

fn check_version(root: Node<'_, '_>) -> Result<(), String> {
    let Some(version) = root.attribute("compCLFversion") else {
        return Err("the ProcessList does not tell its compCLFversion".to_owned());
    };
    let version = version.trim();
    let major = version.split('.').next().unwrap_or("");
    if version == STANDARD || ["1", "2", "3"].contains(&major) {
        return Ok(());
    }
    let version = shortened(version);
    Err(format!(
        "compCLFversion \"{version}\" is not known; versions to 3 are read"
    ))
}

/// The encoding that a descriptor names, if it names exactly one.
fn encoding(descriptor: &str) -> Option<Encoding> {
    let said = descriptor.to_ascii_lowercase();
    let names = [
        ("aces2065-1", Encoding::Aces2065),
        ("acescg", Encoding::AcesCg),
        ("acescct", Encoding::AcesCct),
    ];
    let mut named = names.into_iter().filter(|(name, _)| said.contains(name));
    match (named.next(), named.next()) {
        (Some((_, encoding)), None) => Some(encoding),
        _ => None,
    }
}

/// All text inside a node, remarks left out.
pub(super) fn all_text(node: Node<'_, '_>) -> String {
    let texts = node.descendants().filter(Node::is_text);
    texts.filter_map(|t| t.text()).collect::<Vec<_>>().join(" ")
}
