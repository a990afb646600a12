//! Hostile files: each is a picture or a sentence, never a panic, never an abort, never gigabytes.

use super::{bytes_of, light, ok, png8};
use foreglass::frame::{Encoding, Kind, Output, read_bytes};
use std::io::Cursor;

/// Small files of every kind, with what makes decoders work: several blocks, filters, both halves.
fn seeds() -> Vec<(&'static str, Vec<u8>)> {
    let frame = light(21, 19);
    let half = Output {
        half: true,
        ..Output::for_kind(Kind::Exr)
    };
    vec![
        (
            "png",
            bytes_of(Kind::Png, &frame, &Output::for_kind(Kind::Png)),
        ),
        ("png8", png8((16, 16), &super::ramp())),
        (
            "jpg",
            bytes_of(Kind::Jpeg, &frame, &Output::for_kind(Kind::Jpeg)),
        ),
        (
            "tif",
            bytes_of(Kind::Tiff, &frame, &Output::for_kind(Kind::Tiff)),
        ),
        (
            "exr",
            bytes_of(Kind::Exr, &frame, &Output::for_kind(Kind::Exr)),
        ),
        ("half", bytes_of(Kind::Exr, &frame, &half)),
        ("piz", exr_with(exr::compression::Compression::PIZ)),
        ("b44", exr_with(exr::compression::Compression::B44)),
        ("pxr24", exr_with(exr::compression::Compression::PXR24)),
        ("tiles", exr_with(exr::compression::Compression::RLE)),
    ]
}

fn exr_with(compression: exr::compression::Compression) -> Vec<u8> {
    use exr::prelude::*;
    let tiled = compression == Compression::RLE;
    let channels = SpecificChannels::rgb(|Vec2(x, y)| {
        let v = f16::from_f32(x as f32 * 0.1 - y as f32 * 0.03);
        (v, v, f16::from_f32(0.5))
    });
    let blocks = if tiled {
        Blocks::Tiles(Vec2(8, 8))
    } else {
        Blocks::ScanLines
    };
    let encoding = Encoding {
        compression,
        blocks,
        line_order: LineOrder::Increasing,
    };
    let image = Image::from_layer(Layer::new(
        (21, 19),
        LayerAttributes::default(),
        encoding,
        channels,
    ));
    let mut out = Cursor::new(Vec::new());
    image.write().to_buffered(&mut out).unwrap();
    out.into_inner()
}

/// One line, and the name in it.
fn judge(name: &str, bytes: &[u8]) -> bool {
    match read_bytes(name, bytes, Encoding::Auto) {
        Ok(still) => {
            let finite = still.frame.planes().iter().flatten().all(|v| v.is_finite());
            assert!(finite, "{name}: only numbers come out");
            true
        }
        Err(e) => {
            let said = e.to_string();
            assert!(said.starts_with(name) && !said.contains('\n'), "{said}");
            false
        }
    }
}

#[test]
fn every_truncation_is_a_sentence() {
    for (name, file) in seeds() {
        assert!(judge(name, &file), "{name} itself is read");
        let step = (file.len() / 150).max(1);
        for length in (0..file.len()).step_by(step).chain([file.len() - 1]) {
            let read = judge(name, &file[..length]);
            // A TIFF's last bytes may be a tag that is not needed.
            assert!(
                !read || name == "tif",
                "{name} cut to {length} of {} bytes",
                file.len()
            );
        }
    }
}

/// A small generator of Marsaglia's (xorshift, 2003), so that the mutants are the same every time.
struct Dice(u32);

impl Dice {
    fn below(&mut self, n: usize) -> usize {
        self.0 ^= self.0 << 13;
        self.0 ^= self.0 >> 17;
        self.0 ^= self.0 << 5;
        self.0 as usize % n
    }
}

#[test]
fn mutants_are_pictures_or_sentences() {
    let mut dice = Dice(0x9E37_79B9);
    for (name, file) in seeds() {
        for _ in 0..400 {
            let mut mutant = file.clone();
            for _ in 0..=dice.below(3) {
                // Half of the hits go to the header, where sizes live.
                let reach = if dice.below(2) == 0 {
                    file.len().min(400)
                } else {
                    file.len()
                };
                let at = dice.below(reach);
                mutant[at] = match dice.below(4) {
                    0 => 0,
                    1 => 0xFF,
                    2 => mutant[at] ^ (1 << dice.below(8)),
                    _ => dice.below(256) as u8,
                };
            }
            judge(name, &mutant);
        }
    }
}

fn refusal(name: &str, bytes: &[u8]) -> String {
    read_bytes(name, bytes, Encoding::Auto)
        .unwrap_err()
        .to_string()
}

/// The file with `change` made to the bytes that follow `mark`.
fn edited(file: &[u8], mark: &[u8], change: impl Fn(&mut [u8])) -> Vec<u8> {
    let at = file.windows(mark.len()).position(|w| w == mark).unwrap() + mark.len();
    let mut file = file.to_vec();
    change(&mut file[at..]);
    file
}

