//! Files that are coded in strips on all cores: read back by crates that know nothing of our strips, the same on
//! any number of cores, with progress on the way, and gone when cancelled.

use super::{bytes_of, light};
use crate::checks::Table;
use exr::prelude::{ReadChannels as _, ReadLayers as _};
use foreglass::colour::primaries::Space;
use foreglass::colour::transfer::Curve;
use foreglass::frame::{Encoding, Frame, Kind, Output, OutputSpace, read, write, write_bytes};
use foreglass::watch::Watch;
use std::io::{Cursor, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

const KINDS: [Kind; 4] = [Kind::Jpeg, Kind::Png, Kind::Tiff, Kind::Exr];

/// One pixel, less than a strip, odd sides of many strips and of many blocks, and rows so long that a strip
/// holds only some of them.
const SIZES: [(usize, usize); 4] = [(1, 1), (17, 3), (1021, 613), (40_009, 37)];

/// Rough light over smooth: what no coder can guess beside what every one does.
fn rough(width: usize, height: usize) -> Frame {
    let smooth = light(width, height);
    let plane = |c: usize| {
        let part = |i: usize| {
            let h = (i * 3 + c).wrapping_mul(2_654_435_761) >> 7 & 0xFFFF;
            // The left third is smooth.
            if i % width < width / 3 {
                0.0
            } else {
                h as f32 / 65_536.0 - 0.5
            }
        };
        let samples = smooth.planes()[c].iter().enumerate();
        samples.map(|(i, v)| v + 0.1 * part(i)).collect()
    };
    Frame::from_planes(width, height, [plane(0), plane(1), plane(2)])
}

/// The exact codes of a frame as sRGB, 0 to 65535, three a pixel, by matrix and curve in double precision.
fn codes(frame: &Frame) -> Vec<f64> {
    let matrix = Space::Srgb.from_working();
    let pixels = (0..frame.width() * frame.height())
        .map(|i| frame.pixel(i % frame.width(), i / frame.width()));
    pixels
        .flat_map(|p| matrix.apply(p.map(f64::from)))
        .map(|v| 65_535.0 * Curve::Srgb.encode64(v.clamp(0.0, 1.0)))
        .collect()
}

fn png_codes(bytes: &[u8]) -> (Vec<u16>, Option<Vec<u8>>) {
    let mut reader = png::Decoder::new(Cursor::new(bytes)).read_info().unwrap();
    let mut buffer = vec![0; reader.output_buffer_size().unwrap()];
    reader.next_frame(&mut buffer).unwrap();
    reader.finish().unwrap();
    let pairs = buffer.chunks(2).map(|p| u16::from_be_bytes([p[0], p[1]]));
    let profile = reader.info().icc_profile.as_deref().map(<[u8]>::to_vec);
    (pairs.collect(), profile)
}

fn tiff_codes(bytes: &[u8]) -> (Vec<u16>, Option<Vec<u8>>) {
    let mut decoder = tiff::decoder::Decoder::new(Cursor::new(bytes)).unwrap();
    let profile = decoder.get_tag_u8_vec(tiff::tags::Tag::IccProfile).ok();
    match decoder.read_image().unwrap() {
        tiff::decoder::DecodingResult::U16(codes) => (codes, profile),
        other => panic!("not 16 bits: {other:?}"),
    }
}

fn exr_planes(bytes: &[u8]) -> [Vec<f32>; 3] {
    let image = exr::prelude::read()
        .no_deep_data()
        .largest_resolution_level()
        .all_channels()
        .first_valid_layer()
        .all_attributes()
        .from_buffered(Cursor::new(bytes))
        .unwrap();
    ["R", "G", "B"].map(|name| {
        let channels = &image.layer_data.channel_data.list;
        let channel = channels.iter().find(|c| c.name.eq(name)).unwrap();
        channel.sample_data.values_as_f32().collect()
    })
}

#[test]
fn what_strips_hold_is_the_picture() {
    for (width, height) in SIZES {
        let frame = rough(width, height);
        let exact = codes(&frame);
        for kind in [Kind::Png, Kind::Tiff] {
            let bytes = bytes_of(kind, &frame, &Output::for_kind(kind));
            let (got, profile) = match kind {
                Kind::Png => png_codes(&bytes),
                _ => tiff_codes(&bytes),
            };
            assert_eq!(got.len(), exact.len(), "{kind:?} {width} × {height}");
            let far = got
                .iter()
                .zip(&exact)
                .map(|(a, b)| (f64::from(*a) - b).abs());
            // Half a code of rounding, and f32 light.
            let worst = far.fold(0.0, f64::max);
            assert!(
                worst < 0.7,
                "{kind:?} {width} × {height}: {worst} codes off"
            );
            assert!(
                profile.is_some_and(|p| p.len() > 128),
                "{kind:?}: its profile"
            );
        }
        let jpeg = bytes_of(
            Kind::Jpeg,
            &frame,
            &Output {
                quality: 100,
                ..Output::for_kind(Kind::Jpeg)
            },
        );
        let read = image::load_from_memory(&jpeg).unwrap().to_rgb8();
        assert_eq!(read.dimensions(), (width as u32, height as u32));
        let far = read
            .as_raw()
            .iter()
            .zip(&exact)
            .map(|(a, b)| (f64::from(*a) - b / 257.0).abs());
        let worst = far.fold(0.0, f64::max);
        assert!(worst < 6.0, "JPEG {width} × {height}: {worst} codes off");
        let exr = bytes_of(Kind::Exr, &frame, &Output::for_kind(Kind::Exr));
        assert_eq!(
            &exr_planes(&exr),
            frame.planes(),
            "EXR {width} × {height}, to the bit"
        );
        let half = bytes_of(
            Kind::Exr,
            &frame,
            &Output {
                half: true,
                ..Output::for_kind(Kind::Exr)
            },
        );
        for (got, wanted) in exr_planes(&half).iter().zip(frame.planes()) {
            let wanted = wanted
                .iter()
                .map(|v| exr::prelude::f16::from_f32(*v).to_f32());
            assert!(
                got.iter().copied().eq(wanted),
                "half EXR {width} × {height}"
            );
        }
    }
}

/// Chromaticities stand in an EXR, linear light of its primaries in its channels.
#[test]
fn an_exr_says_whose_primaries_it_holds() {
    let frame = rough(50, 40);
    let output = Output {
        space: OutputSpace::P3,
        ..Output::for_kind(Kind::Exr)
    };
    let bytes = bytes_of(Kind::Exr, &frame, &output);
    let meta = exr::meta::MetaData::read_from_buffered(Cursor::new(&bytes), true).unwrap();
    let header = &meta.headers[0];
    let told = header.shared_attributes.chromaticities.unwrap();
    // Display P3: SMPTE EG 432-1, with D65.
    let wanted = [(0.68, 0.32), (0.265, 0.69), (0.15, 0.06), (0.3127, 0.329)];
    let told = [told.red, told.green, told.blue, told.white];
    for (told, (x, y)) in told.iter().zip(wanted) {
        assert!(
            (told.0 - x).abs() < 1e-4 && (told.1 - y).abs() < 1e-4,
            "{told:?}"
        );
    }
    let names: Vec<String> = header
        .channels
        .list
        .iter()
        .map(|c| c.name.to_string())
        .collect();
    assert_eq!(
        names,
        ["B", "G", "R"],
        "in the order that the format asks for"
    );
    assert_eq!(
        header.line_order,
        exr::meta::attribute::LineOrder::Increasing
    );
    let matrix = Space::DisplayP3.from_working();
    let planes = exr_planes(&bytes);
    for i in [0, 777, 1999] {
        let light = matrix.apply(frame.pixel(i % 50, i / 50).map(f64::from));
        for (c, light) in light.into_iter().enumerate() {
            assert!((f64::from(planes[c][i]) - light).abs() < 1e-6, "{c} {i}");
        }
    }
}

#[test]
fn files_are_the_same_on_any_number_of_cores() {
    let frame = rough(1021, 613);
    for kind in KINDS {
        let on = |cores: usize| {
            let pool = rayon::ThreadPoolBuilder::new()
                .num_threads(cores)
                .build()
                .unwrap();
            pool.install(|| bytes_of(kind, &frame, &Output::for_kind(kind)))
        };
        let one = on(1);
        for cores in [2, 3, 7] {
            assert!(on(cores) == one, "{kind:?} on {cores} cores");
        }
    }
}

/// A sink that does something after every write.
struct Seen<F>(Cursor<Vec<u8>>, F);

impl<F: FnMut()> Write for Seen<F> {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        (self.1)();
        self.0.write(bytes)
    }
    fn flush(&mut self) -> std::io::Result<()> {
        self.0.flush()
    }
}

