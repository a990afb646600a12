//! LUTs that are refused: one line each, with the line or the node, the quantity and its limit.

use super::text;
use foreglass::frame::Lut;

fn refusal(text: &str) -> String {
    let said = Lut::parse(text).expect_err(text).to_string();
    assert!(!said.contains('\n') && said.len() < 300, "one line: {said}");
    said
}

#[test]
fn plain_texts_that_are_none() {
    let rows = "0 0 0\n1 1 1\n";
    for (text, words) in [
        ("", "neither LUT_3D_SIZE nor LUT_1D_SIZE"),
        (
            "quay.cube",
            "line 1: \"quay.cube\" is not a keyword of a LUT",
        ),
        (
            "LUT_3D_SIZE 130\n",
            "line 1: size \"130\" is out of range: 2 to 129",
        ),
        (
            "# x\nLUT_3D_SIZE 1\n0 0 0\n",
            "line 2: size \"1\" is out of range",
        ),
        (
            "LUT_1D_SIZE 65537\n",
            "size \"65537\" is out of range: 2 to 65536",
        ),
        ("LUT_1D_SIZE -2\n", "size \"-2\""),
        (
            "LUT_1D_SIZE 2\nLUT_1D_SIZE 2\n",
            "line 2: LUT_1D_SIZE is told twice",
        ),
        (
            "0 0 0\nLUT_1D_SIZE 2\n",
            "line 1: numbers before LUT_3D_SIZE",
        ),
        (
            "LUT_1D_SIZE 3\n0 0 0\n1 1 1\n",
            "2 lines of numbers, where 3 are announced",
        ),
        (
            "LUT_1D_SIZE 2\n0 0 0\n1 1 1\n1 1 1\n",
            "line 4: there are more than 2 lines",
        ),
        (
            "LUT_1D_SIZE 2\n0 0\n1 1 1\n",
            "line 2: 2 numbers, where 3 belong",
        ),
        (
            "LUT_1D_SIZE 2\n0 0 0 1\n1 1 1\n",
            "line 2: 4 numbers, where 3 belong",
        ),
        (
            "LUT_1D_SIZE 2\n0 0 1e39\n1 1 1\n",
            "line 2: \"1e39\" is not a finite number",
        ),
        (
            "LUT_1D_SIZE 2\n0 0 0,5\n1 1 1\n",
            "\"0,5\" is not a finite number",
        ),
        (
            "LUT_1D_SIZE 2\n0 0 0\nTITLE \"x\"\n1 1 1\n",
            "line 3: \"TITLE 'x'\" stands among",
        ),
        (
            "LUT_1D_SIZE 2\nSHAPER 2\n",
            "line 2: \"SHAPER\" is not a keyword",
        ),
        (
            "LUT_1D_SIZE 2\nDOMAIN_MAX 1 1 0\n0 0 0\n1 1 1\n",
            "the domain ends at 0, not above its start 0",
        ),
        (
            "LUT_1D_SIZE 2\nDOMAIN_MIN 0 0\n",
            "line 2: 2 numbers, where 3 belong",
        ),
        (
            "LUT_1D_SIZE 2\nDOMAIN_MIN 0 0 0\nLUT_1D_INPUT_RANGE 0 1\n0 0 0\n1 1 1\n",
            "say it twice",
        ),
    ] {
        let said = refusal(text);
        assert!(said.contains(words), "{text:?}: {said}");
    }
    for ok in [
        "\u{feff}title \"Dusk\"\r\n\r\nlut_1d_size 2\r\n  0 0 0\r\n1\t1 1\r\n".to_owned(),
        format!("LUT_1D_SIZE 2\n{rows}\n\n# the end\n"),
        format!("LUT_1D_SIZE 2\nLUT_1D_INPUT_RANGE 0 1\n{rows}"),
    ] {
        assert!(Lut::parse(&ok).is_ok(), "{ok:?}");
    }
}

/// A Common LUT Format of one node.
fn one(node: &str) -> String {
    format!("<ProcessList id=\"x\" compCLFversion=\"3.0\">\n\n{node}</ProcessList>")
}

