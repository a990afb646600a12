//! The older form of a gain map's metadata, and the list of a file's pictures: both in XMP.
//!
//! Properties of the gain map's vocabulary (told by the end of its name, `/hdr-gain-map/1.0/`), each an
//! attribute or an element, of one number or of a sequence of three. From memory; XMP itself: ISO 16684-1.

use super::{About, Channel};
use roxmltree::{Document, Node, ParsingOptions};

const GAIN_MAP: &str = "/hdr-gain-map/1.0/";
const LIST: &str = "/container/";
const ITEM: &str = "/container/item/";
/// Most nodes of a packet: one segment of 64 kB holds fewer that mean anything.
const NODES: u32 = 20_000;

fn document(text: &str) -> Option<Document<'_>> {
    // Writers pad a packet with blanks, or end it with a null.
    let text = &text[..=text.rfind('>')?];
    let options = ParsingOptions {
        nodes_limit: NODES,
        ..ParsingOptions::default()
    };
    Document::parse_with_options(text, options).ok()
}

/// The metadata of a packet that has any.
pub(super) fn about(text: &str) -> Option<Result<About, String>> {
    let document = document(text)?;
    // The plain picture's packet names only the version.
    let told = |n: &Node<'_, '_>| property(*n, "GainMapMax").is_some();
    let node = document.descendants().find(told)?;
    Some(read(node))
}

fn read(node: Node<'_, '_>) -> Result<About, String> {
    let three = |name: &str, default: f64| -> Result<[f64; 3], String> {
        let Some(values) = property(node, name) else {
            return Ok([default; 3]);
        };
        let numbers: Option<Vec<f64>> = values.iter().map(|v| v.trim().parse().ok()).collect();
        match numbers.as_deref() {
            Some(&[one]) => Ok([one; 3]),
            Some(&[r, g, b]) => Ok([r, g, b]),
            _ => Err(format!("its {name} is not a number")),
        }
    };
    let (min, max) = (three("GainMapMin", 0.0)?, three("GainMapMax", 1.0)?);
    let gamma = three("Gamma", 1.0)?;
    let offset_sdr = three("OffsetSDR", 1.0 / 64.0)?;
    let offset_hdr = three("OffsetHDR", 1.0 / 64.0)?;
    let (low, high) = (three("HDRCapacityMin", 0.0)?, three("HDRCapacityMax", 1.0)?);
    let brighter = property(node, "BaseRenditionIsHDR")
        .is_some_and(|v| v.iter().any(|v| v.trim().eq_ignore_ascii_case("true")));
    let channel = |c: usize| Channel {
        min: min[c],
        max: max[c],
        gamma: gamma[c],
        offset_base: offset_sdr[c],
        offset_alternate: offset_hdr[c],
    };
    let (base_headroom, alternate_headroom) = if brighter {
        (high[0], low[0])
    } else {
        (low[0], high[0])
    };
    Ok(About {
        channels: [channel(0), channel(1), channel(2)],
        base_headroom,
        alternate_headroom,
        base_primaries: true,
    })
}

/// The values of a property: an attribute, or the text of a child, or of the items of a list in it.
fn property<'a>(node: Node<'a, '_>, name: &str) -> Option<Vec<&'a str>> {
    let ours = |ns: Option<&str>| ns.is_some_and(|ns| ns.ends_with(GAIN_MAP));
    let attribute = node
        .attributes()
        .find(|a| a.name() == name && ours(a.namespace()));
    if let Some(attribute) = attribute {
        return Some(vec![attribute.value()]);
    }
    let child = node
        .children()
        .find(|n| n.tag_name().name() == name && ours(n.tag_name().namespace()))?;
    let items: Vec<&str> = child
        .descendants()
        .filter(|n| n.tag_name().name() == "li")
        .filter_map(|n| n.text())
        .collect();
    Some(if items.is_empty() {
        child.text().into_iter().collect()
    } else {
        items
    })
}