impl<F> Seek for Seen<F> {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        self.0.seek(to)
    }
}

#[test]
fn progress_goes_strip_by_strip_and_ends_at_one() {
    let frame = rough(613, 4000);
    for kind in KINDS {
        let watch = Watch::default();
        let mut told = Vec::new();
        let mut sink = Seen(Cursor::new(Vec::new()), || told.push(watch.progress()));
        // One core makes one batch after the other.
        let pool = rayon::ThreadPoolBuilder::new()
            .num_threads(1)
            .build()
            .unwrap();
        pool.install(|| write_bytes(&mut sink, kind, &frame, &Output::for_kind(kind), &watch))
            .unwrap();
        assert!(told.is_sorted(), "{kind:?}: it never falls back: {told:?}");
        told.dedup();
        assert!(
            told.len() > 2,
            "{kind:?}: it moves while it works: {told:?}"
        );
        assert!(
            told.last().is_some_and(|last| *last < 1.0),
            "{kind:?}: not done before its end"
        );
        assert!(watch.progress() >= 1.0, "{kind:?}: {}", watch.progress());
    }
}

/// Cancelled in the middle, as a person does it: by another handle, once some strips have gone out.
#[test]
fn a_cancelled_write_leaves_nothing() {
    let frame = rough(1021, 1613);
    for kind in KINDS {
        let watch = Watch::default();
        let other = watch.part(0.0, 0.5);
        let mut writes = 0;
        let mut sink = Seen(Cursor::new(Vec::new()), || {
            writes += 1;
            if writes == 4 {
                other.cancel();
            }
        });
        let stopped = write_bytes(&mut sink, kind, &frame, &Output::for_kind(kind), &watch);
        assert!(
            matches!(stopped, Err(foreglass::frame::WriteError::Cancelled(_))),
            "{kind:?}: {stopped:?}"
        );
        assert!(watch.progress() < 1.0, "{kind:?} was not finished");
    }
    // And into a file: at whatever moment it is stopped there is no file or all of it.
    let folder = tempfile::tempdir().unwrap();
    for ending in ["jpg", "png", "tif", "exr"] {
        let path = folder.path().join(format!("quay.{ending}"));
        let output = Output::for_kind(Kind::of(&path).unwrap());
        let watch = Watch::default();
        let result = std::thread::scope(|scope| {
            scope.spawn(|| {
                while watch.progress() <= 0.0 {
                    std::thread::yield_now();
                }
                watch.cancel();
            });
            write(&path, &frame, &output, &watch)
        });
        assert_eq!(path.exists(), result.is_ok(), "{ending}");
        let left = std::fs::read_dir(folder.path()).unwrap().count();
        assert_eq!(
            left,
            usize::from(result.is_ok()),
            "{ending}: no other file is left"
        );
        if result.is_ok() {
            std::fs::remove_file(&path).unwrap();
        }
    }
}

