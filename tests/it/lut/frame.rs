//! Frames that are read through a LUT: the light, the words, the recipe, the command line, the session.

use super::text;
use crate::cli::{Folder, data, refusal};
use crate::frame::{png, png8};
use crate::recipe::with;
use crate::session::{still, until};
use foreglass::frame::{Encoding, Lut, ReadAs, Still, read_bytes};
use foreglass::recipe::{InputLut, Recipe, input_lut_from};
use foreglass::session::Session;
use serde_json::{Value, json};
use std::io::Cursor;
use std::path::Path;
use std::sync::Arc;

/// Codes of 0, 1/3, 2/3 and 1 stand for black, key, two and five stops over key.
const LOG: &str =
    "TITLE \"Ferry log\"\nLUT_1D_SIZE 4\n0 0 0\n0.18 0.18 0.18\n0.72 0.72 0.72\n5.76 5.76 5.76\n";

fn reading(encoding: Encoding, lut: &str) -> ReadAs {
    ReadAs {
        encoding,
        lut: Some(Arc::new(Lut::parse(lut).unwrap())),
    }
}

fn png16(size: (u32, u32), kind: png::ColorType, codes: &[u16]) -> Vec<u8> {
    let bytes: Vec<u8> = codes.iter().flat_map(|c| c.to_be_bytes()).collect();
    png(size, (kind, png::BitDepth::Sixteen), &bytes, |_| {})
}

fn near(got: [f32; 3], want: [f32; 3]) {
    for (g, w) in got.iter().zip(want) {
        assert!(
            (g - w).abs() <= 1e-6 * w.abs().max(1.0),
            "{got:?} against {want:?}"
        );
    }
}

/// 65535 is divisible by 3, so that the LUT's nodes are met to the code; between them the line is straight.
#[test]
fn codes_go_through_the_lut() {
    let codes = [0, 21_845, 43_690, 65_535, 17_476, 65_535];
    let file = png16((2, 1), png::ColorType::Rgb, &codes);
    let seen = read_bytes("quay.png", &file, reading(Encoding::Auto, LOG)).unwrap();
    assert_eq!(
        seen.encoding,
        Encoding::AcesCg,
        "linear ACEScg where nothing is said"
    );
    near(seen.frame.pixel(0, 0), [0.0, 0.18, 0.72]);
    near(seen.frame.pixel(1, 0), [5.76, 0.8 * 0.18, 5.76]);
    let words = "16-bit PNG, through the input LUT \"Ferry log\" (1D, 4), read as linear ACEScg";
    assert_eq!(seen.how, words, "the words");

    // Grey with alpha, 8 bits: 85 is a third of 255.
    let kind = (png::ColorType::GrayscaleAlpha, png::BitDepth::Eight);
    let file = png((1, 1), kind, &[85, 7], |_| {});
    let seen = read_bytes("quay.png", &file, reading(Encoding::Auto, LOG)).unwrap();
    near(seen.frame.pixel(0, 0), [0.18; 3]);
    assert!(seen.how.ends_with("; alpha dropped"), "{}", seen.how);

    // No LUT: an encoding alone is read as before.
    let file = png8((1, 1), &[255, 0, 0]);
    let plain = read_bytes("quay.png", &file, Encoding::Auto).unwrap();
    let same = read_bytes("quay.png", &file, ReadAs::default()).unwrap();
    assert_eq!(plain.frame, same.frame, "the same");
}

/// Red of AP0 in AP1: the first column of the matrix in Academy S-2014-004.
const AP0_RED: [f32; 3] = [1.451_439_3, -0.076_553_77, 0.008_316_148];

