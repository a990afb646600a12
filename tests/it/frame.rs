//! Pictures in and out: what is read is what was meant, what is written is read back, and no file
//! whatever takes the program down.

#![expect(clippy::unwrap_used, reason = "a test may panic, its helpers too")]
#![expect(
    clippy::float_cmp,
    reason = "numbers that pass through untouched come back to the bit"
)]

mod exr;
mod files;
mod hostile;
mod icc;
mod orientation;
mod strips;
mod suites;

use foreglass::frame::{
    Encoding, Frame, Kind, Output, OutputSpace, Still, encode_png_rgb8, read, read_bytes, to_srgb8,
    write, write_bytes,
};
use foreglass::watch::Watch;
use std::io::Cursor;
use std::path::Path;

/// A PNG of raw samples, as the format crate writes it.
pub(crate) fn png(
    (w, h): (u32, u32),
    (colour, depth): (png::ColorType, png::BitDepth),
    data: &[u8],
    change: impl FnOnce(&mut png::Info<'_>),
) -> Vec<u8> {
    let mut info = png::Info::with_size(w, h);
    info.color_type = colour;
    info.bit_depth = depth;
    change(&mut info);
    let mut out = Vec::new();
    let mut writer = png::Encoder::with_info(&mut out, info)
        .unwrap()
        .write_header()
        .unwrap();
    writer.write_image_data(data).unwrap();
    writer.finish().unwrap();
    out
}

pub(crate) fn png8(size: (u32, u32), data: &[u8]) -> Vec<u8> {
    png(
        size,
        (png::ColorType::Rgb, png::BitDepth::Eight),
        data,
        |_| {},
    )
}

pub(super) fn ok(bytes: &[u8]) -> Still {
    read_bytes("still", bytes, Encoding::Auto).unwrap()
}

pub(super) fn bytes_of(kind: Kind, frame: &Frame, output: &Output) -> Vec<u8> {
    let mut sink = Cursor::new(Vec::new());
    write_bytes(&mut sink, kind, frame, output, &Watch::default()).unwrap();
    sink.into_inner()
}

/// Every 8-bit code in each channel, in three different orders.
pub(super) fn ramp() -> Vec<u8> {
    (0..=255_u8)
        .flat_map(|v| [v, v.wrapping_mul(7), 255 - v])
        .collect()
}

/// A frame of smooth light, some of it outside 0 to 1.
pub(super) fn light(w: usize, h: usize) -> Frame {
    let plane = |k: f32| {
        let at = |i: usize| ((i % w) as f32 / w as f32 - 0.1) * k + (i / w) as f32 / h as f32;
        (0..w * h).map(at).collect::<Vec<f32>>()
    };
    Frame::from_planes(w, h, [plane(1.0), plane(0.7), plane(2.5)])
}

pub(super) fn near(a: &Frame, b: &Frame, tolerance: f32) {
    assert_eq!(
        (a.width(), a.height()),
        (b.width(), b.height()),
        "the same size"
    );
    for (p, q) in a.planes().iter().zip(b.planes()) {
        for (x, y) in p.iter().zip(q) {
            assert!(
                (x - y).abs() <= tolerance * x.abs().max(1.0),
                "{x} against {y}"
            );
        }
    }
}

#[test]
fn eight_bit_srgb_returns_its_own_codes() {
    let codes = ramp();
    let still = ok(&png8((256, 1), &codes));
    assert_eq!(
        (still.encoding, still.native.bits),
        (Encoding::Srgb, 8),
        "untagged is sRGB"
    );
    let rgba = to_srgb8(&still.frame);
    let back: Vec<u8> = rgba.chunks(4).flat_map(|p| [p[0], p[1], p[2]]).collect();
    assert_eq!(back, codes, "to the code");
    assert!(rgba.chunks(4).all(|p| p[3] == 255), "opaque");
    // And through a 16-bit PNG: code · 257, within 1.
    let file = bytes_of(Kind::Png, &still.frame, &Output::for_kind(Kind::Png));
    let mut reader = png::Decoder::new(Cursor::new(&file)).read_info().unwrap();
    let mut buffer = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut buffer).unwrap();
    for (pair, &code) in buffer.chunks(2).zip(&codes) {
        let got = i32::from(u16::from_be_bytes([pair[0], pair[1]]));
        assert!((got - i32::from(code) * 257).abs() <= 1, "{got} for {code}");
    }
}