fn stored(name: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/checks/written")
        .join(name)
}

/// Files that this program wrote from `written/quay.exr`, as `OpenCV`, tifffile and `OpenEXR` read them:
/// `tests/scripts/written_files.py`. What is written today holds the same.
#[test]
fn other_libraries_read_what_is_written() {
    let frame = read(&stored("quay.exr"), Encoding::Auto).unwrap().frame;
    let table = Table::read("written/values.csv");
    for row in table.rows() {
        let name = row.text("file");
        let kind = Kind::of(Path::new(name)).unwrap();
        let bytes = bytes_of(kind, &frame, &Output::for_kind(kind));
        let old = std::fs::read(stored(name)).unwrap();
        for (which, bytes) in [("today's", &bytes), ("the stored", &old)] {
            let samples: Vec<f64> = match kind {
                Kind::Png => png_codes(bytes).0.into_iter().map(f64::from).collect(),
                Kind::Tiff => tiff_codes(bytes).0.into_iter().map(f64::from).collect(),
                Kind::Jpeg => {
                    let read = image::load_from_memory(bytes).unwrap().to_rgb8();
                    read.as_raw().iter().map(|v| f64::from(*v)).collect()
                }
                Kind::Exr => {
                    let planes = exr_planes(bytes);
                    (0..planes[0].len())
                        .flat_map(|i| [0, 1, 2].map(|c| f64::from(planes[c][i])))
                        .collect()
                }
            };
            let row_of = row.number("row") as usize * frame.width() * 3;
            let line = &samples[row_of..row_of + frame.width() * 3];
            for (c, column) in ["red", "green", "blue"].into_iter().enumerate() {
                let mean = line.iter().skip(c).step_by(3).sum::<f64>() / frame.width() as f64;
                // Two decoders of a JPEG may round apart.
                let tolerance = if kind == Kind::Jpeg {
                    0.6
                } else {
                    1e-6 * mean.abs() + 1e-9
                };
                let wanted = row.number(column);
                assert!(
                    (mean - wanted).abs() <= tolerance,
                    "{which} {name}, {row_of}: {mean}, not {wanted}"
                );
            }
        }
    }
}