#[test]
fn sizes_are_judged_before_anything_is_decoded() {
    // PNG: IHDR with 30000 × 30000; the CRC is then wrong, so a right one is made by the writer.
    let big = {
        let mut out = Vec::new();
        let mut encoder = png::Encoder::new(&mut out, 70_000, 2);
        encoder.set_color(png::ColorType::Rgb);
        drop(encoder.write_header().unwrap());
        out
    };
    let said = refusal("wide.png", &big);
    assert_eq!(
        said, "wide.png is 70000 × 2 pixels; a side may have 1 to 65535 pixels",
        "PNG"
    );
    let frame = light(21, 19);
    let jpeg = bytes_of(Kind::Jpeg, &frame, &Output::for_kind(Kind::Jpeg));
    let huge = edited(&jpeg, &[0xFF, 0xC0], |b| {
        b[3..7].copy_from_slice(&[0xFF; 4]);
    });
    assert!(
        refusal("j", &huge).contains("65535 × 65535"),
        "{}",
        refusal("j", &huge)
    );
    let area = edited(&jpeg, &[0xFF, 0xC0], |b| {
        b[3..7].copy_from_slice(&[0x3F, 0xFF, 0x3F, 0xFF]);
    });
    assert!(
        refusal("j", &area).contains("cannot hold the 16383 × 16383 pixels"),
        "{}",
        refusal("j", &area)
    );
    let cmyk = edited(&jpeg, &[0xFF, 0xC0], |b| b[7] = 4);
    assert!(
        refusal("j", &cmyk).contains("CMYK"),
        "{}",
        refusal("j", &cmyk)
    );
    let twelve = edited(&jpeg, &[0xFF, 0xC0], |b| b[2] = 12);
    assert!(
        refusal("j", &twelve).contains("12 bits"),
        "{}",
        refusal("j", &twelve)
    );
}

#[test]
fn exr_windows_and_compressions_that_are_dangerous() {
    let exr = bytes_of(Kind::Exr, &light(21, 19), &Output::for_kind(Kind::Exr));
    // dataWindow and displayWindow: name, 0, "box2i", 0, length 4, then x0 y0 x1 y1.
    let data = b"dataWindow\0box2i\0\x10\0\0\0";
    let wide = edited(&exr, data, |b| {
        b[8..12].copy_from_slice(&2_000_000_i32.to_le_bytes());
    });
    assert!(
        refusal("e", &wide).contains("2000001 × 19"),
        "{}",
        refusal("e", &wide)
    );
    let area = edited(&exr, data, |b| {
        b[8..12].copy_from_slice(&16_000_i32.to_le_bytes());
        b[12..16].copy_from_slice(&16_000_i32.to_le_bytes());
    });
    assert!(
        refusal("e", &area).contains("100 megapixels"),
        "{}",
        refusal("e", &area)
    );
    let display = b"displayWindow\0box2i\0\x10\0\0\0";
    let far = edited(&exr, display, |b| {
        b[8..12].copy_from_slice(&i32::MAX.to_le_bytes());
    });
    assert!(
        refusal("e", &far).starts_with("e "),
        "{}",
        refusal("e", &far)
    );
    let compression = b"compression\0compression\0\x01\0\0\0";
    for (code, word) in [(8, "DWAA"), (9, "DWAA or DWAB")] {
        let dwa = edited(&exr, compression, |b| b[0] = code);
        assert!(refusal("e", &dwa).contains(word), "{}", refusal("e", &dwa));
    }
    for code in [10, 11, 77] {
        let odd = edited(&exr, compression, |b| b[0] = code);
        assert!(!refusal("e", &odd).is_empty(), "compression {code}");
    }
    use exr::prelude::*;
    let many =
        (0..65).map(|i| AnyChannel::new(format!("c{i}").as_str(), FlatSamples::F32(vec![0.0; 4])));
    let image = Image::from_layer(Layer::new(
        (2, 2),
        LayerAttributes::default(),
        Encoding::UNCOMPRESSED,
        AnyChannels::sort(many.collect()),
    ));
    let mut out = Cursor::new(Vec::new());
    image.write().to_buffered(&mut out).unwrap();
    let said = refusal("many.exr", &out.into_inner());
    assert_eq!(
        said, "many.exr has 65 channels in one layer; the limit is 64",
        "channels"
    );
}

#[test]
fn kinds_that_are_not_read_say_what_they_are() {
    for (start, words) in [
        (&b"\0\0\0\x18ftypheic\0\0\0\0"[..], "HEIC"),
        (b"\0\0\0\x18ftypcrx \0\0\0\0", "raw file"),
        (b"II*\0\x10\0\0\0CR\x02\0", "raw file"),
        (b"GIF89a", "export it as a PNG"),
        (b"hello, quay", "not a picture"),
        (b"x", "not a picture"),
    ] {
        let said = refusal("scout", start);
        assert!(
            said.starts_with("scout is ") && said.contains(words),
            "{said}"
        );
    }
    // A raw file that is a TIFF with a thumbnail in front: told by its version tag.
    let mut out = Cursor::new(Vec::new());
    let mut encoder = tiff::encoder::TiffEncoder::new(&mut out).unwrap();
    let mut picture = encoder
        .new_image::<tiff::encoder::colortype::RGB8>(2, 1)
        .unwrap();
    picture
        .encoder()
        .write_tag(tiff::tags::Tag::Unknown(50_706), &[1_u8, 4, 0, 0][..])
        .unwrap();
    picture.write_data(&[0, 0, 0, 255, 255, 255]).unwrap();
    let said = refusal("scout", &out.into_inner());
    assert!(said.contains("raw file"), "{said}");
}

#[test]
fn one_pixel_is_a_picture() {
    let frame = light(1, 1);
    for kind in [Kind::Exr, Kind::Png, Kind::Tiff, Kind::Jpeg] {
        let still = ok(&bytes_of(kind, &frame, &Output::for_kind(kind)));
        assert_eq!(
            (still.frame.width(), still.frame.height()),
            (1, 1),
            "{kind:?}"
        );
    }
}