#[test]
fn sixteen_bit_srgb_returns_its_own_codes() {
    let codes: Vec<u16> = (0..=65_535_u32).step_by(3).map(|v| v as u16).collect();
    let width = (codes.len() / 3) as u32;
    let data: Vec<u8> = codes
        .iter()
        .take(width as usize * 3)
        .flat_map(|v| v.to_be_bytes())
        .collect();
    let kind = (png::ColorType::Rgb, png::BitDepth::Sixteen);
    let width = width.min(16_000);
    let data = &data[..width as usize * 6];
    let still = ok(&png((width, 1), kind, data, |_| {}));
    for kind in [Kind::Png, Kind::Tiff] {
        let again = ok(&bytes_of(kind, &still.frame, &Output::for_kind(kind)));
        let twice = bytes_of(Kind::Png, &again.frame, &Output::for_kind(Kind::Png));
        let mut reader = png::Decoder::new(Cursor::new(&twice)).read_info().unwrap();
        let mut buffer = vec![0; reader.output_buffer_size().unwrap()];
        reader.next_frame(&mut buffer).unwrap();
        for (a, b) in buffer.chunks(2).zip(data.chunks(2)) {
            let (a, b) = (
                u16::from_be_bytes([a[0], a[1]]),
                u16::from_be_bytes([b[0], b[1]]),
            );
            assert!(a.abs_diff(b) <= 1, "{a} for {b} through {kind:?}");
        }
    }
}

#[test]
fn working_light_of_known_codes() {
    // BT.709 red in AP1: the first column of the ACES sRGB to AP1 matrix (Bradford), as
    // published with the ACES system for OpenColorIO: 0.6130974, 0.0701937, 0.0206156.
    let still = ok(&png8((2, 1), &[255, 0, 0, 128, 128, 128]));
    let red = still.frame.pixel(0, 0);
    let want = [0.613_097_4, 0.070_193_7, 0.020_615_6];
    assert!(
        red.iter().zip(want).all(|(a, b)| (a - b).abs() < 1e-5),
        "{red:?}"
    );
    // sRGB code 128 is 0.215861 of white (IEC 61966-2-1).
    let grey = still.frame.pixel(1, 0);
    assert!(
        grey.iter().all(|v| (v - 0.215_860_5).abs() < 1e-6),
        "{grey:?}"
    );
}

#[test]
fn every_encoding_word_is_read_as_its_curve_and_primaries() {
    let codes = ramp();
    let file = png8((256, 1), &codes);
    for encoding in Encoding::ALL {
        let Some((space, curve)) = encoding.parts() else {
            continue;
        };
        let still = read_bytes("still", &file, encoding).unwrap();
        assert_eq!(still.encoding, encoding, "the word that was asked for");
        for (x, code) in codes.chunks(3).enumerate().step_by(17) {
            let linear = [0, 1, 2].map(|c| curve.decode64(f64::from(code[c]) / 255.0));
            let want = space.to_working().apply(linear);
            let got = still.frame.pixel(x, 0);
            for (g, w) in got.iter().zip(want) {
                let close = (f64::from(*g) - w).abs() <= 2e-6 * w.abs().max(1.0);
                assert!(close, "{encoding} code {code:?}: {g} for {w}");
            }
        }
    }
}

