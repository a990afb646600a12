//! Light above white from the gain maps of JPEGs.
//!
//! `tests/scripts/gain_map_frames.py` wrote the files, each from numbers, and worked out their light with
//! `NumPy` from the formula of ISO 21496-1; other.jpg was written by libultrahdr, and its light is what that
//! library reads back (half floats, gains from a table: a per cent and a half).

use foreglass::frame::{Encoding, Still, read_bytes};
use std::path::PathBuf;

fn path(name: &str) -> PathBuf {
    [env!("CARGO_MANIFEST_DIR"), "tests/checks/gain_map", name]
        .iter()
        .collect()
}

fn file(name: &str) -> Vec<u8> {
    std::fs::read(path(name)).unwrap()
}

fn still(name: &str) -> Still {
    read_bytes(name, &file(name), Encoding::Auto).unwrap()
}

/// The largest relative difference of a file's light from its rows, and the stops above white in them.
fn against_rows(name: &str) -> (f32, String) {
    let still = still(name);
    let text = std::fs::read_to_string(path("values.csv")).unwrap();
    let mut worst = 0.0_f32;
    let mut stops = String::new();
    let mut rows = 0;
    for line in text.lines().filter(|l| l.starts_with(&format!("{name},"))) {
        let cells: Vec<&str> = line.split(',').collect();
        let (x, y) = (cells[1].parse().unwrap(), cells[2].parse().unwrap());
        let got = still.frame.pixel(x, y);
        for (c, got) in got.iter().enumerate() {
            let want: f32 = cells[3 + c].parse().unwrap();
            worst = worst.max((got - want).abs() / (0.02 + want.abs()));
        }
        cells[6].clone_into(&mut stops);
        rows += 1;
    }
    assert_eq!(rows, 24, "{name}: places that were noted");
    (worst, stops)
}

#[test]
fn the_light_is_the_standards_formula() {
    for name in [
        "iso_grey.jpg",
        "iso_rgb.jpg",
        "iso_alternate.jpg",
        "plain.jpg",
        "xmp_grey.jpg",
        "xmp_rgb.jpg",
        "turned.jpg",
        "stale.jpg",
        "other.jpg",
    ] {
        let (worst, stops) = against_rows(name);
        // Two decoders may differ by one code in the base or the map, where colours are turned to RGB.
        let limit = if name == "other.jpg" { 0.02 } else { 0.012 };
        assert!(worst < limit, "{name}: {worst} of its light");
        let how = still(name).how;
        let stops: f32 = stops.parse().unwrap();
        let words =
            "highlights above white from its gain map, as the camera rendered them (up to +";
        let told = how
            .split_once(words)
            .unwrap_or_else(|| panic!("{name}: {how}"));
        let told: f32 = told.1.split(' ').next().unwrap().parse().unwrap();
        assert!((told - stops).abs() < 0.08, "{name}: {told} for {stops}");
    }
}

#[test]
fn a_map_that_cannot_be_used_leaves_the_plain_picture_and_says_why() {
    for (name, words) in [
        (
            "cut.jpg",
            "its gain map unusable (its picture is cut short or damaged): highlights end at white",
        ),
        (
            "absurd.jpg",
            "its gain map unusable (its headroom of 300 stops is absurd): highlights end at white",
        ),
        (
            "brighter_base.jpg",
            "its gain map not used: it leads to a darker picture",
        ),
    ] {
        let (worst, _) = against_rows(name);
        assert!(worst < 0.012, "{name}: the plain picture, but for {worst}");
        let how = still(name).how;
        assert!(how.contains(words), "{name}: {how}");
    }
    // A word that says how codes are read reads the codes alone.
    let told = read_bytes("quay", &file("iso_grey.jpg"), Encoding::Srgb).unwrap();
    assert!(
        told.how.ends_with("; its gain map not used"),
        "{}",
        told.how
    );
    let bright = told
        .frame
        .planes()
        .iter()
        .flatten()
        .fold(0.0_f32, |a, v| a.max(*v));
    assert!(bright < 1.001, "nothing above white: {bright}");
}

#[test]
fn any_damage_behind_the_plain_picture_leaves_it_readable() {
    let whole = file("iso_rgb.jpg");
    let plain = still("brighter_base.jpg").frame;
    // The map begins where the second picture's first marker is.
    let start = whole
        .windows(3)
        .rposition(|w| w == [0xFF, 0xD8, 0xFF])
        .unwrap();
    for length in start..whole.len() {
        let still = read_bytes("quay", &whole[..length], Encoding::Auto).unwrap();
        assert!(
            still.how.contains("its gain map unusable"),
            "{length}: {}",
            still.how
        );
        assert_eq!(still.frame, plain, "cut to {length}");
    }
    let mut used = 0;
    for at in start..whole.len() {
        for flip in [0x01, 0x80, 0xFF] {
            let mut bent = whole.clone();
            bent[at] ^= flip;
            let still = read_bytes("quay", &bent, Encoding::Auto).unwrap();
            let finite = still.frame.planes().iter().flatten().all(|v| v.is_finite());
            assert!(
                finite && still.how.contains("gain map"),
                "byte {at}: {}",
                still.how
            );
            used += usize::from(still.how.contains("above white"));
        }
    }
    // Some bits may differ without harm; the metadata's and the headers' may not.
    let tried = 3 * (whole.len() - start);
    assert!(used > 0 && used < tried, "{used} of {tried} were used");
}
