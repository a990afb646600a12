//! EXIF as another library wrote it, and EXIF that lies.

use super::{fixture, near, still};
use crate::checks::Table;
use foreglass::frame::{Encoding, read_bytes};

/// Every value that Pillow reads back from its files is read, in both byte orders and three kinds of file.
#[test]
fn exif_is_read_as_another_library_wrote_it() {
    let mut seen = 0;
    for row in Table::read("exif/values.csv").rows() {
        let (name, tag, wanted) = (row.text("file"), row.number("tag"), row.number("value"));
        let exif = still(name).exif;
        let found = match tag as u32 {
            33_434 => exif.shutter_s.map(|v| v.get()),
            33_437 => exif.stop.map(|v| v.get()),
            34_855 => exif.iso.map(f64::from),
            37_382 => exif.focus_m.map(|v| v.get()),
            37_386 => exif.focal_mm.map(|v| v.get()),
            41_989 => exif.focal_35_mm.map(|v| v.get()),
            40_962 => exif.written_for.map(|v| f64::from(v[0])),
            40_963 => exif.written_for.map(|v| f64::from(v[1])),
            // Powers of two: APEX, EXIF 2.32 annex C.
            37_377 => exif.shutter_s.map(|v| -v.get().log2()),
            37_378 => exif.stop.map(|v| 2.0 * v.get().log2()),
            // Pixels over the resolution are the sensor: 90 at 25 to the centimetre are 36 mm.
            41_486 => exif.sensor_mm.map(|s| 900.0 / s[0].get()),
            41_487 => exif.sensor_mm.map(|s| 600.0 / s[1].get()),
            // The unit of those two, which come out as told only in centimetres.
            41_488 => continue,
            other => panic!("tag {other} is not tested"),
        };
        // An index of 0 says nothing.
        let wanted = (wanted != 0.0).then_some(wanted);
        assert_eq!(found.is_some(), wanted.is_some(), "{name} {tag}: {exif:?}");
        near(found.unwrap_or(0.0), wanted.unwrap_or(0.0), 1e-9);
        seen += 1;
    }
    assert!(seen > 25, "rows were compared");
    let bare = read_bytes(
        "quay.png",
        &crate::frame::png8((16, 16), &[7; 768]),
        Encoding::Auto,
    );
    assert!(bare.unwrap().exif.is_empty(), "nothing told, nothing known");
}

/// EXIF blocks that lie: each is a picture, and never a panic; a directory that points to itself ends.
#[test]
fn hostile_exif_is_silent() {
    let jpeg = |block: Vec<u8>| {
        let mut out = Vec::new();
        let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut out, 90);
        image::ImageEncoder::set_exif_metadata(&mut encoder, block).unwrap();
        encoder
            .encode(&[128; 192], 8, 8, image::ExtendedColorType::Rgb8)
            .unwrap();
        read_bytes("lies.jpg", &out, Encoding::Auto).unwrap().exif
    };
    let file = std::fs::read(fixture("phone.jpg")).unwrap();
    let start = file.windows(6).position(|w| w == b"Exif\0\0").unwrap() + 6;
    let length = usize::from(u16::from_be_bytes([file[start - 8], file[start - 7]])) - 8;
    let block = file[start..start + length].to_vec();
    assert!(
        jpeg(block.clone()).focal_35_mm.is_some(),
        "the block itself is read"
    );
    for length in 0..block.len() {
        let _ = jpeg(block[..length].to_vec());
    }
    let mut seed = 0x2545_F491_u32;
    for at in 0..block.len() {
        for _ in 0..4 {
            seed ^= seed << 13;
            seed ^= seed >> 17;
            seed ^= seed << 5;
            let mut mutant = block.clone();
            mutant[at] = [0, 0xFF, seed as u8, block[at] ^ 0x80][(seed >> 16) as usize % 4];
            let _ = jpeg(mutant);
        }
    }
    // The camera's directory is the first one, which points to itself.
    let mut own = b"MM\0\x2A\0\0\0\x08\0\x01\x87\x69\0\x04\0\0\0\x01".to_vec();
    own.extend([0, 0, 0, 8, 0, 0, 0, 0]);
    assert!(jpeg(own.clone()).is_empty(), "nothing is told");
    // A number of entries far beyond the end, and a directory at the end of everything.
    own[8..10].fill(0xFF);
    assert!(jpeg(own.clone()).is_empty(), "nothing is told");
    own[4..8].fill(0xFF);
    assert!(jpeg(own).is_empty(), "nothing is told");
    let tiff = std::fs::read(fixture("still.tif")).unwrap();
    for at in 0..512 {
        for value in [0, 0x7F, 0xFF] {
            let mut mutant = tiff.clone();
            mutant[at] = value;
            drop(read_bytes("lies.tif", &mutant, Encoding::Auto));
        }
    }
}