/// Where the gain map begins behind the end of the plain picture, and its length, by the list of pictures
/// that the plain one's packet holds: they follow each other without a gap.
pub(in crate::frame) fn listed(text: &str) -> Option<(usize, usize)> {
    let document = document(text)?;
    let mut start = 0_usize;
    let items = document.descendants().filter(|n| {
        let ns = n.tag_name().namespace();
        n.tag_name().name() == "Item" && ns.is_some_and(|ns| ns.ends_with(LIST))
    });
    for (index, item) in items.enumerate() {
        let field = |name: &str| {
            item.attributes()
                .find(|a| a.name() == name && a.namespace().is_some_and(|ns| ns.ends_with(ITEM)))
                .map(|a| a.value().trim())
        };
        let number = |name: &str| field(name).and_then(|v| v.parse::<usize>().ok());
        if index == 0 {
            // The plain picture: its length is known from its own end.
            start = number("Padding").unwrap_or(0);
            continue;
        }
        let length = number("Length")?;
        if field("Semantic") == Some("GainMap") {
            return Some((start, length));
        }
        start = start.checked_add(length)?;
    }
    None
}

#[cfg(test)]
#[expect(
    clippy::float_cmp,
    reason = "a number is read as it was written, to the bit"
)]
mod tests {
    use super::*;

    const HEAD: &str = r#"<x:xmpmeta xmlns:x="quay:meta/"><rdf:RDF
        xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#"><rdf:Description
        xmlns:hdrgm="http://quay.example/hdr-gain-map/1.0/""#;
    const TAIL: &str = "</rdf:RDF></x:xmpmeta>\0";

    #[test]
    fn attributes_elements_and_lists() {
        let body = r#" hdrgm:Version="1.0" hdrgm:GainMapMin="-0.5" hdrgm:OffsetHDR="0">
            <hdrgm:GainMapMax><rdf:Seq><rdf:li>1</rdf:li><rdf:li> 2 </rdf:li><rdf:li>3</rdf:li>
            </rdf:Seq></hdrgm:GainMapMax><hdrgm:HDRCapacityMax>2.5</hdrgm:HDRCapacityMax>
            </rdf:Description>"#;
        let about = about(&format!("{HEAD}{body}{TAIL}")).unwrap().unwrap();
        let max = about.channels.map(|c| c.max);
        assert_eq!(max, [1.0, 2.0, 3.0], "a list of three");
        let first = about.channels[0];
        assert_eq!(
            (first.min, first.gamma),
            (-0.5, 1.0),
            "told, and by default"
        );
        assert_eq!(
            (first.offset_base, first.offset_alternate),
            (1.0 / 64.0, 0.0),
            "offsets"
        );
        assert_eq!(about.alternate_headroom, 2.5, "an element");
        assert!(!about.darkens(), "the plain picture is the darker one");
    }

    #[test]
    fn the_other_direction_damage_and_silence() {
        let packet = |body: &str| format!("{HEAD} {body}/>{TAIL}");
        let hdr =
            r#"hdrgm:GainMapMax="2" hdrgm:HDRCapacityMax="2" hdrgm:BaseRenditionIsHDR="True""#;
        assert!(
            about(&packet(hdr)).unwrap().unwrap().darkens(),
            "the base is the brighter"
        );
        let word = about(&packet(r#"hdrgm:GainMapMax="two""#)).unwrap();
        assert_eq!(
            word.unwrap_err(),
            "its GainMapMax is not a number",
            "a word"
        );
        assert!(
            about(&packet(r#"hdrgm:Version="1.0""#)).is_none(),
            "only the version"
        );
        assert!(about("<x").is_none() && about("").is_none(), "no XML");
    }

    #[test]
    fn the_list_of_pictures() {
        let list = |second: &str| {
            format!(
                r#"<a xmlns:c="http://quay.example/1.0/container/"
                xmlns:i="http://quay.example/1.0/container/item/"><c:Item i:Semantic="Primary" i:Padding="7"/>
                <c:Item i:Semantic="Depth" i:Length="100"/><c:Item i:Semantic="GainMap" {second}/></a>"#
            )
        };
        assert_eq!(
            listed(&list(r#"i:Length="55""#)),
            Some((107, 55)),
            "after the others"
        );
        assert_eq!(listed(&list("")), None, "no length");
        assert_eq!(listed(&list(r#"i:Length="-1""#)), None, "no number");
    }
}
