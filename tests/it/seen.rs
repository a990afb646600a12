//! The camera that a frame was seen by, and the part of the frame that the planned camera would see.
//!
//! Expected angles are 2·atan(w/2f) (a rectilinear lens), worked out here or as lens tables print them;
//! EXIF values are what Pillow reads back from the files that it wrote (`tests/scripts/exif_frames.py`).

// What the commands take.
mod command;
// The planned part of the frame.
mod crop;
// What a file tells.
mod exif;
// The planned camera's field.
mod field;
// What the recipe tells of the camera that saw, and what a file does.
mod told;

use crate::recipe::with;
use foreglass::frame::{Encoding, Frame, Kind, Output, Still, read_bytes, write};
use foreglass::recipe::Recipe;
use foreglass::watch::Watch;
use serde_json::{Value, json};
use std::path::Path;

pub(crate) fn fixture(name: &str) -> String {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/checks/exif");
    path.join(name).to_string_lossy().into_owned()
}

fn still(name: &str) -> Still {
    let bytes = std::fs::read(fixture(name)).unwrap();
    read_bytes(name, &bytes, Encoding::Auto).unwrap()
}

fn recipe(changes: &[(&str, Value)]) -> Recipe {
    Recipe::parse(&with(changes)).unwrap()
}

fn near(found: f64, wanted: f64, within: f64) {
    assert!(
        (found - wanted).abs() <= within,
        "{found} is not {wanted} to {within}"
    );
}

/// A frame whose pixels hold their own direction, seen on 36 mm at 24 mm: tan = (x − ½)·36/24 across, and
/// as much a pixel down.
fn directions(width: usize, height: usize) -> Frame {
    let mut frame = Frame::black(width, height);
    let [r, g, _] = frame.planes_mut();
    for y in 0..height {
        for x in 0..width {
            let step = 36.0 / 24.0 / width as f64;
            r[y * width + x] = (step * (x as f64 + 0.5 - width as f64 / 2.0)) as f32;
            g[y * width + x] = (step * (y as f64 + 0.5 - height as f64 / 2.0)) as f32;
        }
    }
    frame
}

fn seen_at_24(more: &[(&str, Value)]) -> Recipe {
    let seen = json!({"seen_by": {"sensor_mm": [36, 24], "focal_mm": 24}});
    recipe(&[&[("/frame", seen)], more].concat())
}

/// A still in a file, for sessions: what it was seen by is told by the recipe.
pub(crate) fn file_of_directions(folder: &Path) -> std::path::PathBuf {
    let path = folder.join("quay.exr");
    write(
        &path,
        &directions(600, 400),
        &Output::for_kind(Kind::Exr),
        &Watch::default(),
    )
    .unwrap();
    path
}