/// What comes out of the LUT is what the encoding says, and without one what the LUT says.
#[test]
fn what_comes_out_of_the_lut() {
    let red = png8((1, 1), &[255, 0, 0]);
    let plain = text("matrix.clf");
    let unit = |descriptor: &str| {
        let start = plain.find("<Array").unwrap();
        let end = plain.find("</Array>").unwrap();
        let array = "<Array dim=\"3 3\">1 0 0 0 1 0 0 0 1";
        let text = format!("{}{array}{}", &plain[..start], &plain[end..]);
        text.replace(
            "<InputDescriptor>",
            &format!("{descriptor}<InputDescriptor>"),
        )
    };
    let said = "<OutputDescriptor>ACES2065-1</OutputDescriptor>";
    let read = |encoding, lut: &str| read_bytes("red.png", &red, reading(encoding, lut)).unwrap();
    let own = read(Encoding::Auto, &unit(said));
    assert_eq!(own.encoding, Encoding::Aces2065, "as the LUT says");
    near(own.frame.pixel(0, 0), AP0_RED);
    assert!(
        own.how
            .contains("\"Ferry matrix\" (Matrix), read as linear ACES2065-1"),
        "{}",
        own.how
    );
    near(
        read(Encoding::Auto, &unit("")).frame.pixel(0, 0),
        [1.0, 0.0, 0.0],
    );
    near(
        read(Encoding::AcesCg, &unit(said)).frame.pixel(0, 0),
        [1.0, 0.0, 0.0],
    );
    near(
        read(Encoding::Aces2065, &unit("")).frame.pixel(0, 0),
        AP0_RED,
    );
    // A LUT that ends in a display's codes, and the encoding says so.
    let (plain, coded) = (
        read_bytes("red.png", &red, Encoding::Srgb),
        read(Encoding::Srgb, &unit(said)),
    );
    near(coded.frame.pixel(0, 0), plain.unwrap().frame.pixel(0, 0));

    // Without a LUT: linear AP0 by its word.
    let plain = read_bytes("red.png", &red, Encoding::Aces2065).unwrap();
    near(plain.frame.pixel(0, 0), AP0_RED);
    assert_eq!(
        plain.how, "8-bit PNG, read as linear ACES2065-1",
        "the words"
    );
}

/// An EXR of two pixels, with chromaticities, as the format crate writes it: ours writes no NaN.
fn exr_of(r: [f32; 2], g: [f32; 2], b: [f32; 2]) -> Vec<u8> {
    use exr::prelude::*;
    let channels = SpecificChannels::rgb(|Vec2(x, _)| (r[x], g[x], b[x]));
    let mut image = Image::from_channels((2, 1), channels);
    // Those of BT.709, which are not those of working light.
    image.attributes.chromaticities = Some(attribute::Chromaticities {
        red: Vec2(0.64, 0.33),
        green: Vec2(0.3, 0.6),
        blue: Vec2(0.15, 0.06),
        white: Vec2(0.3127, 0.329),
    });
    let mut out = Cursor::new(Vec::new());
    image.write().to_buffered(&mut out).unwrap();
    out.into_inner()
}

/// A file of floats goes in as it is, outside 0 to 1 too; what is no number is said.
#[test]
fn floats_go_in_as_they_are() {
    let file = exr_of([-0.5, 0.25], [2.0, f32::NAN], [0.75, 1.0]);
    let double = text("matrix.clf");
    let start = double.find("<Array").unwrap();
    let end = double.find("</Array>").unwrap();
    let array = "<Array dim=\"3 4\">2 0 0 0 0 2 0 0 0 0 2 1";
    let lut = format!("{}{array}{}", &double[..start], &double[end..]);
    let read = |lut: &str| -> Still {
        read_bytes("quay.exr", &file, reading(Encoding::Auto, lut)).unwrap()
    };
    let seen = read(&lut);
    near(seen.frame.pixel(0, 0), [-1.0, 4.0, 2.5]);
    near(seen.frame.pixel(1, 0), [0.5, 0.0, 3.0]);
    assert!(
        seen.how.contains("; its chromaticities not used"),
        "{}",
        seen.how
    );
    assert!(
        seen.how
            .ends_with("; 1 sample that was not a usable number replaced"),
        "{}",
        seen.how
    );
    // A table holds at its ends.
    near(
        read(LOG).frame.pixel(0, 0),
        [0.0, 5.76, 0.72 + 0.25 * (5.76 - 0.72)],
    );
    // What overflows in it comes out a number.
    let huge = text("antilog10.clf");
    let file = exr_of([50.0; 2], [0.0; 2], [-50.0; 2]);
    let seen = read_bytes("quay.exr", &file, reading(Encoding::Auto, &huge)).unwrap();
    near(seen.frame.pixel(0, 0), [65_504.0, 1.0, 0.0]);
}

