//! A picture that was stored turned or mirrored stands upright, whatever kind of file it is.

use super::{ok, png};
use std::io::Cursor;

/// An EXIF block that holds an orientation and nothing else, big-endian.
fn exif(orientation: u8) -> Vec<u8> {
    let mut block = b"MM\0\x2A\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    block.extend([orientation, 0, 0, 0, 0, 0, 0]);
    block
}

#[test]
fn the_eight_orientations_in_png_jpeg_and_tiff() {
    // Stored 16 × 8 with a white block where the upright picture's top left corner comes from
    // (EXIF 2.32, tag 274: which stored row and column are the visual top and left).
    for (value, right, bottom) in [
        (1, false, false),
        (2, true, false),
        (3, true, true),
        (4, false, true),
        (5, false, false),
        (6, false, true),
        (7, true, true),
        (8, true, false),
    ] {
        let data: Vec<u8> = (0..16 * 8_usize)
            .flat_map(|i| {
                let (x, y) = (i % 16, i / 16);
                let inside = (x >= 8) == right && (y >= 4) == bottom;
                [if inside { 255 } else { 0 }; 3]
            })
            .collect();
        let eight = (png::ColorType::Rgb, png::BitDepth::Eight);
        let as_png = png((16, 8), eight, &data, |i| {
            i.exif_metadata = Some(exif(value).into());
        });
        let mut as_jpeg = Vec::new();
        let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut as_jpeg, 98);
        image::ImageEncoder::set_exif_metadata(&mut encoder, exif(value)).unwrap();
        encoder
            .encode(&data, 16, 8, image::ExtendedColorType::Rgb8)
            .unwrap();
        let mut as_tiff = Cursor::new(Vec::new());
        let mut encoder = tiff::encoder::TiffEncoder::new(&mut as_tiff).unwrap();
        let mut picture = encoder
            .new_image::<tiff::encoder::colortype::RGB8>(16, 8)
            .unwrap();
        picture
            .encoder()
            .write_tag(tiff::tags::Tag::Orientation, u16::from(value))
            .unwrap();
        picture.write_data(&data).unwrap();
        for (kind, file) in [
            ("PNG", as_png),
            ("JPEG", as_jpeg),
            ("TIFF", as_tiff.into_inner()),
        ] {
            let still = ok(&file);
            let size = if value >= 5 { (8, 16) } else { (16, 8) };
            assert_eq!(
                (still.frame.width(), still.frame.height()),
                size,
                "{kind} {value}"
            );
            let mean = |right: bool, bottom: bool| {
                let (w, h) = (size.0 / 2, size.1 / 2);
                let (x0, y0) = (usize::from(right) * w, usize::from(bottom) * h);
                let all = (0..w * h).map(|i| still.frame.pixel(x0 + i % w, y0 + i / w)[1]);
                all.sum::<f32>() / (w * h) as f32
            };
            assert!(
                mean(false, false) > 0.9,
                "{kind} {value}: white at the top left"
            );
            for (r, b) in [(true, false), (false, true), (true, true)] {
                assert!(mean(r, b) < 0.1, "{kind} {value}: black elsewhere");
            }
            assert_eq!(still.how.contains("upright"), value != 1, "{}", still.how);
        }
    }
}
