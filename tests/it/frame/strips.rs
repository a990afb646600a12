//! JPEGs that are coded in strips, read back by a decoder that knows nothing of strips; and writing that is
//! stopped.

use super::{bytes_of, light};
use foreglass::frame::{Frame, Kind, Output, WriteError, to_srgb8, write};
use foreglass::watch::Watch;

/// A picture of smooth and of rough light.
fn picture(width: usize, height: usize) -> Frame {
    let plane = |c: usize| {
        (0..width * height)
            .map(|i| {
                let (x, y) = ((i % width) as f32, (i / width) as f32);
                let wave = (x / (9.0 + c as f32)).sin() * (y / 31.0).cos();
                0.2 + 0.15 * wave + 0.1 * y / height as f32
            })
            .collect()
    };
    Frame::from_planes(width, height, [plane(0), plane(1), plane(2)])
}

/// Sizes of less than a strip, of just one, of several and a rest, with blocks cut off at both sides.
#[test]
fn a_jpeg_in_strips_is_one_picture() {
    for (width, height) in [(17, 5), (64, 128), (301, 65), (333, 700), (9, 4000)] {
        let frame = picture(width, height);
        let output = Output {
            quality: 100,
            ..Output::for_kind(Kind::Jpeg)
        };
        let bytes = bytes_of(Kind::Jpeg, &frame, &output);
        // Decoders forgive markers out of turn: they run through RST0 to RST7 (ITU-T T.81, B.1.1.3).
        let scan = bytes.windows(2).position(|w| w == [0xFF, 0xDA]).unwrap();
        let restarts = bytes[scan..].windows(2).filter(|w| w[0] == 0xFF);
        let restarts: Vec<u8> = restarts
            .map(|w| w[1])
            .filter(|m| m & 0xF8 == 0xD0)
            .collect();
        let strips = height.div_ceil(64);
        let wanted: Vec<u8> = (0..strips - 1).map(|n| 0xD0 + (n % 8) as u8).collect();
        assert_eq!(restarts, wanted, "{width} × {height}");
        let read = image::load_from_memory(&bytes).unwrap().to_rgb8();
        let size = (read.width() as usize, read.height() as usize);
        assert_eq!(size, (width, height));
        let wanted = to_srgb8(&frame);
        let off = read
            .as_raw()
            .chunks(3)
            .zip(wanted.chunks(4))
            .flat_map(|(a, b)| (0..3).map(|c| a[c].abs_diff(b[c])))
            .max();
        assert!(off <= Some(5), "{width} × {height}: {off:?} codes off");
    }
}

#[test]
fn writing_stops_when_it_is_told_to() {
    let folder = tempfile::tempdir().unwrap();
    let watch = Watch::default();
    watch.cancel();
    for ending in ["jpg", "png", "tif", "exr"] {
        let path = folder.path().join(format!("quay.{ending}"));
        let output = Output::for_kind(Kind::of(&path).unwrap());
        let stopped = write(&path, &light(64, 48), &output, &watch);
        assert!(
            matches!(stopped, Err(WriteError::Cancelled(_))),
            "{ending}: {stopped:?}"
        );
        let left = std::fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(left, 0, "{ending}: nothing is left behind");
    }
}