#[test]
fn a_profile_is_not_used_and_that_is_said() {
    let profile = std::fs::read(concat!(
        env!("CARGO_MANIFEST_DIR"),
        "/tests/checks/icc_p3.icc"
    ))
    .unwrap();
    let kind = (png::ColorType::Rgb, png::BitDepth::Eight);
    let file = png((1, 1), kind, &[85, 170, 255], |info| {
        info.icc_profile = Some(profile.into());
    });
    let seen = read_bytes("quay.png", &file, reading(Encoding::Auto, LOG)).unwrap();
    near(seen.frame.pixel(0, 0), [0.18, 0.72, 5.76]);
    assert!(
        seen.how.ends_with("; its embedded profile not used"),
        "{}",
        seen.how
    );
}

fn recipe(lut: &str) -> String {
    with(&[("/frame/input_lut", json!(lut))])
}

/// A recipe on disk may name the LUT, from its own folder; what is read holds the text.
#[test]
fn a_recipe_takes_its_lut_in() {
    let folder = Folder::new();
    std::fs::create_dir(folder.path("luts")).unwrap();
    let file = folder.write("luts/ferry.txt", LOG);
    let here = folder.path("");
    let here = Path::new(&here);
    for named in ["luts/ferry.txt", "./luts/../luts/ferry.txt", &file, LOG] {
        let read = Recipe::parse_in(&recipe(named), here).unwrap();
        let whole = read.to_json();
        let again = Recipe::parse(&whole).unwrap();
        assert_eq!(read, again, "whole by itself");
        let written: Value = serde_json::from_str(&whole).unwrap();
        assert_eq!(written["frame"]["input_lut"], json!(LOG), "the text");
        assert_eq!(
            again.read_as(),
            reading(Encoding::Auto, LOG),
            "and is read by it"
        );
        // Copies share what was read.
        let (one, two) = (read.clone().read_as(), read.read_as());
        assert!(
            Arc::ptr_eq(&one.lut.unwrap(), &two.lut.unwrap()),
            "parsed once"
        );
    }
    assert_eq!(
        Recipe::default().read_as(),
        ReadAs::from(Encoding::Auto),
        "none"
    );
    let other = Recipe::parse(&recipe(&LOG.replace("0.72", "0.73"))).unwrap();
    assert_ne!(
        other,
        Recipe::parse(&recipe(LOG)).unwrap(),
        "another LUT is another recipe"
    );
    assert_ne!(
        other.read_as(),
        reading(Encoding::Auto, LOG),
        "and reads otherwise"
    );
    let from = input_lut_from(Path::new(&file)).unwrap();
    assert_eq!(from, InputLut::parse(LOG).unwrap(), "for the window");
}

#[test]
fn a_lut_that_a_recipe_cannot_use_is_told_by_path() {
    let folder = Folder::new();
    folder.write("bad.txt", "LUT_1D_SIZE 2\n0 0 0\n1 1 one\n");
    let here = folder.path("");
    let within = |lut: Value| {
        let text = with(&[("/frame/input_lut", lut)]);
        Recipe::parse_in(&text, Path::new(&here))
            .unwrap_err()
            .to_string()
    };
    for (lut, words) in [
        (json!("none.txt"), "frame.input_lut: \""),
        (json!("none.txt"), "none.txt\" cannot be read: "),
        (
            json!("bad.txt"),
            "bad.txt\": line 3: \"one\" is not a finite number",
        ),
        (json!("."), "cannot be read: this is not a file"),
        (json!(""), "cannot be read: this is not a file"),
        (
            json!("LUT_3D_SIZE 200\n"),
            "frame.input_lut: line 1: size \"200\" is out of range",
        ),
        (
            json!("<a/>"),
            "frame.input_lut: <a> is not the <ProcessList>",
        ),
        (json!(7), "frame.input_lut: invalid type"),
    ] {
        let said = within(lut);
        assert!(
            said.contains(words) && !said.contains('\n'),
            "{words}: {said}"
        );
    }
    let bare = Recipe::parse(&recipe("luts/ferry.txt")).unwrap_err();
    assert_eq!(bare.path, "frame.input_lut", "where");
    let words =
        "\"luts/ferry.txt\" is one line: the text of a LUT is wanted, or the path of a file";
    assert!(bare.message.starts_with(words), "{bare}");
}

