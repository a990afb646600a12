//! Two suites of test pictures, against what other decoders make of them (`tests/scripts/picture_suites.py`):
//! `PngSuite` by `OpenCV`, libtiff's own pictures by tifffile.

use foreglass::frame::{Encoding, Still, read};
use std::path::{Path, PathBuf};

/// Files that the other decoder or this program refuses, and a part of the sentence; none: it is read.
const REFUSED: [(&str, &str); 10] = [
    ("tiff/deflate-last-strip-extra-data.tiff", ""),
    ("tiff/logluv-3c-16b.tiff", "TIFF"),
    ("tiff/lzw-single-strip.tiff", "1 bits a sample"),
    ("tiff/miniswhite-1c-1b.tiff", "1 bits a sample"),
    ("tiff/ojpeg_zackthecat_subsamp22_single_strip.tiff", "TIFF"),
    ("tiff/palette-1c-1b.tiff", "a palette, which is not read"),
    ("tiff/palette-1c-4b.tiff", "a palette, which is not read"),
    ("tiff/palette-1c-8b.tiff", "a palette, which is not read"),
    ("tiff/quad-tile.jpg.tiff", "a YCbCr TIFF"),
    ("tiff/test_ifd_loop_to_self.tif", "a cycle"),
];

fn suites() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks/suites")
}

/// The file's codes at a pixel, as parts of the largest.
fn codes(still: &Still, x: usize, y: usize) -> [f64; 3] {
    still
        .native
        .from_working
        .apply(still.frame.pixel(x, y).map(f64::from))
}

#[test]
fn every_picture_of_the_suites_reads_as_others_read_it() {
    let table = std::fs::read_to_string(suites().join("values.csv")).unwrap();
    let mut wrong = String::new();
    let mut count = 0;
    for row in table.lines().skip(1) {
        let mut cells = row.split(',');
        let name = cells.next().unwrap();
        // As linear light: the light is then the code itself, whatever a file says of its gamma.
        let still = read(&suites().join(name), Encoding::SrgbLinear);
        let refused = REFUSED.iter().find(|(file, _)| *file == name);
        if let Some((_, sentence)) = refused {
            match still {
                Ok(_) if sentence.is_empty() => {}
                Err(e) if !sentence.is_empty() && e.to_string().contains(sentence) => {}
                other => wrong += &format!("\n{name}: {:?}", other.map(|s| s.how)),
            }
            continue;
        }
        let still = match still {
            Ok(still) => still,
            Err(e) => {
                wrong += &format!("\n{name}: {e}");
                continue;
            }
        };
        let (w, h) = (still.frame.width(), still.frame.height());
        let size = [w, h].map(|v| v.to_string());
        if [cells.next().unwrap(), cells.next().unwrap()] != [&*size[0], &*size[1]] {
            wrong += &format!("\n{name}: {size:?}");
            continue;
        }
        let figures: Vec<f64> = cells.map(|v| v.parse().unwrap()).collect();
        let mut mean = [0.0; 3];
        for i in 0..w * h {
            let here = codes(&still, i % w, i / w);
            mean.iter_mut()
                .zip(here)
                .for_each(|(m, v)| *m += v / (w * h) as f64);
        }
        let places = [
            (0.0, 0.0),
            (0.5, 0.5),
            (0.25, 0.75),
            (0.8, 0.1),
            (0.999, 0.999),
        ];
        let at =
            places.map(|(x, y)| codes(&still, (x * w as f64) as usize, (y * h as f64) as usize));
        let found = mean.iter().chain(at.iter().flatten());
        let off = found
            .zip(&figures)
            .map(|(a, b)| (a - b).abs())
            .fold(0.0, f64::max);
        if off > 2e-5 {
            wrong += &format!("\n{name}: {off:.5} off, {}", still.how);
        }
        count += 1;
    }
    assert!(wrong.is_empty(), "{wrong}");
    assert!(count > 60, "{count} compared");
}