#[test]
fn process_lists_that_are_none() {
    let log2 = one("<Log inBitDepth=\"32f\" outBitDepth=\"32f\" style=\"log2\"/>");
    assert!(Lut::parse(&log2).is_ok(), "{log2}");
    let many = "<Log inBitDepth=\"32f\" outBitDepth=\"32f\" style=\"log2\"/>".repeat(65);
    let elements = format!("<Info>{}</Info>", "<a/>".repeat(20_000));
    let bomb = "<!DOCTYPE ProcessList [<!ENTITY a \"aaaaaaaaaa\"><!ENTITY b \"&a;&a;&a;\">]>";
    for (text, words) in [
        ("<".to_owned(), "this is not XML"),
        ("<a>&b;</a>".to_owned(), "this is not XML"),
        (format!("{bomb}{log2}"), "holds a document type"),
        (
            log2.replace("ProcessList", "LookList"),
            "<LookList> is not the <ProcessList>",
        ),
        (
            log2.replace(" compCLFversion=\"3.0\"", ""),
            "does not tell its compCLFversion",
        ),
        (
            log2.replace("3.0", "4.0"),
            "compCLFversion \"4.0\" is not known",
        ),
        (one(""), "holds no process node"),
        (one(&many), "node 65 (Log, line 3): more than 64 nodes"),
        (one(&elements), "more than 20000 elements"),
        (
            log2.replace(" inBitDepth=\"32f\"", ""),
            "node 1 (Log, line 3): inBitDepth is not told",
        ),
        (
            log2.replace("outBitDepth=\"32f\"", "outBitDepth=\"9i\""),
            "outBitDepth \"9i\" is not one of",
        ),
        (log2.replace("style=\"log2\"", ""), "its style is not told"),
        (log2.replace("log2", "log3"), "style \"log3\" is not known"),
        (
            log2.replace("<Log ", "<Blur "),
            "<Blur> is not a node of the Common LUT Format",
        ),
        (
            log2.replace("<Log ", "<Log bypass=\"true\" "),
            "bypass is not read",
        ),
    ] {
        let said = refusal(&text);
        assert!(said.contains(words), "{text:.200}: {said}");
    }
    let twice = one(
        "<Log inBitDepth=\"32f\" outBitDepth=\"10i\" style=\"log2\"/>\n\
         <Log inBitDepth=\"32f\" outBitDepth=\"32f\" style=\"log2\"/>",
    );
    let said = refusal(&twice);
    assert!(
        said.starts_with("node 2 (Log, line 4): inBitDepth is not the outBitDepth"),
        "{said}"
    );
    // A long list, deeply nested, ends in a sentence too.
    let deep = format!("{}{}", "<a>".repeat(100_000), "</a>".repeat(100_000));
    assert!(refusal(&deep).contains("elements"), "deep");
}