/// A table of 65 × 65 × 65 in ten digits, with Windows line ends, goes in and comes back; one of 129 does
/// not, and is told the limit.
#[test]
fn a_recipe_has_room_for_a_large_lut() {
    let table = |side: usize| {
        let row = "0.0123456789 0.1234567890 1.2345678901\r\n";
        format!("LUT_3D_SIZE {side}\r\n{}", row.repeat(side * side * side))
    };
    let folder = Folder::new();
    folder.write("large.txt", table(65));
    let here = folder.path("");
    let read = Recipe::parse_in(&recipe("large.txt"), Path::new(&here)).unwrap();
    let again = Recipe::parse(&read.to_json()).unwrap();
    assert_eq!(read, again, "whole by itself");
    // 65³ · 42 bytes and their line ends' two escapes.
    assert!(read.to_json().len() > 11_000_000, "it is large");
    folder.write("larger.txt", table(80));
    let said = input_lut_from(Path::new(&folder.path("larger.txt"))).unwrap_err();
    assert!(
        said.contains("larger.txt\" is too long; the limit is 15728640 bytes"),
        "{said}"
    );
    let said = InputLut::parse(&table(73)).unwrap_err();
    assert!(
        said.ends_with("bytes long in a recipe; the limit is 15728640"),
        "{said}"
    );
}

/// A frame in a log of its own, read by the spot meter: key is key, two stops are two stops, and 4/15 of
/// the codes is four fifths of key, log2(0.8) stops.
#[test]
fn the_meter_reads_through_the_lut() {
    let folder = Folder::new();
    let row: Vec<u16> = [21_845_u16, 43_690, 65_535, 17_476]
        .iter()
        .flat_map(|c| [*c; 3 * 16])
        .collect();
    let frame = folder.write(
        "log.png",
        png16((64, 36), png::ColorType::Rgb, &row.repeat(36)),
    );
    folder.write("ferry.txt", LOG);
    let changes = [
        ("/frame/input_lut", json!("ferry.txt")),
        ("/rig/stages", json!([null, null, null])),
    ];
    let recipe = folder.write("r.json", with(&changes));
    let mut args = vec!["meter", &frame, "--recipe", &recipe, "--json"];
    for spot in ["0.125,0.5", "0.375,0.5", "0.625,0.5", "0.875,0.5"] {
        args.extend(["--spot", spot]);
    }
    let told = data(&args);
    for (i, want) in [0.0, 2.0, 5.0, 0.8_f64.log2()].into_iter().enumerate() {
        let got = told["spots"][i]["bare_stops"].as_f64().unwrap();
        assert!((got - want).abs() < 1e-5, "{got} against {want}");
    }
    // The same from the recipe that another copy of the program would get.
    let whole = Recipe::parse_in(&with(&changes), Path::new(&folder.path(""))).unwrap();
    args[3] = "whole.json";
    let whole = folder.write("whole.json", whole.to_json());
    args[3] = &whole;
    assert_eq!(data(&args), told, "whole by itself");
    let missing = folder.write("m.json", with(&[("/frame/input_lut", json!("gone.txt"))]));
    let (code, said) = refusal(&["meter", &frame, "--recipe", &missing, "--spot", "0.5,0.5"]);
    assert_eq!((code, said.lines().count()), (3, 1), "{said}");
    assert!(
        said.contains("m.json: frame.input_lut:") && said.contains("gone.txt"),
        "{said}"
    );
}

/// The window's session reads the still again when the look has another LUT, and undo brings it back.
#[test]
fn the_session_reads_the_still_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = still(folder.path(), "quay.png", 160, 90);
    let mut s = Session::new(Arc::new(|| {}));
    s.open_still(&path);
    s.finish_reading().unwrap();
    let settled = |s: &Session| s.reading().is_none() && !s.is_rendering();
    until(&mut s, "a picture", settled);
    let before = s.bare().unwrap().mips()[0].rgba().to_vec();
    s.change("Input LUT", None, |r| {
        r.frame.input_lut = Some(InputLut::parse(LOG).unwrap());
        Ok(())
    });
    until(&mut s, "the still again", settled);
    assert_ne!(s.bare().unwrap().mips()[0].rgba(), before, "other light");
    assert!(s.still().unwrap().how.contains("\"Ferry log\""), "and said");
    // The same LUT read again is no other LUT.
    s.change("Input LUT", None, |r| {
        r.frame.input_lut = Some(InputLut::parse(LOG).unwrap());
        Ok(())
    });
    s.poll();
    assert!(s.reading().is_none(), "nothing to read again");
    s.undo();
    until(&mut s, "the still as before", settled);
    assert_eq!(
        s.bare().unwrap().mips()[0].rgba(),
        before,
        "undo brings it back"
    );
}