#[test]
fn grey_palette_alpha_and_small_depths() {
    use png::{BitDepth, ColorType};
    let grey = ok(&png(
        (2, 1),
        (ColorType::Grayscale, BitDepth::Eight),
        &[128, 255],
        |_| {},
    ));
    let [r, g, b] = grey.frame.pixel(0, 0);
    assert!(
        r.to_bits() == g.to_bits() && g.to_bits() == b.to_bits(),
        "grey is neutral to the bit"
    );
    let two = ok(&png(
        (4, 1),
        (ColorType::Grayscale, BitDepth::Two),
        &[0b0001_1011],
        |_| {},
    ));
    let third = foreglass::colour::transfer::Curve::Srgb.decode(1.0 / 3.0);
    assert!(
        (two.frame.pixel(1, 0)[0] - third).abs() < 1e-6,
        "code 1 of 3"
    );
    let palette = png(
        (2, 1),
        (ColorType::Indexed, BitDepth::Eight),
        &[1, 0],
        |i| {
            i.palette = Some(vec![0, 0, 0, 255, 255, 255].into());
        },
    );
    assert!(
        (ok(&palette).frame.pixel(0, 0)[1] - 1.0).abs() < 1e-6,
        "palette entry 1 is white"
    );
    let rgba = png(
        (1, 1),
        (ColorType::Rgba, BitDepth::Eight),
        &[255, 255, 255, 0],
        |_| {},
    );
    let still = ok(&rgba);
    assert!(
        (still.frame.pixel(0, 0)[0] - 1.0).abs() < 1e-6,
        "the colour under the alpha is kept"
    );
    assert!(still.how.contains("alpha dropped"), "{}", still.how);
}

#[test]
fn profiles_that_are_written_are_understood_when_read() {
    let plane = |k: f32| {
        (0..64_u8)
            .map(|i| f32::from(i) / 63.0 * k)
            .collect::<Vec<f32>>()
    };
    // Inside every gamut that is written, so nothing clips.
    let frame = Frame::from_planes(64, 1, [plane(0.9), plane(0.8), plane(0.7)]);
    for kind in [Kind::Png, Kind::Tiff] {
        for space in OutputSpace::ALL {
            let still = ok(&bytes_of(
                kind,
                &frame,
                &Output {
                    space,
                    ..Output::for_kind(kind)
                },
            ));
            assert!(
                still.how.contains("embedded ICC profile converted"),
                "{}",
                still.how
            );
            let step = if space == OutputSpace::Bt2020Pq {
                2e-3
            } else {
                1e-4
            };
            near(&frame, &still.frame, step);
        }
    }
}

#[test]
fn jpeg_keeps_the_picture_close() {
    // A smooth sRGB picture; at quality 92 the mean error of such a ramp is well under 2 codes.
    let codes: Vec<u8> = (0..64 * 64_usize)
        .flat_map(|i| [(i % 64 * 4) as u8, (i / 64 * 4) as u8, 128])
        .collect();
    let still = ok(&png8((64, 64), &codes));
    let file = bytes_of(Kind::Jpeg, &still.frame, &Output::for_kind(Kind::Jpeg));
    let again = ok(&file);
    assert!(
        again.how.contains("8-bit JPEG, embedded ICC"),
        "{}",
        again.how
    );
    let back = to_srgb8(&again.frame);
    let off: u32 = back
        .chunks(4)
        .zip(codes.chunks(3))
        .map(|(a, b)| (0..3).map(|c| u32::from(a[c].abs_diff(b[c]))).sum::<u32>())
        .sum();
    let mean = f64::from(off) / (64.0 * 64.0 * 3.0);
    assert!(mean < 2.0, "mean error {mean} codes");
    let rough = Output {
        quality: 10,
        ..Output::for_kind(Kind::Jpeg)
    };
    let small = bytes_of(Kind::Jpeg, &still.frame, &rough);
    assert!(
        small.len() < file.len(),
        "a lower quality is a smaller file"
    );
}