/// What each node refuses; the good one comes first and is read.
#[test]
fn nodes_that_are_none() {
    let node = |tag: &str, attributes: &str, inside: &str| {
        one(&format!(
            "<{tag} inBitDepth=\"32f\" outBitDepth=\"32f\" {attributes}>{inside}</{tag}>"
        ))
    };
    let array = |dim: &str, numbers: &str| format!("<Array dim=\"{dim}\">{numbers}</Array>");
    let ends = |low: &str, high: &str, low_out: &str, high_out: &str| {
        let names = ["minInValue", "maxInValue", "minOutValue", "maxOutValue"];
        let pairs = names.iter().zip([low, high, low_out, high_out]);
        let told = pairs.filter(|(_, v)| !v.is_empty());
        told.map(|(n, v)| format!("<{n}> {v} </{n}>"))
            .collect::<String>()
    };
    let log = |params: &str| {
        node(
            "Log",
            "style=\"cameraLinToLog\"",
            &format!("<LogParams {params}/>"),
        )
    };
    let power = |style: &str, params: &str| {
        let inside = format!("<ExponentParams {params}/>");
        node("Exponent", &format!("style=\"{style}\""), &inside)
    };
    let cdl = |style: &str, slope: &str, saturation: &str| {
        let inside = format!(
            "<SOPNode><Slope>{slope}</Slope><Offset>0 0 0</Offset><Power>1 1 1</Power></SOPNode>\
             <SatNode><Saturation>{saturation}</Saturation></SatNode>"
        );
        node("ASC_CDL", &format!("style=\"{style}\""), &inside)
    };
    let unit = "1 0 0 0 1 0 0 0 1";
    let cube = "0 0 0 0 0 1 0 1 0 0 1 1 1 0 0 1 0 1 1 1 0 1 1 1";
    let cases: Vec<Vec<(String, &str)>> = vec![
        vec![
            (node("Matrix", "", &array("3 3", unit)), ""),
            (node("Matrix", "", ""), "the Array is not told"),
            (node("Matrix", "", &array("4 4", unit)), "3 by 3 or 3 by 4"),
            (
                node("Matrix", "", &array("3 3", "1 0 0")),
                "3 numbers, where 9 belong",
            ),
            (
                node("Matrix", "", &array("3 4", &format!("{unit} 0 0 0 0"))),
                "more than 12 numbers",
            ),
            (
                node(
                    "Matrix",
                    "",
                    &array("3 3", &unit.replace("1 0 0 0 1", "1 0 x 0 1")),
                ),
                "number 3: \"x\"",
            ),
            (
                node("Matrix", "", &array("3 3", &unit.replacen('1', "NaN", 1))),
                "\"NaN\" is not a finite",
            ),
            (
                node("Matrix", "", &array("3 3", unit).repeat(2)),
                "Array is told twice",
            ),
            (
                node("Matrix", "", "<Dynamic/>"),
                "<Dynamic> does not belong there",
            ),
        ],
        vec![
            (node("Range", "", &ends("0", "1", "0.1", "0.8")), ""),
            (node("Range", "", ""), "neither of its ends"),
            (node("Range", "", &ends("0", "", "", "1")), "come together"),
            (
                node("Range", "", &ends("0", "", "0.1", "")),
                "the lower end alone must be the same",
            ),
            (
                node("Range", "", &ends("", "1", "", "0.9")),
                "the upper end alone must be the same",
            ),
            (
                node("Range", "", &ends("1", "1", "0", "1")),
                "maxInValue is not above minInValue",
            ),
            (
                node("Range", "", &ends("0", "1", "1", "0")),
                "maxOutValue is below minOutValue",
            ),
            (
                node("Range", "style=\"noClamp\"", &ends("0", "", "0", "")),
                "noClamp needs all four",
            ),
            (
                node("Range", "style=\"soft\"", &ends("0", "1", "0", "1")),
                "style \"soft\"",
            ),
        ],
        vec![
            (log("linSideBreak=\"0.1\""), ""),
            (
                log("linSideBreak=\"-0.1\""),
                "no logarithm at linSideBreak -0.1",
            ),
            (log("base=\"10\""), "linSideBreak is not told"),
            (
                log("linSideBreak=\"0.1\" base=\"1\""),
                "base 1 is out of range",
            ),
            (
                log("linSideBreak=\"0.1\" base=\"-2\""),
                "base -2 is out of range",
            ),
            (
                log("linSideBreak=\"0.1\" logSideSlope=\"0\""),
                "logSideSlope is 0",
            ),
            (
                log("linSideBreak=\"0.1\" linSideSlope=\"0\""),
                "linSideSlope is 0",
            ),
            (
                log("linSideBreak=\"0.1\" linearSlope=\"0\""),
                "linearSlope is 0",
            ),
            (
                log("linSideBreak=\"inf\""),
                "linSideBreak \"inf\" is not a finite",
            ),
            (
                log("linSideBreak=\"0.1\" channel=\"R\""),
                "for some channels and not for all",
            ),
            (
                log("linSideBreak=\"0.1\" channel=\"A\""),
                "channel \"A\" is not one of R, G, B",
            ),
            (
                log("linSideBreak=\"0.1\"").replace("cameraLinToLog", "linToLog"),
                "belong to the camera's",
            ),
            (
                log("linSideBreak=\"0.1\"").replace("cameraLinToLog", "log10"),
                "LogParams do not belong",
            ),
        ],
        vec![
            (power("basicFwd", "exponent=\"2\""), ""),
            (
                power("basicFwd", "exponent=\"0\""),
                "exponent 0 is out of range: 0.01 to 100",
            ),
            (power("basicFwd", ""), "exponent is not told"),
            (
                power("basicFwd", "exponent=\"2\" offset=\"0.1\""),
                "an offset does not belong",
            ),
            (power("monCurveFwd", "exponent=\"2\""), "offset is not told"),
            (
                power("monCurveFwd", "exponent=\"0.5\" offset=\"0.1\""),
                "exponent 0.5 is out of range: 1 to 10",
            ),
            (
                power("monCurveFwd", "exponent=\"2\" offset=\"1\""),
                "offset 1 is out of range: 0 to 0.9",
            ),
            (power("cubic", "exponent=\"2\""), "style \"cubic\""),
            (
                node("Exponent", "style=\"basicFwd\"", ""),
                "ExponentParams are not told",
            ),
        ],
        vec![
            (cdl("Rev", "1 1 1", "1"), ""),
            (cdl("Rev", "1 0 1", "1"), "Slope 0 is out of range: above 0"),
            (
                cdl("Fwd", "1 -1 1", "1"),
                "Slope -1 is out of range: 0 or more",
            ),
            (cdl("Rev", "1 1 1", "0"), "Saturation 0 is out of range"),
            (cdl("Fwd", "1 1", "1"), "2 numbers, where 3 belong"),
            (cdl("Sideways", "1 1 1", "1"), "style \"Sideways\""),
        ],
        vec![
            (node("LUT1D", "", &array("2 1", "0 1")), ""),
            (
                node("LUT1D", "", &array("2 2", "0 1 0 1")),
                "1 or 3 columns",
            ),
            (
                node("LUT1D", "", &array("1 1", "0")),
                "length 1 is out of range: 2 to 65536",
            ),
            (
                node("LUT1D", "", &array("65537 1", "0")),
                "length 65537 is out of range",
            ),
            (
                node("LUT1D", "halfDomain=\"true\"", &array("2 1", "0 1")),
                "where a half domain has 65536",
            ),
            (
                node("LUT1D", "rawHalfs=\"true\"", &array("2 1", "0 0.5")),
                "number 2: \"0.5\"",
            ),
            (
                node("LUT1D", "rawHalfs=\"true\"", &array("2 1", "0 32000")),
                "number 2: \"32000\"",
            ),
            (
                node("LUT1D", "rawHalfs=\"yes\"", &array("2 1", "0 1")),
                "rawHalfs \"yes\"",
            ),
            (
                node("LUT1D", "hueAdjust=\"dw4\"", &array("2 1", "0 1")),
                "hueAdjust \"dw4\"",
            ),
            (
                node("LUT1D", "interpolation=\"cubic\"", &array("2 1", "0 1")),
                "interpolation \"cubic\"",
            ),
            (
                node("LUT1D", "", "<Array dim=\"x 1\">0</Array>"),
                "dim \"x 1\"",
            ),
            (
                node(
                    "LUT1D",
                    "",
                    &format!("<IndexMap>0@0 1@5</IndexMap>{}", array("2 1", "0 1")),
                ),
                "does not lead to the table's two ends",
            ),
            (
                node(
                    "LUT1D",
                    "",
                    &format!("<IndexMap>0@0 5@1 9@2</IndexMap>{}", array("3 1", "0 1 2")),
                ),
                "only an IndexMap of two entries",
            ),
        ],
        vec![
            (node("LUT3D", "", &array("2 2 2 3", cube)), ""),
            (
                node("LUT3D", "", &array("2 2 3 3", cube)),
                "three equal sides",
            ),
            (
                node("LUT3D", "", &array("130 130 130 3", cube)),
                "side 130 is out of range: 2 to 129",
            ),
            (
                node("LUT3D", "", &array("129 129 129 3", cube)),
                "24 numbers, where 6440067 belong",
            ),
            (
                node("LUT3D", "interpolation=\"cubic\"", &array("2 2 2 3", cube)),
                "interpolation \"cubic\"",
            ),
        ],
    ];
    for group in cases {
        for (text, words) in group {
            if words.is_empty() {
                assert!(Lut::parse(&text).is_ok(), "{text}");
            } else {
                let said = refusal(&text);
                assert!(
                    said.contains(words) && said.starts_with("node 1 ("),
                    "{text}: {said}"
                );
            }
        }
    }
}

#[test]
fn a_text_that_is_too_long() {
    let long = " ".repeat((64 << 20) + 1);
    let said = refusal(&long);
    assert!(
        said.contains("67108865 bytes long; the limit is 67108864"),
        "{said}"
    );
    assert!(
        Lut::parse(&text("cube.cube")).is_ok(),
        "and one that is not"
    );
}
