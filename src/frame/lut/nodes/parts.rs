//! What nodes are made of: elements by their names, a channel's parameters, attributes, arrays of numbers.

use crate::frame::lut::{number, shortened};
use roxmltree::Node;

/// The elements in a node by their names, each once at most; descriptions are passed over.
pub(super) fn only<'a, 'i>(
    node: Node<'a, 'i>,
    names: &[&str],
) -> Result<Vec<Option<Node<'a, 'i>>>, String> {
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
pub(super) fn params<'a, 'i>(
    node: Node<'a, 'i>,
    name: &str,
) -> Result<[Option<Node<'a, 'i>>; 3], String> {
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
pub(super) fn attribute(node: Node<'_, '_>, name: &str) -> Result<Option<f64>, String> {
    let read = |word: &str| {
        let value = word.trim().parse::<f64>().ok();
        let value = value.filter(|v| (*v as f32).is_finite());
        value.ok_or_else(|| format!("{name} \"{}\" is not a finite number", shortened(word)))
    };
    node.attribute(name).map(read).transpose()
}

/// An array's dimensions.
pub(super) fn dims(array: Node<'_, '_>) -> Result<Vec<usize>, String> {
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
pub(super) fn values(array: Node<'_, '_>, count: usize) -> Result<Vec<f32>, String> {
    list(array, count, |_, word| number(word))
}

pub(super) fn list(
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

pub(super) fn unknown_style(word: &str) -> String {
    format!("style \"{}\" is not known", shortened(word))
}