#[test]
fn tiff_of_every_depth() {
    use tiff::encoder::{TiffEncoder, colortype as ct};
    macro_rules! file {
        ($kind:ty, $data:expr) => {{
            let mut out = Cursor::new(Vec::new());
            let mut encoder = TiffEncoder::new(&mut out).unwrap();
            encoder.write_image::<$kind>(2, 1, $data).unwrap();
            out.into_inner()
        }};
    }
    let white = |bytes: &[u8]| ok(bytes).frame.pixel(1, 0)[2];
    assert!(
        (white(&file!(ct::RGB8, &[0, 0, 0, 255, 255, 255])) - 1.0).abs() < 1e-6,
        "RGB8"
    );
    assert!(
        (white(&file!(ct::Gray8, &[0, 255])) - 1.0).abs() < 1e-6,
        "grey 8"
    );
    assert!(
        (white(&file!(ct::Gray16, &[0, 65_535])) - 1.0).abs() < 1e-6,
        "grey 16"
    );
    let rgba = file!(ct::RGBA16, &[0, 0, 0, 0, 65_535, 65_535, 65_535, 0]);
    assert!((white(&rgba) - 1.0).abs() < 1e-6, "RGBA16");
    let float = ok(&file!(
        ct::RGB32Float,
        &[f32::NAN, -0.5, 0.0, 4.0, 4.0, 4.0]
    ));
    assert_eq!(float.encoding, Encoding::SrgbLinear, "floats are linear");
    assert!(
        (float.frame.pixel(1, 0)[0] - 4.0).abs() < 1e-5,
        "beyond white"
    );
    assert!(float.frame.pixel(0, 0)[1] < 0.0, "negative light is kept");
    assert!(
        float.how.contains("1 sample that was not a usable number"),
        "{}",
        float.how
    );
    assert!(
        (white(&file!(ct::Gray32Float, &[0.0, 2.0])) - 2.0).abs() < 1e-6,
        "grey float"
    );
    let cmyk = file!(ct::CMYK8, &[0, 0, 0, 0, 9, 9, 9, 9]);
    let said = read_bytes("quay.tif", &cmyk, Encoding::Auto)
        .unwrap_err()
        .to_string();
    assert!(said.starts_with("quay.tif is a CMYK TIFF"), "{said}");
}

#[test]
fn files_on_disk_whole_or_not_at_all() {
    let folder = tempfile::tempdir().unwrap();
    let at = |name: &str| folder.path().join(name);
    let frame = light(9, 5);
    for name in ["a.exr", "a.png", "a.tif", "a.TIFF", "a.jpg", "a.jpeg"] {
        let path = at(name);
        let kind = Kind::of(&path).unwrap();
        write(&path, &frame, &Output::for_kind(kind), &Watch::default()).unwrap();
        let still = read(&path, Encoding::Auto).unwrap();
        assert_eq!(
            (still.frame.width(), still.frame.height()),
            (9, 5),
            "{name}"
        );
    }
    // Content decides, not the name.
    std::fs::copy(at("a.exr"), at("b.jpg")).unwrap();
    assert!(
        read(&at("b.jpg"), Encoding::Auto)
            .unwrap()
            .how
            .contains("EXR"),
        "mislabelled"
    );
    let said = |r: Result<(), foreglass::frame::WriteError>| r.unwrap_err().to_string();
    let gif = said(write(
        &at("a.gif"),
        &frame,
        &Output::for_kind(Kind::Png),
        &Watch::default(),
    ));
    assert!(gif.contains("a.gif does not end in exr"), "{gif}");
    let gone = said(write(
        &at("no/a.png"),
        &frame,
        &Output::for_kind(Kind::Png),
        &Watch::default(),
    ));
    assert!(gone.contains("a.png cannot be written"), "{gone}");
    let said = |path: &Path| read(path, Encoding::Auto).unwrap_err().to_string();
    assert!(
        said(&at("none.png")).starts_with("none.png cannot be read"),
        "missing"
    );
    assert!(
        said(folder.path()).ends_with("is a folder, not a picture file"),
        "a folder"
    );
    std::fs::write(at("empty.png"), b"").unwrap();
    assert_eq!(
        said(&at("empty.png")),
        "empty.png is empty (0 bytes)",
        "0 bytes"
    );
}

#[test]
fn the_quick_png_holds_its_codes() {
    let codes = ramp();
    let still = ok(&encode_png_rgb8(256, 1, &codes).unwrap());
    let back: Vec<u8> = to_srgb8(&still.frame)
        .chunks(4)
        .flat_map(|p| [p[0], p[1], p[2]])
        .collect();
    let worst = back
        .iter()
        .zip(&codes)
        .map(|(a, b)| a.abs_diff(*b))
        .max()
        .unwrap();
    assert!(worst <= 1, "its profile is sRGB: {worst} codes");
    assert!(
        encode_png_rgb8(2, 2, &codes).is_err(),
        "a length that does not fit"
    );
}
