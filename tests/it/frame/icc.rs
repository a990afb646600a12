//! Embedded profiles against two colour engines outside the project.
//!
//! `tests/checks/icc_checks.csv` holds LittleCMS's sRGB codes and colour-science's working light for
//! two profiles; `tests/scripts/icc_checks.py` made all three files and names the versions.

use super::{png, png8};
use foreglass::frame::{Encoding, read_bytes, to_srgb8};

struct Row {
    profile: String,
    code: [u8; 3],
    srgb: [u8; 3],
    ap1: [f32; 3],
}

fn rows() -> Vec<Row> {
    let text = include_str!("../../checks/icc_checks.csv");
    let lines = text.lines().filter(|l| !l.starts_with('#')).skip(1);
    lines
        .map(|line| {
            let cells: Vec<&str> = line.split(',').collect();
            let byte = |i: usize| cells[i].parse::<u8>().unwrap();
            let float = |i: usize| cells[i].parse::<f32>().unwrap();
            Row {
                profile: cells[0].to_owned(),
                code: [byte(1), byte(2), byte(3)],
                srgb: [byte(4), byte(5), byte(6)],
                ap1: [float(7), float(8), float(9)],
            }
        })
        .collect()
}

fn tagged(codes: &[u8], profile: &[u8]) -> Vec<u8> {
    let size = ((codes.len() / 3) as u32, 1);
    let kind = (png::ColorType::Rgb, png::BitDepth::Eight);
    png(size, kind, codes, |i| {
        i.icc_profile = Some(profile.to_vec().into())
    })
}

/// Largest difference from the engine's sRGB codes, and from the light.
fn compare(name: &str, profile: &[u8]) -> (u8, f32) {
    let rows: Vec<Row> = rows().into_iter().filter(|r| r.profile == name).collect();
    assert_eq!(rows.len(), 216, "six levels a channel");
    let codes: Vec<u8> = rows.iter().flat_map(|r| r.code).collect();
    let still = read_bytes("still", &tagged(&codes, profile), Encoding::Auto).unwrap();
    assert_eq!(
        still.how, "8-bit PNG, embedded ICC profile converted",
        "said in words"
    );
    let srgb = to_srgb8(&still.frame);
    let (mut codes_off, mut light_off) = (0, 0.0_f32);
    for (x, row) in rows.iter().enumerate() {
        for c in 0..3 {
            codes_off = codes_off.max(srgb[4 * x + c].abs_diff(row.srgb[c]));
            light_off = light_off.max((still.frame.pixel(x, 0)[c] - row.ap1[c]).abs());
        }
    }
    (codes_off, light_off)
}

#[test]
fn a_profile_of_curves_and_primaries() {
    let (codes, light) = compare("icc_p3.icc", include_bytes!("../../checks/icc_p3.icc"));
    assert!(codes <= 1, "{codes} codes from LittleCMS");
    // The profile keeps its numbers to 1/65536.
    assert!(light <= 5e-5, "{light} of light from colour-science");
}

#[test]
fn a_profile_of_tables() {
    // Two engines interpolate a 17-cube in Lab differently, most of all near black.
    let (codes, light) = compare(
        "icc_table.icc",
        include_bytes!("../../checks/icc_table.icc"),
    );
    assert!(codes <= 4, "{codes} codes from LittleCMS");
    assert!(
        light <= 0.01,
        "{light} of light from the table's own source"
    );
}

#[test]
fn a_profile_and_the_word_for_it_agree() {
    let codes = super::ramp();
    let profile = include_bytes!("../../checks/icc_p3.icc");
    let embedded = read_bytes("still", &tagged(&codes, profile), Encoding::Auto).unwrap();
    let named = read_bytes("still", &png8((256, 1), &codes), Encoding::P3).unwrap();
    super::near(&embedded.frame, &named.frame, 1e-4);
    // A word overrules the profile, and says so.
    let ruled = read_bytes("still", &tagged(&codes, profile), Encoding::Srgb).unwrap();
    assert!(
        ruled.how.contains("embedded profile not used"),
        "{}",
        ruled.how
    );
    let plain = read_bytes("still", &png8((256, 1), &codes), Encoding::Srgb).unwrap();
    assert_eq!(ruled.frame, plain.frame, "as if there were none");
}

#[test]
fn a_profile_that_is_none_does_not_lose_the_picture() {
    let file = tagged(
        &super::ramp(),
        b"this is no profile, only some bytes in its place",
    );
    let still = read_bytes("still", &file, Encoding::Auto).unwrap();
    assert_eq!(still.encoding, Encoding::Srgb, "falls back");
    assert!(
        still.how.contains("ICC profile unusable"),
        "and says so: {}",
        still.how
    );
}

/// A PNG with a cICP chunk before its first IDAT; the format crate reads the chunk and writes none.
fn with_cicp(file: &[u8], points: [u8; 4]) -> Vec<u8> {
    let mut chunk = b"\0\0\0\x04cICP".to_vec();
    chunk.extend(points);
    // CRC-32 as the PNG specification's annex D gives it.
    let mut crc = u32::MAX;
    for &byte in &chunk[4..] {
        crc ^= u32::from(byte);
        for _ in 0..8 {
            crc = if crc & 1 == 1 {
                (crc >> 1) ^ 0xEDB8_8320
            } else {
                crc >> 1
            };
        }
    }
    chunk.extend((!crc).to_be_bytes());
    // After the signature (8) and IHDR (25).
    [&file[..33], &chunk[..], &file[33..]].concat()
}

#[test]
fn a_cicp_chunk_is_followed() {
    let plain = png8((256, 1), &super::ramp());
    for (points, encoding) in [
        ([12, 13, 0, 1], Encoding::P3),
        ([9, 16, 0, 1], Encoding::Pq),
        ([9, 18, 0, 1], Encoding::Hlg),
        ([1, 8, 0, 1], Encoding::SrgbLinear),
    ] {
        let still = read_bytes("still", &with_cicp(&plain, points), Encoding::Auto).unwrap();
        let named = read_bytes("still", &plain, encoding).unwrap();
        assert_eq!(still.encoding, encoding, "{}", still.how);
        assert_eq!(still.frame, named.frame, "as the word {encoding}");
    }
    let odd = read_bytes("still", &with_cicp(&plain, [77, 1, 0, 1]), Encoding::Auto).unwrap();
    assert!(odd.how.contains("(77, 1) not known"), "{}", odd.how);
}
